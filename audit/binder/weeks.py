"""Any week by its date: what the spore tests of a unit say of it, a row for each month."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from audit.binder.pictures.grid import WEEKS, Grid
from audit.binder.pictures.strips import AWAITED, BEFORE, EXEMPT, INVALID, LATE, MISSED, OPEN, cells, form_of
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Block, Cell, Column, Paragraph, Section, Table
from audit.binder.written_on_paper import month, month_name, span, unit_title
from audit.facts import BioTestFact, in_order
from audit.judge.judgement import Coverage

BIOLOGICAL = "biological"
SHEET_MONTHS = 12  # months of weeks on the short sheet; a longer period has its own table in the indicator record
_A_ROW = 5  # weeks that can begin in one month
_ON_OCCASION = ("after-event", "each-implant-load")
_WORDS = {
    MISSED: "missed",
    LATE: "overdue, met late",
    INVALID: "nothing that counts",
    AWAITED: "awaited",
    EXEMPT: "not asked",
    OPEN: "not over yet",
    BEFORE: "no duty yet",
}
_NO_TEST = "no test, none due"
_NOT_COUNTED = "no test on record"
_OF_RESULT = {"before": "no duty yet", "open": "not over yet", "exempt": "not asked"}
_WEIGHS = ("missed", "failed", "overdue", "invalid", "nothing that counts")


@dataclass(frozen=True, slots=True)
class TestedWeek:
    """One week, both days inclusive, with its spore tests and what it says in a few words."""

    start: date
    end: date
    tests: tuple[BioTestFact, ...]
    words: str

    @property
    def weighs(self) -> bool:
        return self.words.startswith(_WEIGHS)


def main_duty(unit: UnitScope) -> Coverage | None:
    """How the spore tests at regular times were kept, of several duties a weekly one; None without any."""
    regular = [c for c in unit.coverage if c.subject == BIOLOGICAL and c.every not in _ON_OCCASION]
    weekly = [c for c in regular if form_of(c) == WEEKS]
    return next(iter(weekly or regular), None)


def weeks_of(scope: Scope, unit: UnitScope) -> tuple[TestedWeek, ...]:
    """Every week that touches the period up to the day of the answer, oldest first."""
    if scope.from_on > scope.last:
        return ()
    grid = Grid.of(WEEKS, scope.from_on, scope.last, scope.weeks())
    tests = _by_week(unit, grid, scope.as_of)
    untested = _untested(unit, grid)
    verdicts = {v.test: v.verdict for v in unit.judgement.verdicts} if unit.judgement else {}
    out = []
    for n in range(len(grid)):
        start, end, held = grid.begins(n), grid.ends(n), tuple(tests.get(n, ()))
        words = _tested(held, verdicts) if held else untested[n]
        accepted = scope.gaps(unit, start, end) if not held else ()
        out.append(TestedWeek(start, end, held, f"{words}\nknown gap" if accepted else words))
    return tuple(out)


def _by_week(unit: UnitScope, grid: Grid, as_of: date) -> dict[int, list[BioTestFact]]:
    """The tests of each week, whole weeks: also those of days before and after the period in its first and last.

    A test of a day that two weeks share counts for both.
    """
    tests: dict[int, list[BioTestFact]] = defaultdict(list)
    for test in in_order(unit.facts.bio_tests):
        on = test.row.happened_on
        if 0 <= grid.index(on) < len(grid) and on <= as_of:
            for n in range(grid.first_index(on), grid.index(on) + 1):
                tests[n].append(test)
    return tests


def _tested(tests: tuple[BioTestFact, ...], verdicts: dict[str, str]) -> str:
    """passed 3 Mar; of several each on its line."""
    told = []
    for test in tests:
        on = test.row.happened_on
        told.append(f"{verdicts.get(test.row.origin, 'not judged')} {on.day} {month_name(on)}")
    return "\n".join(told)


def _untested(unit: UnitScope, grid: Grid) -> list[str]:
    """What each week says when no test was run in it."""
    duty = main_duty(unit)
    if duty is not None and duty.every:
        return [_WORDS.get(mark, _NO_TEST) for mark in cells(duty, grid)]
    weeks = unit.judgement.weeks if unit.judgement else ()
    known = {week.start: _OF_RESULT.get(week.result, week.result) for week in weeks}
    return [known.get(grid.begins(n), _NOT_COUNTED) for n in range(len(grid))]


def _by_month(weeks: tuple[TestedWeek, ...]) -> Iterator[tuple[date, list[TestedWeek]]]:
    """Weeks under the month they begin in, `_A_ROW` at most: more begin in one in which the first day was changed."""
    months: dict[date, list[TestedWeek]] = defaultdict(list)
    for week in weeks:
        months[week.start.replace(day=1)].append(week)
    for start, held in months.items():
        yield from ((start, held[n : n + _A_ROW]) for n in range(0, len(held), _A_ROW))


def weeks_block(scope: Scope, unit: UnitScope, weeks: tuple[TestedWeek, ...], caption: str) -> Block:
    """The table of the weeks; one sentence where all of them say the same."""
    if len({week.words for week in weeks}) > 1 or any(week.tests for week in weeks):
        return _table(scope, unit, weeks, caption)
    if not weeks:
        return Paragraph(f"{caption}: no week of the period has begun.")
    said = weeks[0].words.replace("\n", ", ")
    days = span(weeks[0].start, weeks[-1].end)
    return Paragraph(f"{caption}: no spore test is on record in the weeks from {days}. Each of them: {said}.")


def _table(scope: Scope, unit: UnitScope, weeks: tuple[TestedWeek, ...], caption: str) -> Table:
    """A row for each month, a cell for each week that begins in it, and the page of its first spore test."""
    columns = (
        Column("Month", 12),
        *(Column(f"{nth} week", 18) for nth in ("First", "Second", "Third", "Fourth", "Fifth")),
        Column("Page", 7, "right"),
    )
    rows = []
    for start, held in _by_month(weeks):
        told = [Cell(f"from {w.start.day} {month_name(w.start)}\n{w.words}", strong=w.weighs) for w in held]
        first = next((t for week in held for t in week.tests if scope.holds(t.row.happened_on)), None)
        page = Cell("", to=unit.indicators, page=scope.row(first.row.ref)) if first else Cell("none")
        rows.append((Cell(month(start)), *told, *(Cell(""),) * (_A_ROW - len(told)), page))
    return Table(caption, columns, tuple(rows))


def weeks_sections(scope: Scope, unit: UnitScope) -> tuple[Section, ...]:
    """All weeks of a period too long for the short sheet; nothing for a shorter one."""
    weeks = weeks_of(scope, unit)
    if not is_long(weeks):
        return ()
    table = weeks_block(scope, unit, weeks, "Spore tests, week by week")
    return (Section(weeks_id(unit), f"Any week of {unit_title(unit.label)} by date", 3, (table,)),)


def weeks_id(unit: UnitScope) -> str:
    return f"{unit.indicators}-weeks"


def is_long(weeks: tuple[TestedWeek, ...]) -> bool:
    return len({week.start.replace(day=1) for week in weeks}) > SHEET_MONTHS + 1


def last_weeks(weeks: tuple[TestedWeek, ...]) -> tuple[TestedWeek, ...]:
    """Those that begin in the last months, which fit the short sheet; all of them where they do."""
    if not is_long(weeks):
        return weeks
    months = sorted({week.start.replace(day=1) for week in weeks})[-SHEET_MONTHS:]
    return tuple(week for week in weeks if week.start >= months[0])
