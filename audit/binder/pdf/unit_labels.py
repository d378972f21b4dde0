"""Labels for units: a square to scan (QR code, ISO/IEC 18004) with the clinic's own label, serial number and address.

Twenty to a sheet, for plain or self-adhesive paper, to be cut along thin lines. Drawn as vectors. The square is read
aloud as a figure, its words as a paragraph; lines and running foot are decoration.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time

from audit.binder.pdf.draw import Pen
from audit.binder.pdf.elements import Element
from audit.binder.pdf.file import Description, TaggedCanvas
from audit.binder.pdf.finish import finished
from audit.binder.pdf.marks import Box, DrawnLine, Mark, Piece, Run, Text, bare
from audit.binder.pdf.measure import fit, width
from audit.binder.pdf.page import FOOT_LINE, LEFT, RUNNING, Sheet, Type, sheet
from audit.binder.written_on_paper import day

MM = 72.0 / 25.4  # points

COLUMNS, ROWS = 4, 5
PER_SHEET = COLUMNS * ROWS
WIDE, TALL = 45 * MM, 50 * MM
SQUARE = 31 * MM  # with its quiet zone
QUIET = 4  # modules left white around the code (ISO/IEC 18004, 5.3.8 in the edition of 2015; from memory)
_OVER = 0.03  # points by which rows overlap, or viewers show hairlines between them

HEAD = Type(9.0, 11.0, bold=True)
NAME = Type(10.5, 12.5, bold=True)
SERIAL = Type(8, 9.6)
ADDRESS = Type(7.5, 8.6)


@dataclass(frozen=True, slots=True)
class Label:
    """`address` is what the code holds, `short` what is printed of it, to be typed by hand."""

    label: str
    serial: str
    address: str
    short: str


@dataclass(frozen=True, slots=True)
class _LabelPlace:
    """Where a label stands: its left and upper edge, from the left of the text frame and the top of the page."""

    x: float
    y: float


def _places(paper: Sheet) -> list[_LabelPlace]:
    """The places of a sheet, row by row; the block of them stands in the middle of the sheet."""
    left, top = (paper.width - COLUMNS * WIDE) / 2 - LEFT, (paper.height - ROWS * TALL) / 2
    return [_LabelPlace(left + column * WIDE, top + row * TALL) for row in range(ROWS) for column in range(COLUMNS)]


def _square(address: str, x: float, y: float) -> list[Mark]:
    """The dark modules of the code, joined along each row. Level M: a scratched label is still read."""
    import segno

    rows = [bytes(row) for row in segno.make(address, error="m", micro=False).matrix]
    side = SQUARE / (len(rows) + 2 * QUIET)
    marks: list[Mark] = []
    for n, row in enumerate(rows):
        start = 0
        for dark, count in _runs(row):
            if dark:
                left = x + (QUIET + start) * side
                marks.append(Box(left, y + (QUIET + n) * side, count * side, side + _OVER, 0.0))
            start += count
    return marks


def _runs(row: bytes):
    """(dark, how many) of the modules of a row that lie side by side."""
    start = 0
    for at in range(1, len(row) + 1):
        if at == len(row) or row[at] != row[start]:
            yield row[start], at - start
            start = at


def _words(label: Label, x: float, y: float) -> list[Mark]:
    """The lines under the square, in the middle of the label; what is too long is cut with an ellipsis."""
    room = WIDE - 4 * MM
    marks: list[Mark] = []
    for text, style in ((label.label, NAME), (f"Serial {label.serial}", SERIAL), (label.short, ADDRESS)):
        shown = fit(text, style, room)
        y += style.leading
        marks.append(Text(x + (WIDE - width(shown, style)) / 2, y, shown, style))
    return marks


def _piece(label: Label, place: _LabelPlace) -> Piece:
    square = _square(label.address, place.x + (WIDE - SQUARE) / 2, place.y + 1.5 * MM)
    figure = Element("Figure", alt=f"Square to scan with a telephone, for {label.label}: {label.address}")
    words = _words(label, place.x, place.y + SQUARE + 1 * MM)
    return Piece(TALL, (Run(figure, square), Run(Element("P"), words)))


def _cuts(paper: Sheet) -> Piece:
    """Lines to cut along, out to the edges of the block."""
    first, last = _places(paper)[0], _places(paper)[-1]
    right, foot = last.x + WIDE, last.y + TALL
    across = [DrawnLine(first.x, first.y + n * TALL, right, first.y + n * TALL) for n in range(ROWS + 1)]
    down = [DrawnLine(first.x + n * WIDE, first.y, first.x + n * WIDE, foot) for n in range(COLUMNS + 1)]
    return Piece(foot, (Run(None, [*across, *down]),))


def _head(clinic: str, paper: Sheet) -> Piece:
    """What the sheet is, in the upper margin."""
    title = fit(f"Labels of units: {clinic}", HEAD, paper.text_width)
    return Piece(HEAD.leading, (Run(Element("H1"), (Text(0, 10.5 * MM, title, HEAD),)),))


def _foot(as_of: date, number: int, total: int, paper: Sheet) -> list[Mark]:
    y = paper.height - FOOT_LINE + 4
    page = f"sheet {number} of {total}"
    left = paper.text_width - width(page, RUNNING)
    said = fit(f"printed {day(as_of)}; print at full size and cut along the lines", RUNNING, left - 10)
    return [Text(0, y, said, RUNNING), Text(left, y, page, RUNNING)]


def render_labels(
    clinic: str, labels: list[Label], as_of: date, *, skip: int = 0, page_size: str = "letter"
) -> tuple[bytes, int]:
    """The sheets as a PDF file, and how many there are: same labels, day and size, same bytes.

    `skip` leaves so many places of the first sheet free, for a sheet of which some are used. Raises ValueError for a
    paper that is not known, for no label, and for a `skip` that is not from 0 to 19.
    """
    paper = sheet(page_size)
    if not labels:
        raise ValueError("There is no label to print. Choose at least one unit.")
    if not 0 <= skip < PER_SHEET:
        raise ValueError(f"A sheet has {PER_SHEET} places: {skip} of them cannot be used already. Give 0 to 19.")
    places = _places(paper)
    slots = [None] * skip + labels
    sheets = [slots[n : n + PER_SHEET] for n in range(0, len(slots), PER_SHEET)]
    # Laid out before the canvas is made: measuring brings the fonts that it begins with.
    laid = [[_piece(label, place) for label, place in zip(each, places, strict=False) if label] for each in sheets]
    made_at = datetime.combine(as_of, time(), UTC)
    about = Description(f"Labels of units: {clinic}", clinic, f"as of {day(as_of)}", made_at)
    canvas = TaggedCanvas(paper.width, paper.height, about)
    pen = Pen(canvas, paper, frozenset())
    for number, pieces in enumerate(laid, start=1):
        head = _head(clinic, paper)
        for piece in [head if number == 1 else bare(head), _cuts(paper), *pieces]:
            pen.piece(piece, 0)
        pen.furniture(_foot(as_of, number, len(laid), paper), "Footer")
        pen.turn()
    return finished(canvas.whole()), len(laid)
