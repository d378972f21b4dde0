"""A counter over time: its life total as a line, broken where another begins, dashed where it is projected."""

from __future__ import annotations

from audit.binder.pictures.axes import DayAxis, ValueAxis
from audit.binder.pictures.values import CounterChart, CounterPoint
from audit.binder.written_on_paper import day, number

from .frame import ChartSizes, frame_marks
from .hand import Hand
from .labels import Places, Rect, around
from .marks import LaidStroke, Mark, Sign

_DENSE = 60  # readings beyond which single ones have no point


def lay_counter(chart: CounterChart, left: float, wide: float, sizes: ChartSizes, hand: Hand) -> list[Mark]:
    """The marks of a chart that stands from x `left` on."""
    days = sizes.days(chart.from_on, chart.to_on, left, wide)
    values = sizes.values([float(p.total) for p in (*chart.points, *chart.projected)])
    small = hand.scale
    places = Places(Rect(days.left + 1 * small, sizes.words_from, left + wide, values.bottom), hand)
    room = 2 * small
    for x, y in ((days.x(p.day), values.y(float(p.total))) for p in (*chart.points, *chart.projected)):
        places.take(Rect(x - room, y - room, x + room, y + room))
    last = chart.points[-1]
    spots = around(days.x(last.day), values.y(float(last.total)), 3.6 * small, 6.6 * small)
    return [
        *frame_marks(days, values, hand),
        *_grown(chart, days, values),
        *places.put(number(last.total), "total", [spots[1], spots[3], spots[2], *spots]),
        *_breaks(chart, days, values, sizes, places),
        *_ahead(chart, days, values, sizes, places),
    ]


def _parts(chart: CounterChart) -> list[list[CounterPoint]]:
    """The points of each unbroken stretch; slips left out."""
    starts = {each.day for each in chart.breaks}
    parts: list[list[CounterPoint]] = [[]]
    for n, point in enumerate(p for p in chart.points if not p.slip):
        if n and point.day in starts and parts[-1] and parts[-1][-1].day < point.day:
            parts.append([])
        parts[-1].append(point)
    return [part for part in parts if part]


def _grown(chart: CounterChart, days: DayAxis, values: ValueAxis) -> list[Mark]:
    def at(point: CounterPoint) -> tuple[float, float]:
        return days.x(point.day), values.y(float(point.total))

    marks: list[Mark] = []
    for part in _parts(chart):
        if len(part) > 1:
            marks.append(LaidStroke(tuple(at(p) for p in part), "grown"))
    few = len(chart.points) <= _DENSE
    marks += [Sign(*at(p), "slip" if p.slip else "counted") for p in chart.points if few or p.slip]
    return marks


def _breaks(chart: CounterChart, days: DayAxis, values: ValueAxis, sizes: ChartSizes, places: Places) -> list[Mark]:
    hand, small = places.hand, places.hand.scale
    marks: list[Mark] = []
    for each in chart.breaks:
        x = days.begin(each.day)
        marks.append(LaidStroke(((x, values.top), (x, values.bottom)), "break"))
        line = 7.4 * small
        ys = [values.top + 4 * small + line * n for n in range(int((values.bottom - values.top) // line))]
        text = hand.fit(f"{day(each.day)}: {each.label}", "label", sizes.label)
        spots = [spot for y in ys for spot in ((x + 2.5 * small, y, 0.0), (x - 2.5 * small, y, 1.0))]
        marks += places.put(text, "label", spots)
    return marks


def _ahead(chart: CounterChart, days: DayAxis, values: ValueAxis, sizes: ChartSizes, places: Places) -> list[Mark]:
    """The dashed line from the last point, with a sign and words where an item is expected."""
    if not chart.projected:
        return []
    hand, small = places.hand, places.hand.scale
    last = next(p for p in reversed(chart.points) if not p.slip)
    start = (days.x(last.day), values.y(float(last.total)))
    ends = [(days.x(p.day), values.y(float(p.total))) for p in chart.projected]
    marks: list[Mark] = [LaidStroke((start, *ends), "ahead")]
    for each, (x, y) in zip(chart.projected, ends, strict=True):
        marks.append(Sign(x, y, "expected"))
        text = hand.fit(f"{each.label}: about {day(each.day)} at {number(each.total)}", "label", sizes.label)
        spots = [(x - 4 * small, y + by * small, 1.0) for by in (0, -7, 7, -14, 14, -21, 21, 28, 35, 42)]
        marks += places.put(text, "label", spots)
    return marks
