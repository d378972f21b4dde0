"""A long list of short rows in two or three columns side by side, read from the left, on as many pages as it takes.

Each column of each page is a table of its own with its caption and its heads, so that it is read in the order of its
rows.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from audit.binder.pdf.beside import BETWEEN, stacked
from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Piece, Run
from audit.binder.pdf.measure import fit, wrap
from audit.binder.pdf.page import CAPTION, RUNNING, SMALL, Sheet
from audit.binder.pdf.rows import Slot, set_lines, text_piece
from audit.binder.pdf.tables import head_piece, is_group, row_pieces, table_slots
from audit.binder.sections import Table

_UNDER_CAPTION = 1.5
_FEW = 8  # rows that are not worth their columns on two pages
_STEP = 1.0  # points by which columns are tried higher, until they hold all


def _widths(table: Table, sheet: Sheet) -> tuple[Sheet, float, int]:
    """A sheet as wide as one of the columns, how far the next begins from it, and how many there are."""
    count = 3 if table.thirds else 2
    wide = (sheet.text_width - (count - 1) * BETWEEN) / count
    return replace(sheet, column=wide), wide + BETWEEN, count


class _RestOfTable:
    """What is left of a table, from the row `start` on."""

    def __init__(self, table: Table, sheet: Sheet, start: int, heights: list[float]) -> None:
        self.table, self.sheet, self.start, self.heights = table, sheet, start, heights
        self.narrow, self.apart, self.count = _widths(table, sheet)
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

    def _ends(self, room: float) -> list[int]:
        """The row after the last of each column of that height; of the last one the row with which a page goes on."""
        ends, at = [], self.start
        for _ in range(self.count):
            at = self._filled(at, room) if at < len(self.heights) else at
            ends.append(at)
        return ends

    def _balanced(self, room: float) -> list[int] | None:
        """As `_ends`, in the lowest columns that hold all; None where these need more room."""
        height = sum(self.heights[self.start :]) / self.count
        while height <= room:
            ends = self._ends(height)
            tallest = max(sum(self.heights[first:end]) for first, end in pairwise((self.start, *ends)))
            if ends[-1] == len(self.heights) and tallest <= room:
                return ends
            height += _STEP
        return None

    def take(self, room: float) -> tuple[Piece, Piece | None]:
        """What stands in a room of that height, and a piece for the rest."""
        room -= self.top
        ends = self._balanced(room)
        if ends is not None:
            return self._piece(ends), None
        ends = self._ends(room)
        end = ends[-1]
        rest = None if end == len(self.heights) else _RestOfTable(self.table, self.sheet, end, self.heights).waiting()
        return self._piece(ends), rest

    def waiting(self) -> Piece:
        """A piece that is made when it is known how much room there is for it."""
        left = self.heights[self.start :]
        least = min(sum(left) / self.count, sum(sorted(left)[-_FEW // self.count :]))
        return Piece(self.top + least, above=11.0 if not self.start else 0.0, take=self.take)

    def _piece(self, ends: list[int]) -> Piece:
        height, runs = 0.0, []
        for n, (first, end) in enumerate(pairwise((self.start, *ends))):
            if first < end:
                tall, more = stacked(self._side(first, end, first=not n), n * self.apart)
                height, runs = max(height, tall), [*runs, *more]
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
    narrow, *_ = _widths(table, sheet)
    places = table_slots(table, 0, narrow.text_width)
    rows = row_pieces(table, places, Element("Table"), sheet.text_height)
    heights = [sum(piece.height for piece in pieces) for pieces in rows]
    return [_RestOfTable(table, sheet, 0, heights).waiting()]
