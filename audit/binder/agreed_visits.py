"""Visits that a service company agreed on with the clinic, moved or called off: who told whom."""

from __future__ import annotations

from audit.binder.scope import Scope
from audit.binder.sections import Cell, Column, Table
from audit.binder.written_on_paper import day, lines
from audit.facts import VisitAgreedFact


def agreed_visits_table(scope: Scope) -> Table:
    """Those agreed in the period, oldest first. Whether somebody came is said by the visits, never here."""
    columns = (
        Column("Agreed on", 58),
        Column("For", 110, names=True),
        Column("By whom", 120),
        Column("What became of it", 146),
        Column("Record", 38, small=True),
    )
    moved = {visit.instead_of: visit for visit in scope.facts.agreed_visits if visit.instead_of}
    rows = tuple(
        (
            Cell(day(visit.row.happened_on)),
            Cell(lines(_when(visit), visit.about)),
            Cell(lines(f"{visit.agreed_by}, {visit.company}", f"with {visit.agreed_with}, {visit.how}")),
            Cell(_became(scope, visit, moved.get(visit.row.origin))),
            scope.proof(visit, visit.called_off if _is_off(scope, visit) else None),
        )
        for visit in scope.inside(scope.facts.agreed_visits)
    )
    return Table("Visits agreed with the clinic", columns, rows, "Visits agreed: none on record.")


def _when(visit: VisitAgreedFact) -> str:
    return f"{day(visit.visit_on)}, {visit.hour}" if visit.hour else day(visit.visit_on)


def _is_off(scope: Scope, visit: VisitAgreedFact) -> bool:
    return visit.called_off is not None and visit.called_off.row.happened_on <= scope.as_of


def _became(scope: Scope, visit: VisitAgreedFact, moved: VisitAgreedFact | None) -> str:
    off = visit.called_off
    if _is_off(scope, visit):
        return f"called off on {day(off.row.happened_on)} by {off.told_by}, told {off.told_to}: {off.reason}"
    if moved is not None and moved.row.happened_on <= scope.as_of:
        return f"moved to {_when(moved)}: {moved.reason}"
    return "stands"
