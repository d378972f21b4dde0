"""Pieces to pages. Everything is known before anything is drawn."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from audit.binder.pdf.marks import Anchor, Piece

_LITTLE = 0.25  # of a page: on less of one the next chapter may go on
_BETWEEN = 28.0  # points of space above it then


@dataclass(slots=True)
class Page:
    """`placed` holds (y of the piece's top, piece); `chapter` is the section of level 1 it belongs to; `part`
    the section of level 2 that its first piece belongs to, None where it begins with a heading of level 1.
    """

    chapter: Anchor | None = None
    part: Anchor | None = None
    placed: list[tuple[float, Piece]] = field(default_factory=list)
    filled: float = 0.0

    @property
    def anchors(self) -> list[tuple[float, Anchor]]:
        return [(y, piece.anchor) for y, piece in self.placed if piece.anchor]

    def add(self, piece: Piece) -> None:
        if self.placed:
            self.filled += piece.above
        self.placed.append((self.filled, piece))
        self.filled += piece.height


def _groups(pieces: Iterable[Piece]) -> Iterator[list[Piece]]:
    """Runs that want to stay together: pieces that keep with the next, and the one after them."""
    group: list[Piece] = []
    for piece in pieces:
        if piece.fresh and group:
            yield group
            group = []
        group.append(piece)
        if not piece.keep:
            yield group
            group = []
    if group:
        yield group


def _need(group: list[Piece], page: Page) -> float:
    """The height a group takes on a page, with its spaces and the head a row needs at the top."""
    need = sum(piece.height for piece in group) + sum(piece.above for piece in group[1:])
    if page.placed:
        return need + group[0].above
    return need + (group[0].head.height if group[0].head else 0.0)


class _Pager:
    """Fills one page after the other; those that are full wait in `full` to be taken."""

    def __init__(self, height: float) -> None:
        self.height = height
        self.full: list[Page] = []
        self.page: Page | None = None
        self.chapter: Anchor | None = None
        self.part: Anchor | None = None

    def turn(self) -> Page:
        if self.page is not None:
            self.full.append(self.page)
        self.page = Page(self.chapter, self.part)
        return self.page

    def page_for(self, need: float, fresh: bool) -> Page:
        page = self.page or self.turn()
        if page.placed and (fresh or page.filled + need > self.height):
            page = self.turn()
        return page

    def spread(self, piece: Piece, page: Page) -> Page:
        """A piece that is made for the room there is, page after page."""
        left: Piece | None = piece
        while left is not None and left.take:
            page = self.page_for(_need([left], page), False)
            head = 0.0 if page.placed or left.head is None else left.head.height
            room = self.height - page.filled - (left.above if page.placed else head)
            made, left = left.take(room)
            self.place(made, page)
        return page

    def place(self, piece: Piece, page: Page) -> None:
        if not page.placed and piece.head:
            page.add(piece.head)
        page.add(piece)
        if piece.anchor and piece.anchor.level == 2:
            self.part = piece.anchor
            if len(page.placed) == 1:
                page.part = piece.anchor

    def _holds_little(self) -> bool:
        page = self.page
        return page is not None and bool(page.placed) and page.filled < _LITTLE * self.height

    def group(self, group: list[Piece]) -> None:
        first = group[0]
        if first.anchor and first.anchor.level == 1:
            self.chapter, self.part = first.anchor, None
        joined = self.page if first.joins and self._holds_little() else None
        if joined is not None:
            joined.filled += _BETWEEN
        page = self.page_for(_need(group, self.page or Page()), first.fresh and joined is None)
        if first.fresh and page is not joined:
            page.chapter, page.part = self.chapter, None
        for piece in group:
            # A group taller than a page is broken where it must be.
            page = self.page_for(_need([piece], page), False)
            if piece.take:
                page = self.spread(piece, page)
            else:
                self.place(piece, page)


def paged(pieces: Iterable[Piece], height: float) -> Iterator[Page]:
    """Pages of at most `height` points of text, in order, each as soon as it is full."""
    pager = _Pager(height)
    for group in _groups(pieces):
        pager.group(group)
        yield from pager.full
        pager.full.clear()
    if pager.page is not None:
        yield pager.page


def paginate(pieces: Iterable[Piece], height: float) -> list[Page]:
    """All the pages."""
    return list(paged(pieces, height))
