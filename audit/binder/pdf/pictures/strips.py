"""The strip of a duty on paper: its figures, the marks in use with their meaning, where the rows are."""

from __future__ import annotations

from dataclasses import replace

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Mark, Piece, Run
from audit.binder.pdf.page import Sheet
from audit.binder.pdf.pictures.ink import PAPER, inked
from audit.binder.pdf.pictures.parts import caption, carried_on, legend, note
from audit.binder.pictures.grid import DAYS, MONTHS, QUARTERS, WEEKS
from audit.binder.pictures.laid.strips import StripSizes, ground, lay_strip, letter
from audit.binder.pictures.values import DutyStrip


def _sizes(sheet: Sheet) -> StripSizes:
    return StripSizes(
        width=sheet.text_width, gutter=40.0, usual_gutter=30.0,
        widest={MONTHS: 40.0, QUARTERS: 60.0}, usual_widest=40.0,
        tall={DAYS: 9.4}, usual_tall=11.0, head=8.4,
        between={WEEKS: 2.0}, usual_between=0.6, joined=True,
    )  # fmt: skip


def _sign(mark: str):
    wide, tall = 10.0, 9.0

    def draw(x: float, y: float) -> tuple[list[Mark], list[Mark]]:
        at = (x - wide / 2, y - tall / 2, wide, tall, mark)
        return inked([letter(*at, PAPER)]), inked([ground(*at)])

    return wide, draw


def strip_pieces(strip: DutyStrip, sheet: Sheet) -> list[Piece]:
    """Caption, a figure for each panel, the marks in use with their meaning, where the rows are."""
    sizes, made = _sizes(sheet), []
    for panel in strip.panels:
        tall, marks = lay_strip(strip, panel, sizes, PAPER)
        made.append(Piece(tall, (Run(Element("Figure", alt=panel.alt), inked(marks)),), above=4))
    figures = carried_on(made, strip.caption, sheet)
    signs = legend([(_sign(mark), meaning) for mark, meaning in strip.legend], sheet)
    figures[-1] = _kept(figures[-1])
    return [*caption(strip.caption, sheet), *figures, *map(_kept, signs), *note(strip.rows, sheet)]


def _kept(piece: Piece) -> Piece:
    return replace(piece, keep=True)
