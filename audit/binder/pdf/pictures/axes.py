"""Axes as they are drawn in the binder: labels measured in its type."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from audit.binder.on_paper import month, month_name
from audit.binder.pdf.measure import width
from audit.binder.pdf.page import SOFT, Type
from audit.binder.pictures.axes import DayAxis, ValueAxis

__all__ = ["TICK", "TICK_STRONG", "TimeAxis", "ValueAxis"]

TICK = Type(5.8, 7.4, grey=SOFT)
TICK_STRONG = Type(5.8, 7.4, bold=True, grey=SOFT)
_APART = 4.0  # points between two labels


class TimeAxis(DayAxis):
    """A day axis in points."""

    def ticks(self) -> Iterator[tuple[float, date]]:
        """The beginning of each month, quarter or year that has room for its label."""
        for day in self.months(width("2026", TICK_STRONG) + _APART):
            yield self.begin(day), day

    def labels(self) -> Iterator[tuple[float, str, Type]]:
        """(x of its left edge, text, type) of each tick that has room for a label; January is named by its year."""
        free = self.left
        for n, (x, day) in enumerate(self.ticks()):
            style = TICK_STRONG if day.month == 1 else TICK
            text = str(day.year) if day.month == 1 else month(day) if n == 0 else month_name(day)
            if x + 2 >= free and x + 2 + width(text, style) <= self.right:
                yield x + 2, text, style
                free = x + 2 + width(text, style) + _APART
