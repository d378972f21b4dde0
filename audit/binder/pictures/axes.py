"""Axes of a picture, whatever draws it: days across, values down, and where their ticks stand."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from math import ceil, floor, log10

from audit.binder.pictures.values import TimeSpan, UnitTimeLine
from audit.facts.dates import add_months

_STEPS = (1, 2, 3, 6, 12, 24, 60, 120)  # months between two ticks


@dataclass(frozen=True, slots=True)
class DayAxis:
    """The days `first` to `last`, both inclusive and each of the same width, from x `left` to x `right`."""

    first: date
    last: date
    left: float
    right: float

    @property
    def day(self) -> float:
        """The width of a day."""
        return (self.right - self.left) / ((self.last - self.first).days + 1)

    def x(self, day: date) -> float:
        """The middle of a day, never outside the axis."""
        return self.held(self.left + ((day - self.first).days + 0.5) * self.day)

    def begin(self, day: date) -> float:
        return self.held(self.left + (day - self.first).days * self.day)

    def end(self, day: date) -> float:
        return self.held(self.left + ((day - self.first).days + 1) * self.day)

    def held(self, x: float) -> float:
        return min(max(x, self.left), self.right)

    def months(self, room: float) -> Iterator[date]:
        """The first day of the axis where it begins a month, then every month, quarter or year `room` apart."""
        month_wide = self.day * 30.4
        step = next((s for s in _STEPS if s * month_wide >= room), _STEPS[-1])
        months = self.first.year * 12 + self.first.month - 1
        months += self.first.day > 1
        months += -months % step
        day = date(months // 12, months % 12 + 1, 1)
        while day <= self.last:
            yield day
            day = add_months(day, step)

    def bar(self, drawn: UnitTimeLine, each: TimeSpan, least: float) -> tuple[float, float]:
        """From where to where the bar of a span stands, `least` wide; one that is not over reaches to the last
        known day."""
        end = drawn.seen_to if each.end is None or each.end > drawn.to_on else each.end
        left, right = self.begin(each.start), self.end(max(end, each.start))
        if right - left < least:
            left = min(left, self.right - least)
            right = left + least
        return left, right


@dataclass(frozen=True, slots=True)
class ValueAxis:
    """The values `low` to `high` from y `bottom` up to y `top` (y is counted down)."""

    low: float
    high: float
    top: float
    bottom: float

    @classmethod
    def around(cls, values: Iterable[float], top: float, bottom: float) -> ValueAxis:
        """An axis that holds all values with some room; around a single one where all are the same."""
        values = list(values)
        low, high = min(values), max(values)
        room = (high - low) * 0.12 or max(abs(high) * 0.02, 0.01)
        return cls(low - room, high + room, top, bottom)

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return min(max(self.bottom - share * (self.bottom - self.top), self.top), self.bottom)

    def ticks(self, most: int = 4) -> list[tuple[float, str]]:
        """(y, text) of round values, at most `most`."""
        step = _round_step((self.high - self.low) / most)
        first, last = ceil(self.low / step - 1e-9), floor(self.high / step + 1e-9)
        places = max(0, -floor(log10(step) + 1e-9))
        found = [(self.y(n * step), f"{n * step:.{places}f}") for n in range(first, last + 1)]
        return found[:: -(-len(found) // most)] if len(found) > most else found


def _round_step(least: float) -> float:
    """The smallest of 1, 2, 5 times a power of ten that is not below `least`."""
    power = 10.0 ** floor(log10(least))
    return next(m * power for m in (1, 2, 5, 10) if m * power >= least * (1 - 1e-9))
