"""The cycles that show a unit in use: its loads and its spore tests, as they were logged."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from datetime import date

from audit.facts import LoadFact, happened_on, in_order, within
from audit.facts.dates import ONE_DAY
from audit.judge.biological import cycle_key
from audit.judge.cycle_types import named

from .duty import DutyFacts


@dataclass(frozen=True, slots=True)
class Uses:
    """The cycles that show a unit in use: loads, and spore tests, each in order of day."""

    loads: tuple[LoadFact, ...]
    tests: tuple
    air: tuple  # air-removal tests: their cycle, logged as a load, is of no cycle type

    def last(self, to: date) -> date | None:
        """The last day of use of `to` or before."""
        found = self.newest(to)
        return found[0] if found is not None else None

    def newest(self, to: date) -> tuple[date, str] | None:
        """(day, row) of the last use of `to` or before."""
        held = []
        for facts in (self.loads, self.tests):
            n = bisect_right(facts, to, key=happened_on)
            if n:
                held.append((happened_on(facts[n - 1]), facts[n - 1].row.ref))
        return max(held, default=None, key=lambda h: h[0])

    def first(self, since: date) -> date | None:
        """The first day of use of `since` or after."""
        days = []
        for facts in (self.loads, self.tests):
            n = bisect_left(facts, since, key=happened_on)
            if n < len(facts):
                days.append(happened_on(facts[n]))
        return min(days, default=None)

    def first_of(self, cycle_type: str, since: date) -> date | None:
        """The first day, of `since` or after, on which that cycle type was used."""
        day = self.first(since)
        while day is not None and cycle_type not in self.types(day):
            day = self.first(day + ONE_DAY)
        return day

    def types(self, day: date) -> tuple[str, ...]:
        """The cycle types used on a day, sorted."""
        no_loads = {cycle_key(t) for t in _on(self.air, day) if t.cycle_number}
        found = {named(x.program) for x in _on(self.loads, day) if cycle_key(x) not in no_loads}
        return tuple(sorted(found | {named(t.cycle_type) for t in _on(self.tests, day)}))

    def types_by_day(self, first: date, last: date) -> dict[date, tuple[str, ...]]:
        """The days of use from `first` to `last`, both inclusive, oldest first, with the cycle types of each."""
        air = {(happened_on(t), cycle_key(t)) for t in within(self.air, first, last) if t.cycle_number}
        found: dict[date, set[str]] = {}
        for x in within(self.loads, first, last):
            day = happened_on(x)
            if not air or (day, cycle_key(x)) not in air:
                found.setdefault(day, set()).add(x.program)
        for t in within(self.tests, first, last):
            found.setdefault(happened_on(t), set()).add(t.cycle_type)
        return {day: tuple(sorted({named(t) for t in found[day]})) for day in sorted(found)}

    def days(self, first: date, last: date) -> list[date]:
        """The days of use from `first` to `last`, both inclusive, oldest first."""
        found = {f.row.happened_on for facts in (self.loads, self.tests) for f in within(facts, first, last)}
        return sorted(found)


def uses_of(facts: DutyFacts) -> Uses:
    """The cycles logged of the unit; none for the whole place."""
    unit = facts.unit
    if unit is None:
        return Uses((), (), ())
    return Uses(in_order(unit.loads), in_order(unit.bio_tests), in_order(unit.air_removal))


def _on(rows, day: date):
    return within(rows, day, day)
