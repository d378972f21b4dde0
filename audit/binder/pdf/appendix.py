"""A page of an attached paper: as large as the page has room for, in a hairline, a line under it."""

from __future__ import annotations

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Box, Piece, Placed, Run
from audit.binder.pdf.measure import wrap
from audit.binder.pdf.page import INK, SMALL, Sheet
from audit.binder.pdf.rows import Slot, set_lines
from audit.binder.sections import AttachedPage

_ABOVE = 8.0
_ABOVE_NOTE = 4.0
_EDGE = 0.5  # between the frame and what it holds
_LEAST = 0.75  # of the frame for text: a page that is as high, or higher, is set into no less


def attached_pieces(block: AttachedPage, sheet: Sheet) -> list[Piece]:
    """One piece, made for the room that is left on a page: under a heading, or small pictures under one another."""
    lines = wrap(block.note, SMALL, sheet.text_width)
    under = _ABOVE_NOTE + len(lines) * SMALL.leading

    def take(room: float) -> tuple[Piece, Piece | None]:
        x, wide, high = fitted(block.natural, sheet.text_width, room - under)
        placed = Placed(x, _EDGE, wide, high, block.key, block.natural)
        frame = Box(x - _EDGE, 0, wide + 2 * _EDGE, high + 2 * _EDGE, edge=INK)
        # Under the page that it belongs to, not at the foot of the sheet.
        note = set_lines(lines, Slot(0, sheet.text_width, "left"), high + 2 * _EDGE + _ABOVE_NOTE, SMALL)
        runs = (
            Run(None, (frame,)),
            Run(Element("Figure", alt=block.alt), (placed,)),
            Run(Element("P"), tuple(note)),
        )
        return Piece(high + 2 * _EDGE + under, runs, _ABOVE), None

    *_, high = fitted(block.natural, sheet.text_width, sheet.text_height - under)
    least = min(high + 2 * _EDGE + under, _LEAST * sheet.text_height)
    return [Piece(max(least, under + 2 * _EDGE + 1), above=_ABOVE, take=take)]


def fitted(natural: tuple[float, float], most_wide: float, most_high: float) -> tuple[float, float, float]:
    """x, width and height in points: as large as fits with the frame, in the middle, never larger than it is."""
    wide, high = natural
    scale = min((most_wide - 2 * _EDGE) / wide, (most_high - 2 * _EDGE) / high, 1.0)
    return (most_wide - wide * scale) / 2, wide * scale, high * scale
