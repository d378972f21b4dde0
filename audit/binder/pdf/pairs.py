"""Names and values side by side."""

from __future__ import annotations

from dataclasses import replace

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import DrawnLine, Piece, Run, kept
from audit.binder.pdf.measure import wrap
from audit.binder.pdf.page import CELL, COLUMN, INK, PROOF, UNDER_HEAD, Sheet
from audit.binder.pdf.rich import styled
from audit.binder.pdf.rows import RowLook, Slot, Wrapped, caption_piece, cut_row, hung, slots
from audit.binder.pdf.tables import no_lonely_row
from audit.binder.sections import Cell, Column, KeyValues

_LOOK = RowLook(CELL, 0.8)
_NAMES = replace(COLUMN, leading=CELL.leading)
_SHARE = {True: 22.0, False: 30.0}  # of the names in a hundred, over the whole width and in a narrow column
_WIDE = 400.0


def _cell(value: Cell, slot: Slot, element: Element) -> Wrapped:
    style = PROOF if value.proof else styled(value.strong, CELL)
    shown = replace(value, text=value.text.replace("\n", ", ")) if value.proof else value
    lines, hang, first = hung(shown, style, slot.width)
    says = " ".join(value.text.split())
    return Wrapped(lines, slot, style, element, value.to, says, "", value.frame, 1, hang, first)


def pair_pieces(pairs, sheet: Sheet, table: Element, left: float = 0.0, right: float | None = None) -> list[Piece]:
    """One row a pair, no line between them; a table whose rows have heads."""
    edge = sheet.text_width if right is None else right
    names = _SHARE[edge - left > _WIDE]
    places = slots((Column("", names), Column("", 100 - names)), left, edge - left)
    pieces: list[Piece] = []
    for key, value in pairs:
        row = Element("TR", table)
        name = Wrapped(wrap(key, COLUMN, places[0].width), places[0], _NAMES, Element("TH", row, scope="Row"))
        cell = _cell(value, places[1], Element("TD", row))
        if not any(each.isalpha() for each in cell.says):
            cell.says = cell.alt = f"{key} {cell.says}"
        pieces += cut_row([name, cell], (left, edge), _LOOK, sheet.text_height, rule=False)
    return pieces


def key_values(block: KeyValues, sheet: Sheet) -> list[Piece]:
    """The caption over a line, then the pairs."""
    table = Element("Table", summary="" if block.caption else sheet.title)
    pieces = pair_pieces(block.pairs, sheet, table)
    if not pieces:
        return []
    short = sum(piece.height for piece in pieces) < sheet.text_height / 2
    pieces = kept(pieces, len(pieces)) if short else no_lonely_row(pieces)
    if block.caption:
        line = Piece(3.5, (Run(None, (DrawnLine(0, 0.25, sheet.text_width, 0.25, INK, UNDER_HEAD),)),), keep=True)
        return [caption_piece(block.caption, sheet, Element("Caption", table)), line, *pieces]
    return [replace(pieces[0], above=6), *pieces[1:]]
