"""The indicator record of one unit: the strip of weeks, every spore test, the other tests of the process."""

from __future__ import annotations

from collections import defaultdict

from audit.binder.failures import failure_sections
from audit.binder.pictures.unit import spore_strips
from audit.binder.routine_monitoring import checks_section, entries
from audit.binder.scope import Scope, UnitScope, gap_words
from audit.binder.sections import Cautions, Cell, Column, Paragraph, Section, Strip, StripWeek, Table
from audit.binder.weeks import weeks_sections
from audit.binder.written_on_paper import counted, dated, day, labelled, lines, month, number, span
from audit.facts import BioReadingFact, BioTestFact, LotFact

# Mark, result of a week, meaning. The mark is a letter, so that the strip reads without any shade.
LEGEND = (
    ("T", "passed", "tested, no growth"),
    ("M", "missed", "no test counts for this week"),
    ("F", "failed", "growth in the test"),
    ("I", "invalid", "doesn't count: the control did not grow, or the test was not run as its label asks"),
    ("A", "awaited", "sent or incubating, no result yet"),
    ("E", "exempt", "no test asked for"),
    ("o", "open", "week not over yet"),
    ("-", "before", "no duty yet"),
)
GAPS_OF = ("missed", "invalid", "awaited")  # results that a known gap may stand behind
_BY_MONTH = ("pass", "not read")
_MARKS = {result: mark for mark, result, _ in LEGEND}


def _weeks_in(scope: Scope, unit: UnitScope) -> tuple:
    weeks = unit.judgement.weeks if unit.judgement else ()
    return tuple(w for w in weeks if w.end >= scope.from_on and w.start <= min(scope.to_on, scope.as_of))


def strip_blocks(scope: Scope, unit: UnitScope) -> tuple:
    """The strip, and in words every week that is not simply tested. Honest about weeks it does not reach."""
    weeks = _weeks_in(scope, unit)
    if not weeks:
        return (Paragraph("Weeks: no record found, nothing to show in the strip."),)
    cells = tuple(StripWeek(w.start, w.end, _MARKS.get(w.result, "?"), w.result) for w in weeks)
    caption = f"Weeks from {day(weeks[0].start)} to {day(weeks[-1].end)}, each under the day it starts on"
    reach = ()
    if weeks[0].start > scope.from_on:
        earlier = any(t.row.happened_on < weeks[0].start for t in scope.inside(unit.facts.bio_tests))
        also = "; earlier tests are in the table below." if earlier else "; no test of the period is earlier."
        reach = (Paragraph(f"The strip starts on {day(weeks[0].start)}{also}", "small"),)
    used = {cell.result for cell in cells}
    legend = tuple(entry for entry in LEGEND if entry[1] in used)
    return (Strip(caption, cells, legend), *reach, _noted(scope, unit, weeks))


def gap_blocks(scope: Scope, unit: UnitScope) -> tuple[Cautions, ...]:
    """The known gaps of the period, where what they leave out would stand."""
    gaps = scope.gaps(unit, scope.from_on, scope.last)
    told = tuple(gap_words(scope, gap) for gap in gaps)
    return (Cautions("Known gaps in the evidence of these days", told),) if told else ()


def _runs(weeks) -> list[list]:
    """Neighbouring weeks of which the same is known, together; a week with a test stands by itself."""
    runs: list[list] = []
    for week in weeks:
        last = runs[-1][-1] if runs else None
        next_to = last is not None and (week.start - last.end).days == 1
        same = next_to and (week.result, week.note) == (last.result, last.note)
        if same and not week.tests and not last.tests:
            runs[-1].append(week)
        else:
            runs.append([week])
    return runs


def _run_row(scope: Scope, unit: UnitScope, run: list) -> tuple[Cell, ...]:
    first, last = run[0], run[-1]
    many = f"{len(run)} weeks" if len(run) > 1 else ""
    gaps = scope.gaps(unit, first.start, last.end) if first.result in GAPS_OF else ()
    known = lines(dated(first.note), *(dated(e.text) for e in first.tests), *(gap_words(scope, gap) for gap in gaps))
    return (
        Cell(lines(span(first.start, last.end), many)),
        Cell(first.result, strong=first.result in ("missed", "failed")),
        Cell(known or "no test on record"),
        scope.refs([*(e.ref for e in first.tests), *(gap.row.ref for gap in gaps)]),
    )


