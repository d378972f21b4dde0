"""A position of which nobody knows whether it is fitted: to be settled at the next visit, not silence."""

from __future__ import annotations

from collections.abc import Iterator

from audit.judge.clocks.plan import fit_on
from audit.judge.judgement import Finding, Severity

from .tools import COMPANY, PRACTICE, Judged, day, row_evidence


def check(judged: Judged) -> Iterator[Finding]:
    """One for each position whose fit is unknown."""
    for position in judged.unit.positions:
        if fit_on(judged.unit, position.row.origin, judged.now.as_of) != "unknown":
            continue
        yield Finding(
            rule="unknown-fit",
            severity=Severity.PUT_RIGHT,
            since=position.row.happened_on,
            message=f"{position.name}: whether it is fitted on this unit is unknown",
            way_out="look at the next visit and record fitted, or none on this version",
            evidence=row_evidence(position, f"{position.name}, on record since {day(position.row.happened_on)}"),
            source=PRACTICE,
            owner=COMPANY,
        )
