"""The head of the first page, and framed statements side by side."""

from __future__ import annotations

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Box, DrawnLine, Piece, Run
from audit.binder.pdf.measure import wrap
from audit.binder.pdf.page import CELL, CELL_STRONG, COLUMN, INK, Sheet, Type
from audit.binder.pdf.rows import Slot, set_lines
from audit.binder.sections import Masthead, Signed

_NAME = Type(25, 29, bold=True)
_BOX = 186.0
_LABEL = 46.0
_PAD = 5.0
_BETWEEN = 12.0


def masthead_pieces(block: Masthead, sheet: Sheet) -> list[Piece]:
    """One piece: the name and its lines at the left, the box at the right, a thick line above."""
    room = sheet.text_width - _BOX - _BETWEEN
    slot = Slot(0, room, "left")
    name = wrap(block.name, _NAME, room)
    runs = [
        Run(None, (DrawnLine(0, 0.7, sheet.text_width, 0.7, INK, 1.4),)),
        Run(Element("H1"), set_lines(name, slot, 6, _NAME)),
    ]
    y = 8 + len(name) * _NAME.leading
    for line in block.lines:
        lines = wrap(line, CELL, room)
        runs.append(Run(Element("P"), set_lines(lines, slot, y, CELL)))
        y += len(lines) * CELL.leading
    left = sheet.text_width - _BOX
    top = 6 + _PAD
    table = Element("Table")
    rows: list[Run] = []
    for label, text in block.box:
        row = Element("TR", table)
        key = wrap(label, COLUMN, _LABEL)
        value = wrap(text, CELL, _BOX - _LABEL - 3 * _PAD)
        rows.append(
            Run(Element("TH", row, scope="Row"), set_lines(key, Slot(left + _PAD, _LABEL, "left"), top, COLUMN))
        )
        at = Slot(left + 2 * _PAD + _LABEL, _BOX, "left")
        rows.append(Run(Element("TD", row), set_lines(value, at, top, CELL)))
        top += max(len(key) * COLUMN.leading, len(value) * CELL.leading) + 1.5
    if rows:
        runs.append(Run(None, (Box(left, 6, _BOX, top + _PAD - 6, None, INK, 0.5),)))
    return [Piece(max(y, top + _PAD), (*runs, *rows))]


def signed_pieces(block: Signed, sheet: Sheet) -> list[Piece]:
    """One piece: two statements to a row, each in its frame."""
    wide = (sheet.text_width - _BETWEEN) / 2
    runs: list[Run] = []
    y = 0.0
    for start in range(0, len(block.statements), 2):
        tall, texts = 0.0, []
        for n, (title, lines) in enumerate(block.statements[start : start + 2]):
            slot = Slot(n * (wide + _BETWEEN) + _PAD, wide - 2 * _PAD, "left")
            head = wrap(title, CELL_STRONG, slot.width)
            body = [part for line in lines for part in wrap(line, CELL, slot.width)]
            texts.append(Run(Element("P"), set_lines(head, slot, y + _PAD, CELL_STRONG)))
            if body:
                texts.append(Run(Element("P"), set_lines(body, slot, y + _PAD + len(head) * CELL.leading, CELL)))
            tall = max(tall, (len(head) + len(body)) * CELL.leading + 2 * _PAD)
        frames = [
            Box(n * (wide + _BETWEEN), y, wide, tall, None, INK, 0.5)
            for n in range(len(texts) and len(block.statements[start : start + 2]))
        ]
        runs += [Run(None, frames), *texts]
        y += tall + 6
    return [Piece(y, tuple(runs), above=8)] if runs else []
