"""A counter over time: its life total as a line, broken where another begins, dashed where it is projected."""

from __future__ import annotations

from audit.binder.on_paper import day, number
from audit.binder.pdf.marks import Dot, Line, Mark, Stroke
from audit.binder.pdf.measure import fit
from audit.binder.pdf.page import INK
from audit.binder.pdf.pictures.axes import TimeAxis, ValueAxis
from audit.binder.pdf.pictures.labels import Places, Rect, around
from audit.binder.pdf.pictures.parts import LABEL, LABEL_STRONG, heading
from audit.binder.pdf.pictures.readings import frame_marks
from audit.binder.pictures.values import CounterChart, CounterPoint

_LEFT, _RIGHT = 34.0, 6.0
_TOP, _PLOT, _BELOW = 13.0, 84.0, 10.0
_DENSE = 60
_WIDEST = 190.0


def _title(chart: CounterChart, left: float, wide: float) -> list[Mark]:
    many = f"{chart.total} readings" if chart.total > 1 else "1 reading"
    if len(chart.points) < chart.total:
        many += f", {len(chart.points)} drawn"
    return heading(chart.caption, many, left, wide)


def _parts(chart: CounterChart) -> list[list[CounterPoint]]:
    """The points of each unbroken stretch; slips left out."""
    starts = {each.day for each in chart.breaks}
    parts: list[list[CounterPoint]] = [[]]
    for n, point in enumerate(p for p in chart.points if not p.slip):
        if n and point.day in starts and parts[-1] and parts[-1][-1].day < point.day:
            parts.append([])
        parts[-1].append(point)
    return [part for part in parts if part]


def _grown(chart: CounterChart, times: TimeAxis, values: ValueAxis) -> list[Mark]:
    def at(point: CounterPoint) -> tuple[float, float]:
        return times.x(point.day), values.y(float(point.total))

    marks: list[Mark] = []
    for part in _parts(chart):
        if len(part) > 1:
            marks.append(Stroke(tuple(at(p) for p in part), INK, 0.8))
    few = len(chart.points) <= _DENSE
    marks += [Dot(*at(p), 1.7, filled=not p.slip) for p in chart.points if few or p.slip]
    return marks


def _breaks(chart: CounterChart, times: TimeAxis, values: ValueAxis, places: Places) -> list[Mark]:
    marks: list[Mark] = []
    for each in chart.breaks:
        x = times.begin(each.day)
        marks.append(Stroke(((x, values.top), (x, values.bottom)), INK, 0.6, (1.2, 1.2)))
        ys = [values.top + 4 + 7.4 * n for n in range(int((values.bottom - values.top) // 7.4))]
        text = fit(f"{day(each.day)}: {each.label}", LABEL, _WIDEST)
        spots = [spot for y in ys for spot in ((x + 2.5, y, 0.0), (x - 2.5, y, 1.0))]
        made = places.put(text, LABEL, spots)
        marks += [made] if made is not None else []
    return marks


def _ahead(chart: CounterChart, times: TimeAxis, values: ValueAxis, places: Places) -> list[Mark]:
    """The dashed line from the last point, with a ring and words where an item is expected."""
    if not chart.projected:
        return []
    last = next(p for p in reversed(chart.points) if not p.slip)
    start = (times.x(last.day), values.y(float(last.total)))
    ends = [(times.x(p.day), values.y(float(p.total))) for p in chart.projected]
    marks: list[Mark] = [Stroke((start, *ends), INK, 0.7, (2.4, 1.8))]
    for each, (x, y) in zip(chart.projected, ends, strict=True):
        marks.append(Line(x, y - 4, x, y + 4, INK, 0.8))
        text = fit(f"{each.label}: about {day(each.day)} at {number(each.total)}", LABEL, _WIDEST)
        spots = [(x - 4, y + by, 1.0) for by in (0, -7, 7, -14, 14, -21, 21, 28, 35, 42)]
        made = places.put(text, LABEL, spots)
        marks += [made] if made is not None else []
    return marks


def counter_figure(chart: CounterChart, left: float, wide: float) -> tuple[float, list[Mark]]:
    """(height, marks) of a chart that stands from x `left` on."""
    times = TimeAxis(chart.from_on, chart.to_on, left + _LEFT, left + wide - _RIGHT)
    totals = [float(p.total) for p in (*chart.points, *chart.projected)]
    values = ValueAxis.around(totals, _TOP, _TOP + _PLOT)
    places = Places(Rect(times.left + 1, 9.5, left + wide, values.bottom))
    for x, y in ((times.x(p.day), values.y(float(p.total))) for p in (*chart.points, *chart.projected)):
        places.take(Rect(x - 2, y - 2, x + 2, y + 2))
    last = chart.points[-1]
    spots = around(times.x(last.day), values.y(float(last.total)), 3.6, 6.6)
    end = places.put(number(last.total), LABEL_STRONG, [spots[1], spots[3], spots[2], *spots])
    named = [end] if end is not None else []
    marks = [
        *_title(chart, left, wide),
        *frame_marks(times, values),
        *_grown(chart, times, values),
        *named,
        *_breaks(chart, times, values, places),
        *_ahead(chart, times, values, places),
    ]
    return _TOP + _PLOT + _BELOW, marks
