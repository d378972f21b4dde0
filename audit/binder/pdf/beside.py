"""Two columns of blocks side by side: each is laid out at its width, then both are joined into pieces."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from audit.binder.pdf.marks import Piece, Run, moved
from audit.binder.pdf.page import Sheet
from audit.binder.sections import Beside, Block

BETWEEN = 18.0


def side_widths(sheet: Sheet) -> tuple[Sheet, float]:
    """A sheet as wide as one of two columns, and where the right one begins."""
    wide = (sheet.text_width - BETWEEN) / 2
    return replace(sheet, column=wide), wide + BETWEEN


def stacked(pieces: list[Piece], right: float) -> tuple[float, list[Run]]:
    """Height and runs of pieces under one another, moved to the right by so much."""
    runs: list[Run] = []
    y = 0.0
    for n, piece in enumerate(pieces):
        y += piece.above if n else 0.0
        runs += [Run(run.element, moved(run.marks, right, y)) for run in piece.runs]
        y += piece.height
    return y, runs


def _fill(pieces: list[Piece], height: float) -> tuple[list[Piece], list[Piece]]:
    """What of a column stands within `height`, at least one piece, and the rest."""
    y, count = 0.0, 0
    for n, piece in enumerate(pieces):
        y += piece.height + (piece.above if n else 0.0)
        if n and y > height:
            break
        count = n + 1
    return pieces[:count], pieces[count:]


def _whole(pieces: list[Piece], sheet: Sheet) -> list[Piece]:
    """The pieces, those made that wait for their room."""
    found: list[Piece] = []
    for piece in pieces:
        left: Piece | None = piece
        while left is not None and left.take:
            made, left = left.take(sheet.text_height)
            found.append(made)
        found += [left] if left else []
    return found


def beside_pieces(block: Beside, sheet: Sheet, build: Callable[[Block, Sheet], list[Piece]]) -> list[Piece]:
    """One piece, or several of a page each where a column is taller than one."""
    narrow, at = side_widths(sheet)
    left = [piece for each in block.left for piece in _whole(build(each, narrow), sheet)]
    right = [piece for each in block.right for piece in _whole(build(each, narrow), sheet)]
    found: list[Piece] = []
    while left or right:
        here, left = _fill(left, sheet.text_height)
        there, right = _fill(right, sheet.text_height)
        tall, runs = stacked(here, 0.0)
        other, more = stacked(there, at)
        found.append(Piece(max(tall, other), (*runs, *more), above=10))
    return found
