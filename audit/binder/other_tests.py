"""The other tests of the process and the user checks: what holds for nearly all said once, then a dated line each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from audit.binder.failures import told_with_failures
from audit.binder.pictures.readings import LEAK_UNIT
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import EVERYTHING, Block, Cell, Column, Paragraph, Section, Table
from audit.binder.usual import RECORD, DatedLine, Kinds, People, by_date, entries, lots_in_turn, lots_words
from audit.binder.written_on_paper import NO_BREAK, day, first_upper, labelled, number, quantity
from audit.facts import AirRemovalFact, ChemicalFact, LeakFact, UserCheckFact
from audit.facts.dates import add_months

_RESULTS = {"pass": "passed", "fail": "F", "not done": "not done", "not read": "not read"}
_FAILED = "fail"
_MANY = 200  # rows of one kind, of which those that simply passed long ago are told by the month
_LONG_AGO = 12  # months before the end of the period


@dataclass(frozen=True, slots=True)
class _TestKind:
    """One kind of test: what its rows say beside the day, and what of it is the same in nearly all."""

    name: str
    rows: Sequence
    said: Callable[[object], tuple[str, ...]]  # how it was done; the ways of most rows are said once
    value: Callable[[object], str]  # what each line says
    lot: Callable[[object], str]
    by: Callable[[object], str]

    def short_value(self, row) -> str:
        """The value without the unit of measure that stands above its column."""
        value = self.value(row)
        return value.partition(NO_BREAK)[0] if _measure(self) != "Value" else value

    @staticmethod
    def measured(row) -> Decimal:
        """The number behind the value of a row that has one."""
        return row.rate if isinstance(row, LeakFact) else row.value


def _purpose(fact) -> str:
    return labelled("purpose", fact.purpose)


def _air(fact: AirRemovalFact) -> tuple[str, ...]:
    chamber = "load not stated" if fact.chamber == "not stated" else f"{fact.chamber} chamber"
    return chamber, _purpose(fact)


def _leak(fact: LeakFact) -> tuple[str, ...]:
    """What was read and how, but for the value itself."""
    over = labelled("read over", quantity(fact.minutes, "min") if fact.minutes is not None else "")
    settled = labelled("after settling", quantity(fact.settling, "min") if fact.settling is not None else "")
    pressure = labelled("begun at", quantity(fact.start_pressure, "kPa") if fact.start_pressure is not None else "")
    heat = quantity(fact.start_temperature, "°C") if fact.start_temperature is not None else ""
    limit = f"limit {number(fact.limit)} {LEAK_UNIT} ({fact.limit_source or 'source not stated'})"
    return limit, over, settled, pressure, heat, _purpose(fact)


def _chemical(fact: ChemicalFact) -> tuple[str, ...]:
    return (labelled("where", fact.where),)


def _check(fact: UserCheckFact) -> tuple[str, ...]:
    return labelled("program", fact.cycle_type), _purpose(fact)


def _check_value(fact: UserCheckFact) -> str:
    return quantity(fact.value, fact.unit_of_measure) if fact.value is not None else ""


def _leak_value(fact: LeakFact) -> str:
    return quantity(fact.rate, LEAK_UNIT)


def _none(fact) -> str:
    return ""


def _kinds(scope: Scope, unit: UnitScope) -> list[_TestKind]:
    facts = unit.facts
    found = [
        _TestKind("Air removal tests", scope.inside(facts.air_removal), _air, _none, lambda f: f.lot, _none),
        _TestKind("Air leak tests", scope.inside(facts.leaks), _leak, _leak_value, _none, _none),
    ]
    for kind in sorted({fact.type for fact in facts.chemical}):
        rows = scope.inside(f for f in facts.chemical if f.type == kind)
        found.append(_TestKind(f"Chemical indicators, type {kind}", rows, _chemical, _none, lambda f: f.lot, _none))
    for kind in sorted({check.kind for check in facts.checks}):
        rows = scope.inside(c for c in facts.checks if c.kind == kind)
        found.append(_TestKind(first_upper(kind), rows, _check, _check_value, _none, lambda f: f.signed_by))
    return [kind for kind in found if kind.rows]


def _cycle(fact) -> str:
    return getattr(fact, "cycle_number", "")


def _differs(kind: _TestKind, row, kinds: Kinds) -> list[str]:
    """What a row says otherwise than those of any kind, and its note."""
    own, note = kind.said(row), getattr(row, "note", "")
    told = []
    if own not in kinds.known:
        others = (pair for pair in zip(own, kinds.known[0], strict=True) if pair[0] != pair[1])
        told = [mine or f"not stated: {usual}" for mine, usual in others]
    return [*told, note] if note else told


def _in_full(scope: Scope, kind: _TestKind, kinds: Kinds, homes: dict[str, str]) -> Table:
    """Each row that failed, or that is otherwise than most."""
    columns = (
        Column("Told in full", 74, names=True),
        Column("What was found", 368),
        Column("Page", 30, "right"),
        Column("Record", RECORD, small=True),
    )
    rows = []
    for row in kind.rows:
        told = _differs(kind, row, kinds)
        if row.result != _FAILED and not told:
            continue
        word = {"pass": "Passed", "fail": "Failed"}.get(row.result, first_upper(row.result))
        cycle = f"cycle {_cycle(row)}" if _cycle(row) else ""
        read = f"as read: {row.as_read}" if getattr(row, "as_read", "") else ""
        by = labelled("signed by", kind.by(row))
        parts = (cycle, kind.value(row), *told, read, labelled("lot", kind.lot(row)), by)
        home = homes.get(row.row.ref, "")
        parts = (*parts, "told with the failure") if home else parts
        text = f"{word}. " + first_upper("; ".join(part for part in parts if part) or "nothing further") + "."
        page = Cell("", to=home, page="") if home else Cell("")
        rows.append((Cell(day(row.row.happened_on)), Cell(text, bold=(f"{word}.",)), page, scope.proof(row)))
    return Table("", columns, tuple(rows), "None told in full.")


def _words(kind: _TestKind, kinds: Kinds, people: People, turns) -> str:
    parts = kinds.words()
    if turns:
        parts.append(lots_words(turns))
    signed = [kind.by(row) for row in kind.rows]
    if len(people.letters) == 1 and all(signed):
        parts.append(f"signed by {next(iter(people.letters))}")
    elif people.letters:
        parts.append(f"signed by: {people.key()}" + ("" if all(signed) else "; none: not signed"))
    parts += [] if any(_cycle(row) for row in kind.rows) else ["no cycle number entered"]
    return f"Unless a line says otherwise: {'; '.join(parts)}." if parts else ""


def _line(scope: Scope, kind: _TestKind, row, full: set[str], columns) -> DatedLine:
    result = _RESULTS.get(row.result, row.result)
    cells = []
    if columns.cycle:
        cells.append(Cell(_cycle(row)))
    if columns.letters is not None:
        cells.append(Cell(columns.letters.letter(kind.said(row))))
    if columns.value:
        cells.append(Cell(kind.short_value(row)))
    if columns.lot:
        cells.append(Cell(kind.lot(row)))
    if columns.people is not None:
        by = kind.by(row)
        cells.append(Cell(columns.people.by(by) if by else "none", strong=not by and row.result != "not done"))
    cells += [Cell(result, strong=row.result != "pass"), scope.proof(row)]
    return DatedLine(row.row.happened_on, tuple(cells), strong=row.row.ref in full)


@dataclass(frozen=True, slots=True)
class _ColumnsShown:
    """Which columns the lines of one kind have."""

    cycle: bool
    letters: Kinds | None
    value: str  # the head of the column of values, "" where there is none
    lot: bool
    people: People | None

    def made(self) -> tuple[Column, ...]:
        return (
            *((Column("Cycle", 40),) if self.cycle else ()),
            *((Column("As", 14),) if self.letters is not None else ()),
            *((Column(self.value, 62),) if self.value else ()),
            *((Column("Lot", 46),) if self.lot else ()),
            *((Column("By", 30),) if self.people is not None else ()),
            Column("Result", 42),
            Column("Record", RECORD, small=True),
        )


def _measure(kind: _TestKind) -> str:
    """The head of the values: their unit of measure where it is one and the same."""
    values = [kind.value(row) for row in kind.rows if kind.value(row)]
    if not values:
        return ""
    units = {value.partition(NO_BREAK)[2] for value in values}
    return units.pop() or "Value" if len(units) == 1 else "Value"


def _section(scope: Scope, unit: UnitScope, kind: _TestKind, n: int, homes: dict[str, str]) -> Section:
    kinds = Kinds.of([kind.said(row) for row in kind.rows])
    people = People.of(kind.by(row) for row in kind.rows)
    signed = [kind.by(row) for row in kind.rows]
    turns = lots_in_turn([(row.row.happened_on, kind.lot(row)) for row in kind.rows])
    columns = _ColumnsShown(
        cycle=any(_cycle(row) for row in kind.rows),
        letters=kinds if kinds.several else None,
        value=_measure(kind),
        lot=turns is None,
        people=people if people.letters and (people.several or not all(signed)) else None,
    )
    full = _in_full(scope, kind, kinds, homes)
    named = {row.row.ref for row in kind.rows if row.result == _FAILED or _differs(kind, row, kinds)}
    until = _by_month_until(scope, kind)
    plain = [r for r in kind.rows if r.row.happened_on < until and _is_plain(kind, r, named, columns)]
    own = {row.row.ref for row in plain}
    lines = [_line(scope, kind, row, named, columns) for row in kind.rows if row.row.ref not in own]
    lines += _months(kind, plain, columns)
    words = _words(kind, kinds, people, turns)
    blocks: list[Block] = [Paragraph(words)] if words else []
    blocks += [full] if full.rows else []
    blocks.append(by_date("", columns.made(), sorted(lines, key=_on), "None."))
    told = ["F failed; in bold: told in full above."] if full.rows else []
    if plain:
        told.append(
            f"What passed as most did before {day(until)} stands by the month, with the first and the last of its "
            "entries; a binder with everything on record prints a line for each."
        )
    blocks += [Paragraph(" ".join(told), "small")] if told else []
    return Section(f"{unit.indicators}-checks-{n}", f"{kind.name}: {len(kind.rows)}", 3, tuple(blocks))


def _on(line: DatedLine) -> date:
    return line.on


def _by_month_until(scope: Scope, kind: _TestKind) -> date:
    """The day before which what simply passed is told by the month: of few rows, or of everything, none."""
    if len(kind.rows) <= _MANY or scope.extent == EVERYTHING:
        return date.min
    return add_months(min(scope.to_on, scope.as_of), -_LONG_AGO).replace(day=1)


def _is_plain(kind: _TestKind, row, named: set[str], columns: _ColumnsShown) -> bool:
    """Whether a row passed as most did: it says no more than value, day, lot and person."""
    unsigned = columns.people is not None and not kind.by(row)
    marked = columns.letters is not None and columns.letters.letter(kind.said(row)) != ""
    return row.result == "pass" and row.row.ref not in named and not row.row.corrected and not (unsigned or marked)


def _months(kind: _TestKind, rows: Sequence, columns: _ColumnsShown) -> list[DatedLine]:
    """A line for each month of the rows: how many passed, on which days, with which values, lots and persons."""
    found: dict[tuple[int, int], list] = {}
    for row in rows:
        found.setdefault((row.row.happened_on.year, row.row.happened_on.month), []).append(row)
    return [_month(kind, held, columns) for held in found.values()]


def _month(kind: _TestKind, rows: Sequence, columns: _ColumnsShown) -> DatedLine:
    first, last = rows[0].row.happened_on, rows[-1].row.happened_on
    told = [f"{len(rows)} passed, {first.day}" + (f" to {last.day}" if last != first else "")]
    values = sorted((kind.measured(row), kind.short_value(row)) for row in rows if kind.value(row))
    if values:
        told.append(" to ".join(dict.fromkeys((values[0][1], values[-1][1]))))
    if columns.lot and (lots := list(dict.fromkeys(kind.lot(row) for row in rows if kind.lot(row)))):
        told.append(f"lot{'s' if len(lots) > 1 else ''} {', '.join(lots)}")
    if columns.people is not None:
        told.append(f"by {columns.people.by(*(kind.by(row) for row in rows))}")
    across = len(columns.made()) - 1
    return DatedLine(first, (Cell("; ".join(told), span=across), entries(rows)), month=True)


def other_tests_section(scope: Scope, unit: UnitScope) -> tuple[Section, ...]:
    """All other tests and checks of the period, kind by kind; nothing for a unit without any."""
    kinds, homes = _kinds(scope, unit), told_with_failures(scope, unit)
    if not kinds:
        return ()
    head = Section(f"{unit.indicators}-checks", "Other tests and checks", 2)
    return (head, *(_section(scope, unit, kind, n, homes) for n, kind in enumerate(kinds, start=1)))
