"""The binder on paper. The only package that knows the drawing library."""

from __future__ import annotations

from audit.binder.pdf.blocks import section_pieces
from audit.binder.pdf.draw import draw
from audit.binder.pdf.marks import Anchor
from audit.binder.pdf.numbers import Finder, asks_pages, numbered
from audit.binder.pdf.page import Sheet, sheet
from audit.binder.pdf.paginate import Page, paginate
from audit.binder.pdf.toc import contents_pieces
from audit.binder.pdf.uncollected import uncollected
from audit.binder.sections import Binder


@uncollected
def lay_out(binder: Binder, paper: Sheet) -> list[Page]:
    """The pages: cover, contents, then the rest, with every page number settled."""
    cover, *rest = binder.sections
    front = paginate(section_pieces(cover, paper), paper.text_height)
    anchors = [Anchor(section.id, section.title, section.level) for section in rest]
    between = len(paginate(contents_pieces(anchors, {}, paper), paper.text_height))
    before = len(front) + between
    body, finder = _body(rest, paper, before)
    contents = paginate(contents_pieces(anchors, finder.sections, paper), paper.text_height)
    return [*front, *contents, *body]


def _body(sections, paper: Sheet, before: int) -> tuple[list[Page], Finder]:
    """Everything after the contents. Laid out with room for page numbers, then again with the numbers in it."""
    pieces = [section_pieces(numbered(section, None), paper) for section in sections]
    finder = Finder.of(paginate([p for several in pieces for p in several], paper.text_height), before)
    for n, section in enumerate(sections):
        if asks_pages(section):
            pieces[n] = section_pieces(numbered(section, finder), paper)
    body = paginate([p for several in pieces for p in several], paper.text_height)
    return body, finder


def render(binder: Binder, *, page_size: str = "letter") -> bytes:
    """The binder as a PDF file: same binder and size, same bytes.

    `page_size` is "letter" or "a4"; anything else raises ValueError.
    """
    paper = sheet(page_size)
    return draw(binder, lay_out(binder, paper), paper)
