"""Every spore test of one unit: what holds for nearly all said once, what is not plain in full, then a line each."""

from __future__ import annotations

from collections.abc import Iterator

from audit.binder.calendar import main_duty
from audit.binder.duties_kept import how_many, runs_of
from audit.binder.failures import sections_of_tests
from audit.binder.scope import Scope, UnitScope, gap_words
from audit.binder.sections import Block, Cell, Column, Paragraph, Section, Table
from audit.binder.spore_words import Kind, is_plain, lot_words, told_in_full, usual_of, verdicts_of
from audit.binder.usual import RECORD, Line, People, by_date, lots_in_turn, lots_words, short_day
from audit.binder.written_on_paper import NO_RECORD, dated, day, first_upper, number, span
from audit.facts import BioReadingFact, BioTestFact
from audit.judge.judgement import Lapse, TestVerdict

# Signs of what is no pass, with their meaning: the same as in the calendar.
SIGNS = {"failed": "F", "invalid": "x", "awaited": "○"}
_MEANINGS = {"F": "failed", "x": "did not count", "○": "result awaited", "?": "not judged"}


# ------------------------------------------------------------------------------------------------ no test


def untested(scope: Scope, unit: UnitScope) -> list[list[Lapse]]:
    """Times of the period without a test that counts and in time, alike ones together; those of a test are its own."""
    duty = main_duty(unit)
    if duty is not None:
        lapses = duty.lapses
    else:
        weeks = unit.judgement.weeks if unit.judgement else ()
        told = [week for week in weeks if week.result not in ("passed", "before", "open")]
        lapses = tuple(Lapse(week.start, week.end, week.result, week.note, week.tests) for week in told)
    inside = [each for each in lapses if each.end >= scope.from_on and each.start <= scope.last]
    tests = {test.row.ref for test in unit.facts.bio_tests}
    rest = [each for each in inside if not any(proof.ref in tests for proof in each.evidence)]
    return runs_of(tuple(rest))


def _run_row(scope: Scope, unit: UnitScope, run: list[Lapse]) -> tuple[Cell, ...]:
    first, last = run[0], run[-1]
    gaps = scope.gaps(unit, first.start, last.end) if first.result != "exempt" else ()
    result = {"exempt": "Not asked"}.get(first.result, first_upper(first.result))
    many = f" ({how_many(run)})" if len(run) > 1 else ""
    known = [dated(first.note), *(dated(each.text) for each in first.evidence)]
    known += [gap_words(scope, gap) for gap in gaps]
    text = f"{result}{many}. {first_upper('; '.join(part for part in known if part) or 'no test on record')}."
    refs = [*(each.ref for each in first.evidence), *(gap.row.ref for gap in gaps)]
    return Cell(span(first.start, last.end)), Cell(text, bold=(f"{result}{many}.",)), scope.refs(refs)


# ------------------------------------------------------------------------------------------------ the list


def _in_full(scope: Scope, unit: UnitScope, tests, usual: Kind) -> Table:
    """Every test that is not plain and every time without one, by day."""
    columns = (
        Column("Told in full", 74, names=True),
        Column("", 362),
        Column("Page", 36, "right"),
        Column("Record", RECORD, small=True),
    )
    verdicts, homes = verdicts_of(unit), sections_of_tests(scope, unit)
    rows = []
    for test in tests:
        verdict = verdicts.get(test.row.origin)
        if is_plain(test, verdict, usual):
            continue
        home = homes.get(test.row.ref, "")
        text = told_in_full(test, verdict, usual) if not home else _short(test, verdict)
        word = text.split(" ", 1)[0]
        page = Cell("", to=home, page="") if home else Cell("")
        rows.append(
            (
                test.row.happened_on,
                (Cell(day(test.row.happened_on)), Cell(text, bold=(word,)), page, scope.proof(test, *test.readings)),
            )
        )
    for run in untested(scope, unit):
        when, text, record = _run_row(scope, unit, run)
        rows.append((run[0].start, (when, text, Cell(""), record)))
    rows.sort(key=lambda each: each[0])
    return Table("", columns, tuple(row for _, row in rows), "No test told in full.")


def _short(test: BioTestFact, verdict: TestVerdict | None) -> str:
    cycle = f", cycle {test.cycle_number}" if test.cycle_number else ""
    said = first_upper(verdict.verdict) if verdict else "Not judged"
    return f"{said}: run on {day(test.row.happened_on)}{cycle}; told with the failure."


