"""The calendar of a unit: each week of the period as a cell under the month it begins in, tests of a day by month.

Letters and signs mean one thing through the whole book. A cell is the day of a test that passed; what stands out is
framed, and black where it failed.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from audit.binder.pictures.grid import MONTHS, WEEKS, Grid
from audit.binder.pictures.strips import AWAITED, EXEMPT, FAILED, INVALID, LATE, MISSED, OPEN, cells, form_of
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Block, Cell, MonthCalendar, Paragraph
from audit.binder.spore_words import verdicts_of
from audit.binder.usual import short_day, short_span
from audit.binder.written_on_paper import NO_BREAK, counted, dated, days, month
from audit.facts import BioTestFact, in_order
from audit.facts.dates import add_months
from audit.judge.judgement import Coverage
from audit.regimes.model import SUBJECTS
from records.wording import WEEKDAYS

BIOLOGICAL = "biological"
ON_OPENER = 19  # months that stand on the first page of a unit; the earlier ones have a calendar of their own
_ON_OCCASION = ("after-event", "each-implant-load")
_NTH = ("1st week", "2nd", "3rd", "4th", "5th", "6th", "7th")
_KEY = {
    "F": "failed", "x": "did not count", "M": "missed", "○": "result awaited", "?": "not judged", "·": "not asked",
    "–": "not over yet",
}  # fmt: skip
_OF_VERDICT = {"passed": "", "failed": "F", "invalid": "x", "awaited": "○"}
_OF_MARK = {FAILED: "F", MISSED: "M", LATE: "M", INVALID: "x", AWAITED: "○", EXEMPT: "·", OPEN: "–"}
_OF_RESULT = {"missed": "M", "invalid": "x", "failed": "F", "awaited": "○", "exempt": "·", "open": "–"}


@dataclass(frozen=True, slots=True)
class TestedWeek:
    """One week, both days inclusive, with its spore tests; `sign` says how it stands without any, "" nothing due."""

    start: date
    end: date
    tests: tuple[BioTestFact, ...]
    sign: str


def main_duty(unit: UnitScope) -> Coverage | None:
    """How the spore tests at regular times were kept, of several duties a weekly one; None without any."""
    regular = [c for c in unit.coverage if c.subject == BIOLOGICAL and c.every not in _ON_OCCASION]
    regular = regular or [c for c in unit.coverage if c.duty == "biological-test"]
    weekly = [c for c in regular if form_of(c) == WEEKS]
    return next(iter(weekly or regular), None)


# ------------------------------------------------------------------------------------------------ weeks


def weeks_of(scope: Scope, unit: UnitScope) -> tuple[TestedWeek, ...]:
    """Every week that touches the period up to the day of the answer, oldest first."""
    if scope.from_on > scope.last:
        return ()
    grid = Grid.of(WEEKS, scope.from_on, scope.last, scope.weeks())
    tests = _by_week(unit, grid, scope.as_of)
    signs = _signs(unit, grid)
    return tuple(
        TestedWeek(grid.begins(n), grid.ends(n), tuple(tests.get(n, ())), signs[n]) for n in range(len(grid))
    )


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


def _signs(unit: UnitScope, grid: Grid) -> list[str]:
    """What each week says where no test was run in it."""
    duty = main_duty(unit)
    if duty is not None and duty.every:
        return [_OF_MARK.get(mark, "") for mark in cells(duty, grid)]
    weeks = unit.judgement.weeks if unit.judgement else ()
    known = {week.start: _OF_RESULT.get(week.result, "") for week in weeks}
    return [known.get(grid.begins(n), "") for n in range(len(grid))]


def _test_sign(test: BioTestFact, verdicts) -> str:
    said = verdicts.get(test.row.origin)
    return _OF_VERDICT.get(said.verdict, "?") if said else "?"


def _framed(text: str) -> Cell:
    """A cell that stands out by the worst of its signs."""
    if "F" in text:
        return Cell(text, frame="black", strong=True)
    return Cell(text, frame="framed", strong=True) if any(sign in text for sign in "xM?") else Cell(text)


def _week_cell(week: TestedWeek, under: date, verdicts) -> Cell:
    """The days of the tests of a week, a sign behind each that did not pass; else how the week stands."""
    told = []
    for test in week.tests:
        on = test.row.happened_on
        name = str(on.day) if (on.year, on.month) == (under.year, under.month) else short_day(on)
        told.append(f"{name}{NO_BREAK}{sign}" if (sign := _test_sign(test, verdicts)) else name)
    return _framed(", ".join(dict.fromkeys(told)) or week.sign)


def _months(first: date, last: date) -> list[date]:
    """The first day of each month, of both ends too."""
    out, at = [], first.replace(day=1)
    while at <= last:
        out.append(at)
        at = add_months(at, 1)
    return out


def _placed(weeks: Iterable[TestedWeek]) -> dict[tuple[date, int], TestedWeek]:
    """Each week under the month it begins in and the number of the week there, from 0.

    Two weeks that share days, where the first day of the week was changed, still have a place each.
    """
    placed: dict[tuple[date, int], TestedWeek] = {}
    for week in weeks:
        under, nth = week.start.replace(day=1), (week.start.day - 1) // 7
        while (under, nth) in placed:
            nth += 1
        placed[under, nth] = week
    return placed


def _week_rows(weeks, months: list[date], verdicts) -> list[tuple[str, tuple[Cell, ...]]]:
    placed = _placed(weeks)
    rows = []
    for nth in range(max((nth for _, nth in placed), default=-1) + 1):
        made = tuple(
            _week_cell(week, under, verdicts) if (week := placed.get((under, nth))) else Cell("") for under in months
        )
        if any(cell.text for cell in made):
            rows.append((_NTH[nth], made))
    return rows


# ------------------------------------------------------------------------------------------------ by the month


def _monthly_tests(scope: Scope, unit: UnitScope, months: list[date], verdicts) -> list[tuple[str, tuple[Cell, ...]]]:
    """Spore tests asked once a month or more seldom: one row, the days of the tests of each month."""
    duty = main_duty(unit)
    signs: dict[date, str] = {}
    if duty is not None and duty.every and form_of(duty) == MONTHS:
        grid = Grid.of(MONTHS, scope.from_on, scope.last, scope.weeks())
        signs = {grid.begins(n): _OF_MARK.get(mark, "") for n, mark in enumerate(cells(duty, grid))}
    tests: dict[date, list[str]] = defaultdict(list)
    for test in scope.inside(unit.facts.bio_tests):
        sign, on = _test_sign(test, verdicts), test.row.happened_on
        tests[on.replace(day=1)].append(f"{on.day}{NO_BREAK}{sign}" if sign else str(on.day))
    made = tuple(_framed(", ".join(tests.get(under, ())) or signs.get(under, "")) for under in months)
    return [("spore test", made)] if any(cell.text for cell in made) else []


def _series(unit: UnitScope) -> list[tuple[str, tuple]]:
    """The other tests and checks of the unit by kind: what has a pass or a fail on its day."""
    facts = unit.facts
    found = [("air removal", facts.air_removal), ("air leak", facts.leaks)]
    for kind in sorted({fact.type for fact in facts.chemical}):
        found.append((f"strips, type{NO_BREAK}{kind}", tuple(f for f in facts.chemical if f.type == kind)))
    for kind in sorted({check.kind for check in facts.checks}):
        found.append((kind, tuple(check for check in facts.checks if check.kind == kind)))
    return [(name, rows) for name, rows in found if rows]


def _count_cell(passed: int, rows: int, failed: int, missed: int) -> Cell:
    """Passed of all: 5/5; with F for those that failed and M for the times that were missed."""
    if not rows and not missed:
        return Cell("")
    more = [f"F{NO_BREAK}{failed}" if failed else "", f"M{NO_BREAK}{missed}" if missed else ""]
    return _framed("\n".join(part for part in (f"{passed}/{rows}", *more) if part))


def _missed(scope: Scope, unit: UnitScope) -> dict[str, dict[date, int]]:
    """How often each other kind of test was due and not done in time, by the month in which that ended."""
    found: dict[str, dict[date, int]] = {}
    for each in unit.coverage:
        if each.subject == BIOLOGICAL or SUBJECTS.get(each.subject) not in ("test", "check"):
            continue
        for lapse in each.lapses:
            if lapse.result in ("missed", "met late") and scope.from_on <= lapse.end and lapse.start <= scope.last:
                under = min(lapse.end, scope.last).replace(day=1)
                by_month = found.setdefault(each.subject, {})
                by_month[under] = by_month.get(under, 0) + 1
    return found


def _count_rows(scope: Scope, unit: UnitScope, months: list[date]) -> list[tuple[str, tuple[Cell, ...]]]:
    """A row for each other kind of test: how many passed of those of the month."""
    out = []
    series, missed = _series(unit), _missed(scope, unit)
    series += [(name, ()) for name in missed if name not in dict(series)]
    for name, facts in series:
        held: dict[date, list[str]] = defaultdict(list)
        for fact in scope.inside(facts):
            held[fact.row.happened_on.replace(day=1)].append(fact.result)
        lapsed = missed.get(name, {})
        made = tuple(
            _count_cell(results.count("pass"), len(results), results.count("fail"), lapsed.get(under, 0))
            for results, under in ((held.get(under, []), under) for under in months)
        )
        if any(cell.text for cell in made):
            out.append((name, made))
    return out


# ------------------------------------------------------------------------------------------------ the calendar


def _key(rows) -> tuple[tuple[str, str], ...]:
    used = "".join(cell.text for _, row in rows for cell in row)
    return tuple((sign, meaning) for sign, meaning in _KEY.items() if sign in used)


def _made(scope: Scope, unit: UnitScope, months: list[date], caption: str) -> MonthCalendar | None:
    verdicts, duty = verdicts_of(unit), main_duty(unit)
    weekly = duty is None or not duty.every or form_of(duty) == WEEKS
    inside = [
        week for week in weeks_of(scope, unit) if months and months[0] <= week.start.replace(day=1) <= months[-1]
    ]
    rows = _week_rows(inside, months, verdicts) if weekly else _monthly_tests(scope, unit, months, verdicts)
    rows += _count_rows(scope, unit, months)
    if not rows:
        return None
    return MonthCalendar(caption, tuple(month(each) for each in months), tuple(rows), _key(rows))


def _all_months(scope: Scope, unit: UnitScope) -> list[date]:
    weeks = weeks_of(scope, unit)
    return _months(min(weeks[0].start, scope.from_on), scope.last) if weeks else []


def calendar_blocks(scope: Scope, unit: UnitScope) -> tuple[Block, ...]:
    """The calendar of the last months, and each duty in words; a sentence alone where nothing was due or done."""
    months = _all_months(scope, unit)[-ON_OPENER:]
    calendar = _made(scope, unit, months, "Tests, month by month")
    told = " ".join(_kept(each) for each in unit.coverage if each.due or each.exempt)
    if calendar is None:
        return (Paragraph(told, "small"),) if told else ()
    terms = scope.facts.terms_on(scope.as_of)
    first_day = f" (weeks begin on {WEEKDAYS[terms.week_start]})" if terms else ""
    counts = (
        " 5/5: passed of those done in the month." if any("/" in c.text for _, r in calendar.rows for c in r) else ""
    )
    weekly = any(label in _NTH for label, _ in calendar.rows)
    where = f", in the row of its week{first_day}" if weekly else ""
    explained = f"A number is the day of a spore test that passed{where}.{counts}"
    return (replace(calendar, note=" ".join(part for part in (explained, told) if part)),)


def _kept(each: Coverage) -> str:
    """How a duty was kept, in numbers: how often it was due and met, what was not, the longest time between two."""
    counts = (
        (each.met, "met"),
        (each.met_late, "met late"),
        (each.missed, "missed"),
        (each.invalid, "with nothing that counts"),
        (each.awaited, "awaited"),
    )
    told = ", ".join(f"{count} {word}" for count, word in counts if count)
    why = "; ".join(f"{reason} {count}" for reason, count in each.exempt_why)
    exempt = f" Not asked {counted(each.exempt, 'time')}{f' ({dated(why)})' if why else ''}." if each.exempt else ""
    gap = f", {short_span(*each.gap)}" if each.gap else ""
    longest = f" Longest time between two: {days(each.longest_gap)}{gap}." if each.longest_gap is not None else ""
    failed = " A failed test was run, so it is met; the next is due from the last that passed." if each.failed else ""
    return f"{each.title}: due {counted(each.due, 'time')}{f', {told}' if told else ''}.{exempt}{longest}{failed}"


def earlier_calendar(scope: Scope, unit: UnitScope) -> tuple[Block, ...]:
    """The months before those of the first page of the unit, in a calendar of their own; nothing without any."""
    months = _all_months(scope, unit)[:-ON_OPENER]
    made = _made(scope, unit, months, "Tests, the months before") if months else None
    return (made,) if made else ()
