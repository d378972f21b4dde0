"""Loads of a unit counted by month, and in full only what failed or was rejected."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Cell, Column, Paragraph, Section, Table
from audit.binder.written_on_paper import counted, day, lines, month, number
from audit.facts import LoadFact


def entries(facts) -> Cell:
    """The ledger entries behind a count: the first and the last of them."""
    numbers = [fact.row.number for fact in facts]
    first, last = min(numbers), max(numbers)
    return Cell(str(first) if first == last else f"{first} to {last}", proof=True)


def _month_of(value: date) -> date:
    return value.replace(day=1)


def _tally(values: Iterable[str]) -> str:
    """28 pass, 1 fail, 2 not recorded; "" is what nobody was asked then."""
    found: dict[str, int] = defaultdict(int)
    for value in values:
        found[value or "not asked"] += 1
    order = ("pass", "fail", "released", "rejected", "not recorded", "not asked")
    named = [word for word in order if word in found] + sorted(set(found) - set(order))
    return "\n".join(f"{found[word]} {word}" for word in named)


def _hours(loads: list[LoadFact]) -> str:
    """Hours of use as far as minutes are recorded."""
    known = [load.minutes for load in loads if load.minutes is not None]
    if not known:
        return "not recorded"
    hours = (sum(known, Decimal(0)) / 60).quantize(Decimal("0.1"))
    without = len(loads) - len(known)
    return lines(f"{number(hours)} h", f"{without} without" if without else "")


def _monthly_loads(scope: Scope, unit: UnitScope) -> Table:
    columns = (
        Column("Month", 13),
        Column("Loads", 9, "center"),
        Column("With implant", 10, "center"),
        Column("Mechanical", 22),
        Column("Chemical", 22),
        Column("Release", 22),
        Column("Use", 18),
        Column("Entries", 18),
    )
    groups: dict[date, list[LoadFact]] = defaultdict(list)
    for load in scope.inside(unit.facts.loads):
        groups[_month_of(load.row.happened_on)].append(load)
    rows = tuple(
        (
            Cell(month(start)),
            Cell(str(len(loads))),
            Cell(str(sum(load.implant for load in loads))),
            Cell(_tally(load.mechanical for load in loads)),
            Cell(_tally(load.chemical for load in loads)),
            Cell(_tally(load.released or "not recorded" for load in loads)),
            Cell(_hours(loads)),
            entries(loads),
        )
        for start, loads in sorted(groups.items())
    )
    return Table("Loads by month", columns, rows, "Loads in the period: no record found.")


def _failed_loads(scope: Scope, unit: UnitScope) -> Table:
    columns = (
        Column("Day", 14),
        Column("Cycle", 24),
        Column("Contents", 32),
        Column("Mechanical, chemical, release", 34),
        Column("Rows", 17),
    )
    rows = tuple(
        (
            Cell(day(load.row.happened_on)),
            Cell(lines(f"no. {load.cycle_number or 'not stated'}", load.program)),
            Cell(lines(load.contents or "not recorded", "implant" if load.implant else "")),
            Cell(
                lines(
                    f"mechanical: {load.mechanical or 'not asked'}",
                    f"chemical: {load.chemical or 'not asked'}",
                    load.released or "release not recorded",
                ),
                strong=True,
            ),
            scope.proof(load),
        )
        for load in scope.inside(unit.facts.loads)
        if "fail" in (load.mechanical, load.chemical) or load.released == "rejected"
    )
    empty = "Loads that failed or were rejected in the period: none on record."
    return Table("Loads that failed or were rejected", columns, rows, empty)


def loads_section(scope: Scope, unit: UnitScope) -> Section:
    blocks: list = [_monthly_loads(scope, unit)]
    if blocks[0].rows:
        count = counted(len(scope.inside(unit.facts.loads)), "load")
        intro = Paragraph(
            f"{count} logged in the period. The cycle record of each load stays with the clinic.", "small"
        )
        blocks = [intro, *blocks, _failed_loads(scope, unit)]
    return Section(f"{unit.indicators}-loads", "Loads", 2, tuple(blocks))
