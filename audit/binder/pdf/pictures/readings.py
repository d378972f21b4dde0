"""One quantity over time: as found an open point, as left a full one, beyond a limit a diamond with its value."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from audit.binder.on_paper import number
from audit.binder.pdf.marks import Box, Dot, Line, Mark, Shape, Stroke, Text
from audit.binder.pdf.measure import fit, width
from audit.binder.pdf.page import INK, SOFT, TINT, Type
from audit.binder.pdf.pictures.axes import TICK, TimeAxis, ValueAxis
from audit.binder.pdf.pictures.labels import Places, Rect, around
from audit.binder.pdf.pictures.parts import LABEL, LABEL_STRONG, heading
from audit.binder.pdf.rows import baseline
from audit.binder.pictures.thin import high, low
from audit.binder.pictures.values import ReadingChart, Sample

_NARROW = 16  # measurements up to which half the width is enough
_DENSE = 90  # beyond these no single points are drawn
_COLUMN = 4.0  # points of a stretch of days in the band
_GRID = 0.84
BAND = 0.76  # grey of the band of many
_LIMIT = Type(6.0, 7.4, grey=SOFT)
_LEFT = 30.0  # room for the numbers of the value axis
_RIGHT = 36.0  # room for the limits and the last value
_TOP = 13.0
_PLOT = 62.0
_BELOW = 10.0
HEIGHT = _TOP + _PLOT + _BELOW


def is_wide(chart: ReadingChart) -> bool:
    """Whether it needs the whole width."""
    return chart.band or len(chart.samples) > _NARROW


def diamond(x: float, y: float, *, filled: bool, half: float = 3.0) -> Shape:
    points = ((x, y - half), (x + half, y), (x, y + half), (x - half, y))
    return Shape(points, INK if filled else 1.0, INK, 0.7)


def _values(samples: tuple[Sample, ...]) -> Iterator[float]:
    for s in samples:
        yield from (float(v) for v in (s.found, s.left, s.lower, s.upper) if v is not None)


def frame_marks(times: TimeAxis, values: ValueAxis) -> list[Mark]:
    """The two axes, their ticks and numbers."""
    marks: list[Mark] = []
    for y, text in values.ticks():
        marks.append(Line(times.left, y, times.right, y, _GRID, 0.3))
        right = times.left - 3
        marks.append(Text(right - width(text, TICK), y + TICK.size * 0.36, text, TICK))
    marks += [Line(x, values.bottom, x, values.bottom + 2.5, SOFT) for x, _ in times.ticks()]
    marks += [Text(x, baseline(values.bottom + 2, style), text, style) for x, text, style in times.labels()]
    marks.append(Line(times.left, values.top, times.left, values.bottom, SOFT))
    marks.append(Line(times.left, values.bottom, times.right, values.bottom, SOFT))
    return marks


# ------------------------------------------------------------------------------------------------ the limits


def _stretches(samples: tuple[Sample, ...], times: TimeAxis, side: str) -> Iterator[tuple[float, float, object]]:
    """(from x, to x, limit) while a limit of that side holds: to the next measurement that names another."""
    groups = [list(held) for _, held in groupby(samples, key=lambda s: getattr(s, side))]
    left = times.left
    for n, held in enumerate(groups):
        right = times.right
        if n + 1 < len(groups):
            right = (times.x(held[-1].day) + times.x(groups[n + 1][0].day)) / 2
        if getattr(held[0], side) is not None:
            yield left, right, getattr(held[0], side)
        left = right


def _limits(chart: ReadingChart, times: TimeAxis, values: ValueAxis, places: Places) -> tuple[list[Mark], list[Mark]]:
    """(grounds beyond the limits, the limits with their labels)."""
    grounds: list[Mark] = []
    lines: list[Line] = []
    wanted: list[tuple[float, float, str]] = []
    for side, sign, edge in (("lower", "≥", values.bottom), ("upper", "≤", values.top)):
        for left, right, limit in _stretches(chart.samples, times, side):
            y = values.y(float(limit))
            grounds.append(Box(left, min(y, edge), right - left, abs(edge - y), TINT))
            lines.append(Line(left, y, right, y, SOFT, 0.8))
            wanted.append((right, y, f"{sign} {number(limit)}"))
    labels = []
    for right, y, text in wanted:
        if right >= times.right - 0.01:
            spots = [(right + 3, y + by, 0.0) for by in (0, -4, 4, -8, 8, -14, 14)]
        else:
            spots = [(right - 2, y + by, 1.0) for by in (-4.5, 4.5)]
        labels.append(places.put(fit(text, _LIMIT, _RIGHT - 4), _LIMIT, spots))
    for line in lines:
        places.shun(Rect(line.x1, line.y1 - 0.6, line.x2, line.y1 + 0.6))
    return grounds, [*lines, *(label for label in labels if label is not None)]


# ------------------------------------------------------------------------------------------------ the points


def _points(chart: ReadingChart, times: TimeAxis, values: ValueAxis) -> list[Mark]:
    """The points of each measurement and the line from one as left to the next as found."""
    marks: list[Mark] = []
    before: tuple[float, float] | None = None
    for s in chart.samples:
        x = times.x(s.day)
        first = s.left if s.found is None else s.found
        at = (x, values.y(float(first)))
        if before is not None:
            marks.append(Stroke((before, at), SOFT, 0.45))
        end = (x, values.y(float(s.last)))
        if at != end:
            marks.append(Line(x, at[1], x, end[1], INK, 0.5))
        before = end
    for s in chart.samples:
        x = times.x(s.day)
        for value, filled in ((s.found, False), (s.left, True)):
            if value is not None:
                marks.append(_point(x, values.y(float(value)), filled, _is_bad(s, value)))
    return marks


def _is_bad(sample: Sample, value) -> bool:
    """Whether the value is marked: beyond its limit, or of a failure that no limit explains."""
    return sample.outside(value) or (sample.failed and value == sample.last)


def _point(x: float, y: float, filled: bool, bad: bool) -> Mark:
    return diamond(x, y, filled=filled) if bad else Dot(x, y, 1.9, filled=filled)


def _dense(chart: ReadingChart, times: TimeAxis, values: ValueAxis) -> list[Mark]:
    """Many measurements: a line, of very many a band from lowest to highest of each stretch of days; the diamonds."""
    marks = _band(chart, times, values) if chart.band else [_line(chart, times, values)]
    for s in chart.samples:
        for value, filled in ((s.found, False), (s.left, True)):
            if value is not None and _is_bad(s, value):
                marks.append(diamond(times.x(s.day), values.y(float(value)), filled=filled))
    return marks


def _line(chart: ReadingChart, times: TimeAxis, values: ValueAxis) -> Mark:
    each = ((s.day, v) for s in chart.samples for v in dict.fromkeys((s.found, s.left)) if v is not None)
    return Stroke(tuple((times.x(on), values.y(float(v))) for on, v in each), INK, 0.45)


def _band(chart: ReadingChart, times: TimeAxis, values: ValueAxis) -> list[Mark]:
    """From lowest to highest of each column of days; broken where a column has nothing."""
    columns: dict[int, list[float]] = {}
    for s in chart.samples:
        ys = columns.setdefault(int((times.x(s.day) - times.left) / _COLUMN), [])
        ys += [values.y(float(v)) for v in (s.found, s.left) if v is not None]
    shapes: list[Mark] = []
    tops: list[tuple[float, float]] = []
    bottoms: list[tuple[float, float]] = []
    for n, ys in sorted(columns.items()):
        # Half a point at least: a band of one value is a line.
        for x in (times.held(times.left + n * _COLUMN), times.held(times.left + (n + 1) * _COLUMN)):
            tops.append((x, min(ys) - 0.25))
            bottoms.append((x, max(ys) + 0.25))
        if n + 1 not in columns:
            shapes.append(Shape((*tops, *reversed(bottoms)), BAND, SOFT, 0.25))
            tops, bottoms = [], []
    return shapes


def _named(chart: ReadingChart, times: TimeAxis, values: ValueAxis, places: Places) -> tuple[list[Mark], int]:
    """The values beyond their limits, those farthest out first, then the last one; how many had no room."""
    wanted = [
        (_far(s, value), n, s, value)
        for n, s in enumerate(chart.samples)
        for value in dict.fromkeys((s.found, s.left))
        if value is not None and _is_bad(s, value)
    ]
    marks, left_out = [], 0
    for _, _, s, value in sorted(wanted, key=lambda w: (-w[0], w[1])):
        x, y = times.x(s.day), values.y(float(value))
        made = places.put(number(value), LABEL_STRONG, around(x, y, 4.5, 6.8))
        left_out += made is None
        marks += [made] if made is not None else []
    last = chart.samples[-1]
    if not _is_bad(last, last.last):
        made = places.put(number(last.last), LABEL, around(times.x(last.day), values.y(float(last.last)), 3.6, 6.2))
        marks += [made] if made is not None else []
    return marks, left_out


def _far(sample: Sample, value) -> float:
    """How far beyond its limit."""
    below = float(sample.lower - value) if sample.lower is not None else 0.0
    above = float(value - sample.upper) if sample.upper is not None else 0.0
    return max(below, above, 0.0)


def _title(chart: ReadingChart, left: float, wide: float, left_out: int) -> list[Mark]:
    many = f"{chart.total} readings" if chart.total > 1 else "1 reading"
    if chart.band:
        many += ", the band from lowest to highest"
    if left_out:
        many += f", {left_out} marked without number"
    unit = f", {chart.unit}" if chart.unit else ""
    return heading(f"{chart.caption}{unit}", many, left, wide)


def reading_figure(chart: ReadingChart, left: float, wide: float) -> tuple[float, list[Mark]]:
    """(height, marks) of a chart that stands from x `left` on."""
    times = TimeAxis(chart.from_on, chart.to_on, left + _LEFT, left + wide - _RIGHT)
    values = ValueAxis.around(list(_values(chart.samples)), _TOP, _TOP + _PLOT)
    places = Places(Rect(times.left, 9.5, left + wide, values.bottom))
    points = (_dense if chart.band or len(chart.samples) > _DENSE else _points)(chart, times, values)
    for s in chart.samples:
        for value in (low(s), high(s)):
            x, y = times.x(s.day), values.y(float(value))
            places.take(Rect(x - 2.4, y - 2.4, x + 2.4, y + 2.4))
        x = times.x(s.day)
        places.shun(Rect(x - 0.6, values.y(float(high(s))), x + 0.6, values.y(float(low(s)))))
    grounds, limits = _limits(chart, times, values, places)
    named, left_out = _named(chart, times, values, places)
    head = _title(chart, left, wide, left_out)
    return HEIGHT, [*head, *grounds, *frame_marks(times, values), *limits, *points, *named]
