"""Axes as they are drawn on a page: ticks with their names."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from audit.binder.on_paper import month_name
from audit.binder.pictures.axes import DayAxis, ValueAxis

from .tags import line, text, wide

__all__ = ["TimeAxis", "ValueAxis"]

_APART = 5.0


class TimeAxis(DayAxis):
    """A day axis in units of the picture."""

    def ticks(self) -> Iterator[date]:
        """First days of months, as many as have room for the name of each."""
        return self.months(wide("2026") + _APART)

    def marks(self, y: float) -> list[str]:
        """The ticks with their names on the line `y`: a month, January by its year."""
        made, free = [], self.left
        for n, day in enumerate(self.ticks()):
            name = str(day.year) if day.month == 1 else month_name(day)
            if n == 0 and day.month != 1:
                name = f"{name} {day.year}"
            x = self.begin(day)
            if x >= free and x + wide(name) <= self.right + 12:
                look = "pic-text pic-strong" if day.month == 1 else "pic-text"
                made.append(text(x, y, name, look))
                free = x + wide(name) + _APART
        return made

    def grid(self, top: float, bottom: float) -> list[str]:
        return [line(self.begin(day), top, self.begin(day), bottom, "pic-grid") for day in self.ticks()]
