"""Look-backs: what a trigger puts in doubt on a unit, what was left out and why, and what was decided."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from itertools import groupby

from audit.binder.cycle_bar import cycle_bar
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Block, Cell, Column, Paragraph, Section, Table
from audit.binder.written_on_paper import counted, dated, day, month
from audit.facts import LoadFact
from audit.judge.failures_said import decided, in_doubt, window
from audit.judge.judgement import Case, Evidence, LookBack

_ALL = 60  # loads told one by one; of more, each month is counted
_COLUMNS = (
    Column("Cycle", 44, names=True),
    Column("Day", 66),
    Column("What it held", 182),
    Column("Release, or why it is left out", 180),
    Column("Record", 38, small=True),
)


def in_period(scope: Scope, back: LookBack) -> bool:
    """A look-back belongs to the period when its window touches it or it was open on any day of it."""
    if (back.after or date.min) > scope.last:
        return False
    return back.to >= scope.from_on or back.settled_on is None or back.settled_on >= scope.from_on


def good_proof(unit: UnitScope, back: LookBack) -> str:
    """The row of the last good proof, "" where the words of it do not lead to one row."""
    facts = unit.facts
    rows = [t for t in (*facts.bio_tests, *facts.air_removal, *facts.checks) if t.row.happened_on == back.after]
    named = [t for t in rows if t.cycle_number and f"cycle {t.cycle_number}" in back.after_text]
    if back.kind == "positive spore test" or "spore test" in back.after_text:
        named = [t for t in named if t in facts.bio_tests]
    return named[0].row.ref if len(named) == 1 else ""


def _words(scope: Scope, back: LookBack, case: Case | None) -> Paragraph:
    """The window, how much is known to lie in it and how much is not, what the rules ask, and the decision.

    Of a `case` it leaves out what its steps tell: the last good proof, and which packs are recalled.
    """
    asked = back.asked.removesuffix(case.recall).rstrip("; ") if case else back.asked
    settled = f"{dated(decided(back))}{', as told above' if case and back.settled_on else ''}"
    source = scope.cite(back.source) if back.source else ""
    told = [
        f"In doubt: {in_doubt(back)}, {dated(window(back))}.",
        f"Last good proof: {dated(back.after_text)}." if back.after_text and not case else "",
        f"Not known: {dated(back.unlogged)}." if back.unlogged else "",
        f"Asked: {dated(asked)}{f' ({source})' if source else ''}."
        if asked
        else f"Source: {source}."
        if source
        else "",
        f"{settled}.",
    ]
    return Paragraph(" ".join(part for part in told if part), bold=(f"{settled}.",))


def _load_row(scope: Scope, load: LoadFact, more: str = "") -> tuple[Cell, ...]:
    held = f"{load.contents or 'contents not recorded'}{', implant' if load.implant else ''}"
    return (
        Cell(load.cycle_number or "none"),
        Cell(day(load.row.happened_on)),
        Cell(held),
        Cell(f"{load.released or 'release not recorded'}{f'; {more}' if more else ''}"),
        scope.proof(load),
    )


def _told_row(scope: Scope, kind: str, each: Evidence, more: str = "") -> tuple[Cell, ...]:
    row = scope.rows.get(each.ref)
    said = (Cell(dated(each.text)), Cell(more)) if more else (Cell(dated(each.text), span=2),)
    return (Cell(kind), Cell(day(row.happened_on) if row else ""), *said, scope.evidence((each,)))


def _rows_of(scope: Scope, unit: UnitScope, back: LookBack) -> Iterator[tuple[Cell, ...]]:
    loads = {load.row.ref: load for load in unit.facts.loads}
    if len(back.loads) > _ALL:
        yield from _by_month(scope, back.loads)
    else:
        for each in back.loads:
            load = loads.get(each.ref)
            yield _load_row(scope, load) if load else _told_row(scope, "load", each)
    for kind, several in (("reading", back.readings), ("part", back.parts)):
        yield from (_told_row(scope, kind, each) for each in several)
    for each, why in back.outside:
        load, left = loads.get(each.ref), f"left out: {dated(why)}"
        yield _load_row(scope, load, left) if load else _told_row(scope, "", each, left)


def _by_month(scope: Scope, loads: tuple[Evidence, ...]) -> Iterator[tuple[Cell, ...]]:
    """Loads counted by month, with the first and the last told; a load of no known day stands by itself."""

    def first_day(each: Evidence) -> date | None:
        row = scope.rows.get(each.ref)
        return row.happened_on.replace(day=1) if row else None

    for start, group in groupby(loads, key=first_day):
        same = tuple(group)
        if start is None or len(same) == 1:
            yield from (_told_row(scope, "load", each) for each in same)
            continue
        first, last = scope.row(same[0].ref), scope.row(same[-1].ref)
        text = f"from {dated(same[0].text)} to {dated(same[-1].text)}"
        loads_of = counted(len(same), "load")
        yield (Cell(loads_of), Cell(month(start)), Cell(text, span=2), Cell(f"{first}, {last}", proof=True))


def look_back_blocks(scope: Scope, unit: UnitScope, back: LookBack, case: Case | None = None) -> tuple[Block, ...]:
    """What was run since the last good proof, with counts, then one by one; `case`: the failure that it is of."""
    rows = tuple(_rows_of(scope, unit, back))
    title = Paragraph("Look-back: what was run since the last good proof", "strong")
    table = Table("", _COLUMNS, rows, "Nothing is logged in this window.", ruled=(), tight=True)
    bar = cycle_bar(unit, back, good_proof(unit, back), case)
    return (title, *bar, _words(scope, back, case), table)


def look_backs_of_case(unit: UnitScope, case: str) -> tuple[LookBack, ...]:
    """Those that a case opened, in the order of the judgement; none for a case without a row."""
    backs = unit.judgement.look_backs if unit.judgement else ()
    return tuple(back for back in backs if case and back.case == case)


def look_backs_alone(scope: Scope, unit: UnitScope, told: set[str]) -> list[LookBack]:
    """Look-backs of the period that stand with no failure: `told` are the cases told with theirs."""
    backs = unit.judgement.look_backs if unit.judgement else ()
    rest = [back for back in backs if back.case not in told and in_period(scope, back)]
    return sorted(rest, key=lambda back: (back.to, back.after or date.min, back.kind, back.trigger))


def look_back_id(unit: UnitScope, n: int) -> str:
    return f"{unit.indicators}-look-back-{n}"


def look_back_sections(scope: Scope, unit: UnitScope, told: set[str]) -> tuple[Section, ...]:
    """Each look-back that stands with no failure, with the rows that triggered it."""
    sections = []
    for n, back in enumerate(look_backs_alone(scope, unit, told), start=1):
        title = f"In doubt: {dated(back.trigger)}"
        _, *bar, words, table = look_back_blocks(scope, unit, back)
        trigger = tuple(_told_row(scope, "trigger", each) for each in back.evidence)
        table = replace(table, rows=(*trigger, *table.rows), ruled=(len(trigger),))
        sections.append(Section(look_back_id(unit, n), title, 2, (*bar, words, table)))
    return tuple(sections)
