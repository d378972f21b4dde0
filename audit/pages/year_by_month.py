"""The last year by month: of spore tests that are not asked weekly, and of the other tests and checks of a unit.

A month is a cell with the letter of the gravest thing in it; the words beside count what the rules ask: days of use,
months, quarters. Of a duty each fourteen days the weeks are drawn, see `audit.judge.year`.
"""

from __future__ import annotations

from dataclasses import dataclass

from audit.binder.calendar import main_duty
from audit.binder.pictures import strips
from audit.binder.pictures.grid import MONTHS, WEEKS, Grid
from audit.binder.scope import Scope, UnitScope
from audit.binder.written_on_paper import month
from audit.facts.dates import add_days, add_months
from audit.judge.judgement import Coverage
from audit.judge.year import out_of_service
from audit.regimes.model import SUBJECTS

ON_OCCASION = ("after-event", "each-implant-load")
RESULTS = {
    strips.FAILED: "failed", strips.MISSED: "missed", strips.LATE: "late", strips.INVALID: "invalid",
    strips.AWAITED: "awaited", strips.DONE: "passed", strips.KEPT: "passed", strips.EXEMPT: "exempt",
    strips.OPEN: "open", strips.NOTHING: "exempt", strips.BEFORE: "before",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class MonthCell:
    """One month: the gravest thing in it, and whether it had a visit and a day out of service."""

    result: str
    visit: bool
    out: bool


@dataclass(frozen=True, slots=True)
class MonthRow:
    """One duty over the last twelve months; `span` names the first and the last of them, both inclusive."""

    title: str
    span: str
    cells: tuple[MonthCell, ...]
    words: str

    @property
    def results(self) -> tuple[str, ...]:
        """What its months are, each once, in the order in which they come."""
        return tuple(dict.fromkeys(cell.result for cell in self.cells))


def spore_tests_by_month(asked: Scope, unit: UnitScope) -> MonthRow | None:
    """The spore tests where the rules ask them otherwise than by the week, None where by the week or not at all."""
    duty = main_duty(unit)
    if duty is None or not duty.every or strips.form_of(duty) == WEEKS:
        return None
    return _row(asked, unit, duty)


def others_by_month(asked: Scope, unit: UnitScope) -> tuple[MonthRow, ...]:
    """The other tests and checks that the rules ask at regular times, in the order of the unit's coverage."""
    main = main_duty(unit)
    return tuple(_row(asked, unit, each) for each in unit.coverage if each is not main and _is_regular(each))


def _is_regular(each: Coverage) -> bool:
    tested = SUBJECTS.get(each.subject) in ("test", "check")
    return tested and bool(each.every) and each.every not in ON_OCCASION and strips.has_anything(each)


def _row(asked: Scope, unit: UnitScope, duty: Coverage) -> MonthRow:
    last = asked.last
    first = add_days(add_months(last, -12), 1)
    grid = Grid.of(MONTHS, first, last, asked.weeks())
    counted = Grid.of(strips.form_of(duty), first, last, asked.weeks())
    visited = {job.row.happened_on for job in unit.facts.jobs}
    out = out_of_service(unit.judgement) if unit.judgement else []
    cells = tuple(
        MonthCell(
            RESULTS[mark],
            any(grid.begins(n) <= day <= grid.ends(n) for day in visited),
            any(begins <= grid.ends(n) and ends >= grid.begins(n) for begins, ends in out),
        )
        for n, mark in enumerate(strips.cells(duty, grid))
    )
    words = strips.panel_words(duty, counted, strips.cells(duty, counted), 0, len(counted))
    return MonthRow(duty.title, f"{month(grid.begins(0))} to {month(last)}", cells, words)
