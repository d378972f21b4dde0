"""A calendar of months side by side: a table, its rows the weeks of the month or kinds of test."""

from __future__ import annotations

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Piece, Run
from audit.binder.pdf.measure import wrap
from audit.binder.pdf.page import SMALL, Sheet
from audit.binder.pdf.rows import Slot, set_lines, table_pieces
from audit.binder.sections import Cell, Column, MonthCalendar, Table

_LABEL = 44.0
_MONTHS = 466.0


def calendar_pieces(block: MonthCalendar, sheet: Sheet) -> list[Piece]:
    """The table, then the key as a line of text."""
    each = _MONTHS / max(len(block.months), 1)
    columns = (Column("", _LABEL, names=True), *(Column(month, each, "center") for month in block.months))
    rows = tuple((Cell(label), *cells) for label, cells in block.rows)
    pieces = table_pieces(Table(block.caption, columns, rows), sheet)
    key = "; ".join(f"{sign} {meaning}" for sign, meaning in block.key)
    if not key:
        return pieces
    lines = wrap(key, SMALL, sheet.text_width)
    run = Run(Element("P"), set_lines(lines, Slot(0, sheet.text_width, "left"), 0, SMALL))
    return [*pieces, Piece(len(lines) * SMALL.leading, (run,), above=3)]
