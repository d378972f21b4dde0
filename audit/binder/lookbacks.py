"""Look-backs: what a trigger puts in doubt on a unit, what was left out and why, and what was decided."""

from __future__ import annotations

from datetime import date
from itertools import groupby

from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Block, Cell, Column, KeyValues, Paragraph, Section, Table
from audit.binder.written_on_paper import NO_RECORD, counted, dated, day, first_upper, month
from audit.judge.judgement import Evidence, LookBack

_ALL = 60  # loads told one by one; of more, each month is counted


def in_period(scope: Scope, back: LookBack) -> bool:
    """A look-back belongs to the period when its window touches it or it was open on any day of it."""
    if (back.after or date.min) > scope.last:
        return False
    return back.to >= scope.from_on or back.settled_on is None or back.settled_on >= scope.from_on


def _summary(scope: Scope, back: LookBack) -> KeyValues:
    after = f"after {day(back.after)}" if back.after else "from the first record, with no good proof before it"
    settled = f"decided on {day(back.settled_on)}" if back.settled_on else "still open: no decision is on record"
    source = scope.cite(back.source) if back.source else "none named"
    pairs = (
        ("Trigger", Cell(first_upper(dated(back.trigger)))),
        ("Kind", Cell(back.kind)),
        ("Window", Cell(f"{after}, up to and with {day(back.to)}")),
        ("Last good proof", Cell(dated(back.after_text) or "none on record")),
        ("In doubt", Cell(in_doubt(back))),
        ("Not known", Cell(dated(back.unlogged) or "nothing more is known to be missing")),
        ("What the rules ask", Cell(dated(back.asked) or "these rules say nothing of it")),
        ("Decision", Cell(settled, strong=back.settled_on is None)),
        ("Evidence", Cell(scope.told(back.evidence) or NO_RECORD)),
        ("Source", Cell(source)),
    )
    return KeyValues("", pairs)


def in_doubt(back: LookBack) -> str:
    """3 loads, 1 reading, 2 parts."""
    several = ((back.loads, "load"), (back.readings, "reading"), (back.parts, "part"))
    return ", ".join(counted(len(rows), word) for rows, word in several if rows) or "nothing logged in the window"


def _one_by_one(scope: Scope, kind: str, several: tuple[Evidence, ...]):
    for each in several:
        yield (Cell(kind), Cell(dated(each.text)), scope.evidence((each,)))


def _by_month(scope: Scope, loads: tuple[Evidence, ...]):
    """Loads counted by month, with the first and the last told; a load of no known day stands by itself."""

    def first_day(each: Evidence) -> date | None:
        row = scope.rows.get(each.ref)
        return row.happened_on.replace(day=1) if row else None

    for start, group in groupby(loads, key=first_day):
        same = tuple(group)
        if start is None or len(same) == 1:
            yield from _one_by_one(scope, "load", same)
            continue
        numbers = [scope.rows[each.ref].number for each in same]
        text = f"{month(start)}: {counted(len(same), 'load')}, from {dated(same[0].text)} to {dated(same[-1].text)}"
        yield (Cell("loads"), Cell(text), Cell(f"#{min(numbers)} to #{max(numbers)}", proof=True))


def _affected(scope: Scope, back: LookBack) -> Table:
    columns = (Column("Kind", 14), Column("What is in doubt", 60), Column("Rows", 17))
    few = len(back.loads) <= _ALL
    loads = _one_by_one(scope, "load", back.loads) if few else _by_month(scope, back.loads)
    rows = (
        *loads,
        *_one_by_one(scope, "reading", back.readings),
        *_one_by_one(scope, "part", back.parts),
    )
    return Table("What is in doubt", columns, rows, "What is in doubt: nothing is logged in this window.")


def _outside(scope: Scope, back: LookBack) -> Table:
    columns = (Column("Near the window, and left out", 42), Column("Why", 40), Column("Rows", 17))
    rows = tuple((Cell(dated(each.text)), Cell(dated(why)), scope.evidence((each,))) for each, why in back.outside)
    return Table("What is outside, and why", columns, rows, "Left out near the window: nothing.")


def look_back_blocks(scope: Scope, back: LookBack) -> tuple[Block, ...]:
    title = Paragraph("Loads affected", "strong")
    return (title, _summary(scope, back), _affected(scope, back), _outside(scope, back))


def look_backs_of_case(unit: UnitScope, case: str) -> tuple[LookBack, ...]:
    """Those that a case opened, in the order of the judgement; none for a case without a row."""
    backs = unit.judgement.look_backs if unit.judgement else ()
    return tuple(back for back in backs if case and back.case == case)


def look_back_sections(scope: Scope, unit: UnitScope, told: set[str]) -> tuple[Section, ...]:
    """Look-backs of the period that stand with no failure: `told` are the cases already told with theirs."""
    backs = unit.judgement.look_backs if unit.judgement else ()
    rest = [back for back in backs if back.case not in told and in_period(scope, back)]
    rest.sort(key=lambda back: (back.to, back.after or date.min, back.kind, back.trigger))
    return tuple(
        Section(
            f"{unit.indicators}-look-back-{n}",
            f"Loads affected {n}, {unit.label}: {first_upper(dated(back.trigger))}",
            3,
            look_back_blocks(scope, back)[1:],
        )
        for n, back in enumerate(rest, start=1)
    )
