"""When so many hours of use are reached: from the hours counter, else from the minutes of the loads logged.

Use time is the sum of the cycle times (Florida Administrative Code 64B5-25.003: cycles times cycle time). A load of
the very day of the last test counts only where both times of day show that it ran after the test. Between readings
of the counter the hours are spread evenly; after the last one they are projected at the present rate. The minutes of
loads are never projected: what is not logged was not run.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import accumulate

from audit.facts import in_order
from audit.judge.biological import ran_after
from audit.regimes.model import Duty

from .counters import Counter, counter_of
from .duty import DutyFacts
from .rows import happened_on

_MINUTES = 60


@dataclass(frozen=True, slots=True)
class Limit:
    """The last day in time, whether it is a projection, and what is to be said of it."""

    due_on: date
    projected: bool = False
    note: str = ""


def reached(facts: DutyFacts, duty: Duty, base: date, fact, days: date) -> Limit:
    """The day the hours were reached after `base`, as far as it is known, or `days`, whichever is sooner."""
    counter = _counter(facts)
    if counter is not None and counter.total_on(base) is not None:
        shown = counter.reached_on(base, Decimal(duty.hours))
        return Limit(min(days, shown[0]) if shown is not None else days)
    day, _ = _by_loads(facts, duty, base, fact)
    return Limit(min(days, day) if day is not None else days)


def reached_or_projected(facts: DutyFacts, duty: Duty, base: date, fact, days: date) -> Limit:
    """The same for the time that still runs: projected from the counter, with what is to be said of it."""
    counter = _counter(facts)
    found = counter.due_on(base, Decimal(duty.hours)) if counter is not None else None
    if found is not None:
        day, projected = found
        if day < days:
            return Limit(day, projected, "date projected from counter readings" if projected else "")
        return Limit(days)
    day, note = _by_loads(facts, duty, base, fact)
    return Limit(min(days, day) if day is not None else days, note=note)


def _counter(facts: DutyFacts) -> Counter | None:
    return facts.once("hours", lambda: counter_of(facts.unit, "hours"))


def _by_loads(facts: DutyFacts, duty: Duty, base: date, fact) -> tuple[date | None, str]:
    """(the day the minutes of loads since `base` reach the hours or None, what is to be said of it)."""
    sums, unknown = facts.once("minutes", lambda: _sums(facts.unit.loads))
    loads = in_order(facts.unit.loads)
    low = bisect_right(loads, base, key=happened_on)
    same_day = sum((x.minutes or Decimal(0)) for x in _after_test(loads, low, base, fact))
    before = (sums[low - 1] if low else Decimal(0)) - same_day
    n = bisect_left(sums, before + duty.hours * _MINUTES, lo=low - 1 if same_day else low)
    without = bisect_right(unknown, len(loads)) - bisect_left(unknown, low)
    run = (sums[-1] if sums else Decimal(0)) - before
    note = f"{run.normalize():f} of {duty.hours * _MINUTES} minutes of use logged since"
    if not loads:
        note = "hours of use are not known: neither a counter nor a load is on record"
    if without:
        note += f"; {without} load(s) without minutes not counted"
    return (happened_on(loads[n]) if n < len(loads) else None), note


def _after_test(loads, low: int, base: date, fact):
    """Loads of the day of the last test that are known to have run after it."""
    if fact is None:
        return loads[bisect_left(loads, base, key=happened_on) : low]
    same = loads[bisect_left(loads, base, key=happened_on) : low]
    return [x for x in same if ran_after(base, x.row.happened_at, base, fact.row.happened_at)]


def _sums(loads) -> tuple[list[Decimal], list[int]]:
    """(minutes up to and with each load in order, places of the loads without minutes)."""
    ordered = in_order(loads)
    sums = list(accumulate((x.minutes or Decimal(0)) for x in ordered))
    return sums, [n for n, x in enumerate(ordered) if x.minutes is None]
