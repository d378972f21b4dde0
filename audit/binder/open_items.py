"""What is open, worst first: all of it in a chapter, and that of one unit; the first page has its own sentences."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Cell, Column, Section, Table
from audit.binder.written_on_paper import counted, dated, day, first_upper, lines
from audit.judge.judgement import Finding, Severity, Word

SINCE_BEFORE = "since before the first record"
OPEN, OPEN_TITLE = "open-items", "Open items"
_ORDER = list(Severity)
_MOST_NAMED = 6  # rows behind an open item


def since(value: date | None) -> str:
    return SINCE_BEFORE if value is None else day(value)


def unproven(unit: UnitScope) -> bool:
    """Whether the answer permits use and rests on nothing: no test, no release, nothing else on record."""
    said = unit.judgement
    return said is not None and said.standing.word.may_be_used and not said.standing.proof


def may_be_used(unit: UnitScope) -> bool:
    """Whether the first page says yes: an answer without any proof is "not yet", never yes."""
    return unit.judgement is not None and unit.judgement.standing.word.may_be_used and not unproven(unit)


def is_out(unit: UnitScope) -> bool:
    """Whether it may not be used; what waits for proof, has none or was not judged may not be used yet."""
    return unit.judgement is not None and unit.judgement.standing.word in (Word.OUT, Word.NOT_IN_USE)


_WHERE, _WIDE_WHERE = 44, 100  # points of the column of the unit, for short and for long names
_SHORT_NAME = 10  # letters


def _columns(scope: Scope) -> tuple[Column, ...]:
    long = any(len(unit.label) > _SHORT_NAME for unit in scope.units)
    where = _WIDE_WHERE if long else _WHERE
    return (
        Column("Where", where),
        Column("Since", 60),
        Column("What is open, and the way out", 366 - where, names=True),
        Column("By", 46),
        Column("Record", 38, small=True),
    )


_SPAN = 5  # columns of the chapter


@dataclass(frozen=True, slots=True)
class OpenItem:
    """A finding, where it is, and the name by which its page is asked for."""

    where: Cell
    finding: Finding
    name: str

    @property
    def order(self) -> tuple:
        """Severity, then the longest open; an item as old as the records comes first of its severity."""
        return _ORDER.index(self.finding.severity), self.finding.since or date.min

    @property
    def shared(self) -> tuple:
        """What items have in common that are told together: how much they weigh, the way out and whose it is."""
        return self.finding.severity, self.finding.way_out, self.finding.owner


def item_name(unit: UnitScope | None, n: int) -> str:
    """What the page of the `n`-th finding of a unit is asked for by, of the whole place without one; n from 0."""
    return f"{unit.chapter if unit else 'place'}:open:{n}"


def _is_about(finding: Finding, unit: UnitScope) -> bool:
    """Whether what is open at the place names a unit as what it is about."""
    return finding.message.startswith(f"{unit.label}: ")


def _items(scope: Scope) -> list[OpenItem]:
    place = Cell("whole place", to="clinic")
    items = [
        OpenItem(
            next((unit.link() for unit in scope.units if _is_about(each, unit)), place), each, item_name(None, n)
        )
        for n, each in enumerate(scope.judgement.findings)
    ]
    for unit in scope.units:
        found = unit.judgement.findings if unit.judgement else ()
        items += [OpenItem(unit.link(), each, item_name(unit, n)) for n, each in enumerate(found)]
    return sorted(items, key=lambda item: item.order)


def _together(items: list[OpenItem]) -> list[list[OpenItem]]:
    """Items with one way out side by side, each group where its first stands."""
    groups: dict[tuple, list[OpenItem]] = {}
    for item in items:
        key = item.shared if item.finding.way_out else (item.name,)
        groups.setdefault(key, []).append(item)
    return list(groups.values())


def _row(scope: Scope, item: OpenItem, *, alone: bool) -> tuple[Cell, ...]:
    finding = item.finding
    way_out = f"Way out: {dated(finding.way_out)}" if finding.way_out and alone else ""
    return (
        item.where,
        Cell(since(finding.since)),
        Cell(lines(first_upper(dated(finding.message)), way_out)),
        Cell(finding.owner if alone else ""),
        scope.evidence(finding.evidence[:_MOST_NAMED]),
    )


def _way_out_row(group: list[OpenItem]) -> tuple[Cell, ...]:
    """The way out of several items, over all columns."""
    one = group[0].finding
    begin = f"One way out of the next {len(group)}:"
    by = f" By: {one.owner}." if one.owner else ""
    return (Cell(f"{begin} {dated(one.way_out).rstrip('.')}.{by}", span=_SPAN, bold=(begin,)),)


def open_items(scope: Scope) -> Section:
    """All units and the place in one list, worst first under the word for how much they weigh.

    Items with one way out stand together under it, it is said once; a line parts what does not belong together.
    """
    rows: list[tuple[Cell, ...]] = []
    names: list[str] = []
    ruled: list[int] = []
    weight = None
    for group in _together(_items(scope)):
        ruled.append(len(rows))
        if group[0].finding.severity is not weight:
            weight = group[0].finding.severity
            rows.append((Cell(first_upper(weight.value), strong=True, span=_SPAN),))
            names.append("")
            ruled.append(len(rows))
        if len(group) > 1:
            rows.append(_way_out_row(group))
            names.append("")
        rows += [_row(scope, item, alone=len(group) == 1) for item in group]
        names += [item.name for item in group]
    caption, empty = "Open items, worst first", "Nothing is open on this day."
    table = Table(caption, _columns(scope), tuple(rows), empty, ruled=tuple(ruled), known_as=tuple(names))
    return Section(OPEN, OPEN_TITLE, 1, (table,), flows=True)


# ------------------------------------------------------------------------------------------------ of one unit


def open_of_unit(scope: Scope, unit: UnitScope) -> tuple[Table, ...]:
    """A line for what forbids use of the unit or is to be put right, worst first, with its page; the notes counted.

    The way out is told with the item, in the chapter of open items.
    """
    columns = (
        Column("Since", 60, names=True),
        Column("What is open", 388),
        Column("Page", 24, "right"),
        Column("Record", 38, small=True),
    )
    mine = [item for item in _items(scope) if item.where.to == unit.chapter]
    notes = [item for item in mine if item.finding.severity is Severity.NOTE]
    weighty = _together([item for item in mine if item.finding.severity is not Severity.NOTE])
    rows = [_line_of_unit(scope, group) for group in weighty]
    if notes:
        more = counted(len(notes), "further note" if rows else "note")
        ends = tuple((OPEN, item.name) for item in dict.fromkeys((notes[0], notes[-1])))
        rows.append((Cell(""), Cell(f"{more} to be known", to=OPEN), Cell("", to=OPEN, pages=ends), Cell("")))
    return (Table("Open for this unit", columns, tuple(rows), tight=True, ruled=()),) if rows else ()


def _line_of_unit(scope: Scope, group: list[OpenItem]) -> tuple[Cell, ...]:
    """Items with one way out in a line: what several begin with is said once."""
    one = group[0].finding
    weight = f"{first_upper(one.severity.value)}."
    said = [dated(item.finding.message.split("; ")[0]).rstrip(".") for item in group]
    begin = said[0].partition(": ")[0]
    if len(said) > 1 and all(text.startswith(f"{begin}: ") for text in said):
        said = [said[0], *(text.removeprefix(f"{begin}: ") for text in said[1:])]
    return (
        Cell(since(one.since)),
        Cell(f"{weight} {first_upper('; '.join(said))}.", bold=(weight,), to=OPEN),
        Cell("", to=OPEN, page=group[0].name),
        scope.evidence(each for item in group for each in item.finding.evidence[:1]),
    )
