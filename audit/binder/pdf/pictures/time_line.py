"""The time line of a unit: a lane for each kind, a mark on each day, labels where there is room for them.

Whatever has no room for its label has its mark; whatever has no room for its mark has a tick on the line of its lane.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Box, Line, Mark, Piece, Run, Shape, Text
from audit.binder.pdf.measure import fit, width
from audit.binder.pdf.page import INK, PALE, SOFT, TINT, Sheet, Type
from audit.binder.pdf.pictures.axes import TICK, TimeAxis
from audit.binder.pdf.pictures.parts import LABEL, caption, centred, legend, note
from audit.binder.pdf.rows import baseline
from audit.binder.pictures.values import Lane, TimeMark, TimeSpan, UnitTimeLine

GUTTER = 62.0
_HEAD = 11.0
ROW = 10.0
MOST_ROWS = 6
_PAD = 3.0  # above and below the rows of a lane
_SIGN = 7.6  # the side of a mark
_BAR = 5.6
_LEAST = 2.4  # width of the bar of a single day
_LENGTHS = (170.0, 90.0, 45.0)  # how wide a label may be, the widest that has room
_NAME = Type(6.4, 8.0, bold=True)
_SIGN_TYPE = Type(5.8, 7.0, bold=True)
_APART = 4.0  # between a label and what follows
_ARROW = 5.0
_FILLS = {"solid": 0.3, "hatched": 1.0, "outline": 0.86}
_GRID = 0.86
_HEAVY = ("M", "X", "!")


@dataclass(slots=True)
class _Rows:
    """What is taken in each row of a lane, as stretches of x."""

    axis: TimeAxis
    taken: list[list[tuple[float, float]]] = field(default_factory=list)

    def fit(self, left: float, right: float) -> int | None:
        """The first row in which the stretch is free, which is then taken; None where none is or it is too wide."""
        if left < self.axis.left - 2 or right > self.axis.right + 2:
            return None
        for n in range(MOST_ROWS):
            if n == len(self.taken):
                self.taken.append([])
            if all(right <= a or b <= left for a, b in self.taken[n]):
                self.taken[n].append((left, right))
                return n
        return None


# ------------------------------------------------------------------------------------------------ one mark, one span


def _sign(x: float, y: float, mark: str) -> tuple[list[Mark], list[Mark]]:
    """(letter, ground) of a mark with its middle at (x, y)."""
    half = _SIGN / 2
    heavy = mark in _HEAVY
    ground = Box(x - half, y - half, _SIGN, _SIGN, INK if heavy else 1.0, INK, 0.5)
    return [centred(mark, x, y, _SIGN_TYPE, white=heavy)], [ground]


def _labels(text: str, end: str = "") -> list[str]:
    """The text with its end and shorter forms of it, each once, widest first; the end is never cut."""
    room = width(end, LABEL)
    return list(dict.fromkeys(fit(text, LABEL, limit - room) + end for limit in _LENGTHS))


def _put_mark(axis: TimeAxis, rows: _Rows, each: TimeMark, top: float) -> tuple[list[Mark], bool]:
    """The mark with its label, or alone, or nothing; whether its label stands."""
    half = _SIGN / 2 + 1
    x = min(max(axis.x(each.day), axis.left + half), axis.right - half)
    found = _first_free(rows, x - half, x + half, _labels(each.label))
    if found is None:
        n = rows.fit(x - half, x + half)
        return ([], False) if n is None else (_whole_sign(x, top + (n + 0.5) * ROW, each.mark), False)
    n, text, begin = found
    middle = top + (n + 0.5) * ROW
    return [*_whole_sign(x, middle, each.mark), _text(text, begin, middle)], True


def _first_free(rows: _Rows, left: float, right: float, texts: Iterable[str]) -> tuple[int, str, float] | None:
    """(row, text, x of the text) beside what stands from `left` to `right`: after it, before it, then shorter."""
    for text in texts:
        wide = width(text, LABEL)
        n = rows.fit(left, right + wide + _APART)
        if n is not None:
            return n, text, right + 1
        n = rows.fit(left - wide - _APART, right)
        if n is not None:
            return n, text, left - wide - 1
    return None


def _whole_sign(x: float, middle: float, mark: str) -> list[Mark]:
    letter, ground = _sign(x, middle, mark)
    return [*ground, *letter]


def _text(text: str, x: float, middle: float) -> Text:
    return Text(x, middle + LABEL.size * 0.34, text, LABEL)


def _bar_marks(look: str, line: UnitTimeLine, each: TimeSpan, ends: tuple[float, float], middle: float) -> list[Mark]:
    """A bar; with an arrow where it goes on beyond what is shown."""
    left, right = ends
    top, bottom = middle - _BAR / 2, middle + _BAR / 2
    marks: list[Mark] = [Box(left, top, right - left, _BAR, _FILLS[look], INK, 0.4)]
    if look == "hatched":
        marks += _hatching(left, right, top, bottom)
    if right - left > 2 * _ARROW:
        if each.end is None or each.end > line.to_on:
            marks.append(_arrow(right, middle, -_ARROW))
        if each.start < line.from_on:
            marks.append(_arrow(left, middle, _ARROW))
    return marks


def _arrow(tip: float, middle: float, back: float) -> Shape:
    points = ((tip, middle), (tip + back, middle - 4.2), (tip + back, middle + 4.2))
    return Shape(points, INK)


def _hatching(left: float, right: float, top: float, bottom: float) -> list[Mark]:
    """Slanting lines inside a bar."""
    tall, marks = bottom - top, []
    x = left - tall
    while x < right:
        start, end = max(x, left), min(x + tall, right)
        if end > start:
            marks.append(Line(start, bottom - (start - x), end, bottom - (end - x), INK))
        x += 2.6
    return marks


def _put_span(
    look: str, axis: TimeAxis, line: UnitTimeLine, rows: _Rows, each: TimeSpan, top: float
) -> tuple[list[Mark], bool]:
    """The bar with its label beside it, or inside on white ground, or alone, or nothing; whether its label stands."""
    left, right = axis.bar(line, each, _LEAST)
    texts = _labels(each.label, "" if each.end is not None else ", not over")
    found = _first_free(rows, left - 1.5, right + 1.5, texts)
    if found is not None:
        n, text, begin = found
        middle = top + (n + 0.5) * ROW
        return [*_bar_marks(look, line, each, (left, right), middle), _text(text, begin, middle)], True
    n = rows.fit(left, right)
    if n is None:
        return [], False
    middle = top + (n + 0.5) * ROW
    marks = _bar_marks(look, line, each, (left, right), middle)
    text = next((t for t in texts if width(t, LABEL) + 4 * _ARROW <= right - left), None)
    if text is None:
        return marks, False
    wide = width(text, LABEL)
    at = (left + right - wide) / 2
    ground = Box(at - 2, middle - ROW / 2 + 0.6, wide + 4, ROW - 1.2, 1.0)
    return [*marks, ground, _text(text, at, middle)], True


# ------------------------------------------------------------------------------------------------ the lanes


def _lane(lane: Lane, axis: TimeAxis, line: UnitTimeLine, top: float) -> tuple[list[Mark], float]:
    """(marks, height) of a lane that begins at `top`."""
    rows, marks, unnamed = _Rows(axis), [], 0
    inner = top + _PAD
    things = [(s.start, 0, s) for s in lane.spans] + [(m.day, 1, m) for m in lane.marks]
    for _, _, each in sorted(things, key=lambda t: t[:2]):
        if isinstance(each, TimeSpan):
            made, named = _put_span(lane.look, axis, line, rows, each, inner)
        else:
            made, named = _put_mark(axis, rows, each, inner)
        marks += made
        unnamed += not named
    tall = max(len(rows.taken), 2 if unnamed else 1) * ROW + 2 * _PAD
    floor = top + tall
    ticks = [Line(axis.x(m.day), floor - 2.2, axis.x(m.day), floor, INK, 0.5) for m in lane.marks]
    name = [Text(0, baseline(inner + (ROW - _NAME.leading) / 2, _NAME), lane.name, _NAME)]
    if unnamed:
        at = baseline(inner + ROW - 1, TICK)
        name.append(Text(0, at, f"{unnamed} without label", TICK))
    return [*marks, *ticks, *name], tall


def _ground(axis: TimeAxis, line: UnitTimeLine, tall: float) -> list[Mark]:
    """The months, and the days after the last one that is known."""
    marks: list[Mark] = []
    if line.seen_to < line.to_on:
        x = axis.end(line.seen_to)
        marks.append(Box(x, _HEAD, axis.right - x, tall - _HEAD, TINT))
        marks.append(Line(x, _HEAD - 3, x, tall, SOFT, 0.6))
    marks += [Line(x, _HEAD - 8, x, tall, _GRID) for x, _ in axis.ticks()]
    marks += [Text(x, baseline(1.5, style), text, style) for x, text, style in axis.labels()]
    return marks


def time_line_pieces(line: UnitTimeLine, sheet: Sheet) -> list[Piece]:
    """Caption, the figure, the marks in use with their meaning, what is absent, where the rows are."""
    axis = TimeAxis(line.from_on, line.to_on, GUTTER, sheet.text_width)
    y, marks = _HEAD, []
    for lane in line.lanes:
        made, tall = _lane(lane, axis, line, y)
        marks += [*made, Line(0, y + tall, sheet.text_width, y + tall, PALE)]
        y += tall
    ground = [*_ground(axis, line, y), Line(0, _HEAD, sheet.text_width, _HEAD, SOFT)]
    figure = Piece(y + 1, (Run(Element("Figure", alt=line.alt), [*ground, *marks]),), above=2, keep=True)
    signs = [((_SIGN + 2, lambda x, y, mark=mark: _sign(x, y, mark)), meaning) for mark, meaning in line.legend]
    rest = [*legend(signs, sheet), *note(line.note, sheet), *note(line.rows, sheet)]
    return [*caption(line.caption, sheet), figure, *rest]
