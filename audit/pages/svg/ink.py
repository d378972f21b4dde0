"""What is laid out, as elements of SVG: each look is a class of the style sheet."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from audit.binder.pictures.laid import marks as laid

from .tags import LETTER, box, diamond, dot, line, shape, stroke, text

_WIDE = 0.56  # of the height: the usual width of a letter of a sans-serif face; the reader's own face isn't known
_MARGIN = 0.6  # around the ground of a cell
CELLS = {
    "F": "failed", "M": "missed", "L": "late", "I": "invalid", "A": "awaited", "T": "kept", "D": "kept",
    "E": "exempt", "o": "open", "·": "nothing", "-": "nothing",
}  # fmt: skip
_TEXTS = {
    "tick": "pic-text",
    "tick-year": "pic-text pic-strong",
    "label": "pic-text",
    "last-value": "pic-text pic-strong",
    "outside-value": "pic-text pic-stop",
    "total": "pic-text pic-strong",
    "limit-value": "pic-text",
    "column-year": "pic-text",
    "row": "pic-text pic-strong",
    "lane": "pic-text pic-strong",
    "sign-letter": "pic-letter",
    "sign-letter-heavy": "pic-letter pic-letter--heavy",
    **{f"letter-{mark}": f"cell-letter cell-letter--{name}" for mark, name in CELLS.items()},
}
_LINES = {
    "grid": "pic-grid",
    "axis": "pic-rule",
    "month": "pic-grid",
    "column": "pic-grid",
    "lane-floor": "pic-rule",
    "last-known": "pic-rule",
    "tick-mark": "pic-line",
    "hatch": "pic-line",
    "limit": "pic-limit",
    "adjusted": "pic-line",
    "between": "pic-soft",
    "many": "pic-line",
    "grown": "pic-line",
    "break": "pic-break",
    "ahead": "pic-ahead",
}
_GROUNDS = {
    "beyond-limit": "pic-tint",
    "unknown": "pic-tint",
    "ground": "pic-ground",
    "sign": "pic-sign",
    "sign-heavy": "pic-sign pic-sign--heavy",
    "bar-solid": "pic-bar pic-bar--solid",
    "bar-hatched": "pic-bar pic-bar--hatched",
    "bar-outline": "pic-bar pic-bar--outline",
    "band": "pic-band",
    "arrow": "pic-arrow",
}
_DOTS = {
    "found": (2.8, "pic-dot pic-dot--open"),
    "left": (2.8, "pic-dot pic-dot--full"),
    "counted": (2.4, "pic-dot pic-dot--full"),
    "slip": (2.4, "pic-dot pic-dot--open"),
}
_DIAMONDS = {
    "outside-found": (4.5, "pic-bad pic-bad--open"),
    "outside-left": (4.5, "pic-bad pic-bad--full"),
    "expected": (3.5, "pic-bad pic-bad--open"),
}


def cell_look(mark: str) -> str:
    """The class of a cell."""
    return f"cell cell--{CELLS.get(mark, 'nothing')}"


class _ScreenFace(NamedTuple):
    size: float
    leading: float


_FACE = _ScreenFace(LETTER, 12.6)


class Screen:
    """Letters of a page, all of one size, about as wide as letters usually are (`laid.hand.Hand`)."""

    scale = 1.5

    def face(self, look: str) -> _ScreenFace:
        return _FACE

    def wide(self, words: str, look: str) -> float:
        return len(words) * LETTER * _WIDE

    def fit(self, words: str, look: str, limit: float) -> str:
        most = int(limit / (LETTER * _WIDE))
        return words if len(words) <= most else words[: max(most - 1, 0)].rstrip() + "…"

    def drawable(self, words: str) -> str:
        return words


SCREEN = Screen()


def inked(marks: Iterable[laid.Mark]) -> list[str]:
    """The marks as elements, in the same order."""
    return [_INK[type(mark)](mark) for mark in marks]


def _text(mark: laid.LaidText) -> str:
    anchor = {0.0: "start", 0.5: "middle", 1.0: "end"}[mark.share]
    return text(mark.x, mark.y, mark.words, _TEXTS[mark.look], anchor)


def _line(mark: laid.LaidLine) -> str:
    return line(*mark[:4], _LINES[mark.look])


def _box(mark: laid.LaidBox) -> str:
    x, y, wide, tall, look = mark
    if look in _GROUNDS:
        return box(x, y, wide, tall, _GROUNDS[look])
    inset = 2 * _MARGIN
    return box(x + _MARGIN, y + _MARGIN, wide - inset, tall - inset, cell_look(look.removeprefix("cell-")))


def _sign(mark: laid.Sign) -> str:
    if mark.look in _DOTS:
        return dot(mark.x, mark.y, *_DOTS[mark.look])
    half, look = _DIAMONDS[mark.look]
    return diamond(mark.x, mark.y, look, half)


def _stroke(mark: laid.LaidStroke) -> str:
    return stroke(mark.points, _LINES[mark.look])


def _shape(mark: laid.LaidShape) -> str:
    return shape(mark.points, _GROUNDS[mark.look])


_INK = {
    laid.LaidText: _text,
    laid.LaidLine: _line,
    laid.LaidBox: _box,
    laid.Sign: _sign,
    laid.LaidStroke: _stroke,
    laid.LaidShape: _shape,
}
