"""Loads by day, and those that a failure puts in doubt."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from datetime import date

from audit.facts import LoadFact, Ordered, UnitFacts, happened_on, in_order
from audit.judge.biological import cycle_key, run_of, shown_before

from .trials import Trial


def loads_of_day(unit: UnitFacts, day: date) -> Iterator[LoadFact]:
    """The loads of one day, in order."""
    loads = in_order(unit.loads)
    yield from loads[bisect_left(loads, day, key=happened_on) : bisect_right(loads, day, key=happened_on)]


def loads_up_to(unit: UnitFacts, to: date) -> Sequence[LoadFact]:
    """The loads up to a day, inclusive, in order."""
    loads = in_order(unit.loads)
    return loads[: bisect_right(loads, to, key=happened_on)]


def loads_after(loads: Ordered, good: Trial | None) -> Iterator[LoadFact]:
    """Those of the loads that came after a good test (None: all), in order.

    Of the day of the good test those that are not shown to have been run before it, nor in its own cycle.
    """
    first = 0 if good is None else bisect_left(loads, good.day, key=happened_on)
    for load in loads[first:]:
        if good is None or not (_same_cycle(load, good) or shown_before(run_of(load), good.run)):
            yield load


def _same_cycle(load: LoadFact, trial: Trial) -> bool:
    day, _, number = trial.run
    return number != "" and (happened_on(load), cycle_key(load)) == (day, number)
