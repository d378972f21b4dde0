"""How wide and tall the letters are of whatever draws a picture."""

from __future__ import annotations

from typing import Protocol

from .marks import LaidText

ASCENT, DESCENT = 0.76, 0.24  # of the size, above and below the baseline, as the eye sees them
_CAPITAL = 0.36  # of the size: from the middle of a capital down to its baseline


class Face(Protocol):
    """A size of letters with the height of its lines, in units of the picture."""

    size: float
    leading: float


class Hand(Protocol):
    """What draws. `scale`: how many units stand for a small distance of 1 point of the binder."""

    scale: float

    def face(self, look: str) -> Face:
        """The letters of a look."""

    def wide(self, words: str, look: str) -> float:
        """The width of a line of them."""

    def fit(self, words: str, look: str, limit: float) -> str:
        """The words on one line, cut with an ellipsis where they are wider than `limit`."""

    def drawable(self, words: str) -> str:
        """The words as they can be drawn."""


def baseline(hand: Hand, top: float, look: str) -> float:
    """Where the letters stand in a line whose upper edge is at `top`."""
    face = hand.face(look)
    return top + (face.leading - face.size) / 2 + face.size * ASCENT


def between(hand: Hand, top: float, tall: float, look: str) -> float:
    """The baseline of one line in the middle of a strip `tall` units high."""
    return baseline(hand, top + (tall - hand.face(look).leading) / 2, look)


def beside(hand: Hand, middle: float, look: str) -> float:
    """The baseline of letters whose capitals have their middle at `middle`."""
    return middle + hand.face(look).size * _CAPITAL


def centred(hand: Hand, words: str, x: float, middle: float, look: str) -> LaidText:
    """A short text with its middle at a point; letters are centred by the height of a capital."""
    return LaidText(x, beside(hand, middle, look), words, look, 0.5)
