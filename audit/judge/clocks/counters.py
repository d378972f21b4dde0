"""What a counter of cycles or hours says: the total on a day, the present rate, the day a number is reached.

Totals are life totals: what is shown plus the offset entered after a change of the board. Between two readings the
use is spread evenly, after the last one it is projected at the present rate. A reading lower than both its neighbours
is a slip and passed over. Where the total falls and stays lower without an offset, what ran before is
not known: nothing is projected across the fall, and the rate is taken from the readings after it. Common practice, no
source.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction

from audit.facts import UnitFacts, in_order
from audit.facts.dates import add_days

NEEDED_SPAN = 28  # days between two counter readings before a rate is taken from them
_FARTHEST = 36500  # days ahead; beyond it a projection says nothing


@dataclass(slots=True, unsafe_hash=True)
class Rate:
    """How fast a counter runs: `grown` units in `days`, between two readings at least 28 days apart."""

    grown: Decimal
    days: int

    @property
    def per_day(self) -> Fraction:
        """Cycles or hours a day, as the counter counts, as an exact fraction."""
        return Fraction(self.grown) / self.days


@dataclass(slots=True, unsafe_hash=True)
class Counter:
    """The readings of one counter since its total last fell without an offset: days rising, totals not falling."""

    days: tuple[date, ...]
    totals: tuple[Decimal, ...]
    rate: Rate | None  # from the last reading and the newest one at least 28 days before it
    fell_on: date | None  # the day of the first reading after such a fall, None for none

    def total_on(self, day: date) -> Fraction | None:
        """The total at the end of `day`: as read, between two readings, or carried on by the rate; never below 0."""
        n = bisect_right(self.days, day)
        if n and self.days[n - 1] == day:
            return _exact(self.totals[n - 1])
        if n == 0 and self.fell_on is not None:
            return None
        if 0 < n < len(self.days):
            first, last = self.days[n - 1], self.days[n]
            grown = Fraction(self.totals[n] - self.totals[n - 1])
            return Fraction(self.totals[n - 1]) + grown * (day - first).days / (last - first).days
        if self.rate is None:
            return None
        near = n - 1 if n else 0
        return max(Fraction(self.totals[near]) + self.rate.per_day * (day - self.days[near]).days, Fraction(0))

    def reached_on(self, base: date, limit: Decimal) -> tuple[date, bool] | None:
        """(the day, `base` or later, on which the total was `limit` more than on `base`, whether it is an estimate).

        Read on that very day, or spread evenly between two readings; None where no reading shows so much.
        """
        return self._reached_from(base, self.total_on(base), limit)

    def _reached_from(self, base: date, start: Fraction | None, limit: Decimal) -> tuple[date, bool] | None:
        """The same, `start` being the total on `base`."""
        if start is None:
            return None
        target = start + _exact(limit)
        sought = target.numerator if target.denominator == 1 else target  # a whole number is compared much sooner
        n = max(bisect_left(self.days, base), bisect_left(self.totals, sought))
        if n >= len(self.days):
            return None
        day, total = self.days[n], Fraction(self.totals[n])
        before, low = self._before(n, base, start)
        if total == low:
            return day, False
        days = (target - low) * (day - before).days / (total - low)
        found = add_days(before, -(-days.numerator // days.denominator))
        return found, found != day

    def _before(self, n: int, base: date, start: Fraction) -> tuple[date, Fraction]:
        """(day, total) of the reading before the `n`-th, or of `base` where that is later."""
        if n == 0 or self.days[n - 1] < base:
            return base, start
        return self.days[n - 1], Fraction(self.totals[n - 1])

    def shows_less(self, base: date, limit: Decimal) -> bool:
        """Whether it is known that by the last reading less than `limit` had run since `base`."""
        start = self.total_on(base)
        return start is not None and Fraction(self.totals[-1]) - start < Fraction(limit)

    def due_on(self, base: date, limit: Decimal) -> tuple[date, bool] | None:
        """(the day the counter reaches `limit` more than on `base`, whether it is an estimate); None: not known."""
        start = self.total_on(base)
        found = self._reached_from(base, start, limit)
        if found is not None:
            return found
        if start is None or self.rate is None or self.rate.grown <= 0:
            return None
        left = start + _exact(limit) - _exact(self.totals[-1])
        grown, parts = self.rate.grown.as_integer_ratio()
        days = max(-(-left.numerator * self.rate.days * parts // (left.denominator * grown)), 0)
        return (add_days(self.days[-1], days), True) if days <= _FARTHEST else None


def _exact(number: Decimal) -> Fraction:
    """The number as a fraction; most are whole."""
    whole = int(number)
    return Fraction(whole) if whole == number else Fraction(*number.as_integer_ratio())


def counter_of(unit: UnitFacts, name: str, to: date = date.max) -> Counter | None:
    """The counter "cycles" or "hours" of the unit by its readings up to `to`, inclusive; None without a reading."""
    readings = [(c.row.happened_on, c.total) for c in in_order(unit.counters) if c.counter == name]
    readings = [r for r in readings if r[0] <= to]
    readings = _without_slips(readings)
    if not readings:
        return None
    start = max((n for n in range(1, len(readings)) if readings[n][1] < readings[n - 1][1]), default=0)
    held = readings[start:]
    days, totals = tuple(d for d, _ in held), tuple(t for _, t in held)
    return Counter(days, totals, _rate(days, totals), days[0] if start else None)


def _without_slips(readings: list[tuple[date, Decimal]]) -> list[tuple[date, Decimal]]:
    """Without readings lower than the one before while the one after is not."""
    out = []
    for n, (day, total) in enumerate(readings):
        after = readings[n + 1][1] if n + 1 < len(readings) else None
        if out and total < out[-1][1] and after is not None and after >= out[-1][1]:
            continue
        out.append((day, total))
    return out


def _rate(days: tuple[date, ...], totals: tuple[Decimal, ...]) -> Rate | None:
    n = bisect_right(days, add_days(days[-1], -NEEDED_SPAN)) - 1
    if n < 0:
        return None
    return Rate(totals[-1] - totals[n], (days[-1] - days[n]).days)
