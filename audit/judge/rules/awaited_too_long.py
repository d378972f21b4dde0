"""A result that did not come within reason."""

from __future__ import annotations

from collections.abc import Iterator

from audit.facts.dates import ONE_DAY
from audit.judge.biological import AWAITED, awaited_until, evidence_of
from audit.judge.judgement import Finding, Severity

from .tools import CLINIC, PRACTICE, Judged, day


def check(judged: Judged) -> Iterator[Finding]:
    """One for each test whose result is still awaited after the wait allowed."""
    validity = judged.now.regime.validity
    for test, verdict in judged.settled.unsettled:
        if verdict.verdict != AWAITED:
            continue
        last = awaited_until(test, validity)
        if judged.now.as_of > last:
            where = "laboratory" if test.site == "laboratory" else "clinic"
            yield Finding(
                rule="result-awaited-too-long",
                severity=Severity.PUT_RIGHT,
                since=last + ONE_DAY,
                message=f"spore test of {day(test.row.happened_on)} ({where}): no result by {day(last)}; "
                "it no longer meets the duty",
                way_out="enter the result, or record that there is none and test again",
                evidence=(evidence_of(test, verdict),),
                source=PRACTICE,
                owner=CLINIC,
            )
