"""The paper: sizes, margins, type sizes. All lengths are points (1/72 inch), y counted down from the top."""

from __future__ import annotations

from dataclasses import dataclass

_INCH = 72.0
MM = _INCH / 25.4

SIZES = {"letter": (8.5 * _INCH, 11 * _INCH), "a4": (210 * MM, 297 * MM)}

# Left is the inner margin, wide enough for the holes of a ring binder (they reach about 15 mm into the sheet);
# right is wide enough to punch a sheet printed on its back as well.
LEFT = 57.0
RIGHT = 45.0
TOP = 58.0
BOTTOM = 52.0

HEAD_LINE = 40.0  # where the running head stands
FOOT_LINE = 30.0  # above the lower edge
LAST_LINE = 20.0  # of the foot
RULE_OF_HEAD = 45.0
RULE_OF_FOOT = 40.0  # above the lower edge

# Lines are black: grey ones break into dots on a printer that has black alone.
HAIR = 0.25  # between rows
UNDER_HEAD = 0.5
OVER_TABLE = 0.9
FRAME = 1.0  # of a standing
MASTHEAD = 1.4
INK = 0.0


@dataclass(frozen=True, slots=True)
class Type:
    """A size of type with its line height."""

    size: float
    leading: float
    bold: bool = False


BODY = Type(9.5, 12.3)
STRONG = Type(11, 15, bold=True)
SMALL = Type(8.5, 10.6)
CELL = Type(9, 11.2)
CELL_STRONG = Type(9, 11.2, bold=True)
ANSWER = Type(10.5, 12.2, bold=True)
PROOF = Type(7.5, 9.3)
COLUMN = Type(8, 9.6, bold=True)
CAPTION = Type(11, 15, bold=True)
RUNNING = Type(8, 9.6)
RUNNING_STRONG = Type(8, 9.6, bold=True)
LAST = Type(7.5, 9.3)  # the second line of the foot
HEADINGS = {1: Type(19, 23, bold=True), 2: Type(13, 17, bold=True), 3: Type(11, 15, bold=True)}
FLOWING = Type(17, 21, bold=True)
ASIDE = Type(12, 15)
LEAD = Type(12, 15, bold=True)
COVER_KIND = Type(12, 16)
COVER_NAME = Type(25, 29, bold=True)
COVER_LINE = Type(12, 15)
STANDING = Type(13, 16, bold=True)


@dataclass(frozen=True, slots=True)
class Sheet:
    """One size of paper with its frame for text, and what is laid out in it."""

    width: float
    height: float
    column: float | None = None  # the width that blocks are laid out in, where it is not that of the whole frame
    level: int = 1  # of the section that is laid out
    title: str = ""  # and its title

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