def _noted(scope: Scope, unit: UnitScope, weeks) -> Table:
    columns = (
        Column("Week", 28),
        Column("Result", 14),
        Column("What is known of it", 50),
        Column("Rows", 17),
    )
    noted = [week for week in weeks if week.result not in ("passed", "before", "open")]
    rows = tuple(_run_row(scope, unit, run) for run in _runs(noted))
    return Table("Weeks other than tested", columns, rows, "Every week that is over was tested.")


def _lot(lot: LotFact) -> str:
    return lines(lot.lot, f"expiry {day(lot.expiry, 'not printed')}")


def _lots(test: BioTestFact) -> str:
    """The lot of the test and of its control; the name on the box is in the list of indicator lots."""
    if test.control_lot is None:
        return lines(_lot(test.lot), "no control run")
    same = test.control_lot.ref == test.lot.ref
    return lines(_lot(test.lot), "control: same lot" if same else f"control: {_lot(test.control_lot)}")


def _reading(reading: BioReadingFact) -> str:
    hours = f"{number(reading.incubated_hours)} h" if reading.incubated_hours is not None else "hours not stated"
    heat = f"{number(reading.incubator_temperature)} °C" if reading.incubator_temperature is not None else ""
    known = f"known {day(reading.known_on)}" if reading.known_on != reading.row.happened_on else ""
    return lines(
        ", ".join(part for part in (day(reading.row.happened_on), hours, heat) if part),
        f"test {reading.test}, control {reading.control}",
        labelled("read by", reading.read_by),
        labelled("report", reading.report),
        known,
    )


def _cycle(test: BioTestFact) -> str:
    implant = "implant load" if test.implant else ""
    chamber = "load not stated" if test.chamber == "not stated" else f"{test.chamber} chamber"
    other = f"mechanical: {test.mechanical}, chemical: {test.chemical}"
    return lines(f"no. {test.cycle_number or 'not stated'}, {test.cycle_type}, {chamber}", implant, other)


def _is_plain(test: BioTestFact, verdict) -> bool:
    """A routine test of which nothing but its passing has to be told."""
    reading = test.readings[0] if len(test.readings) == 1 else None
    return (
        verdict is not None
        and verdict.verdict == "passed"
        and (test.purpose, test.mechanical, test.chemical) == ("routine", "pass", "pass")
        and not test.implant
        and test.control_lot is not None
        and test.control_lot.ref == test.lot.ref
        and reading is not None
        and not reading.report
        and reading.known_on == reading.row.happened_on
    )


def _plain_row(scope: Scope, test: BioTestFact) -> tuple[Cell, ...]:
    reading = test.readings[0]
    hours = f", {number(reading.incubated_hours)} h" if reading.incubated_hours is not None else ""
    heat = f", {number(reading.incubator_temperature)} °C" if reading.incubator_temperature is not None else ""
    by = f"run by {test.run_by}" if test.run_by == reading.read_by else f"run {test.run_by}, read {reading.read_by}"
    chamber = "" if test.chamber == "not stated" else f", {test.chamber}"
    return (
        Cell(day(test.row.happened_on)),
        Cell(f"{test.cycle_number or 'no number'}, {test.cycle_type}{chamber}"),
        Cell(by),
        Cell(test.lot.lot),
        Cell(f"{day(reading.row.happened_on)}{hours}{heat}"),
        Cell("passed"),
        scope.proof(test, reading),
    )


def _test_row(scope: Scope, test: BioTestFact, verdict) -> tuple[Cell, ...]:
    if _is_plain(test, verdict):
        return _plain_row(scope, test)
    says = lines(verdict.verdict, dated(verdict.reason)) if verdict else "not judged"
    weighs = verdict is not None and verdict.verdict in ("failed", "invalid")
    return (
        Cell(day(test.row.happened_on)),
        Cell(_cycle(test)),
        Cell(lines(test.purpose, f"run by {test.run_by or 'not stated'}", f"read at {test.site}")),
        Cell(_lots(test)),
        Cell("\n".join(_reading(r) for r in test.readings) or "no reading yet"),
        Cell(says, strong=weighs),
        scope.proof(test, *test.readings),
    )


