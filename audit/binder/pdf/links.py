"""A line of short texts that each lead somewhere."""

from __future__ import annotations

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Jump, Piece, Run, Text
from audit.binder.pdf.measure import width
from audit.binder.pdf.page import SMALL, Sheet
from audit.binder.pdf.rows import baseline
from audit.binder.sections import Links


def links_pieces(block: Links, sheet: Sheet) -> list[Piece]:
    """The label, then each text as a link; they go on to further lines where one is too short."""
    whole = Element("P")
    x, top = 0.0, 0.0
    runs: list[Run] = []
    label = f"{block.label}: "
    runs.append(Run(whole, [Text(x, baseline(top, SMALL), label, SMALL)]))
    x += width(label, SMALL)
    last = len(block.cells) - 1
    for n, cell in enumerate(block.cells):
        after = "" if n == last else ", "
        wide = width(cell.text, SMALL)
        if x + wide + width(after, SMALL) > sheet.text_width and x > 0:
            x, top = 0.0, top + SMALL.leading
        says = f"{block.label}: {cell.text}"
        jump = Jump(x, top, wide, SMALL.leading, cell.to, says)
        runs.append(
            Run(
                Element("Link", whole, alt="" if any(map(str.isalpha, cell.text)) else says),
                (jump, Text(x, baseline(top, SMALL), cell.text, SMALL)),
            )
        )
        x += wide
        if after:
            runs.append(Run(whole, [Text(x, baseline(top, SMALL), after, SMALL)]))
            x += width(after, SMALL)
    return [Piece(top + SMALL.leading, tuple(runs), above=4, keep=True)]
