"""The head of the first page: whose place it is, and at the right a box that says as of when, sealed by whom."""

from __future__ import annotations

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Box, DrawnLine, Piece, Run
from audit.binder.pdf.measure import wrap
from audit.binder.pdf.page import BODY, CELL, COLUMN, INK, MASTHEAD, UNDER_HEAD, Sheet, Type
from audit.binder.pdf.rows import Slot, set_lines
from audit.binder.sections import Masthead

_NAME = Type(25, 28, bold=True)
_LONG_NAME = Type(19, 22, bold=True)  # of a name that takes more than two lines
_BOX = 176.0
_LABEL = 46.0
_PAD = 5.0
_BETWEEN = 14.0
_TOP = 7.0  # under the line
_KEY = Type(8, CELL.leading, bold=True)


def masthead_pieces(block: Masthead, sheet: Sheet) -> list[Piece]:
    """One piece: a thick line, under it the name with its lines, and the box."""
    room = sheet.text_width - (_BOX + _BETWEEN if block.box else 0.0)
    slot = Slot(0, room, "left")
    style = _NAME if len(wrap(block.name, _NAME, room)) < 3 else _LONG_NAME
    name = wrap(block.name, style, room)
    runs = [
        Run(None, (DrawnLine(0, MASTHEAD / 2, sheet.text_width, MASTHEAD / 2, INK, MASTHEAD),)),
        Run(Element("H1"), set_lines(name, slot, _TOP - 2, style)),
    ]
    y = _TOP + len(name) * style.leading + 1
    for line in block.lines:
        lines = wrap(line, BODY, room)
        runs.append(Run(Element("P"), set_lines(lines, slot, y, BODY)))
        y += len(lines) * BODY.leading
    foot, boxed = _box(block, sheet)
    return [Piece(max(y, foot), (*runs, *boxed))]


def _box(block: Masthead, sheet: Sheet) -> tuple[float, list[Run]]:
    """Its lower edge, and its runs: a table of labels and words. A word without a label takes the whole width."""
    left, top = sheet.text_width - _BOX, _TOP + _PAD - 1
    table = Element("Table", summary="As of when, and how it was sealed")
    runs: list[Run] = []
    for label, text in block.box:
        row = Element("TR", table)
        at = left + _PAD + _LABEL
        words = wrap(text, CELL, left + _BOX - _PAD - at)
        keys = wrap(label, COLUMN, _LABEL - 4)
        runs.append(
            Run(Element("TH", row, scope="Row"), set_lines(keys, Slot(left + _PAD, _LABEL, "left"), top, _KEY))
        )
        runs.append(Run(Element("TD", row), set_lines(words, Slot(at, _BOX, "left"), top, CELL)))
        top += max(len(keys), len(words)) * CELL.leading
    if not runs:
        return 0.0, []
    frame = Box(left, _TOP, _BOX, top + _PAD - 1 - _TOP, None, INK, UNDER_HEAD)
    return top + _PAD - 1, [Run(None, (frame,)), *runs]
