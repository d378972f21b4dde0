"""What is open: in plain sentences on the first page, and all of it, worst first, in a chapter."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from audit.binder.heights import LINE, PAD, lines_of
from audit.binder.named_units import units_words
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Cell, Column, Section, Table
from audit.binder.written_on_paper import counted, dated, day, first_upper, lines, tied
from audit.facts.dates import ONE_DAY
from audit.judge.judgement import Clock, Finding, Severity, State, UnitJudgement, Word

SINCE_BEFORE = "since before the first record"
OPEN, OPEN_TITLE = "open-items", "Open items"
_ORDER = list(Severity)
_MARKS = {True: "■", False: "◩"}  # may not be used; not yet
_IN_DOUBT = ("recalled-part-in-use", "look-back-open")
_MOST_NAMED = 6  # rows behind an open item
_SHORT = 150  # characters of a point that is told whole
_ONE_MORE = 16.2  # points of the line that counts what has no room
_WIDE = 476  # points of the column of the first page that says what is open
_SIGN = 14.0  # points by which what follows a mark is set in, and the room between columns


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


# ------------------------------------------------------------------------------------------------ the first page


@dataclass(frozen=True, slots=True)
class FirstPageLine:
    """One line of the first page: its mark ("" for none), the sentence, and the section to turn to."""

    mark: str
    text: str
    to: str
    points: int = 1  # how many open items it tells together
    item: str = ""  # what the page of the first of them is asked for by, "" for that of the section

    @property
    def height(self) -> float:
        """How tall its row is, about, in points."""
        return PAD + LINE * lines_of(f"{self.mark} {self.text}".strip(), _WIDE - _SIGN)


def _stopped(unit: UnitScope) -> FirstPageLine:
    """A unit that may not be used, or not yet: why, and what lifts it, in the words of the judgement."""
    name, said = tied(unit.label), unit.judgement
    to = unit.chapter
    if said is None:
        return FirstPageLine("◩", f"{name} may not be used yet. It was not judged: no answer is on record.", to)
    if unproven(unit):
        return FirstPageLine("◩", f"{name} may not be used yet. No proof is on record that it may.", to)
    out = is_out(unit)
    return FirstPageLine(_MARKS[out], f"{name} may not be used{'' if out else ' yet'}. {_told(said)}", to)


def _told(said: UnitJudgement) -> str:
    """Why, what is next by whom and by when, and from when the answer is another: in the words of the judgement."""
    standing = said.standing
    parts = [first_upper(said.short or standing.reason)]
    if said.next is not None:
        parts.append(f"Next: {said.next.words}")
    elif standing.lifted_by:
        parts.append(f"Way out: {standing.lifted_by}")
    if standing.holds_until is not None:
        parts.append(first_upper(standing.changes))
    return " ".join(f"{dated(part).rstrip('.')}." for part in parts)


def _late_words(clock: Clock, as_of: date) -> str:
    """A due item that is overdue or of which there is no evidence."""
    late = clock.days_overdue(as_of)
    last = clock.overdue_on - ONE_DAY if clock.overdue_on else clock.due_on
    grace = f", allowed to {day(last)}" if last and clock.due_on and last > clock.due_on else ""
    what = f"{counted(late, 'day')} overdue, due by {day(clock.due_on)}{grace}" if late else "no evidence on record"
    return f"{clock.title}, {what}."


def _overdue(scope: Scope) -> Iterable[FirstPageLine]:
    """One line an item; units of which the same is overdue by as much share one."""
    groups: dict[str, list[UnitScope | None]] = {}
    of_units = [(unit, each) for unit in scope.units for each in (unit.judgement.clocks if unit.judgement else ())]
    for unit, clock in (*of_units, *((None, each) for each in scope.judgement.clocks)):
        if clock.state in (State.OVERDUE, State.NO_EVIDENCE):
            groups.setdefault(_late_words(clock, scope.as_of), []).append(unit)
    for words, units in groups.items():
        named = [unit for unit in units if unit]
        who = f"{units_words([unit.label for unit in named])}: " if named else ""
        to = OPEN if len(units) > 1 else named[0].chapter if named else "clinic-due"
        yield FirstPageLine("", f"Overdue. {who}{words}", to)


def _told_alone(finding: Finding, clocks: tuple[Clock, ...]) -> bool:
    """Points to put right; one that a due item says already stands among what is overdue."""
    late = (clock.title for clock in clocks if clock.state in (State.OVERDUE, State.NO_EVIDENCE))
    return finding.severity is Severity.PUT_RIGHT and not finding.message.startswith(tuple(late))


def _within_limits(scope: Scope) -> Iterable[FirstPageLine]:
    """Units that may be used within a limit alone: which, in the words of the judgement."""
    for unit in scope.units:
        said = unit.judgement
        if said is not None and said.standing.word is Word.LIMITED and may_be_used(unit):
            yield FirstPageLine("□", f"{tied(unit.label)} may be used within limits. {_told(said)}", unit.chapter)


def _of_goods(points: list[tuple[UnitScope | None, Finding, str]]) -> bool:
    """Whether what was sterilized is in doubt, or will be: it comes before signatures and papers."""
    return any(finding.rule in _IN_DOUBT for _, finding, _ in points)


def _to_put_right(scope: Scope) -> Iterable[FirstPageLine]:
    """One line a point, those about goods in doubt first. Points that begin alike are one with the names of their
    units, without what then differs."""
    groups: dict[str, list[tuple[UnitScope | None, Finding, str]]] = {}
    found = [(None, finding, item_name(None, n)) for n, finding in enumerate(scope.judgement.findings)]
    for unit in scope.units:
        own = unit.judgement.findings if unit.judgement else ()
        found += [(unit, each, item_name(unit, n)) for n, each in enumerate(own)]
    for unit, finding, item in found:
        if _told_alone(finding, unit.judgement.clocks if unit and unit.judgement else scope.judgement.clocks):
            groups.setdefault(finding.message.split("; ")[0], []).append((unit, finding, item))
    for begin, each in sorted(groups.items(), key=lambda group: not _of_goods(group[1])):
        names = units_words([unit.label for unit, *_ in each if unit])
        whole = each[0][1].message
        said = dated(whole if len(each) == 1 and len(whole) <= _SHORT else begin).rstrip(".")
        yield FirstPageLine(
            "",
            f"To put right. {names}: {said}." if names else f"To put right. {first_upper(said)}.",
            OPEN,
            len(each),
            each[0][2],
        )


def _whole_place(scope: Scope) -> Iterable[FirstPageLine]:
    """What forbids use and belongs to no unit."""
    for finding in scope.judgement.findings:
        if finding.severity is Severity.FORBIDS:
            said = first_upper(dated(finding.message)).rstrip(".")
            yield FirstPageLine("■", f"Forbids use. {said}. Way out: {dated(finding.way_out)}.", OPEN)


def _kept(scope: Scope) -> str:
    """What was missed in the period, as the coverage of the duties to test counts it."""
    missed, void, units = 0, 0, []
    for unit in scope.units:
        tests = [each for each in unit.coverage if each.duty == "biological-test"]
        here = sum(each.missed for each in tests), sum(each.invalid for each in tests)
        if any(here):
            units.append(unit.label)
        missed, void = missed + here[0], void + here[1]
    told = [counted(missed, "spore test was missed", "spore tests were missed")] if missed else []
    told += [counted(void, "did not count", "did not count")] if void else []
    return f" In the period {' and '.join(told)} ({units_words(units)})." if told else ""


def open_lines(scope: Scope) -> tuple[FirstPageLine, ...]:
    """All that is open, worst first: forbids use, limits it, overdue, to put right; or that nothing is overdue."""
    stopped = [unit for unit in scope.units if not may_be_used(unit)]
    out = [_stopped(unit) for unit in sorted(stopped, key=lambda unit: not is_out(unit))]
    late = list(_overdue(scope))
    said = f"Overdue today: nothing.{_kept(scope)}" if scope.units else "No unit is on record, so none was judged."
    calm = [FirstPageLine("", said, OPEN)]
    return (*_whole_place(scope), *out, *_within_limits(scope), *late, *_to_put_right(scope), *([] if late else calm))


def first_page_table(scope: Scope, room: float) -> Table:
    """What is open in about `room` points, at least one line; the rest is counted, with the page of all of it."""
    found = open_lines(scope)
    kept: list[FirstPageLine] = []
    left = room
    for n, line in enumerate(found):
        more = n + 1 < len(found)
        if kept and line.height > left - (_ONE_MORE if more else 0):
            break
        kept.append(line)
        left -= line.height
    rest = found[len(kept) :]
    if rest:
        kept.append(FirstPageLine("", _rest_words(rest), OPEN))
    rows = tuple(
        (
            Cell(f"{line.mark} {line.text}".strip(), bold=(line.text.split(". ")[0].split(": ")[0].rstrip("."),)),
            Cell("", to=line.to, page=line.item),
        )
        for line in kept
    )
    columns = (Column("Worst first", _WIDE, names=True), Column("Page", 34, "right"))
    return Table("What is open", columns, rows, "Nothing is open on this day.")


def _rest_words(rest: tuple[FirstPageLine, ...]) -> str:
    stopped = [line.text.split(" may not be used")[0] for line in rest if " may not be used" in line.text]
    more = sum(line.points for line in rest if " may not be used" not in line.text)
    told = [f"{units_words(stopped)} may not be used, or not yet"] if stopped else []
    told += [counted(more, "more point", "more points")] if more else []
    return f"{first_upper('; '.join(told))}: see the page of all open items."


# ------------------------------------------------------------------------------------------------ the chapter

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
