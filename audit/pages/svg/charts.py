"""Values over time: readings against their limits, and how a counter grew."""

from __future__ import annotations

from audit.binder.pictures.laid.counters import lay_counter
from audit.binder.pictures.laid.frame import ChartSizes
from audit.binder.pictures.laid.readings import lay_readings
from audit.binder.pictures.values import CounterChart, ReadingChart

from .ink import SCREEN, inked
from .tags import WIDTH, picture

_READINGS = ChartSizes(left=38.0, right=60.0, words_from=0.0, top=8.0, plot=104.0, below=16.0)
_COUNTERS = ChartSizes(left=38.0, right=12.0, words_from=0.0, top=8.0, plot=104.0, below=16.0, label=230.0)


def reading_svg(chart: ReadingChart, ident: str) -> str:
    """As found an open point, as left a full one, beyond a limit a diamond with its value where there is room."""
    marks, _ = lay_readings(chart, 0.0, WIDTH, _READINGS, SCREEN)
    unit = f", {chart.unit}" if chart.unit else ""
    return picture(ident, f"{chart.caption}{unit}", chart.alt, _READINGS.tall, inked(marks))


def counter_svg(chart: CounterChart, ident: str) -> str:
    """The life total as a line, broken where another counter begins; the projection dashed."""
    marks = lay_counter(chart, 0.0, WIDTH, _COUNTERS, SCREEN)
    return picture(ident, chart.caption, chart.alt, _COUNTERS.tall, inked(marks))
