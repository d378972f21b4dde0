"""Inspections of the place: who came, what was asked to be corrected, and what became of it."""

from __future__ import annotations

from audit.binder.scope import Scope
from audit.binder.sections import Block, Cell, Column, Paragraph, Section, Table
from audit.binder.written_on_paper import day, lines
from audit.facts import InspectionFact, InspectionPointFact, in_order, inspections_by_day

_COLUMNS = (
    Column("What is to be corrected", 190, names=True),
    Column("By", 56),
    Column("What was done, on which day, by whom", 226),
    Column("Record", 38, small=True),
)


def inspections_section(scope: Scope) -> tuple[Section, ...]:
    """Every inspection on record up to the day of the answer, the newest first; () where there is none.

    Those before the period stand here too: what the last inspector asked is the next one's first question.
    """
    held = inspections_by_day(scope.facts.inspections, scope.as_of)
    if not held:
        return ()
    blocks: list[Block] = []
    for inspection in reversed(in_order(held)):
        blocks += _inspection(scope, inspection)
    return (Section("inspections", "Inspections of the place", 1, tuple(blocks), flows=True),)


def _inspection(scope: Scope, inspection: InspectionFact) -> tuple[Block, ...]:
    who = f"{inspection.visitor}, {inspection.office}" + (f", {inspection.occasion}" if inspection.occasion else "")
    title = f"{day(inspection.row.happened_on)}: {who} [{scope.row(inspection.row.ref)}]"
    said = (inspection.asked, _handed_out(scope, inspection), _report(scope, inspection))
    table = Table(
        f"Points of the inspection of {day(inspection.row.happened_on)}",
        _COLUMNS,
        tuple(_row(scope, point) for point in inspection.points),
        "Nothing was asked to be corrected.",
    )
    words = [Paragraph(text) for text in said if text]
    return (Paragraph(title, "strong"), *words, table)


def _handed_out(scope: Scope, inspection: InspectionFact) -> str:
    issued = inspection.binder
    if issued is None:
        return ""
    return (
        f"Handed out: the binder of {day(issued.from_on)} to {day(issued.to_on)}, as of {day(issued.as_of)} "
        f"[{scope.row(issued.row.ref)}], SHA-256 beginning {issued.file_sha256[:8]}."
    )


def _report(scope: Scope, inspection: InspectionFact) -> str:
    paper = next((d for d in scope.facts.documents if d.row.origin == inspection.report), None)
    return f"Their report: {paper.title} [{scope.row(paper.row.ref)}]." if paper else ""


def _row(scope: Scope, point: InspectionPointFact) -> tuple[Cell, ...]:
    labels = {unit.facts.ref: unit.label for unit in scope.units}
    about = f"{labels[point.unit]}: " if point.unit in labels else ""
    met = point.met
    late = point.due_on is not None and point.due_on < scope.as_of
    done = f"{day(met.row.happened_on)}: {met.outcome}, {met.done_by}" if met else "overdue" if late else "open"
    return (
        Cell(lines(f"{about}{point.what}", point.citation)),
        Cell(day(point.due_on, "no day")),
        Cell(done, strong=met is None),
        scope.proof(point, met),
    )
