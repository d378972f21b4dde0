"""The cycle types in use on a unit: those of its loads in the twelve months before a day.

Which cycle types must be proven "each" is left open by the texts; those run in the last twelve months is common
practice, no source. The cycle of an air-removal test is no load.
"""

from __future__ import annotations

from datetime import date

from audit.facts import UnitFacts, within
from audit.facts.dates import add_months
from audit.judge.biological import cycle_key

MONTHS = 12


def named(cycle_type: str) -> str:
    """A cycle type as it is compared: case and blanks at the ends do not matter."""
    return cycle_type.strip().casefold()


def types_in_use(unit: UnitFacts, first_from: date, to: date) -> tuple[str, ...]:
    """Cycle types of the loads from twelve months before `first_from` up to `to`, both inclusive, sorted."""
    start = add_months(first_from, -MONTHS)
    tests = {(t.row.happened_on, cycle_key(t)) for t in within(unit.air_removal, start, to) if t.cycle_number}
    loads = within(unit.loads, start, to)
    if tests:
        loads = [x for x in loads if (x.row.happened_on, cycle_key(x)) not in tests]
    programs = {x.program for x in loads}
    return tuple(sorted({named(p) for p in programs} - {""}))


def types_tested(unit: UnitFacts, first_from: date, to: date) -> tuple[str, ...]:
    """Cycle types of the spore tests of the same months, sorted."""
    start = add_months(first_from, -MONTHS)
    return tuple(sorted({named(t.cycle_type) for t in within(unit.bio_tests, start, to)} - {""}))
