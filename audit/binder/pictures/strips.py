"""How each duty of a unit was kept, as cells of a strip: a letter for each day, week, month, quarter or year.

Of several things in a cell the gravest is shown: a failed test, then a time without one, then one that came late.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date

from audit.binder.pictures.grid import DAYS, MONTHS, QUARTERS, WEEKS, YEARS, Grid
from audit.binder.pictures.values import DutyStrip, StripPanel, StripRow
from audit.binder.scope import Scope, UnitScope
from audit.binder.written_on_paper import counted, day, month, span
from audit.facts.dates import add_days
from audit.judge.clocks.calendar_weeks import Weeks
from audit.judge.judgement import Coverage, Stretch
from audit.regimes.model import SUBJECTS

_FORMS = {
    "calendar-week": WEEKS,
    "calendar-week-with-patients": WEEKS,
    "calendar-month": MONTHS,
    "calendar-quarter": QUARTERS,
    "calendar-year": YEARS,
    "day-of-use": DAYS,
    "day-of-use-and-cycle-type": DAYS,
}
_ONE = {DAYS: "day", WEEKS: "week", MONTHS: "month", QUARTERS: "quarter", YEARS: "year"}
_DAYS_UP_TO, _WEEKS_UP_TO = 3, 20  # days between two that are shown day by day, week by week

# Gravest first. The letters are those of the strip of weeks in the indicator record.
FAILED, MISSED, LATE, INVALID, AWAITED, DONE, KEPT, EXEMPT, OPEN, NOTHING, BEFORE = "FMLIATDEo·-"
MEANINGS = {
    FAILED: "done, and it failed",
    MISSED: "missed: overdue, nothing that counts",
    LATE: "late: overdue until it was done",
    INVALID: "done, but does not count",
    AWAITED: "done, result awaited",
    DONE: "tested",
    KEPT: "done; of a paper: begins",
    EXEMPT: "not asked: out of use or closed",
    OPEN: "not over yet",
    NOTHING: "in time, nothing due",
    BEFORE: "no duty yet",
}
_RANK = {mark: n for n, mark in enumerate(MEANINGS)}
_COUNTED = {
    FAILED: "failed",
    MISSED: "missed",
    LATE: "late",
    INVALID: "with nothing that counts",
    AWAITED: "awaited",
    DONE: "tested",
    KEPT: "done",
    EXEMPT: "not asked",
    OPEN: "not over yet",
    NOTHING: "with nothing due",
    BEFORE: "before the duty",
}
_SAID = (DONE, KEPT, *(mark for mark in MEANINGS if mark not in (DONE, KEPT)))
_BY_DATE = (FAILED, MISSED, LATE, INVALID, AWAITED)
_MOST_TOLD = 12
_OF_STRETCH = {
    "missed": MISSED,
    "met late": LATE,
    "invalid": INVALID,
    "awaited": AWAITED,
    "exempt": EXEMPT,
    "met": NOTHING,
    "open": NOTHING,
    "before": BEFORE,
}
_OF_DONE = {"passed": DONE, "failed": FAILED, "invalid": INVALID, "awaited": AWAITED}
_HOMES = {
    "test": "the indicator record of this unit",
    "check": "the user checks of this unit, in the indicator record",
    "work": "the service history of this unit",
}
_NOTHING_IN_WORDS = {
    "day-of-use": "no use on record",
    "day-of-use-and-cycle-type": "no use on record",
    "each-implant-load": "no load with an implant",
    "after-event": "no such event",
}
_RUNNING = ("rolling-days", "rolling-months", "hours-or-days", "stated-date", "after-event")


def form_of(coverage: Coverage) -> str:
    """Which cells a duty is shown in: as often as it asks, or the next longer."""
    known = _FORMS.get(coverage.every)
    if known:
        return known
    if 0 < coverage.every_days <= _DAYS_UP_TO:
        return DAYS
    return WEEKS if 0 < coverage.every_days <= _WEEKS_UP_TO else MONTHS


def cells(coverage: Coverage, grid: Grid) -> list[str]:
    """The mark of each cell of the grid, in order."""
    on_occasion = coverage.every in ("day-of-use", "day-of-use-and-cycle-type", "each-implant-load", "after-event")
    marks = [NOTHING if on_occasion else BEFORE] * len(grid)
    for stretch in coverage.stretches:
        for mark, first, last in _painted(coverage, stretch):
            # Of days that two weeks share a stretch marks one week where it fills that one, else both.
            ends = (grid.index(max(first, grid.start)), grid.first_index(last))
            for n in range(max(min(ends), 0), min(max(ends), len(grid) - 1) + 1):
                _put(marks, n, mark)
    for done_on, result in coverage.done:
        if result in _OF_DONE and 0 <= grid.index(done_on) < len(grid):
            for n in range(grid.first_index(done_on), grid.index(done_on) + 1):
                _put(marks, n, _OF_DONE[result])
    tested = SUBJECTS.get(coverage.subject) in ("test", "check")
    return marks if tested else [KEPT if mark == DONE else mark for mark in marks]


def _put(marks: list[str], n: int, mark: str) -> None:
    if _RANK[mark] < _RANK[marks[n]]:
        marks[n] = mark


def _painted(coverage: Coverage, stretch: Stretch) -> Iterator[tuple[str, date, date]]:
    """(mark, first day, last day) of a stretch: what was overdue in time before, and overdue from the day after."""
    mark, first, due = _OF_STRETCH[stretch.result], stretch.start, stretch.due_on
    if mark in (MISSED, LATE) and due is not None and due < stretch.end:
        if due >= first:
            yield NOTHING, first, due
        first = max(first, add_days(due, 1))
    if mark == AWAITED and coverage.every in _RUNNING:
        yield NOTHING, first, stretch.end
        first = stretch.end
    if coverage.every not in _RUNNING:
        mark = {"open": OPEN, "met": DONE}.get(stretch.result, mark)
    yield mark, first, stretch.end


# ------------------------------------------------------------------------------------------------ the words


def _name(grid: Grid, n: int) -> str:
    """A cell in a sentence."""
    begins = grid.begins(n)
    if grid.form == MONTHS:
        return month(begins)
    if grid.form == QUARTERS:
        return f"quarter {(begins.month + 2) // 3} of {begins.year}"
    return str(begins.year) if grid.form == YEARS else day(begins)


def _runs(numbers: list[int]) -> Iterator[tuple[int, int]]:
    """Neighbouring numbers as (first, last)."""
    start = None
    for n, following in zip(numbers, [*numbers[1:], None], strict=True):
        start = n if start is None else start
        if following != n + 1:
            yield start, n
            start = None


def _told(grid: Grid, mark: str, numbers: list[int]) -> str:
    runs = [_name(grid, a) if a == b else f"{_name(grid, a)} to {_name(grid, b)}" for a, b in _runs(numbers)]
    more = f" and {len(runs) - _MOST_TOLD} more" if len(runs) > _MOST_TOLD else ""
    of = "week of " if grid.form == WEEKS else ""
    return f"{_COUNTED[mark].capitalize()}: {of}{', '.join(runs[:_MOST_TOLD])}{more}."


def panel_words(coverage: Coverage, grid: Grid, marks: list[str], first: int, to: int) -> str:
    """What the cells from number `first` to before `to` say: how many of each kind, and when not simply met."""
    held = Counter(marks[first:to])
    days = span(max(grid.begins(first), grid.first), min(grid.ends(to - 1), grid.last))
    counts = ", ".join(f"{held[mark]} {_COUNTED[mark]}" for mark in _SAID if held[mark])
    head = f"{coverage.title}, {days}, {counted(to - first, _ONE[grid.form])}: {counts}."
    when = [_told(grid, mark, [n for n in range(first, to) if marks[n] == mark]) for mark in _BY_DATE if held[mark]]
    return " ".join([head, *when])


# ------------------------------------------------------------------------------------------------ the strip


def duty_strip(coverage: Coverage, weeks: Weeks) -> DutyStrip | None:
    """The strip of a duty over the period of its coverage; None where its stretches were not asked for.

    `weeks` are those of the clinic.
    """
    if not coverage.every:
        return None
    grid = Grid.of(form_of(coverage), coverage.first, coverage.last, weeks)
    marks = cells(coverage, grid)
    panels = []
    for rows in grid.panels():
        made = tuple(
            StripRow(label, grid.begins(a), column, "".join(marks[a:b]), grid.cut_again(a, b))
            for label, column, a, b in rows
        )
        panels.append(StripPanel(made, panel_words(coverage, grid, marks, rows[0][2], rows[-1][3])))
    return DutyStrip(
        caption=coverage.title,
        form=grid.form,
        panels=tuple(panels),
        legend=_legend(coverage, set(marks)),
        rows=f"A cell for each {_ONE[grid.form]}, {span(coverage.first, coverage.last)}. {_where(coverage)}",
    )


def _legend(coverage: Coverage, used: set[str]) -> tuple[tuple[str, str], ...]:
    meanings = MEANINGS | {NOTHING: _NOTHING_IN_WORDS.get(coverage.every, MEANINGS[NOTHING])}
    return tuple((mark, meanings[mark]) for mark in _SAID if mark in used)


def _where(coverage: Coverage) -> str:
    home = _HOMES.get(SUBJECTS.get(coverage.subject, ""), "the papers of this unit")
    lapses = "; exceptions in the table of lapses of this unit" if coverage.lapses else ""
    return f"Rows: in {home}{lapses}."


def has_anything(coverage: Coverage) -> bool:
    """Whether there is something to show: a stretch that asked something, or something done."""
    return any(s.result != "before" for s in coverage.stretches) or bool(coverage.done)


def duty_strips(scope: Scope, unit: UnitScope) -> tuple[DutyStrip, ...]:
    """One for each duty of the unit, in the order of its coverage; none for a duty with nothing to show."""
    weeks = scope.weeks()
    made = (duty_strip(each, weeks) for each in unit.coverage if has_anything(each))
    return tuple(strip for strip in made if strip is not None)
