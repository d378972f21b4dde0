"""Values over time: readings against their limits, and how a counter grew.

As found an open point, as left a full one, beyond a limit a diamond with its value.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from audit.binder.on_paper import number
from audit.binder.pictures.values import CounterChart, ReadingChart, Sample

from .axes import TimeAxis, ValueAxis
from .tags import LETTER, WIDTH, box, diamond, dot, line, picture, shape, stroke, text, wide

_LEFT = 38.0
_RIGHT = 46.0
_TOP = 6.0
_PLOT = 104.0
_BELOW = 15.0
_DENSE = 90  # beyond these no single points are drawn
_COLUMN = 5.0
TALL = _TOP + _PLOT + _BELOW


def _axes(first, last, values) -> tuple[TimeAxis, ValueAxis]:
    return TimeAxis(first, last, _LEFT, WIDTH - _RIGHT), ValueAxis.around(values, _TOP, _TOP + _PLOT)


def _frame(times: TimeAxis, values: ValueAxis) -> list[str]:
    marks = []
    for y, words in values.ticks():
        marks.append(line(times.left, y, times.right, y, "pic-grid"))
        marks.append(text(times.left - 4, y + LETTER * 0.36, words, "pic-text", "end"))
    marks.append(line(times.left, values.top, times.left, values.bottom, "pic-rule"))
    marks.append(line(times.left, values.bottom, times.right, values.bottom, "pic-rule"))
    return [*marks, *times.marks(values.bottom + LETTER + 3)]


# ------------------------------------------------------------------------------------------------ readings


def reading_svg(chart: ReadingChart, ident: str) -> str:
    told = [float(v) for s in chart.samples for v in (s.found, s.left, s.lower, s.upper) if v is not None]
    times, values = _axes(chart.from_on, chart.to_on, told)
    dense = chart.band or len(chart.samples) > _DENSE
    points = _many(chart, times, values) if dense else _points(chart, times, values)
    marks = [*_limits(chart, times, values), *_frame(times, values), *points, *_named(chart, times, values)]
    unit = f", {chart.unit}" if chart.unit else ""
    return picture(ident, f"{chart.caption}{unit}", chart.alt, TALL, marks)


def _stretches(chart: ReadingChart, times: TimeAxis, side: str) -> Iterator[tuple[float, float, object]]:
    """(from x, to x, limit) while a limit of that side holds: halfway to the measurement that names another."""
    groups = [list(held) for _, held in groupby(chart.samples, key=lambda s: getattr(s, side))]
    left = times.left
    for n, held in enumerate(groups):
        last = n + 1 == len(groups)
        right = times.right if last else (times.x(held[-1].day) + times.x(groups[n + 1][0].day)) / 2
        if getattr(held[0], side) is not None:
            yield left, right, getattr(held[0], side)
        left = right


def _limits(chart: ReadingChart, times: TimeAxis, values: ValueAxis) -> list[str]:
    marks = []
    for side, sign, edge in (("lower", "≥", values.bottom), ("upper", "≤", values.top)):
        for left, right, limit in _stretches(chart, times, side):
            y = values.y(float(limit))
            marks.append(box(left, min(y, edge), right - left, abs(edge - y), "pic-tint"))
            marks.append(line(left, y, right, y, "pic-limit"))
            if right >= times.right:
                marks.append(text(right + 4, y + LETTER * 0.36, f"{sign} {number(limit)}", "pic-text"))
    return marks


def _points(chart: ReadingChart, times: TimeAxis, values: ValueAxis) -> list[str]:
    """The points of each measurement and the line from one as left to the next as found."""
    marks, before = [], None
    for s in chart.samples:
        x = times.x(s.day)
        at, end = (x, values.y(float(s.left if s.found is None else s.found))), (x, values.y(float(s.last)))
        if before is not None:
            marks.append(stroke((before, at), "pic-soft"))
        if at != end:
            marks.append(stroke((at, end), "pic-line"))
        before = end
    for s in chart.samples:
        marks += [_point(times.x(s.day), values.y(float(v)), full, _is_bad(s, v)) for v, full in _each(s)]
    return marks


def _each(sample: Sample):
    return [(v, full) for v, full in ((sample.found, False), (sample.left, True)) if v is not None]


def _is_bad(sample: Sample, value) -> bool:
    """Whether the value is marked: beyond its limit, or of a failure that no limit explains."""
    return sample.outside(value) or (sample.failed and value == sample.last)


def _point(x: float, y: float, full: bool, bad: bool) -> str:
    look = "full" if full else "open"
    return diamond(x, y, f"pic-bad pic-bad--{look}") if bad else dot(x, y, 2.8, f"pic-dot pic-dot--{look}")


def _many(chart: ReadingChart, times: TimeAxis, values: ValueAxis) -> list[str]:
    """A line, of very many a band from lowest to highest of each stretch of days; and the diamonds."""
    at = [(s.day, v) for s in chart.samples for v in dict.fromkeys((s.found, s.left)) if v is not None]
    track = [(times.x(day), values.y(float(v))) for day, v in at]
    marks = _band(track) if chart.band else [stroke(track, "pic-line")]
    for s in chart.samples:
        marks += [_point(times.x(s.day), values.y(float(v)), full, True) for v, full in _each(s) if _is_bad(s, v)]
    return marks


def _band(track: list[tuple[float, float]]) -> list[str]:
    columns: dict[int, list[float]] = {}
    for x, y in track:
        columns.setdefault(int(x / _COLUMN), []).append(y)
    return [
        shape(((n * _COLUMN, min(ys) - 0.5), ((n + 1) * _COLUMN, min(ys) - 0.5),
               ((n + 1) * _COLUMN, max(ys) + 0.5), (n * _COLUMN, max(ys) + 0.5)), "pic-band")
        for n, ys in sorted(columns.items())
    ]  # fmt: skip


def _named(chart: ReadingChart, times: TimeAxis, values: ValueAxis) -> list[str]:
    """The value farthest beyond a limit, and the last value, with their numbers; one where they would touch."""
    last = chart.samples[-1]
    bad = [(s, v) for s in chart.samples for v, _ in _each(s) if _is_bad(s, v)]
    wanted = [(*max(bad, key=lambda each: _far(*each)), "pic-text pic-stop")] if bad else []
    if not wanted or not _touch(wanted[0], (last, last.last), times, values):
        wanted.append((last, last.last, "pic-text pic-strong"))
    return [_number(s, v, look, times, values) for s, v, look in wanted]


def _far(sample: Sample, value) -> float:
    """How far beyond its limit."""
    below = float(sample.lower - value) if sample.lower is not None else 0.0
    above = float(value - sample.upper) if sample.upper is not None else 0.0
    return max(below, above, 0.0)


def _touch(one, other, times: TimeAxis, values: ValueAxis) -> bool:
    """Whether the numbers beside the two values would lie on each other."""
    across = abs(times.x(one[0].day) - times.x(other[0].day))
    down = abs(values.y(float(one[1])) - values.y(float(other[1])))
    return across < wide(number(one[1])) + 8 and down < LETTER * 2


def _number(sample: Sample, value, look: str, times: TimeAxis, values: ValueAxis) -> str:
    told, y = number(value), values.y(float(value))
    above = y - 7 if y - 7 - LETTER > values.top else y + LETTER + 7
    x = min(max(times.x(sample.day), times.left + wide(told) / 2), times.right + 8)
    return text(x, above, told, look, "middle")


# ------------------------------------------------------------------------------------------------ counters


def counter_svg(chart: CounterChart, ident: str) -> str:
    """The life total as a line, broken where another counter begins; the projection dashed."""
    kept = [p for p in chart.points if not p.slip]
    told = [float(p.total) for p in chart.points] + [float(p.total) for p in chart.projected]
    times, values = _axes(chart.from_on, chart.to_on, told)
    marks = [*_frame(times, values), *_runs(chart, kept, times, values)]
    breaks = [times.begin(b.day) for b in chart.breaks]
    marks += [line(x, values.top, x, values.bottom, "pic-break") for x in breaks]
    for p in chart.points:
        look = "pic-dot pic-dot--open" if p.slip else "pic-dot pic-dot--full"
        marks.append(dot(times.x(p.day), values.y(float(p.total)), 2.4, look))
    if kept:
        x, y = times.x(kept[-1].day), values.y(float(kept[-1].total))
        marks += [stroke(((x, y), *_ahead(chart, times, values)), "pic-ahead")] if chart.projected else []
        above = y - 5 if y - 5 - LETTER > 0 else y + 12
        marks.append(text(x - 4, above, number(kept[-1].total), "pic-text pic-strong", "end"))
    marks += [diamond(px, py, "pic-bad pic-bad--open", 3.5) for px, py in _ahead(chart, times, values)]
    return picture(ident, chart.caption, chart.alt, TALL, marks)


def _ahead(chart: CounterChart, times: TimeAxis, values: ValueAxis) -> list[tuple[float, float]]:
    return [(times.x(p.day), values.y(float(p.total))) for p in chart.projected]


def _runs(chart: CounterChart, kept, times: TimeAxis, values: ValueAxis) -> list[str]:
    """The line of each counter by itself."""
    starts = {b.day for b in chart.breaks}
    runs: list[list[tuple[float, float]]] = [[]]
    for p in kept:
        if p.day in starts:
            runs.append([])
        runs[-1].append((times.x(p.day), values.y(float(p.total))))
    return [stroke(run, "pic-line") for run in runs if len(run) > 1]
