"""User checks and the monitoring of loads: counted by month, and in full only what failed or does not count."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Block, Cell, Column, Paragraph, Section, Table
from audit.binder.written_on_paper import counted, day, labelled, lines, month, month_name, number
from audit.facts import LoadFact, UserCheckFact

_MOST = 60  # checks told one by one; of more only those that failed
_RESULTS = ("pass", "fail", "not done")


def entries(facts) -> Cell:
    """The ledger entries behind a count: the first and the last of them."""
    numbers = [fact.row.number for fact in facts]
    first, last = min(numbers), max(numbers)
    return Cell(str(first) if first == last else f"{first} to {last}", proof=True)


def _month_of(value: date) -> date:
    return value.replace(day=1)


def _values(checks: list[UserCheckFact]) -> str:
    """The lowest and the highest value read, in each unit of measure."""
    read = defaultdict(list)
    for check in checks:
        if check.value is not None:
            read[check.unit_of_measure].append(check.value)
    texts = []
    for unit, values in sorted(read.items()):
        low, high = number(min(values)), number(max(values))
        texts.append(f"{low if low == high else f'{low} to {high}'} {unit}".strip())
    return "; ".join(texts)


def _days(checks: list[UserCheckFact]) -> str:
    """The days of one month: "3, 5, 6 Mar"."""
    days = dict.fromkeys(check.row.happened_on for check in checks)
    return f"{', '.join(str(each.day) for each in days)} {month_name(checks[0].row.happened_on)}"


def _monthly_checks(scope: Scope, unit: UnitScope) -> Table:
    columns = (
        Column("Month", 13),
        Column("Check", 26),
        Column("Passed", 9, "center"),
        Column("Failed", 9, "center"),
        Column("Not done", 9, "center"),
        Column("Values read", 24),
        Column("Not signed", 30),
        Column("Entries", 18),
    )
    groups: dict[tuple[date, str], list[UserCheckFact]] = defaultdict(list)
    for check in scope.inside(unit.facts.checks):
        groups[(_month_of(check.row.happened_on), check.kind)].append(check)
    rows = []
    for (start, kind), checks in sorted(groups.items()):
        unsigned = [check for check in checks if not check.signed_by and check.result != "not done"]
        counts = [sum(check.result == result for check in checks) for result in _RESULTS]
        rows.append(
            (
                Cell(month(start)),
                Cell(kind),
                *(Cell(str(n), strong=n > 0 and at == 1) for at, n in enumerate(counts)),
                Cell(_values(checks) or "none"),
                Cell(f"{len(unsigned)}: {_days(unsigned)}" if unsigned else "none", strong=bool(unsigned)),
                entries(checks),
            )
        )
    return Table("User checks by month", columns, tuple(rows), "User checks in the period: no record found.")


def _not_passed(scope: Scope, unit: UnitScope) -> tuple[Block, ...]:
    """Each check that failed; each that was not done, or how many they are where they are many."""
    columns = (
        Column("Day", 14),
        Column("Check", 24),
        Column("Result", 12),
        Column("What was recorded", 44),
        Column("Signed by", 20),
        Column("Rows", 17),
    )
    found = [check for check in scope.inside(unit.facts.checks) if check.result != "pass"]
    told = [check for check in found if check.result == "fail"] if len(found) > _MOST else found
    rows = tuple(
        (
            Cell(day(check.row.happened_on)),
            Cell(check.kind),
            Cell(check.result, strong=check.result == "fail"),
            Cell(_recorded(check)),
            Cell(check.signed_by or "not signed"),
            scope.proof(check),
        )
        for check in told
    )
    empty = "User checks failed: none." if len(told) < len(found) else "User checks failed or not done: none."
    table = Table("User checks that failed or were not done", columns, rows, empty)
    if len(told) == len(found):
        return (table,)
    rest = f"{len(found) - len(told)} checks were not done in the period; the months above count them."
    return (table, Paragraph(rest, "small"))


def _recorded(check: UserCheckFact) -> str:
    value = f"{number(check.value)} {check.unit_of_measure}".strip() if check.value is not None else ""
    cycle = ", ".join(text for text in (labelled("cycle", check.cycle_number), check.cycle_type) if text)
    return lines(value, cycle, check.note) or "nothing further"


def checks_section(scope: Scope, unit: UnitScope) -> Section:
    blocks: list = [_monthly_checks(scope, unit)]
    if blocks[0].rows:
        blocks += _not_passed(scope, unit)
    return Section(f"{unit.indicators}-checks", f"User checks of {unit.label}", 3, tuple(blocks))


# ------------------------------------------------------------------------------------------------ loads


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
    return Section(f"{unit.indicators}-loads", f"Loads of {unit.label}", 3, tuple(blocks))
