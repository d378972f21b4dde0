"""What a picture is made of, before anything draws it. x from the left, y down; lengths are units of the picture.

`look` names what a mark is for; whatever draws it has a grey, a thickness or a class for each.
"""

from __future__ import annotations

from typing import NamedTuple

Point = tuple[float, float]


class LaidText(NamedTuple):
    """Words on the baseline `y`. They begin `share` of their width before `x`: 0, a half or 1."""

    x: float
    y: float
    words: str
    look: str
    share: float = 0.0


class LaidLine(NamedTuple):
    x1: float
    y1: float
    x2: float
    y2: float
    look: str


class LaidBox(NamedTuple):
    x: float
    y: float
    width: float
    height: float
    look: str


class Sign(NamedTuple):
    """A dot or diamond with its middle at a point; whatever draws it knows how large it is."""

    x: float
    y: float
    look: str


class LaidStroke(NamedTuple):
    """A line through several points."""

    points: tuple[Point, ...]
    look: str


class LaidShape(NamedTuple):
    """A closed outline through several points."""

    points: tuple[Point, ...]
    look: str


Mark = LaidText | LaidLine | LaidBox | Sign | LaidStroke | LaidShape
