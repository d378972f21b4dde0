"""The index of records: each entry with its kind, unit and day, when it was logged and by whom."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from audit.binder.changes import kind_words
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import EVERYTHING, Cell, Column, Paragraph, Section, Table
from audit.binder.written_on_paper import NO_BREAK, counted, local_time
from audit.facts import LoadFact, Row
from records.wording import SHORT_MONTHS

INDEX = "index"
_INTRO = (
    "A number in a record column names the entry of the clinic's ledger that the statement rests on (a letter "
    "before it: the ledger of another, named on the page of the seal); 486.13 is line 13 of entry 486. An entry "
    "is never changed; its number is the same in every binder. Here: what was entered and how many lines it has, "
    "of which unit, the day it happened, the time it was logged, or the day where that is another, and by whom. "
    "Bold: it corrects an earlier one."
)
_SHORT = {
    "reading of a spore test": "reading",
    "air removal test": "air removal",
    "air leakage test": "leak test",
    "chemical indicator": "strip",
    "job": "service",
    "document": "paper",
}
_FEW = 30  # rows that take no page of their own
_MANY = 1200  # entries; of more, those that no page names are told by the month
_ALIKE = 3  # such entries of one kind, unit, month and person that share a row
_USUAL_DIGITS = 4  # of a record number that fits its column; one more widens it
_SHORT_LABEL = 3  # letters that stand in the column of the unit
_BY_MONTH = (
    "Entries that no page names stand by the month: the first number, how many of that kind there are, and the last "
    "number; a binder with everything on record lists each."
)
_LOADS = "Loads are not in this index: their own line carries number, person and time."


@dataclass(slots=True)
class _IndexEntry:
    """An entry with its lines: those of one kind that come first name it."""

    row: Row
    kind: str
    units: dict[str, None]
    lines: int = 1  # of those that are facts
    to: Row | None = None  # the last entry of several that share the row
    many: int = 1  # how many share it
    last: int = 0  # the last of these by its number: an entry may have lines that are none
    corrects: bool = False


def _kind(fact) -> str:
    """The kind of a fact in words that fit the narrow column."""
    words = kind_words(fact)
    return _SHORT.get(words, words)


def _entries(scope: Scope, named: frozenset[str]) -> Iterable[_IndexEntry]:
    """Each entry but those of loads alone: of the period, those before it that the binder names, and under everything
    on record all of them. `named` are the numbers of the entries named."""
    found: dict[tuple[str, int], _IndexEntry] = {}
    who = ((fact, None) for fact in (*scope.responsible.coordinators, *scope.responsible.agreements))
    for fact, unit in (*scope.every, *who):
        row = fact.row
        if isinstance(fact, LoadFact) or row.happened_on > scope.as_of:
            continue
        listed = scope.holds(row.happened_on) or scope.extent == EVERYTHING
        if not listed and _entry_number(scope, row) not in named:
            continue
        entry = found.get((row.ledger, row.number))
        if entry is None:
            entry = found[row.ledger, row.number] = _IndexEntry(row, _kind(fact), {})
        else:
            entry.lines += 1
            entry.last = max(entry.last, row.line)
            if row.line < entry.row.line:
                entry.row, entry.kind = row, _kind(fact)
        entry.corrects |= row.corrected
        if unit is not None:
            entry.units[unit.label] = None
    _voidings(scope, found)
    held = sorted(found.values(), key=_place)
    return held if len(held) <= _MANY or scope.extent == EVERYTHING else _by_month(scope, held, named)


def _place(entry: _IndexEntry) -> tuple[str, int]:
    return entry.row.ledger, entry.row.number


def _by_month(scope: Scope, held: list[_IndexEntry], named: frozenset[str]) -> list[_IndexEntry]:
    """The entries, those of one kind, unit, month and person together that no page names and that correct nothing."""
    alike: dict[tuple, list[_IndexEntry]] = {}
    for entry in held:
        row = entry.row
        if entry.lines == 1 and not entry.corrects and _entry_number(scope, row) not in named:
            on = (row.happened_on.year, row.happened_on.month)
            alike.setdefault((row.ledger, entry.kind, tuple(entry.units), on, row.logged_by), []).append(entry)
    groups = [same for same in alike.values() if len(same) >= _ALIKE]
    shared = {id(entry) for same in groups for entry in same}
    made = [replace(same[0], to=same[-1].row, many=len(same)) for same in groups]
    return sorted([*(entry for entry in held if id(entry) not in shared), *made], key=_place)


def _voidings(scope: Scope, found: dict[tuple[str, int], _IndexEntry]) -> None:
    """The entries that say of an earlier one that it was made in error: no fact of theirs stands in the record."""
    labels = {unit.facts.ref: unit.label for unit in scope.units}
    for c in scope.facts.corrections:
        listed = scope.holds(c.happened_on) or scope.extent == EVERYTHING
        if c.changes or not listed or c.happened_on > scope.as_of or ("", c.number) in found:
            continue
        row = Row(c.ref, c.ref, c.number, 1, c.happened_on, None, c.logged_at, c.logged_by)
        units = {labels[c.unit]: None} if c.unit in labels else {}
        found["", c.number] = _IndexEntry(row, "in error", units, corrects=True)


def _entry_number(scope: Scope, row: Row) -> str:
    """The record number of the entry as a whole, without its line."""
    return scope.number_of(row).split(".")[0]


def _short_units(units: tuple[UnitScope, ...]) -> dict[str, str]:
    """Each label in a narrow column: what follows "Unit " where that is short, else a number of its own."""
    rest = {unit.label: unit.label.removeprefix("Unit ") for unit in units}
    if all(label != short and len(short) <= _SHORT_LABEL for label, short in rest.items()):
        return rest
    return {unit.label: str(n) for n, unit in enumerate(units, start=1)}


def _key_of_units(short: dict[str, str]) -> str:
    """What the numbers mean, "" where they are those of the labels."""
    told = [f"{name} {label}" for label, name in short.items() if label != f"Unit {name}"]
    return f"Units: {'; '.join(told)}." if told else ""


def initials(names: Iterable[str]) -> dict[str, str]:
    """Each name with its initials, numbered where two names share them: in the order of the names."""
    found: dict[str, str] = {}
    for name in names:
        short = "".join(part[0] for part in name.split() if part[:1].isalnum()).upper()[:3] or "–"
        count = sum(1 for taken in found.values() if taken.rstrip("0123456789") == short)
        found[name] = short if not count else f"{short}{count + 1}"
    return found


def _day(value) -> str:
    return f"{value.day}{NO_BREAK}{SHORT_MONTHS[value.month - 1]}"


def _logged(scope: Scope, row: Row, zone: str) -> str:
    on = scope.facts.day_of(row.logged_at)
    if on == row.happened_on:
        return local_time(row.logged_at, zone)
    return _day(on) if on.year == row.happened_on.year else f"{_day(on)}{NO_BREAK}{on.year}"


def _shared_row(scope: Scope, entry: _IndexEntry, short: dict[str, str], who: dict[str, str]) -> tuple[Cell, ...]:
    first, last = entry.row, entry.to
    return (
        Cell(_entry_number(scope, first)),
        Cell(f"{entry.kind}, {entry.many} up to {_entry_number(scope, last)}"),
        Cell(", ".join(short.get(label, label) for label in entry.units)),
        Cell(f"{first.happened_on.day} to {_day(last.happened_on)}"),
        Cell(""),
        Cell(who.get(first.logged_by, "")),
    )


def index_section(scope: Scope, named: Iterable[str]) -> tuple[Section, ...]:
    """The table, a row at the head of each year that an entry is about; nothing where there are no entries.

    `named`: the record numbers of the binder.
    """
    entries = list(_entries(scope, frozenset(number.split(".")[0] for number in named)))
    who = initials(dict.fromkeys(entry.row.logged_by for entry in entries if entry.row.logged_by))
    terms = scope.facts.terms_on(scope.as_of)
    zone = terms.zone if terms else "UTC"
    more = 5 if any(len(_entry_number(scope, entry.row)) > _USUAL_DIGITS for entry in entries) else 0
    columns = (
        Column("Entry", 21 + more, names=True),
        Column("What", 53 - more),
        Column("Unit", 17),
        Column("Day", 29),
        Column("Logged", 27),
        Column("By", 14, "right"),
    )
    short = _short_units(scope.units)
    rows: list[tuple[Cell, ...]] = []
    years: list[int] = []
    year = 0
    for entry in entries:
        row = entry.row
        if row.happened_on.year != year:
            year = row.happened_on.year
            years.append(len(rows))
            rows.append((Cell(str(year), strong=True, span=len(columns)),))
        if entry.to is not None:
            rows.append(_shared_row(scope, entry, short, who))
            continue
        most = max(entry.lines, entry.last)
        more = f", {counted(most, 'line')}" if most > 1 else ""
        rows.append(
            (
                Cell(_entry_number(scope, row)),
                Cell(f"{entry.kind}{more}", strong=entry.corrects),
                Cell(", ".join(short.get(label, label) for label in entry.units)),
                Cell(_day(row.happened_on)),
                Cell(_logged(scope, row, zone)),
                Cell(who.get(row.logged_by, "")),
            )
        )
    names = "; ".join(f"{short} {name}" for name, short in who.items())
    by_month = _BY_MONTH if any(entry.to is not None for entry in entries) else ""
    told = (_INTRO, _LOADS, by_month, f"By: {names}." if names else "", _key_of_units(short))
    said = " ".join(part for part in told if part)
    empty = "Entries: none on record for these days."
    if not rows:
        return ()
    table = Table("Entries", columns, tuple(rows), empty, ruled=tuple(years), thirds=True)
    blocks = (Paragraph(said, "small"), table)
    return (Section(INDEX, "Index of records", 1, blocks, flows=len(rows) <= _FEW, joins=True),)
