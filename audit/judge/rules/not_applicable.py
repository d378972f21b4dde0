"""Tests of air removal or air leakage logged on a unit without vacuum."""

from __future__ import annotations

from collections.abc import Iterator

from audit.facts import in_order
from audit.judge.judgement import Evidence, Finding, Severity
from audit.regimes.model import WITHOUT_VACUUM

from .tools import CLINIC, Judged, day

_SHOWN = 5


def check(judged: Judged) -> Iterator[Finding]:
    """One for each kind of such test: it says nothing here, and counts neither as passed nor as failed."""
    if judged.unit.equipment_type not in WITHOUT_VACUUM:
        return
    path = judged.now.regime.path("air removal")
    for rows, words in ((judged.unit.air_removal, "air-removal test"), (judged.unit.leaks, "air-leak test")):
        tests = in_order(rows)
        if not tests:
            continue
        newest = tests[-1]
        many = f" (the newest of {len(tests)})" if len(tests) > 1 else ""
        yield Finding(
            rule="test-not-applicable",
            severity=Severity.NOTE,
            since=tests[0].row.happened_on,
            message=f"{words} of {day(newest.row.happened_on)} ({newest.result}){many}: not applicable on a "
            f"{judged.unit.equipment_type} unit",
            way_out="correct the entry if it belongs to another unit",
            evidence=tuple(Evidence(f.row.ref, f"{words}: {f.result}") for f in tests[-_SHOWN:]),
            source=path.source if path else None,
            owner=CLINIC,
        )
