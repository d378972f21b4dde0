"""The time line of a unit: a lane for each kind, a letter on each day, bars for what lasted.

There is no room for words beside the marks on a telephone: what each mark says stands in a list below the picture.
"""

from __future__ import annotations

from datetime import date

from audit.binder.pictures.values import Lane, TimeSpan, UnitTimeLine
from audit.facts.dates import add_days

from .axes import TimeAxis
from .tags import LETTER, WIDTH, box, line, picture, stroke, text, wide

_HEAD = 14.0
_NAME = 13.0
_ROW = 15.0
_SIGN = 13.0
_BAR = 8.0
_LEAST = 3.0  # the width of the bar of a single day
_MOST_ROWS = 5
_HEAVY = ("M", "X", "!")


def time_line_svg(drawn: UnitTimeLine, ident: str) -> str:
    axis = TimeAxis(drawn.from_on, drawn.to_on, 0, WIDTH)
    y, marks = _HEAD, []
    for lane in drawn.lanes:
        made, tall = _lane(lane, drawn, axis, y)
        marks += [*made, line(0, y + tall, WIDTH, y + tall, "pic-rule")]
        y += tall
    ground = [*_unknown(drawn, axis, y), *axis.grid(_HEAD - 2, y), *axis.marks(LETTER)]
    return picture(ident, f"Time line of {drawn.caption}", drawn.alt, y + 1, [*ground, *marks])


def _unknown(drawn: UnitTimeLine, axis: TimeAxis, bottom: float) -> list[str]:
    """The days after the last one that is known."""
    if drawn.seen_to >= drawn.to_on:
        return []
    x = axis.end(drawn.seen_to)
    return [box(x, _HEAD, WIDTH - x, bottom - _HEAD, "pic-tint")]


def _lane(lane: Lane, drawn: UnitTimeLine, axis: TimeAxis, top: float) -> tuple[list[str], float]:
    """(marks, height) of a lane that begins at `top`."""
    ground = box(
        0, top + 1, wide(lane.name, LETTER + 1), LETTER + 4, "pic-ground"
    )  # so that no line crosses the name
    marks = [ground, text(0, top + LETTER + 2, lane.name, "pic-text pic-strong")]
    taken: list[float] = []  # the x up to which each row is taken; things come oldest first
    things = sorted([*lane.spans, *lane.marks], key=lambda each: _day(each))
    for each in things:
        left, right = axis.bar(drawn, each, _LEAST) if isinstance(each, TimeSpan) else _sign_at(axis, each.day)
        row = _free_row(taken, left, right)
        if row is None:
            marks.append(line(left, top + _NAME - 1, left, top + _NAME + 2, "pic-line"))
            continue
        middle = top + _NAME + (row + 0.5) * _ROW
        marks += (
            _bar_marks(lane.look, left, right, middle, each.end is None)
            if isinstance(each, TimeSpan)
            else _sign((left + right) / 2, middle, each.mark)
        )
    return marks, _NAME + max(len(taken), 1) * _ROW + 3


def _day(each) -> date:
    return each.start if isinstance(each, TimeSpan) else each.day


def _free_row(taken: list[float], left: float, right: float) -> int | None:
    """The first row whose things end before `left`, which is then taken; None where none has room."""
    for n, until in enumerate(taken):
        if until <= left:
            taken[n] = right + 1
            return n
    if len(taken) == _MOST_ROWS:
        return None
    taken.append(right + 1)
    return len(taken) - 1


def _sign_at(axis: TimeAxis, day: date) -> tuple[float, float]:
    half = _SIGN / 2
    x = min(max(axis.x(day), axis.left + half), axis.right - half)
    return x - half, x + half


def _sign(x: float, y: float, mark: str) -> list[str]:
    heavy = " pic-sign--heavy" if mark in _HEAVY else ""
    ground = box(x - _SIGN / 2 + 0.5, y - _SIGN / 2 + 0.5, _SIGN - 1, _SIGN - 1, f"pic-sign{heavy}")
    return [ground, text(x, y + LETTER * 0.36, mark, f"pic-letter{' pic-letter--heavy' if heavy else ''}", "middle")]


def _bar_marks(look: str, left: float, right: float, middle: float, lasts: bool) -> list[str]:
    top, bottom = middle - _BAR / 2, middle + _BAR / 2
    marks = [box(left, top, right - left, _BAR, f"pic-bar pic-bar--{look}")]
    if look == "hatched":
        marks += _hatching(left, right, top, bottom)
    if lasts:  # an open end
        marks.append(stroke(((right - 4, top - 2), (right, middle), (right - 4, bottom + 2)), "pic-open"))
    return marks


def _hatching(left: float, right: float, top: float, bottom: float) -> list[str]:
    tall, made, x = bottom - top, [], left - (bottom - top)
    while x < right:
        start, end = max(x, left), min(x + tall, right)
        if end > start:
            made.append(line(start, bottom - (start - x), end, bottom - (end - x), "pic-line"))
        x += 4
    return made


def told(drawn: UnitTimeLine) -> list[tuple[date, date | None, str, str]]:
    """(first day, last day or None, words, row) of all that the picture shows, newest first."""
    found = [(m.day, m.day, m.label, m.row) for lane in drawn.lanes for m in lane.marks]
    found += [(s.start, s.end, s.label, s.row) for lane in drawn.lanes for s in lane.spans]
    return sorted(found, key=lambda each: (each[0], each[1] or add_days(drawn.to_on, 1)), reverse=True)