def _usual_words(tests, usual: Kind, people: People, turns) -> str:
    """What holds of each test unless its line or the list above it says otherwise."""
    parts = [word for word in usual.words() if word]
    if len(people.letters) == 1:
        parts.append(f"run and read by {next(iter(people.letters))}")
    elif people.several:
        parts.append(f"run and read by: {people.key()}")
    lots = {test.lot.ref: test.lot for test in tests}
    if turns is not None and turns:
        parts.append(lots_words(turns, lambda ref: lot_words(lots[ref])))
    elif lots:
        parts.append("; ".join(f"lot {lot_words(lot)}" for lot in lots.values()))
    return f"Unless a line says otherwise: {'; '.join(parts)}."


def _line(scope: Scope, test: BioTestFact, verdict, plain: bool, people: People, several_lots: bool) -> Line:
    reading = test.readings[-1] if test.readings else None
    sign = "passed" if verdict is not None and verdict.verdict == "passed" else ""
    sign = sign or (SIGNS.get(verdict.verdict, "?") if verdict else "?")
    names = [test.run_by, *(each.read_by for each in test.readings)]
    cells = [Cell(test.cycle_number or "none")]
    cells += [Cell(people.by(*names))] if people.several else []
    cells += [Cell(test.lot.lot)] if several_lots else []
    cells += [
        Cell(_short_read(test, reading)),
        Cell(number(reading.incubated_hours, "") if reading else ""),
        Cell(number(reading.incubator_temperature, "") if reading else ""),
        Cell(sign, strong=sign != "passed"),
        scope.proof(test, *test.readings),
    ]
    return Line(test.row.happened_on, tuple(cells), strong=not plain)


def _short_read(test: BioTestFact, reading: BioReadingFact | None) -> str:
    return short_day(reading.row.happened_on) if reading else "not yet"


def _gaps_between(scope: Scope, unit: UnitScope) -> Iterator[Line]:
    for run in untested(scope, unit):
        result = {"exempt": "not asked"}.get(run[0].result, run[0].result)
        yield Line(run[0].start, across=f"{span(run[0].start, run[-1].end)}: {result}")


def tests_blocks(scope: Scope, unit: UnitScope) -> tuple[Block, ...]:
    """What holds for all, what is not plain, and a line for each test of the period."""
    tests = scope.inside(unit.facts.bio_tests)
    if not tests:
        none = _in_full(scope, unit, (), Kind("", "", "", "", "", "", "", True, ""))
        said = Paragraph("Spore tests in the period: no record found. The clinic supplies what was run.")
        return (said, none) if none.rows else (said,)
    verdicts = verdicts_of(unit)
    usual = usual_of(tests)
    people = People.of(name for test in tests for name in (test.run_by, *(r.read_by for r in test.readings)))
    turns = lots_in_turn([(test.row.happened_on, test.lot.ref) for test in tests])
    full = _in_full(scope, unit, tests, usual)
    plain = {test.row.ref for test in tests if is_plain(test, verdicts.get(test.row.origin), usual)}
    lines = [
        _line(scope, test, verdicts.get(test.row.origin), test.row.ref in plain, people, turns is None)
        for test in tests
    ]
    lines = sorted([*lines, *_gaps_between(scope, unit)], key=lambda line: line.on)
    table = by_date("Each test", _columns(people.several, turns is None), lines, NO_RECORD)
    blocks: list[Block] = [Paragraph(_usual_words(tests, usual, people, turns))]
    blocks += [full] if full.rows else []
    return (*blocks, table, Paragraph(_key(lines, bool(full.rows)), "small"))


def _columns(by: bool, lot: bool) -> tuple[Column, ...]:
    """The columns after the day; narrower ones where persons or lots have theirs."""
    tight = by or lot
    return (
        Column("Cycle", 30 if tight else 32),
        *((Column("By", 24),) if by else ()),
        *((Column("Lot", 34),) if lot else ()),
        Column("Read", 36 if tight else 40),
        Column("Hours", 26 if tight else 28, "right"),
        Column("°C", 26 if tight else 30, "right"),
        Column("Result", 32 if tight else 34),
        Column("Record", RECORD, small=True),
    )


def _key(lines: list[Line], full: bool) -> str:
    used = {cell.text for line in lines for cell in line.cells if cell.text in _MEANINGS}
    signs = [f"{sign} {_MEANINGS[sign]}" for sign in _MEANINGS if sign in used]
    above = ["In bold: told in full above"] if full else []
    return "; ".join([*signs, *above, "Record: the entry of the run, then of the reading"]) + "."


def spore_section(scope: Scope, unit: UnitScope) -> Section:
    count = len(scope.inside(unit.facts.bio_tests))
    on_record = f"{count} on record" if count else "none on record"
    title = f"Spore tests (biological indicator): {on_record}"
    return Section(unit.indicators, title, 2, tests_blocks(scope, unit))
