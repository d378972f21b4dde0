"""The paper: sizes, margins, type sizes. All lengths are points (1/72 inch), y counted down from the top."""

from __future__ import annotations

from dataclasses import dataclass

_INCH = 72.0
MM = _INCH / 25.4

SIZES = {"letter": (8.5 * _INCH, 11 * _INCH), "a4": (210 * MM, 297 * MM)}

# Left is the inner margin, wide enough for the holes of a ring binder (they reach about 15 mm into the sheet);
# right is wide enough to punch a sheet printed on its back as well.
LEFT = 25 * MM
RIGHT = 17 * MM
TOP = 22 * MM
BOTTOM = 19 * MM

HEAD_LINE = 14.5 * MM  # where the running head stands
FOOT_LINE = 11 * MM  # above the lower edge

HAIR = 0.35
INK = 0.0
SOFT = 0.38
PALE = 0.72
TINT = 0.94


@dataclass(frozen=True, slots=True)
class Type:
    """A size of type with its line height."""

    size: float
    leading: float
    bold: bool = False
    grey: float = INK


BODY = Type(9.0, 12.6)
STRONG = Type(9.8, 13.6, bold=True)
SMALL = Type(7.7, 10.7, grey=SOFT)
CELL = Type(7.8, 10.4)
CELL_STRONG = Type(7.8, 10.4, bold=True)
PROOF = Type(6.4, 10.4, grey=SOFT)
COLUMN = Type(6.9, 9.0, bold=True, grey=SOFT)
CAPTION = Type(8.6, 11.6, bold=True)
RUNNING = Type(7.4, 9.8, grey=SOFT)
HEADINGS = {1: Type(18, 23, bold=True), 2: Type(13.5, 17.5, bold=True), 3: Type(10.4, 14.2, bold=True)}
LEAD = Type(12, 15, bold=True)
COVER_KIND = Type(12, 16, grey=SOFT)
COVER_NAME = Type(30, 36, bold=True)
COVER_LINE = Type(14, 19)
STANDING = Type(16, 20, bold=True)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One size of paper with its frame for text."""

    width: float
    height: float
    column: float | None = None  # the width that blocks are laid out in, where it is not that of the whole frame

    @property
    def text_width(self) -> float:
        return self.width - LEFT - RIGHT if self.column is None else self.column

    @property
    def text_height(self) -> float:
        return self.height - TOP - BOTTOM


def sheet(page_size: str) -> Sheet:
    """Raises ValueError for a size that is not in `SIZES`."""
    if page_size not in SIZES:
        raise ValueError(f"No paper of size {page_size!r}: choose one of {', '.join(SIZES)}.")
    return Sheet(*SIZES[page_size])
