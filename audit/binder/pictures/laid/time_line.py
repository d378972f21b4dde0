"""The time line of a unit: a lane for each kind, a mark on each day, labels where there is room for them.

Whatever has no room for its label has its mark; whatever has no room for its mark has a tick on the line of its lane.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from audit.binder.pictures.axes import DayAxis
from audit.binder.pictures.values import Lane, TimeMark, TimeSpan, UnitTimeLine

from .frame import names, ticks
from .hand import Hand, baseline, between, centred
from .marks import LaidBox, LaidLine, LaidShape, LaidText, Mark

_APART = 4.0  # between a label and what follows, in points
_ARROW = 5.0
_HATCH = 2.6
_HEAVY = ("M", "X", "!")


@dataclass(frozen=True, slots=True)
class TimeSizes:
    """In units of the picture. `labels`: how wide a label may be, the widest that has room; () draws none of them.

    `name_above`: room for the name of a lane above its rows; 0 where it stands in the gutter.
    """

    width: float
    gutter: float
    head: float  # down to the first lane
    name_above: float
    row: float
    most_rows: int
    pad: float  # above and below the rows of a lane
    sign: float  # the side of a mark
    bar: float
    least: float  # the width of the bar of a single day
    tick: float
    labels: tuple[float, ...]


@dataclass(slots=True)
class _Rows:
    """What is taken in each row of a lane, as stretches of x."""

    days: DayAxis
    most: int
    taken: list[list[tuple[float, float]]] = field(default_factory=list)

    def fit(self, left: float, right: float) -> int | None:
        """The first row in which the stretch is free, which is then taken; None where none is or it is too wide."""
        if left < self.days.left - 2 or right > self.days.right + 2:
            return None
        for n in range(self.most):
            if n == len(self.taken):
                self.taken.append([])
            if all(right <= a or b <= left for a, b in self.taken[n]):
                self.taken[n].append((left, right))
                return n
        return None


def lay_time_line(line: UnitTimeLine, sizes: TimeSizes, hand: Hand) -> tuple[float, list[Mark]]:
    """(height, marks) of the whole picture."""
    drawing = _Drawing(line, DayAxis(line.from_on, line.to_on, sizes.gutter, sizes.width), sizes, hand)
    y, marks = sizes.head, []
    for lane in line.lanes:
        made, tall = drawing.lane(lane, y)
        marks += [*made, LaidLine(0, y + tall, sizes.width, y + tall, "lane-floor")]
        y += tall
    ground = [*drawing.ground(y), LaidLine(0, sizes.head, sizes.width, sizes.head, "axis")]
    return y + 1, [*ground, *marks]


def sign(x: float, y: float, mark: str, side: float, hand: Hand) -> tuple[LaidText, LaidBox]:
    """(letter, ground) of a mark with its middle at (x, y)."""
    half = side / 2
    heavy = "-heavy" if mark in _HEAVY else ""
    return centred(hand, mark, x, y, f"sign-letter{heavy}"), LaidBox(x - half, y - half, side, side, f"sign{heavy}")


@dataclass(frozen=True, slots=True)
class _Drawing:
    """One time line with what it is drawn by."""

    line: UnitTimeLine
    days: DayAxis
    sizes: TimeSizes
    hand: Hand

    # -------------------------------------------------------------------------------------------- one mark, one span

    def _labels(self, text: str, end: str = "") -> list[str]:
        """The text with its end and shorter forms of it, each once, widest first; the end is never cut."""
        room = self.hand.wide(end, "label")
        shorter = (self.hand.fit(text, "label", limit - room) + end for limit in self.sizes.labels)
        return list(dict.fromkeys(shorter))

    def _put_mark(self, rows: _Rows, each: TimeMark, top: float) -> tuple[list[Mark], bool, bool]:
        """The mark with its label, or alone, or nothing; whether it stands, whether its label does."""
        half = self.sizes.sign / 2 + 1
        x = min(max(self.days.x(each.day), self.days.left + half), self.days.right - half)
        found = self._first_free(rows, x - half, x + half, self._labels(each.label))
        if found is None:
            n = rows.fit(x - half, x + half)
            return ([], False, False) if n is None else (self._sign(x, self._middle(top, n), each.mark), True, False)
        n, text, begin = found
        middle = self._middle(top, n)
        return [*self._sign(x, middle, each.mark), self._text(text, begin, middle)], True, True

    def _middle(self, top: float, row: int) -> float:
        return top + (row + 0.5) * self.sizes.row

    def _first_free(
        self, rows: _Rows, left: float, right: float, texts: Iterable[str]
    ) -> tuple[int, str, float] | None:
        """(row, text, x of the text) beside what stands from `left` to `right`: after it, before it, then shorter."""
        for text in texts:
            wide = self.hand.wide(text, "label")
            n = rows.fit(left, right + wide + _APART)
            if n is not None:
                return n, text, right + 1
            n = rows.fit(left - wide - _APART, right)
            if n is not None:
                return n, text, left - wide - 1
        return None

    def _sign(self, x: float, middle: float, mark: str) -> list[Mark]:
        letter, ground = sign(x, middle, mark, self.sizes.sign, self.hand)
        return [ground, letter]

    def _text(self, text: str, x: float, middle: float) -> LaidText:
        return LaidText(x, middle + self.hand.face("label").size * 0.34, text, "label")

    def _bar(self, look: str, each: TimeSpan, ends: tuple[float, float], middle: float) -> list[Mark]:
        """A bar; with an arrow where it goes on beyond what is shown."""
        left, right = ends
        bar, small = self.sizes.bar, self.hand.scale
        top, bottom = middle - bar / 2, middle + bar / 2
        marks: list[Mark] = [LaidBox(left, top, right - left, bar, f"bar-{look}")]
        if look == "hatched":
            marks += _hatching(left, right, top, bottom, _HATCH * small)
        if right - left > 2 * _ARROW * small:
            if each.end is None or each.end > self.line.to_on:
                marks.append(_arrow(right, middle, -_ARROW * small, 4.2 * small))
            if each.start < self.line.from_on:
                marks.append(_arrow(left, middle, _ARROW * small, 4.2 * small))
        return marks

    def _put_span(self, look: str, rows: _Rows, each: TimeSpan, top: float) -> tuple[list[Mark], bool, bool]:
        """The bar with its label beside it, or inside on white ground, or alone, or nothing; whether it stands,
        whether its label does."""
        left, right = self.days.bar(self.line, each, self.sizes.least)
        texts = self._labels(each.label, "" if each.end is not None else ", not over")
        found = self._first_free(rows, left - 1.5, right + 1.5, texts)
        if found is not None:
            n, text, begin = found
            middle = self._middle(top, n)
            return [*self._bar(look, each, (left, right), middle), self._text(text, begin, middle)], True, True
        n = rows.fit(left, right)
        if n is None:
            return [], False, False
        middle = self._middle(top, n)
        marks = self._bar(look, each, (left, right), middle)
        text = next((t for t in texts if self.hand.wide(t, "label") + 4 * _ARROW <= right - left), None)
        if text is None:
            return marks, True, False
        wide, row = self.hand.wide(text, "label"), self.sizes.row
        at = (left + right - wide) / 2
        ground = LaidBox(at - 2, middle - row / 2 + 0.6, wide + 4, row - 1.2, "ground")
        return [*marks, ground, self._text(text, at, middle)], True, True

    # -------------------------------------------------------------------------------------------- the lanes

    def lane(self, lane: Lane, top: float) -> tuple[list[Mark], float]:
        """(marks, height) of a lane that begins at `top`."""
        sizes = self.sizes
        rows, marks, unnamed, lost = _Rows(self.days, sizes.most_rows), [], 0, []
        inner = top + sizes.name_above + sizes.pad
        things = [(s.start, 0, s) for s in lane.spans] + [(m.day, 1, m) for m in lane.marks]
        for start, _, each in sorted(things, key=lambda t: t[:2]):
            if isinstance(each, TimeSpan):
                made, stands, named = self._put_span(lane.look, rows, each, inner)
            else:
                made, stands, named = self._put_mark(rows, each, inner)
            marks += made
            unnamed += not named
            lost += [] if stands else [start]
        unnamed = unnamed if sizes.labels else 0
        tall = sizes.name_above + max(len(rows.taken), 2 if unnamed else 1) * sizes.row + 2 * sizes.pad
        floor = top + tall
        # Where there are labels, a tick says of which day each mark is, and how many have none is said in words.
        ticked = [m.day for m in lane.marks] if sizes.labels else lost
        xs = [self.days.x(day) for day in ticked]
        small = [LaidLine(x, floor - sizes.tick, x, floor, "tick-mark") for x in xs]
        return [*marks, *small, *self._name(lane.name, unnamed, top, inner)], tall

    def _name(self, name: str, unnamed: int, top: float, inner: float) -> list[Mark]:
        sizes = self.sizes
        if sizes.name_above:  # on a ground of its own, so that no line crosses it
            ground = LaidBox(0, top + 1, self.hand.wide(name, "lane") + 2, sizes.name_above, "ground")
            return [ground, LaidText(0, between(self.hand, top + 1, sizes.name_above, "lane"), name, "lane")]
        made: list[Mark] = [LaidText(0, between(self.hand, inner, sizes.row, "lane"), name, "lane")]
        if unnamed:
            at = baseline(self.hand, inner + sizes.row - 1, "tick")
            made.append(LaidText(0, at, f"{unnamed} without label", "tick"))
        return made

    def ground(self, tall: float) -> list[Mark]:
        """The months, and the days after the last one that is known."""
        marks: list[Mark] = []
        head, small = self.sizes.head, self.hand.scale
        if self.line.seen_to < self.line.to_on:
            x = self.days.end(self.line.seen_to)
            marks.append(LaidBox(x, head, self.days.right - x, tall - head, "unknown"))
            marks.append(LaidLine(x, head - 3 * small, x, tall, "last-known"))
        marks += [LaidLine(x, head - 8 * small, x, tall, "month") for x, _ in ticks(self.days, self.hand)]
        told = names(self.days, self.hand)
        marks += [LaidText(x, baseline(self.hand, 1.5 * small, look), text, look) for x, text, look in told]
        return marks


def _arrow(tip: float, middle: float, back: float, half: float) -> LaidShape:
    return LaidShape(((tip, middle), (tip + back, middle - half), (tip + back, middle + half)), "arrow")


def _hatching(left: float, right: float, top: float, bottom: float, apart: float) -> list[Mark]:
    """Slanting lines inside a bar."""
    tall, marks = bottom - top, []
    x = left - tall
    while x < right:
        start, end = max(x, left), min(x + tall, right)
        if end > start:
            marks.append(LaidLine(start, bottom - (start - x), end, bottom - (end - x), "hatch"))
        x += apart
    return marks
