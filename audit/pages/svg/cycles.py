"""A recorded cycle: the whole of it, its pressure, and its plateau drawn large, with the hold and what failed.

The reference is a full line, what its pressure gives for saturated steam is dashed, further sensors are pale; the
band is a tint. Nothing is told by a colour alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from .tags import WIDTH, box, diamond, line, picture, stroke, text

LEFT, RIGHT, HEAD = 38.0, 8.0, 20.0
_SPAN = WIDTH - LEFT - RIGHT
_LOOKS = {"reference": "pic-line", "theory": "pic-ahead", "pressure": "pic-line"}
_AROUND = 4.0  # K under and over the band in the panel of the plateau


class FailedMark(NamedTuple):
    """A criterion that was not met, and its second from the first row; None where it has none."""

    id: str
    at: float | None


class _Panel(NamedTuple):
    """A plot: where it stands, and which seconds and values it spans, both ends inclusive."""

    top: float
    tall: float
    since: float
    until: float
    low: float
    high: float

    def x(self, seconds: float) -> float:
        return LEFT + _SPAN * (seconds - self.since) / max(self.until - self.since, 1e-9)

    def y(self, value: float) -> float:
        held = min(max(value, self.low), self.high)
        return self.top + self.tall * (1 - (held - self.low) / max(self.high - self.low, 1e-9))


def cycle_svg(drawn: dict, failed: Sequence[FailedMark], told: str, ident: str) -> str:
    """The picture. `drawn` as `judge.cycle.picture.picture_of` gives it; `told`: what it shows, in words."""
    curves, (low, high), hold = drawn["curves"], drawn["band"], drawn["hold"]
    temperatures = {name: points for name, points in curves.items() if name != "pressure"}
    lasts = drawn["lasts"]
    every = [value for points in temperatures.values() for _, value in points]
    marks: list[str] = []
    if every:
        whole = _Panel(HEAD, 96.0, 0.0, lasts, min(*every, low), max(*every, high))
        marks += _plot(whole, "Whole cycle, °C", temperatures, drawn["band"], hold)
        marks += _failed(whole, failed)
    top = HEAD + 96.0 + 36.0
    if pressure := curves.get("pressure"):
        values = [value for _, value in pressure]
        panel = _Panel(top, 56.0, 0.0, lasts, min(values), max(values))
        marks += _plot(panel, "Pressure, kPa absolute", {"pressure": pressure}, None, hold)
        top += 56.0 + 36.0
    if every:
        plateau = drawn["plateau"]
        since, until = plateau["since"], plateau["until"]
        large = _Panel(top, 96.0, since, until, low - _AROUND, high + _AROUND)
        marks += _plot(large, "Plateau, °C", plateau["curves"], drawn["band"], hold, ticks=drawn["band"])
        marks += _failed(large, [mark for mark in failed if mark.at is not None and since <= mark.at <= until])
        top += 96.0 + 16.0
    return picture(ident, "Recorded cycle", told, top, marks)


def _plot(panel: _Panel, title: str, curves: dict, band, hold, ticks=()) -> list[str]:
    """`ticks`: values told at the side beside the ends."""
    marks = [text(0, panel.top - 9, title, "pic-text pic-strong")]
    if band is not None:
        upper, lower = panel.y(band[1]), panel.y(band[0])
        marks.append(box(LEFT, upper, _SPAN, max(lower - upper, 1.0), "pic-tint"))
        marks += [line(LEFT, y, LEFT + _SPAN, y, "pic-limit") for y in (upper, lower)]
    for value in (panel.low, panel.high, *ticks):
        marks.append(text(LEFT - 4, panel.y(value) + 3.5, f"{value:.4g}", "pic-text", "end"))
    foot = panel.top + panel.tall
    marks.append(line(LEFT, foot, LEFT + _SPAN, foot, "pic-rule"))
    marks += [
        text(LEFT, foot + 11, f"{panel.since:.0f} s"),
        text(LEFT + _SPAN, foot + 11, f"{panel.until:.0f} s", "pic-text", "end"),
    ]
    for name, points in curves.items():
        inside = _inside(points, panel)
        if len(inside) > 1:
            marks.append(stroke([(panel.x(t), panel.y(v)) for t, v in inside], _LOOKS.get(name, "pic-soft")))
    return marks + (_hold(panel, hold) if hold else [])


def _inside(points, panel: _Panel) -> list:
    """The points of the panel, with the nearest one on each side at its edge."""
    inside = [point for point in points if panel.since <= point[0] <= panel.until]
    before = [point for point in points if point[0] < panel.since][-1:]
    after = [point for point in points if point[0] > panel.until][:1]
    return [*((panel.since, v) for _, v in before), *inside, *((panel.until, v) for _, v in after)]


def _hold(panel: _Panel, hold) -> list[str]:
    """Beginning and end of the hold as upright lines, joined at the top."""
    first, last = (panel.x(min(max(seconds, panel.since), panel.until)) for seconds in hold)
    foot, head = panel.top + panel.tall, panel.top - 2
    return [line(x, head, x, foot, "pic-break") for x in (first, last)] + [line(first, head, last, head, "pic-line")]


def _failed(panel: _Panel, failed: Sequence[FailedMark]) -> list[str]:
    marks = []
    for n, mark in enumerate(failed):
        if mark.at is not None:
            x = panel.x(min(max(mark.at, panel.since), panel.until))
            marks.append(diamond(x, panel.top + 8 + 12 * n, "pic-bad pic-bad--full"))
            end = x > LEFT + _SPAN / 2
            marks.append(text(x - 7 if end else x + 7, panel.top + 11.5 + 12 * n, mark.id, "pic-text pic-stop",
                              "end" if end else "start"))  # fmt: skip
    return marks
