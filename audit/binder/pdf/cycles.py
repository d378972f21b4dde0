"""The bar of a look-back: cycle numbers from left to right, one figure whose marks differ by their shape."""

from __future__ import annotations

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Box, Dot, DrawnLine, Mark, Piece, Run, Text
from audit.binder.pdf.measure import width, wrap
from audit.binder.pdf.page import CELL, INK, SMALL, UNDER_HEAD, Sheet, Type
from audit.binder.pdf.rows import Slot, baseline, set_lines
from audit.binder.sections import CycleBar, CycleMark

_LABEL, _LABEL_STRONG = Type(8, 9.4), Type(8, 9.4, bold=True)
_EDGE = 8.0  # of the bar at both ends
_BAR = 7.0  # height of the bar
_TALL = 7.0  # how far the stroke of a passed test stands out on both sides
_RADIUS, _SMALL_RADIUS = 2.2, 1.2
_MANY = 120  # loads, of which the dots are small
_APART = 6.0  # between two labels
SIGNS = "A tall stroke: passed; ■ failed; ● a load on record. Numbers without a sign are not among them."


def _x(number: int, block: CycleBar, wide: float) -> float:
    first, last = block.marks[0].number, block.marks[-1].number
    return _EDGE + (number - first) / (last - first) * (wide - 2 * _EDGE)


def _labels(block: CycleBar, wide: float) -> list[Mark]:
    """Number over day and result of each test, side by side; without room they are left to the words.

    The first and the last one have theirs before those between.
    """
    tests = [mark for mark in block.marks if mark.state != "load"]
    taken: list[tuple[float, float]] = []
    marks: list[Mark] = []
    for mark in dict.fromkeys((*tests[:1], *tests[-1:], *tests)):
        lines = (f"cycle {mark.number}", f"{mark.day}, {mark.state}")
        needs = max(width(lines[0], _LABEL_STRONG), width(lines[1], _LABEL))
        left = max(min(_x(mark.number, block, wide) - _EDGE, wide - needs), 0.0)
        if any(left < end + _APART and begin < left + needs + _APART for begin, end in taken):
            continue
        taken.append((left, left + needs))
        marks.append(Text(left, baseline(0, _LABEL), lines[0], _LABEL_STRONG))
        marks.append(Text(left, baseline(_LABEL.leading, _LABEL), lines[1], _LABEL))
    return marks


def _sign(mark: CycleMark, x: float, y: float, radius: float) -> Mark:
    if mark.state == "passed":
        return DrawnLine(x, y - _TALL, x, y + _TALL, INK, 1.4)
    if mark.state == "failed":
        return Box(x - 3.4, y - 3.4, 6.8, 6.8, INK, INK, 0.5)
    return Dot(x, y, radius, filled=True)


def cycle_pieces(block: CycleBar, sheet: Sheet) -> list[Piece]:
    """The figure, then what its signs mean; both stay with what follows."""
    wide, top = sheet.text_width, 2 * _LABEL.leading + 3
    y = top + _TALL
    loads = sum(mark.state == "load" for mark in block.marks)
    radius = _SMALL_RADIUS if loads > _MANY else _RADIUS
    bar = [DrawnLine(_EDGE, y + by, wide - _EDGE, y + by, INK, UNDER_HEAD) for by in (-_BAR / 2, _BAR / 2)]
    # Tests last, so that a load beside one does not cover it.
    order = sorted(block.marks, key=lambda mark: mark.state != "load")
    signs = [_sign(mark, _x(mark.number, block, wide), y, radius) for mark in order]
    figure = Run(Element("Figure", alt=block.alt), [*bar, *signs, *_labels(block, wide)])
    lines = wrap(SIGNS, SMALL, wide)
    key = Run(Element("P"), set_lines(lines, Slot(0, wide, "left"), 0, SMALL))
    height = y + _TALL
    return [
        Piece(height, (figure,), above=CELL.leading / 2, keep=True),
        Piece(len(lines) * SMALL.leading, (key,), above=2, keep=True),
    ]
