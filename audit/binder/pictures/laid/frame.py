"""The frame of a chart: its two axes with their ticks, and the months along a line of days."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from audit.binder.pictures.axes import DayAxis, ValueAxis
from audit.binder.written_on_paper import month, month_name

from .hand import Hand, baseline, beside
from .marks import LaidLine, LaidText, Mark

_APART = 4.0  # between two labels, in points


@dataclass(frozen=True, slots=True)
class ChartSizes:
    """Where the plot of a chart stands, and how much of it words may take. In units of the picture."""

    left: float  # room for the numbers of the value axis
    right: float  # room for what stands beside the last value
    words_from: float  # y above which no label stands
    top: float
    plot: float
    below: float  # room for the names of the months
    label: float = 0.0  # the widest label beside a point or break

    @property
    def tall(self) -> float:
        return self.top + self.plot + self.below

    def days(self, first: date, last: date, left: float, wide: float) -> DayAxis:
        return DayAxis(first, last, left + self.left, left + wide - self.right)

    def values(self, told: list[float]) -> ValueAxis:
        return ValueAxis.around(told, self.top, self.top + self.plot)


def ticks(days: DayAxis, hand: Hand) -> Iterator[tuple[float, date]]:
    """The beginning of each month, quarter or year that has room for its label."""
    for day in days.months(hand.wide("2026", "tick-year") + _APART * hand.scale):
        yield days.begin(day), day


def names(days: DayAxis, hand: Hand) -> Iterator[tuple[float, str, str]]:
    """(x of its left edge, text, look) of each tick that has room for a label; January is named by its year."""
    free, away = days.left, 2 * hand.scale
    for n, (x, day) in enumerate(ticks(days, hand)):
        look = "tick-year" if day.month == 1 else "tick"
        text = str(day.year) if day.month == 1 else month(day) if n == 0 else month_name(day)
        if x + away >= free and x + away + hand.wide(text, look) <= days.right:
            yield x + away, text, look
            free = x + away + hand.wide(text, look) + _APART * hand.scale


def frame_marks(days: DayAxis, values: ValueAxis, hand: Hand) -> list[Mark]:
    """The two axes, their ticks and numbers."""
    small = hand.scale
    marks: list[Mark] = []
    for y, text in values.ticks():
        marks.append(LaidLine(days.left, y, days.right, y, "grid"))
        marks.append(LaidText(days.left - 3 * small, beside(hand, y, "tick"), text, "tick", 1.0))
    floor = values.bottom
    marks += [LaidLine(x, floor, x, floor + 2.5 * small, "axis") for x, _ in ticks(days, hand)]
    marks += [LaidText(x, baseline(hand, floor + 2 * small, look), text, look) for x, text, look in names(days, hand)]
    marks.append(LaidLine(days.left, values.top, days.left, floor, "axis"))
    marks.append(LaidLine(days.left, floor, days.right, floor, "axis"))
    return marks