def tests_blocks(scope: Scope, unit: UnitScope) -> tuple:
    """Every spore test of the period in one table, and how to read its short rows."""
    columns = (
        Column("Day", 17),
        Column("Cycle", 29),
        Column("Purpose, people", 23),
        Column("Lots", 15),
        Column("Readings", 34),
        Column("Counts as", 14),
        Column("Rows", 22),
    )
    verdicts = {v.test: v for v in unit.judgement.verdicts} if unit.judgement else {}
    tests = scope.inside(unit.facts.bio_tests)
    rows = tuple(_test_row(scope, t, verdicts.get(t.row.origin)) for t in tests)
    table = Table("Spore tests (biological indicator)", columns, rows, "Spore tests in the period: no record found.")
    if not any(_is_plain(t, verdicts.get(t.row.origin)) for t in tests):
        return (table,)
    short = Paragraph(
        "A short row is a routine test that passed: no growth in the test, growth in its control of the same "
        "lot, mechanical and chemical results of the cycle passed, read in the clinic on the day shown. Expiry "
        "dates stand in the list of indicator lots. Every other test is told in full.",
        "small",
    )
    return (short, table)


def _months(scope: Scope, kind: str, facts) -> list[tuple[Cell, ...]]:
    """Results that passed, and those that nobody read, counted by month; every failure on its own line."""
    months = defaultdict(list)
    rows = []
    for fact in scope.inside(facts):
        when = fact.row.happened_on
        if fact.result in _BY_MONTH:
            months[(when.replace(day=1), _BY_MONTH.index(fact.result))].append(fact)
            continue
        where = getattr(fact, "where", "") or getattr(fact, "chamber", "")
        text = lines(f"cycle {fact.cycle_number or 'not stated'}", where, labelled("lot", fact.lot))
        result = Cell(fact.result, strong=True)
        rows.append((when, (Cell(day(when)), Cell(kind), result, Cell(text), scope.proof(fact))))
    for (first, at), same in months.items():
        lots = sorted({fact.lot for fact in same if fact.lot})
        text = lines(counted(len(same), "result"), labelled("lots", ", ".join(lots)))
        result = Cell(_BY_MONTH[at], strong=at > 0)
        rows.append((first, (Cell(month(first)), Cell(kind), result, Cell(text), entries(same))))
    return [row for _, row in sorted(rows, key=lambda each: each[0])]


def other_tests(scope: Scope, unit: UnitScope) -> Table:
    columns = (
        Column("When", 14),
        Column("Test", 26),
        Column("Result", 14),
        Column("What was recorded", 38),
        Column("Rows", 17),
    )
    rows = _months(scope, "air removal test", unit.facts.air_removal)
    for kind in sorted({fact.type for fact in unit.facts.chemical}):
        same = tuple(fact for fact in unit.facts.chemical if fact.type == kind)
        rows += _months(scope, f"chemical indicator type {kind}", same)
    for leak in scope.inside(unit.facts.leaks):
        text = f"{number(leak.rate)} kPa per minute, limit {number(leak.limit)}; as read: {leak.as_read}"
        rows.append(
            (
                Cell(day(leak.row.happened_on)),
                Cell("air leakage test"),
                Cell(leak.result, strong=leak.result == "fail"),
                Cell(lines(text, leak.limit_source)),
                scope.proof(leak),
            )
        )
    caption = "Chemical indicators, air removal and leakage: passed and unread by month, every failure by itself"
    return Table(caption, columns, tuple(rows), "Chemical indicators, air removal and leakage: no record found.")


def indicator_sections(scope: Scope) -> tuple[Section, ...]:
    """The whole indicator record; `failures` adds the cases behind each unit."""
    intro = Paragraph(
        "Unit by unit: a strip of weeks, every spore test (biological indicator), the other tests of the "
        "process, user checks and loads, then each failure from the day it was known to the return, in order, and "
        "whatever else put loads in doubt.",
    )
    sections = [Section("indicators", "Indicator record", 1, (intro,))]
    if not scope.units:
        sections[0] = Section("indicators", "Indicator record", 1, (intro, Paragraph("No unit on record.")))
    for unit in scope.units:
        blocks = (
            *gap_blocks(scope, unit),
            *strip_blocks(scope, unit),
            *spore_strips(scope, unit),
            *tests_blocks(scope, unit),
            other_tests(scope, unit),
        )
        sections.append(Section(unit.indicators, f"Indicators of {unit.label}", 2, blocks))
        sections += weeks_sections(scope, unit)
        sections.append(checks_section(scope, unit))
        sections += failure_sections(scope, unit)
    return tuple(sections)
