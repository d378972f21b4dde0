"""One quantity over time: as found an open point, as left a full one, beyond a limit a diamond with its value."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from audit.binder.pictures.axes import DayAxis, ValueAxis
from audit.binder.pictures.thin import high, low
from audit.binder.pictures.values import ReadingChart, Sample
from audit.binder.written_on_paper import number

from .frame import ChartSizes, frame_marks
from .hand import Hand
from .labels import Places, Rect, around
from .marks import LaidBox, LaidLine, LaidShape, LaidStroke, Mark, Sign

_DENSE = 90  # beyond these no single points are drawn
_COLUMN = 4.0  # points of a stretch of days in the band


def lay_readings(
    chart: ReadingChart, left: float, wide: float, sizes: ChartSizes, hand: Hand
) -> tuple[list[Mark], int]:
    """The marks of a chart that stands from x `left` on, and how many values beyond a limit have no number."""
    days = sizes.days(chart.from_on, chart.to_on, left, wide)
    values = sizes.values(list(_values(chart.samples)))
    places = Places(Rect(days.left, sizes.words_from, left + wide, values.bottom), hand)
    points = (_dense if chart.band or len(chart.samples) > _DENSE else _points)(chart, days, values, hand)
    room, thin = 2.4 * hand.scale, 0.6 * hand.scale
    for s in chart.samples:
        for value in (low(s), high(s)):
            x, y = days.x(s.day), values.y(float(value))
            places.take(Rect(x - room, y - room, x + room, y + room))
        x = days.x(s.day)
        places.shun(Rect(x - thin, values.y(float(high(s))), x + thin, values.y(float(low(s)))))
    grounds, limits = _limits(chart, days, values, sizes, places)
    named, left_out = _named(chart, days, values, places)
    return [*grounds, *frame_marks(days, values, hand), *limits, *points, *named], left_out


def _values(samples: tuple[Sample, ...]) -> Iterator[float]:
    for s in samples:
        yield from (float(v) for v in (s.found, s.left, s.lower, s.upper) if v is not None)


# ------------------------------------------------------------------------------------------------ the limits


def _stretches(samples: tuple[Sample, ...], days: DayAxis, side: str) -> Iterator[tuple[float, float, object]]:
    """(from x, to x, limit) while a limit of that side holds: halfway to the measurement that names another."""
    groups = [list(held) for _, held in groupby(samples, key=lambda s: getattr(s, side))]
    left = days.left
    for n, held in enumerate(groups):
        right = days.right
        if n + 1 < len(groups):
            right = (days.x(held[-1].day) + days.x(groups[n + 1][0].day)) / 2
        if getattr(held[0], side) is not None:
            yield left, right, getattr(held[0], side)
        left = right


def _limits(
    chart: ReadingChart, days: DayAxis, values: ValueAxis, sizes: ChartSizes, places: Places
) -> tuple[list[Mark], list[Mark]]:
    """(grounds beyond the limits, the limits with their labels)."""
    hand, small = places.hand, places.hand.scale
    grounds: list[Mark] = []
    lines: list[LaidLine] = []
    wanted: list[tuple[float, float, str]] = []
    for side, sign, edge in (("lower", "≥", values.bottom), ("upper", "≤", values.top)):
        for left, right, limit in _stretches(chart.samples, days, side):
            y = values.y(float(limit))
            grounds.append(LaidBox(left, min(y, edge), right - left, abs(edge - y), "beyond-limit"))
            lines.append(LaidLine(left, y, right, y, "limit"))
            wanted.append((right, y, f"{sign} {number(limit)}"))
    labels: list[Mark] = []
    for right, y, text in wanted:
        if right >= days.right - 0.01:
            spots = [(right + 3 * small, y + by * small, 0.0) for by in (0, -4, 4, -8, 8, -14, 14)]
        else:
            spots = [(right - 2 * small, y + by * small, 1.0) for by in (-4.5, 4.5)]
        labels += places.put(hand.fit(text, "limit-value", sizes.right - 4 * small), "limit-value", spots)
    thin = 0.6 * small
    for line in lines:
        places.shun(Rect(line.x1, line.y1 - thin, line.x2, line.y1 + thin))
    return grounds, [*lines, *labels]


# ------------------------------------------------------------------------------------------------ the points


def _points(chart: ReadingChart, days: DayAxis, values: ValueAxis, hand: Hand) -> list[Mark]:
    """The points of each measurement and the line from one as left to the next as found."""
    marks: list[Mark] = []
    before: tuple[float, float] | None = None
    for s in chart.samples:
        x = days.x(s.day)
        first = s.left if s.found is None else s.found
        at = (x, values.y(float(first)))
        if before is not None:
            marks.append(LaidStroke((before, at), "between"))
        end = (x, values.y(float(s.last)))
        if at != end:
            marks.append(LaidLine(x, at[1], x, end[1], "adjusted"))
        before = end
    for s in chart.samples:
        x = days.x(s.day)
        for value, name in ((s.found, "found"), (s.left, "left")):
            if value is not None:
                look = f"outside-{name}" if _is_bad(s, value) else name
                marks.append(Sign(x, values.y(float(value)), look))
    return marks


def _is_bad(sample: Sample, value) -> bool:
    """Whether the value is marked: beyond its limit, or of a failure that no limit explains."""
    return sample.outside(value) or (sample.failed and value == sample.last)


def _dense(chart: ReadingChart, days: DayAxis, values: ValueAxis, hand: Hand) -> list[Mark]:
    """Many measurements: a line, of very many a band from lowest to highest of each stretch of days; the diamonds."""
    marks = _band(chart, days, values, hand) if chart.band else [_line(chart, days, values)]
    for s in chart.samples:
        for value, name in ((s.found, "found"), (s.left, "left")):
            if value is not None and _is_bad(s, value):
                marks.append(Sign(days.x(s.day), values.y(float(value)), f"outside-{name}"))
    return marks


def _line(chart: ReadingChart, days: DayAxis, values: ValueAxis) -> Mark:
    each = ((s.day, v) for s in chart.samples for v in dict.fromkeys((s.found, s.left)) if v is not None)
    return LaidStroke(tuple((days.x(on), values.y(float(v))) for on, v in each), "many")


def _band(chart: ReadingChart, days: DayAxis, values: ValueAxis, hand: Hand) -> list[Mark]:
    """From lowest to highest of each column of days; broken where a column has nothing."""
    column, half = _COLUMN * hand.scale, 0.25 * hand.scale
    columns: dict[int, list[float]] = {}
    for s in chart.samples:
        ys = columns.setdefault(int((days.x(s.day) - days.left) / column), [])
        ys += [values.y(float(v)) for v in (s.found, s.left) if v is not None]
    shapes: list[Mark] = []
    tops: list[tuple[float, float]] = []
    bottoms: list[tuple[float, float]] = []
    for n, ys in sorted(columns.items()):
        # Half a point at least: a band of one value is a line.
        for x in (days.held(days.left + n * column), days.held(days.left + (n + 1) * column)):
            tops.append((x, min(ys) - half))
            bottoms.append((x, max(ys) + half))
        if n + 1 not in columns:
            shapes.append(LaidShape((*tops, *reversed(bottoms)), "band"))
            tops, bottoms = [], []
    return shapes


def _named(chart: ReadingChart, days: DayAxis, values: ValueAxis, places: Places) -> tuple[list[Mark], int]:
    """The values beyond their limits, those farthest out first, then the last one; how many had no room."""
    small = places.hand.scale
    wanted = [
        (_far(s, value), n, s, value)
        for n, s in enumerate(chart.samples)
        for value in dict.fromkeys((s.found, s.left))
        if value is not None and _is_bad(s, value)
    ]
    marks: list[Mark] = []
    for _, _, s, value in sorted(wanted, key=lambda w: (-w[0], w[1])):
        x, y = days.x(s.day), values.y(float(value))
        marks += places.put(number(value), "outside-value", around(x, y, 4.5 * small, 6.8 * small))
    left_out = len(wanted) - len(marks)
    last = chart.samples[-1]
    if not _is_bad(last, last.last):
        x, y = days.x(last.day), values.y(float(last.last))
        marks += places.put(number(last.last), "last-value", around(x, y, 3.6 * small, 6.2 * small))
    return marks, left_out


def _far(sample: Sample, value) -> float:
    """How far beyond its limit."""
    below = float(sample.lower - value) if sample.lower is not None else 0.0
    above = float(value - sample.upper) if sample.upper is not None else 0.0
    return max(below, above, 0.0)
