"""Spore tests that do not count."""

from __future__ import annotations

from collections.abc import Iterator

from audit.biological import FAILED, INVALID, PASSED, evidence_of
from audit.facts import in_order
from audit.judgement import Finding, Severity

from .tools import CLINIC, Judged, day


def check(judged: Judged) -> Iterator[Finding]:
    """One for each invalid test; to be put right until a later test counts."""
    tests = in_order(judged.unit.bio_tests)
    verdicts = judged.settled.verdicts
    last = max((n for n, t in enumerate(tests) if verdicts[t.row.origin].verdict in (PASSED, FAILED)), default=-1)
    for n, test in enumerate(tests):
        verdict = verdicts[test.row.origin]
        if verdict.verdict != INVALID:
            continue
        made_good = n < last
        expired = "expired" in verdict.reason
        yield Finding(
            rule="expired-lot-used" if expired else "invalid-test",
            severity=Severity.NOTE if made_good else Severity.PUT_RIGHT,
            since=test.row.happened_on,
            message=f"spore test of {day(test.row.happened_on)} doesn't count: {verdict.reason}",
            way_out="a later test counts" if made_good else "repeat the test",
            evidence=(evidence_of(test, verdict),),
            source=judged.now.regime.validity.source,
            owner=CLINIC,
        )
