"""What can be drawn, as values: text, lines, boxes and jumps, placed inside a piece.

x is counted from the left edge of the text frame, y down from the top of the piece, in points. A piece is
never divided: what may be divided is several pieces.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from audit.binder.pdf.page import HAIR, INK, Type


@dataclass(frozen=True, slots=True)
class Text:
    x: float
    y: float  # of the baseline
    text: str
    style: Type
    white: bool = False


@dataclass(frozen=True, slots=True)
class Line:
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
class Jump:
    """A rectangle that leads to a section."""

    x: float
    y: float
    width: float
    height: float
    to: str


Mark = Text | Line | Box | Dot | Jump


@dataclass(frozen=True, slots=True)
class Anchor:
    """A heading as the contents and the outline know it."""

    id: str
    title: str
    level: int


@dataclass(frozen=True, slots=True)
class Piece:
    """`above` is space before it, dropped at the top of a page; `keep` holds it together with the next piece.

    `head` is drawn before it at the top of a page. `role` says what it is, for whoever reads the file aloud.
    """

    height: float
    marks: tuple[Mark, ...]
    role: str = "P"
    above: float = 0.0
    keep: bool = False
    fresh: bool = False  # begins a page
    head: Piece | None = None
    anchor: Anchor | None = None


def lowered(marks: tuple[Mark, ...], by: float) -> list[Mark]:
    """The marks moved down by so many points."""
    return [
        replace(mark, y1=mark.y1 + by, y2=mark.y2 + by) if isinstance(mark, Line) else replace(mark, y=mark.y + by)
        for mark in marks
    ]


def kept(pieces: list[Piece], count: int) -> list[Piece]:
    """The pieces with the first `count` held to what follows them; never the last."""
    last = len(pieces) - 1
    return [replace(p, keep=True) if n < min(count, last) else p for n, p in enumerate(pieces)]
