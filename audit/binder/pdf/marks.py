"""What can be drawn, as values: text, lines, boxes and jumps, placed inside a piece.

x is counted from the left edge of the text frame, y down from the top of the piece, in points. A piece is
never divided: what may be divided is several pieces.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import NamedTuple

from audit.binder.pdf.elements import Element
from audit.binder.pdf.page import HAIR, INK, Type


class Text(NamedTuple):
    """A line of text. A tuple, for there are hundreds of thousands in a long binder, and tuples are made faster."""

    x: float
    y: float  # of the baseline
    text: str
    style: Type
    white: bool = False
    said: str = ""  # the text in the order it is read in, where that is not the order it is drawn in


@dataclass(frozen=True, slots=True)
class DrawnLine:
    x1: float
    y1: float
    x2: float
    y2: float
    grey: float = INK
    thick: float = HAIR


@dataclass(frozen=True, slots=True)
class Box:
    """`fill` None leaves it open; `edge` None draws no outline. Grey from 0 black to 1 white."""

    x: float
    y: float
    width: float
    height: float
    fill: float | None = None
    edge: float | None = None
    thick: float = HAIR
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Dot:
    x: float
    y: float
    radius: float
    filled: bool


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through several points."""

    points: tuple[tuple[float, float], ...]
    grey: float = INK
    thick: float = HAIR
    dash: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Shape:
    """A closed outline through several points."""

    points: tuple[tuple[float, float], ...]
    fill: float | None = None
    edge: float | None = None
    thick: float = HAIR


@dataclass(frozen=True, slots=True)
class Placed:
    """A page or picture from outside, by the key under which its source is found; drawn into the rectangle.

    `natural` is the size of the source in points.
    """

    x: float
    y: float
    width: float
    height: float
    key: str
    natural: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Jump:
    """A rectangle that leads to a section; in a run of a Link element. `says` is its text for a screen reader."""

    x: float
    y: float
    width: float
    height: float
    to: str
    says: str = ""


Mark = Text | DrawnLine | Box | Dot | Stroke | Shape | Placed | Jump


class Run(NamedTuple):
    """Marks that belong to one element; `element` None is decoration, which a screen reader leaves out."""

    element: Element | None
    marks: tuple[Mark, ...] | list[Mark]


@dataclass(frozen=True, slots=True)
class Anchor:
    """A heading as the contents and the outline know it."""

    id: str
    title: str
    level: int


@dataclass(slots=True)
class Piece:
    """`above` is space before it, dropped at the top of a page; `keep` holds it together with the next piece.

    `head` is drawn before it at the top of a page, as decoration: it was read aloud where it stood first. `take`
    makes the piece for a room of so many points, and another for what does not go into it; `height` is then the least
    room. `name` is what cells elsewhere ask for its page by, "" for nothing.
    """

    height: float
    runs: tuple[Run, ...] = ()
    above: float = 0.0
    keep: bool = False
    fresh: bool = False  # begins a page
    head: Piece | None = None
    anchor: Anchor | None = None
    take: Callable[[float], tuple[Piece, Piece | None]] | None = None
    name: str = ""
    joins: bool = False  # goes on a page that holds little, though it is fresh


def lowered(marks, by: float) -> list[Mark]:
    """The marks moved down by so many points."""
    return moved(marks, 0.0, by)


def moved(marks, right: float, down: float) -> list[Mark]:
    """The marks moved by so many points."""
    return [_moved(mark, right, down) for mark in marks]


def _moved(mark: Mark, right: float, down: float) -> Mark:
    if isinstance(mark, DrawnLine):
        return replace(mark, x1=mark.x1 + right, x2=mark.x2 + right, y1=mark.y1 + down, y2=mark.y2 + down)
    if isinstance(mark, Stroke | Shape):
        return replace(mark, points=tuple((x + right, y + down) for x, y in mark.points))
    if isinstance(mark, Text):
        return mark._replace(x=mark.x + right, y=mark.y + down)
    return replace(mark, x=mark.x + right, y=mark.y + down)


def bare(piece: Piece) -> Piece:
    """The piece as decoration."""
    return replace(piece, runs=tuple(Run(None, run.marks) for run in piece.runs))


def kept(pieces: list[Piece], count: int) -> list[Piece]:
    """The pieces with the first `count` held to what follows them; never the last."""
    last = len(pieces) - 1
    return [replace(p, keep=True) if n < min(count, last) else p for n, p in enumerate(pieces)]
