"""Every spore test of one unit: what holds for nearly all said once, what is not plain in full, then a line each."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from audit.binder.calendar import main_duty
from audit.binder.duties_kept import how_many, runs_of
from audit.binder.failures import told_with_failures
from audit.binder.scope import Scope, UnitScope, gap_words
from audit.binder.sections import Block, Cell, Column, Paragraph, Section, Table
from audit.binder.spore_words import SporeKinds, lot_words, names_of, verdicts_of
from audit.binder.usual import RECORD, DatedLine, People, by_date, lots_in_turn, lots_words, short_day, short_span
from audit.binder.written_on_paper import NO_RECORD, dated, day, first_upper, number
from audit.facts import BioTestFact
from audit.judge.judgement import Lapse, TestVerdict

# Signs of what is no pass, with their meaning: the same as in the calendar.
SIGNS = {"failed": "F", "invalid": "x", "awaited": "○"}
_MEANINGS = {"✓": "passed", "F": "failed", "x": "did not count", "○": "result awaited", "?": "not judged"}


# ------------------------------------------------------------------------------------------------ no test


def untested(scope: Scope, unit: UnitScope) -> list[list[Lapse]]:
    """Times of the period without a test that counts and in time, alike ones together; but those a test tells of."""
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
    return Cell(short_span(first.start, last.end)), Cell(text, bold=(f"{result}{many}.",)), scope.refs(refs)


# ------------------------------------------------------------------------------------------------ the list


def _in_full(scope: Scope, unit: UnitScope, tests, kinds: SporeKinds | None) -> Table:
    """Every test that is not plain and every time without one, by day."""
    columns = (
        Column("Told in full", 74, names=True),
        Column("What was found", 368),
        Column("Page", 30, "right"),
        Column("Record", RECORD, small=True),
    )
    verdicts, homes = verdicts_of(unit), told_with_failures(scope, unit)
    rows = []
    for test in tests:
        verdict = verdicts.get(test.row.origin)
        if kinds.is_plain(test, verdict):
            continue
        home = homes.get(test.row.ref, "")
        text = _short(test, verdict) if home else kinds.told_in_full(test, verdict)
        page = Cell("", to=home, page="") if home else Cell("")
        told = Cell(text, bold=(text.split(" ", 1)[0],))
        rows.append(
            (test.row.happened_on, (Cell(day(test.row.happened_on)), told, page, scope.proof(test, *test.readings)))
        )
    for run in untested(scope, unit):
        when, told, record = _run_row(scope, unit, run)
        rows.append((run[0].start, (when, told, Cell(""), record)))
    rows.sort(key=lambda each: each[0])
    return Table("", columns, tuple(row for _, row in rows), "No test told in full.")


def _short(test: BioTestFact, verdict: TestVerdict | None) -> str:
    cycle = f", cycle {test.cycle_number}" if test.cycle_number else ""
    said = first_upper(verdict.verdict) if verdict else "Not judged"
    return f"{said}: run on {day(test.row.happened_on)}{cycle}; told with the failure."


@dataclass(frozen=True, slots=True)
class _List:
    """How the lines of one unit are made: what holds for all, and which columns the rest takes."""

    kinds: SporeKinds
    people: People
    turns: list[tuple[str, date]] | None  # the lots in turn; None: each line names its own
    hours: bool  # whether hours are on record of any test, and the heat of the incubator
    heat: bool

    def words(self, tests) -> str:
        """What holds of each test unless its line or the list above it says otherwise."""
        parts = self.kinds.kinds.words()
        if self.kinds.named:
            parts.append(f"run and read by: {self.people.key()}")
        lots = {test.lot.ref: test.lot for test in tests}
        if self.turns:
            parts.append(lots_words(self.turns, lambda ref: lot_words(lots[ref])))
        else:
            parts.append("; ".join(f"lot {lot_words(lot)}" for lot in lots.values()))
        missing = [what for what, held in (("hours", self.hours), ("temperature", self.heat)) if not held]
        parts += [f"{' and '.join(missing)} of incubation not entered"] if missing else []
        return f"Unless a line says otherwise: {'; '.join(parts)}."

    def columns(self) -> tuple[Column, ...]:
        """Those after the day; narrower where persons, kinds or lots have theirs."""
        several = self.kinds.kinds.several
        tight = several or self.signs
        return (
            Column("Cycle", 30 if tight else 32),
            *((Column("As", 12),) if several else ()),
            *((Column("By", 24),) if self.kinds.named else ()),
            *((Column("Lot", 36),) if self.turns is None else ()),
            Column("Read", 36 if tight else 40),
            *((Column("Known", 40), Column("Report", 250)) if self.kinds.reported else ()),
            *((Column("Hours", 25 if tight else 28, "right"),) if self.hours else ()),
            *((Column("°C", 25 if tight else 30, "right"),) if self.heat else ()),
            Column("✓", 12) if self.signs else Column("Result", 34),
            Column("Record", RECORD, small=True),
        )

    @property
    def signs(self) -> bool:
        """Whether a pass is a sign and no word: where the lines have more columns."""
        return self.kinds.named or self.turns is None

    def line(self, scope: Scope, test: BioTestFact, verdict: TestVerdict | None) -> DatedLine:
        reading = test.readings[-1] if test.readings else None
        passed = "✓" if self.signs else "passed"
        sign = passed if verdict is not None and verdict.verdict == "passed" else ""
        sign = sign or (SIGNS.get(verdict.verdict, "?") if verdict else "?")
        plain = self.kinds.is_plain(test, verdict)
        cells = [Cell(test.cycle_number or "none")]
        if self.kinds.kinds.several:
            cells.append(Cell(self.kinds.kinds.letter(self.kinds.kind(test))))
        cells += [Cell(self.people.by(*names_of(test)))] if self.kinds.named else []
        cells += [Cell(test.lot.lot)] if self.turns is None else []
        cells.append(Cell(short_day(reading.row.happened_on) if reading else "not yet"))
        if self.kinds.reported:
            cells.append(Cell(short_day(reading.known_on) if reading else ""))
            cells.append(Cell(reading.report if reading else ""))
        cells += [Cell(number(reading.incubated_hours, "") if reading else "")] if self.hours else []
        cells += [Cell(number(reading.incubator_temperature, "") if reading else "")] if self.heat else []
        cells += [
            Cell(sign, strong=sign != passed),
            scope.proof(test, *test.readings),
        ]
        return DatedLine(test.row.happened_on, tuple(cells), strong=not plain)


def _gaps_between(scope: Scope, unit: UnitScope) -> Iterator[DatedLine]:
    for run in untested(scope, unit):
        result = {"exempt": "not asked"}.get(run[0].result, run[0].result)
        yield DatedLine(run[0].start, across=f"{short_span(run[0].start, run[-1].end)}: {result}")


def tests_blocks(scope: Scope, unit: UnitScope) -> tuple[Block, ...]:
    """What holds for all, what is not plain, and a line for each test of the period."""
    tests = scope.inside(unit.facts.bio_tests)
    if not tests:
        none = _in_full(scope, unit, (), None)
        said = Paragraph("Spore tests in the period: no record found. The clinic supplies what was run.")
        return (said, none) if none.rows else (said,)
    verdicts = verdicts_of(unit)
    made = _List(
        SporeKinds.of(tests),
        People.of(name for test in tests for name in names_of(test)),
        lots_in_turn([(test.row.happened_on, test.lot.ref) for test in tests]),
        hours=any(reading.incubated_hours is not None for test in tests for reading in test.readings),
        heat=any(reading.incubator_temperature is not None for test in tests for reading in test.readings),
    )
    full = _in_full(scope, unit, tests, made.kinds)
    lines = [made.line(scope, test, verdicts.get(test.row.origin)) for test in tests]
    lines = sorted([*lines, *_gaps_between(scope, unit)], key=lambda line: line.on)
    table = by_date("", made.columns(), lines, NO_RECORD, wide=made.kinds.reported)
    blocks: list[Block] = [Paragraph(made.words(tests))]
    blocks += [full] if full.rows else []
    return (*blocks, table, Paragraph(_key(lines, bool(full.rows)), "small"))


def _key(lines: list[DatedLine], full: bool) -> str:
    used = {cell.text for line in lines for cell in line.cells if cell.text in _MEANINGS}
    signs = [f"{sign} {_MEANINGS[sign]}" for sign in _MEANINGS if sign in used]
    above = ["in bold: told in full above"] if full else []
    return "; ".join([*signs, *above, "record: the entry of the run, then of the reading"]) + "."


def _how_many(scope: Scope, unit: UnitScope) -> str:
    """How many stand in the list, and how many more are on record from before: together those that answers count."""
    count = len(scope.inside(unit.facts.bio_tests))
    before = sum(test.row.happened_on < scope.from_on for test in unit.facts.bio_tests)
    earlier = f", {before} from before it" if before else ""
    return f"{count} in the period{earlier}" if count or before else "none on record"


def spore_section(scope: Scope, unit: UnitScope) -> Section:
    title = f"Spore tests (biological indicator): {_how_many(scope, unit)}"
    return Section(unit.indicators, title, 2, tests_blocks(scope, unit))
