"""The binder on paper. The only package that knows the drawing library."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import chain

from audit.binder.pdf.blocks import section_pieces
from audit.binder.pdf.draw import draw
from audit.binder.pdf.marks import Anchor
from audit.binder.pdf.numbers import Finder, numbered
from audit.binder.pdf.page import Sheet, sheet
from audit.binder.pdf.paginate import Page, paged, paginate
from audit.binder.pdf.plan import Plan
from audit.binder.pdf.toc import contents_pieces
from audit.binder.pdf.uncollected import uncollected
from audit.binder.sections import Binder, Masthead, Section


@uncollected
def lay_out(binder: Binder, paper: Sheet) -> Plan:
    """Cover, contents, then the rest, with every page number settled; a masthead asks for no contents.

    What follows the contents is laid out here with room for page numbers, and again with the numbers in it when the
    pages are made: that moves nothing.
    """
    cover, *rest = binder.sections
    if cover.blocks and isinstance(cover.blocks[0], Masthead):
        finder, count = Finder.of(_body(binder.sections, paper, None), 0)
        return Plan(count, frozenset(finder.sections), lambda: _body(binder.sections, paper, finder))
    front = paginate(section_pieces(cover, paper), paper.text_height)
    anchors = [Anchor(section.id, section.title, section.level) for section in rest]
    between = len(paginate(contents_pieces(anchors, {}, paper), paper.text_height))
    finder, count = Finder.of(_body(rest, paper, None), len(front) + between)
    contents = paginate(contents_pieces(anchors, finder.sections, paper), paper.text_height)
    begin = [*front, *contents]
    known = {anchor.id for page in begin for _, anchor in page.anchors} | finder.sections.keys()
    return Plan(len(begin) + count, frozenset(known), lambda: chain(begin, _body(rest, paper, finder)))


def _body(sections: Sequence[Section], paper: Sheet, finder: Finder | None) -> Iterator[Page]:
    """Pages of sections, after the contents if there are any; with room for page numbers where `finder` is None."""
    pieces = (piece for section in sections for piece in section_pieces(numbered(section, finder), paper))
    return paged(pieces, paper.text_height)


def render(binder: Binder, *, page_size: str = "letter") -> bytes:
    """The binder as a PDF file: same binder and size, same bytes.

    `page_size` is "letter" or "a4"; anything else raises ValueError.
    """
    paper = sheet(page_size)
    return draw(binder, lay_out(binder, paper), paper).content
