"""Spore tests that do not count."""

from __future__ import annotations

from collections.abc import Iterator

from audit.judge.biological import INVALID, PASSED, evidence_of
from audit.judge.judgement import Finding, Severity, TestVerdict

from .tools import CLINIC, Judged, day


def check(judged: Judged) -> Iterator[Finding]:
    """One for each invalid test; to be put right until a later test passed: bad news puts nothing right."""
    invalid = [(t, v) for t, v in judged.settled.unsettled if v.verdict == INVALID]
    if not invalid:
        return
    places = {origin: n for n, origin in enumerate(judged.settled.verdicts)}
    passed = (places[o] for o, v in judged.settled.verdicts.items() if v.verdict == PASSED)
    last = max(passed, default=-1)
    for test, verdict in invalid:
        made_good = places[test.row.origin] < last
        expired = "expired" in verdict.reason
        again = "correct what was entered wrongly, else repeat the test" if _of_days(verdict) else "repeat the test"
        yield Finding(
            rule="expired-lot-used" if expired else "invalid-test",
            severity=Severity.NOTE if made_good else Severity.PUT_RIGHT,
            since=test.row.happened_on,
            message=f"spore test of {day(test.row.happened_on)} doesn't count: {verdict.reason}",
            way_out="a later test passed" if made_good else again,
            evidence=(evidence_of(test, verdict),),
            source=judged.now.regime.validity.source,
            owner=CLINIC,
        )


def _of_days(verdict: TestVerdict) -> bool:
    """Whether its days, times or hours contradict each other."""
    return "is dated" in verdict.reason or "h lie between" in verdict.reason
