"""What is laid out, in letters and black of the paper: a copy in black and white says the same."""

from __future__ import annotations

from collections.abc import Iterable

from audit.binder.pdf import marks as pdf
from audit.binder.pdf.measure import clean, fit, width
from audit.binder.pdf.page import HAIR, INK, Type
from audit.binder.pictures.laid import marks as laid

TICK = Type(7.5, 9.0)
TICK_STRONG = Type(7.5, 9.0, bold=True)
_LABEL = Type(7.5, 9.0)
_LABEL_STRONG = Type(7.5, 9.0, bold=True)
_SIGN = Type(7.5, 9.0, bold=True)
_LETTER = Type(7.5, 9.0)
_HEAVY = Type(7.5, 9.0, bold=True)

_TYPES = {
    "tick": TICK,
    "tick-year": TICK_STRONG,
    "label": _LABEL,
    "last-value": _LABEL,
    "outside-value": _LABEL_STRONG,
    "total": _LABEL_STRONG,
    "limit-value": Type(7.5, 9.0),
    "column-year": TICK_STRONG,
    "row": TICK_STRONG,
    "lane": Type(7.5, 9.0, bold=True),
    "sign-letter": _SIGN,
    "sign-letter-heavy": _SIGN,
    **{f"letter-{mark}": _HEAVY for mark in "FMLI"},
    **{f"letter-{mark}": _LETTER for mark in "TDAEo·-"},
}
_WHITE = ("letter-F", "sign-letter-heavy")

# Grey and thickness.
_LINES = {
    "grid": (INK, HAIR),
    "axis": (INK, HAIR),
    "month": (INK, HAIR),
    "column": (INK, HAIR),
    "lane-floor": (INK, HAIR),
    "last-known": (INK, 0.6),
    "tick-mark": (INK, 0.5),
    "hatch": (INK, HAIR),
    "limit": (INK, 0.8),
    "adjusted": (INK, 0.5),
}
# Grey, thickness, dashes.
_STROKES = {
    "between": (INK, 0.45, ()),
    "many": (INK, 0.45, ()),
    "grown": (INK, 0.8, ()),
    "break": (INK, 0.6, (1.2, 1.2)),
    "ahead": (INK, 0.7, (2.4, 1.8)),
}
# Fill, edge, thickness.
_BOXES = {
    "beyond-limit": (None, None, HAIR),
    "unknown": (1.0, INK, HAIR),
    "ground": (1.0, None, HAIR),
    "sign": (1.0, INK, 0.5),
    "sign-heavy": (INK, INK, 0.5),
    "bar-solid": (INK, INK, 0.4),
    "bar-hatched": (1.0, INK, 0.4),
    "bar-outline": (1.0, INK, 0.4),
}
_SHAPES = {"band": (None, INK, HAIR), "arrow": (INK, None, HAIR)}
# Fill, edge, thickness, dashed; those of no look have no ground.
_CELLS = {
    "cell-T": (1.0, INK, HAIR, False),
    "cell-D": (1.0, INK, HAIR, False),
    "cell-F": (INK, INK, 0.4, False),
    "cell-M": (1.0, INK, 0.8, False),
    "cell-L": (1.0, INK, 0.4, False),
    "cell-I": (1.0, INK, 0.4, False),
    "cell-A": (1.0, INK, 0.5, True),
    "cell-E": (1.0, INK, HAIR, False),
    "cell-o": (1.0, INK, HAIR, True),
}
_MARGIN = 0.4  # around the ground of a cell
_POINT, _COUNTED = 1.9, 1.7  # radii
_DIAMOND = 3.0  # from its middle to a corner


class PaperInk:
    """Letters of the binder, measured in points (`laid.hand.Hand`)."""

    scale = 1.0

    def face(self, look: str) -> Type:
        return _TYPES[look]

    def wide(self, words: str, look: str) -> float:
        return width(words, _TYPES[look])

    def fit(self, words: str, look: str, limit: float) -> str:
        return fit(words, _TYPES[look], limit)

    def drawable(self, words: str) -> str:
        return clean(words)


PAPER = PaperInk()


def inked(marks: Iterable[laid.Mark]) -> list[pdf.Mark]:
    """The marks as the binder draws them, in the same order."""
    return [made for mark in marks for made in _INK[type(mark)](mark)]


def _text(mark: laid.LaidText) -> list[pdf.Mark]:
    style = _TYPES[mark.look]
    x = mark.x - width(mark.words, style) * mark.share if mark.share else mark.x
    return [pdf.Text(x, mark.y, mark.words, style, white=mark.look in _WHITE)]


def _line(mark: laid.LaidLine) -> list[pdf.Mark]:
    return [pdf.DrawnLine(*mark[:4], *_LINES[mark.look])]


def _box(mark: laid.LaidBox) -> list[pdf.Mark]:
    if mark.look in _BOXES:
        return [pdf.Box(*mark[:4], *_BOXES[mark.look])]
    if mark.look not in _CELLS:
        return []
    fill, edge, thick, dashed = _CELLS[mark.look]
    inset = _MARGIN + thick / 2
    wide, tall = mark.width - 2 * inset, mark.height - 2 * inset
    return [pdf.Box(mark.x + inset, mark.y + inset, wide, tall, fill, edge, thick, dashed)]


def _sign(mark: laid.Sign) -> list[pdf.Mark]:
    x, y, look = mark
    if look == "expected":
        return [pdf.DrawnLine(x, y - 4, x, y + 4, INK, 0.8)]
    if look in ("found", "left"):
        return [pdf.Dot(x, y, _POINT, filled=look == "left")]
    if look in ("counted", "slip"):
        return [pdf.Dot(x, y, _COUNTED, filled=look == "counted")]
    corners = ((x, y - _DIAMOND), (x + _DIAMOND, y), (x, y + _DIAMOND), (x - _DIAMOND, y))
    return [pdf.Shape(corners, INK if look == "outside-left" else 1.0, INK, 0.7)]


def _stroke(mark: laid.LaidStroke) -> list[pdf.Mark]:
    return [pdf.Stroke(mark.points, *_STROKES[mark.look])]


def _shape(mark: laid.LaidShape) -> list[pdf.Mark]:
    return [pdf.Shape(mark.points, *_SHAPES[mark.look])]


_INK = {
    laid.LaidText: _text,
    laid.LaidLine: _line,
    laid.LaidBox: _box,
    laid.Sign: _sign,
    laid.LaidStroke: _stroke,
    laid.LaidShape: _shape,
}
