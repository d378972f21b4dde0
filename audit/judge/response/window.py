"""Loads by day, and those that a failure puts in doubt."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from datetime import date

from audit.facts import LoadFact, UnitFacts, happened_on, in_order
from audit.judge.biological import run_of, shown_before

from .trials import Trial


def loads_of_day(unit: UnitFacts, day: date) -> Iterator[LoadFact]:
    """The loads of one day, in order."""
    loads = in_order(unit.loads)
    yield from loads[bisect_left(loads, day, key=happened_on) : bisect_right(loads, day, key=happened_on)]


def loads_between(unit: UnitFacts, good: Trial | None, to: date) -> Iterator[LoadFact]:
    """The loads after a good test (None: from the first on) up to a day, inclusive, in order.

    Of the day of the good test those that are not shown to have been run before it, nor in its own cycle.
    """
    loads = in_order(unit.loads)
    first = 0 if good is None else bisect_left(loads, good.day, key=happened_on)
    for load in loads[first : bisect_right(loads, to, key=happened_on)]:
        if good is None or not (_same_cycle(load, good) or shown_before(run_of(load), good.run)):
            yield load


def _same_cycle(load: LoadFact, trial: Trial) -> bool:
    return bool(load.cycle_number) and (happened_on(load), load.cycle_number) == (trial.day, trial.cycle_number)
