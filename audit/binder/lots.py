"""Parts and indicator lots across all units, in the order in which a lot is looked for."""

from __future__ import annotations

from collections import defaultdict

from audit.binder.due import lot_words
from audit.binder.recalls import part_recalls_table
from audit.binder.scope import Scope
from audit.binder.sections import EVERYTHING, Cell, Column, Section, Table
from audit.binder.written_on_paper import day, labelled, lines, number


def _fitted(scope: Scope) -> list:
    """(unit, part) for every part of the period, by lot, then part number, then day."""
    found = [(unit, part) for unit in scope.units for job in unit.facts.jobs for part in scope.inside(job.parts)]
    return sorted(
        found,
        key=lambda each: (
            (each[1].lot or each[1].receipt_lot).casefold(),
            each[1].number.casefold(),
            each[1].row.happened_on,
            each[1].row.number,
            each[1].row.line,
        ),
    )


def parts_table(scope: Scope) -> Table:
    columns = (
        Column("Lot", 19),
        Column("Part number", 18),
        Column("Part, position", 26),
        Column("Unit", 14),
        Column("Day", 13),
        Column("Qty", 6, "right"),
        Column("Expiry", 13),
        Column("What was done, old part", 22),
        Column("Record", 17, small=True),
    )
    rows = tuple(
        (
            Cell(lot_words(part)),
            Cell(part.number or "not printed"),
            Cell(lines(part.name, unit.position(part.position))),
            unit.link(),
            Cell(day(part.row.happened_on)),
            Cell(str(part.quantity)),
            Cell(day(part.expiry, "none carried")),
            Cell(lines(part.action, labelled("old part", part.old_part))),
            scope.proof(part),
        )
        for unit, part in _fitted(scope)
    )
    return Table("Parts fitted, by lot", columns, rows, "Parts fitted in the period: no record found.")


def _biological(scope: Scope) -> list[tuple[Cell, ...]]:
    """One row a box of spore tests, whether it was the test or the control."""
    used = defaultdict(list)
    lots = {}
    for unit in scope.units:
        for test in scope.inside(unit.facts.bio_tests):
            for lot in dict.fromkeys((test.lot, test.control_lot)):
                if lot is not None:
                    lots[lot.ref] = lot
                    used[lot.ref].append((test, unit.label))
    rows = []
    for lot in sorted(lots.values(), key=lambda each: (each.lot.casefold(), each.name, each.ref)):
        low, high = number(lot.incubation_low, ""), number(lot.incubation_high, "")
        heat = f", {low} to {high} °C" if low or high else ""
        label = f"{lot.name}\nincubate at least {lot.incubation_hours} h{heat}"
        rows.append(_lot_row(lot.lot, f"spore test: {label}", day(lot.expiry, "not printed"), used[lot.ref]))
    return rows


def _plain(scope: Scope) -> list[tuple[Cell, ...]]:
    """Chemical and air removal lots, known only as printed."""
    used = defaultdict(list)
    for unit in scope.units:
        for fact in scope.inside(unit.facts.chemical):
            used[(fact.lot, f"chemical indicator type {fact.type}")].append((fact, unit.label))
        for fact in scope.inside(unit.facts.air_removal):
            used[(fact.lot, "air removal test sheet or device")].append((fact, unit.label))
    return [
        _lot_row(lot or "no lot on record", kind, "not on record", used[(lot, kind)])
        for lot, kind in sorted(used, key=lambda each: (each[0].casefold(), each[1]))
    ]


def _lot_row(lot: str, kind: str, expiry: str, uses: list) -> tuple[Cell, ...]:
    days = [fact.row.happened_on for fact, _ in uses]
    numbers = [fact.row.number for fact, _ in uses]
    return (
        Cell(lot),
        Cell(kind),
        Cell(expiry),
        Cell(str(len(uses))),
        Cell(f"{day(min(days))} to\n{day(max(days))}"),
        Cell(", ".join(dict.fromkeys(label for _, label in uses))),
        Cell(
            f"{min(numbers)} to {max(numbers)}" if min(numbers) != max(numbers) else str(numbers[0]),
            proof=True,
        ),
    )


def indicator_lots(scope: Scope) -> Table:
    columns = (
        Column("Lot", 18),
        Column("Indicator", 32),
        Column("Expiry", 14),
        Column("Uses", 8, "right"),
        Column("First and last use", 18),
        Column("Units", 22),
        Column("Record", 17, small=True),
    )
    rows = tuple(_biological(scope) + _plain(scope))
    return Table("Indicator lots used", columns, rows, "Indicator lots used in the period: no record found.")


def lots_sections(scope: Scope) -> tuple[Section, ...]:
    """Part recalls, where there is one; with everything on record all parts and lots too."""
    recalls = part_recalls_table(scope)
    everything = scope.extent == EVERYTHING
    if not recalls.rows and not everything:
        return ()
    title = "Part recalls, parts and lots" if everything else "Part recalls"
    rest = (parts_table(scope), indicator_lots(scope)) if everything else ()
    return (Section("lots", title, 1, (recalls, *rest), flows=True),)
