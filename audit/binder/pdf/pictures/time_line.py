"""The time line of a unit on paper: the figure, the marks in use with their meaning, where the rows are."""

from __future__ import annotations

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Mark, Piece, Run
from audit.binder.pdf.page import Sheet
from audit.binder.pdf.pictures.ink import PAPER, inked
from audit.binder.pdf.pictures.parts import caption, legend, note
from audit.binder.pictures.laid.time_line import TimeSizes, lay_time_line, sign
from audit.binder.pictures.values import UnitTimeLine

_SIGN = 7.6
MOST_ROWS = 6


def _sizes(sheet: Sheet) -> TimeSizes:
    return TimeSizes(
        width=sheet.text_width, gutter=62.0, head=11.0, name_above=0.0, row=10.0, most_rows=MOST_ROWS, pad=3.0,
        sign=_SIGN, bar=5.6, least=2.4, tick=2.2, labels=(170.0, 90.0, 45.0),
    )  # fmt: skip


def time_line_pieces(line: UnitTimeLine, sheet: Sheet) -> list[Piece]:
    """Caption, the figure, the marks in use with their meaning, what is absent, where the rows are."""
    tall, marks = lay_time_line(line, _sizes(sheet), PAPER)
    figure = Piece(tall, (Run(Element("Figure", alt=line.alt), inked(marks)),), above=2, keep=True)
    signs = [((_SIGN + 2, _legend_sign(mark)), meaning) for mark, meaning in line.legend]
    rest = [*legend(signs, sheet), *note(line.note, sheet), *note(line.rows, sheet)]
    return [*caption(line.caption, sheet), figure, *rest]


def _legend_sign(mark: str):
    def draw(x: float, y: float) -> tuple[list[Mark], list[Mark]]:
        letter, ground = sign(x, y, mark, _SIGN, PAPER)
        return inked([letter]), inked([ground])

    return draw
