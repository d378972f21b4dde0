"""A long list of short rows in two columns side by side, the left one read first, on as many pages as it takes.

Each column of each page is a table of its own with its caption and its heads, so that it is read in the order of its
rows.
"""

from __future__ import annotations

from dataclasses import replace

from audit.binder.pdf.beside import side_widths, stacked
from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Piece, Run
from audit.binder.pdf.measure import fit, wrap
from audit.binder.pdf.page import CAPTION, RUNNING, SMALL, Sheet
from audit.binder.pdf.rows import Slot, set_lines, text_piece
from audit.binder.pdf.tables import head_piece, is_group, row_pieces, table_slots
from audit.binder.sections import Table

_UNDER_CAPTION = 1.5
_FEW = 8  # rows that are not worth two columns on two pages


class _Halves:
    """What is left of a table, from the row `start` on."""

    def __init__(self, table: Table, sheet: Sheet, start: int, heights: list[float]) -> None:
        self.table, self.sheet, self.start, self.heights = table, sheet, start, heights
        self.narrow, self.at = side_widths(sheet)
        self.places = table_slots(table, 0, self.narrow.text_width)
        self.top = self._caption_height() + head_piece(table, self.places, Element("Table")).height

    def _caption_height(self) -> float:
        if not self.table.caption:
            return 0.0
        if self.start:
            return SMALL.leading + _UNDER_CAPTION
        lines = wrap(self.table.caption, CAPTION, self.narrow.text_width)
        return len(lines) * CAPTION.leading + _UNDER_CAPTION

    def _filled(self, start: int, room: float) -> int:
        """The row after the last that stands in a column of that height; a row that heads others is not the last."""
        used, end = 0.0, start
        while end < len(self.heights) and used + self.heights[end] <= room:
            used += self.heights[end]
            end += 1
        while start + 1 < end < len(self.heights) and is_group(self.table.rows[end - 1]):
            end -= 1
        return max(end, start + 1)

    def _balanced(self, room: float) -> int | None:
        """Where the right column begins when both are as high as each other; None where they need more room."""
        whole = sum(self.heights[self.start :])
        middle = self._filled(self.start, whole / 2)
        while sum(self.heights[self.start : middle]) < sum(self.heights[middle:]):
            middle += 1
        while self.start + 1 < middle < len(self.heights) and is_group(self.table.rows[middle - 1]):
            middle -= 1
        tallest = max(sum(self.heights[self.start : middle]), sum(self.heights[middle:]))
        return middle if tallest <= room else None

    def take(self, room: float) -> tuple[Piece, Piece | None]:
        """What stands in a room of that height, and a piece for the rest."""
        room -= self.top
        middle = self._balanced(room)
        if middle is not None:
            return self._piece(middle, len(self.heights)), None
        middle = self._filled(self.start, room)
        end = self._filled(middle, room) if middle < len(self.heights) else middle
        rest = None if end == len(self.heights) else _Halves(self.table, self.sheet, end, self.heights).waiting()
        return self._piece(middle, end), rest

    def waiting(self) -> Piece:
        """A piece that is made when it is known how much room there is for it."""
        least = min(sum(self.heights[self.start :]) / 2, sum(sorted(self.heights[self.start :])[-_FEW // 2 :]))
        return Piece(self.top + least, above=11.0 if not self.start else 0.0, take=self.take)

    def _piece(self, middle: int, end: int) -> Piece:
        left = self._side(self.start, middle, first=True)
        height, runs = stacked(left, 0.0)
        if middle < end:
            other, more = stacked(self._side(middle, end, first=False), self.at)
            height, runs = max(height, other), [*runs, *more]
        return Piece(height, tuple(runs), above=11.0 if not self.start else 0.0)

    def _side(self, start: int, end: int, *, first: bool) -> list[Piece]:
        table = replace(self.table, rows=self.table.rows[start:end])
        whole = Element("Table", summary="" if table.caption else self.sheet.title)
        head = head_piece(table, self.places, whole)
        rows = row_pieces(table, self.places, whole, self.sheet.text_height, start)
        return [*self._caption(whole, first), head, *(piece for pieces in rows for piece in pieces)]

    def _caption(self, whole: Element, first: bool) -> list[Piece]:
        if not self.table.caption:
            return []
        slot = Slot(0, self.narrow.text_width, "left")
        height, element = self._caption_height(), Element("Caption", whole)
        if first and not self.start:
            lines = wrap(self.table.caption, CAPTION, slot.width)
            return [Piece(height, (Run(element, set_lines(lines, slot, 0, CAPTION)),))]
        style = SMALL if self.start else RUNNING
        line = fit(f"{self.table.caption}, continued", style, slot.width)
        return [Piece(height, (Run(element, set_lines((line,), slot, height - style.leading - 1.5, style)),))]


def halved_table(table: Table, sheet: Sheet) -> list[Piece]:
    """One piece that is made page by page."""
    if not table.rows:
        return [text_piece(table.empty, SMALL, sheet, above=8)]
    narrow, _ = side_widths(sheet)
    places = table_slots(table, 0, narrow.text_width)
    rows = row_pieces(table, places, Element("Table"), sheet.text_height)
    heights = [sum(piece.height for piece in pieces) for pieces in rows]
    return [_Halves(table, sheet, 0, heights).waiting()]
