"""Tests of air removal or air leakage logged on a unit without vacuum."""

from __future__ import annotations

from collections.abc import Iterator

from audit.judgement import Finding, Severity

from .tools import CLINIC, Judged, day, row_evidence


def check(judged: Judged) -> Iterator[Finding]:
    """Each air-removal or leak test on a gravity unit: it says nothing there, and is not counted as failed."""
    if judged.unit.equipment_type != "gravity":
        return
    path = judged.now.regime.path("air removal")
    tests = [(f, "air-removal test") for f in judged.unit.air_removal]
    tests += [(f, "air-leak test") for f in judged.unit.leaks]
    for fact, words in tests:
        yield Finding(
            rule="test-not-applicable",
            severity=Severity.NOTE,
            since=fact.row.happened_on,
            message=f"{words} of {day(fact.row.happened_on)} ({fact.result}): not applicable on a gravity unit",
            way_out="correct the entry if it belongs to another unit",
            evidence=row_evidence(fact, f"{words}: {fact.result}"),
            source=path.source if path else None,
            owner=CLINIC,
        )
