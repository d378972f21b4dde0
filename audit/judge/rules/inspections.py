"""Points that an inspection asked to be corrected, while nothing on record shows them met: items of the place."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from audit.facts import ClinicFacts, InspectionFact, InspectionPointFact, inspections_by_day
from audit.facts.dates import days_words
from audit.judge.judgement import Evidence, Finding, Severity

from .tools import CLINIC, PRACTICE, day


def findings_of_inspections(clinic: ClinicFacts, as_of: date) -> Iterator[Finding]:
    """One for each point not met by the end of `as_of`; past its last day (inclusive) it says by how much.

    A point is met by its own entry and by nothing else: that the next inspection does not name it proves nothing.
    """
    for inspection in inspections_by_day(clinic.inspections, as_of):
        for point in inspection.points:
            if point.met is None:
                yield _open(clinic, inspection, point, as_of)


def _open(clinic: ClinicFacts, inspection: InspectionFact, point: InspectionPointFact, as_of: date) -> Finding:
    came = day(inspection.row.happened_on)
    rule = f" ({point.citation})" if point.citation else ""
    return Finding(
        rule="inspection-point-open",
        severity=Severity.PUT_RIGHT,
        since=inspection.row.happened_on,
        message=f"{_about(clinic, point)}asked to be corrected at the inspection of {came} ({inspection.office}): "
        f"{point.what}{rule}; {_by_when(point.due_on, as_of)}",
        way_out="correct it, then record what was done, when and by whom, with the paper that shows it",
        evidence=(Evidence(point.row.ref, f"point of the inspection of {came}: {point.what}"),),
        source=PRACTICE,
        owner=CLINIC,
    )


def _about(clinic: ClinicFacts, point: InspectionPointFact) -> str:
    label = next((u.label for u in clinic.units if u.ref == point.unit), "") if point.unit else ""
    return f"{label}: " if label else ""


def _by_when(due_on: date | None, as_of: date) -> str:
    if due_on is None:
        return "no day was set"
    if due_on < as_of:
        return f"due by {day(due_on)}, {days_words((as_of - due_on).days)} overdue"
    return f"due by {day(due_on)}"
