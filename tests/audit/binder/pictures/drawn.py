"""What a picture draws, as rectangles, for the laws: everything in its frame, no words on other words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from audit.binder.pdf.marks import Box, Dot, DrawnLine, Mark, Piece, Shape, Stroke, Text
from audit.binder.pdf.measure import width
from audit.binder.pdf.page import Sheet
from audit.binder.pdf.pictures import BUILDERS
from audit.binder.pictures.laid.hand import ASCENT, DESCENT
from audit.binder.pictures.laid.labels import Rect

SMALLEST = 5.6  # points, below which print is not read


def pieces(block, sheet: Sheet) -> list[Piece]:
    return BUILDERS[type(block)](block, sheet)


def marks(piece: Piece) -> list[Mark]:
    return [mark for run in piece.runs for mark in run.marks]


def text_rect(text: Text) -> Rect:
    """What a text covers."""
    size = text.style.size
    return Rect(text.x, text.y - size * ASCENT, text.x + width(text.text, text.style), text.y + size * DESCENT)


def rect(mark: Mark) -> Rect:
    """What a mark covers, without the thickness of its lines."""
    if isinstance(mark, Text):
        return text_rect(mark)
    if isinstance(mark, DrawnLine):
        xs, ys = (mark.x1, mark.x2), (mark.y1, mark.y2)
    elif isinstance(mark, Box):
        xs, ys = (mark.x, mark.x + mark.width), (mark.y, mark.y + mark.height)
    elif isinstance(mark, Dot):
        xs = (mark.x - mark.radius, mark.x + mark.radius)
        ys = (mark.y - mark.radius, mark.y + mark.radius)
    elif isinstance(mark, Shape | Stroke):
        xs, ys = zip(*mark.points, strict=True)
    else:
        raise TypeError(mark)
    return Rect(min(xs), min(ys), max(xs), max(ys))


def texts(found: Iterable[Piece]) -> list[Text]:
    return [mark for piece in found for mark in marks(piece) if isinstance(mark, Text)]


def words(found: Iterable[Piece]) -> list[str]:
    return [text.text for text in texts(found)]


def outside(piece: Piece, sheet: Sheet, slack: float = 2.0) -> Iterator[Mark]:
    """Marks that reach more than `slack` points beyond the frame for text or the height of the piece."""
    for mark in marks(piece):
        r = rect(mark)
        if min(r.left, r.top) < -slack or r.right > sheet.text_width + slack or r.bottom > piece.height + slack:
            yield mark


def overlaps(piece: Piece) -> Iterator[tuple[str, str]]:
    """Pairs of texts of which one stands on the other."""
    held = [(text_rect(mark), mark) for mark in marks(piece) if isinstance(mark, Text)]
    held.sort(key=lambda h: h[0].left)
    for n, (one, text) in enumerate(held):
        for other, more in held[n + 1 :]:
            if other.left >= one.right:
                break
            if one.meets(other):
                yield text.text, more.text


def obey(found: list[Piece], sheet: Sheet) -> None:
    """The laws of every picture."""
    for piece in found:
        assert list(outside(piece, sheet)) == []
        assert list(overlaps(piece)) == []
        assert piece.height <= sheet.text_height
    assert all(text.style.size >= SMALLEST for text in texts(found))


def figures(found: list[Piece]) -> list[str]:
    """The alternate texts, in reading order."""
    return [run.element.alt for p in found for run in p.runs if run.element and run.element.role == "Figure"]
