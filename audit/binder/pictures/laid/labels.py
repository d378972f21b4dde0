"""Labels that do not stand on one another: rectangles that are taken, and the first place that is free."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from .hand import ASCENT, DESCENT, Hand
from .marks import LaidText

_APART = 1.6  # between two labels side by side, in points


class Rect(NamedTuple):
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Rect) -> bool:
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def holds(self, other: Rect) -> bool:
        return (
            self.left <= other.left
            and other.right <= self.right
            and self.top <= other.top
            and other.bottom <= self.bottom
        )


class Places:
    """What is taken within a frame."""

    def __init__(self, frame: Rect, hand: Hand) -> None:
        self.frame = frame
        self.hand = hand
        self.taken: list[Rect] = []
        self.lines: list[Rect] = []

    def take(self, rect: Rect) -> None:
        self.taken.append(rect)

    def shun(self, rect: Rect) -> None:
        """A line that a label stands on only where nothing else is free."""
        self.lines.append(rect)

    def free(self, rect: Rect, *, of_lines: bool = False) -> bool:
        return (
            self.frame.holds(rect)
            and not any(rect.meets(other) for other in self.taken)
            and not (of_lines and any(rect.meets(other) for other in self.lines))
        )

    def put(self, words: str, look: str, spots: Iterable[tuple[float, float, float]]) -> list[LaidText]:
        """The text at the first free spot, which is then taken; [] where none is free.

        A spot is (x, y of the middle of the line, share): the text begins so much of its width before x.
        """
        said = self.hand.drawable(words)
        wide, size = self.hand.wide(said, look), self.hand.face(look).size
        lowered = size * (ASCENT - DESCENT) / 2
        tried = [LaidText(x, middle + lowered, said, look, share) for x, middle, share in spots]
        for of_lines in (True, False):
            for made in tried:
                left = made.x - wide * made.share
                rect = Rect(left, made.y - size * ASCENT, left + wide, made.y + size * DESCENT)
                if self.free(rect, of_lines=of_lines):
                    apart = _APART * self.hand.scale
                    self.take(Rect(rect.left - apart, rect.top, rect.right + apart, rect.bottom))
                    return [made]
        return []


def around(x: float, y: float, away: float, line: float) -> list[tuple[float, float, float]]:
    """Spots around a point: right, above, below, left, then at the corners."""
    near = [(x + away, y, 0.0), (x, y - line, 0.5), (x, y + line, 0.5), (x - away, y, 1.0)]
    corners = [(x + away / 2, y - line, 0.0), (x + away / 2, y + line, 0.0), (x - away / 2, y - line, 1.0)]
    corners.append((x - away / 2, y + line, 1.0))
    return [*near, *corners]
