"""A report of a few pages: no cover and no contents, its sections one after the other."""

from __future__ import annotations

from collections.abc import Mapping

from audit.binder.pdf.blocks import section_pieces
from audit.binder.pdf.draw import draw
from audit.binder.pdf.finish import finished
from audit.binder.pdf.numbers import numbered
from audit.binder.pdf.page import sheet
from audit.binder.pdf.paginate import paginate
from audit.binder.pdf.photos import place
from audit.binder.pdf.plan import planned
from audit.binder.sections import Binder


def render_report(report: Binder, pictures: Mapping[str, tuple] = {}, *, page_size: str = "letter") -> bytes:
    """The report as a PDF file: same report, pictures and size, same bytes.

    `pictures` maps the keys of its photos to what `audit.binder.pdf.photos.for_paper` made of them. `page_size` is
    "letter" or "a4"; anything else raises ValueError.
    """
    paper = sheet(page_size)
    pieces = [piece for section in report.sections for piece in section_pieces(numbered(section, None), paper)]
    drawn = draw(report, planned(paginate(pieces, paper.text_height)), paper)
    return finished(drawn.content, lambda pdf: place(pdf, pictures, drawn.placed))
