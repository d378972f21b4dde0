"""A counter that runs backwards without an offset."""

from __future__ import annotations

from collections.abc import Iterator

from audit.facts import in_order
from audit.judge.judgement import Finding, Severity

from .tools import COMPANY, PRACTICE, Judged, day, row_evidence


def check(judged: Judged) -> Iterator[Finding]:
    """One for each reading whose life total is below the one before it."""
    for name in ("cycles", "hours"):
        readings = [c for c in in_order(judged.unit.counters) if c.counter == name]
        for before, after in zip(readings, readings[1:], strict=False):
            if after.total < before.total:
                yield Finding(
                    rule="counter-backwards",
                    severity=Severity.PUT_RIGHT,
                    since=after.row.happened_on,
                    message=f"{name} counter fell from {before.total:f} on {day(before.row.happened_on)} "
                    f"to {after.total:f} on {day(after.row.happened_on)}",
                    way_out="correct the reading, or record the offset with its reason",
                    evidence=(
                        *row_evidence(before, f"{name}: {before.shown:f} shown, offset {before.offset:f}"),
                        *row_evidence(after, f"{name}: {after.shown:f} shown, offset {after.offset:f}"),
                    ),
                    source=PRACTICE,
                    owner=COMPANY,
                )
