"""Pages to bytes: the only file that holds a canvas.

All drawing passes through `Pen`, which sees each piece with its role, so that structure can be added there.
"""

from __future__ import annotations

from hashlib import md5
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from audit.binder.pdf.marks import Box, Dot, Jump, Line, Mark, Piece, Text
from audit.binder.pdf.measure import fit, font, width
from audit.binder.pdf.page import (
    FOOT_LINE,
    HEAD_LINE,
    LEFT,
    PALE,
    RUNNING,
    TOP,
    Sheet,
)
from audit.binder.pdf.paginate import Page
from audit.binder.pdf.toc import CONTENTS
from audit.binder.sections import Binder
from audit.binder.words import day


class Pen:
    """Draws marks on the sheet; turns y over, for PDF counts it from the lower edge."""

    def __init__(self, canvas: Canvas, sheet: Sheet, known: frozenset[str]) -> None:
        self.canvas = canvas
        self.sheet = sheet
        self.known = known  # the ids that a jump can lead to

    def piece(self, piece: Piece, top: float) -> None:
        for mark in piece.marks:
            self.mark(mark, LEFT, top)

    def mark(self, mark: Mark, left: float, top: float) -> None:
        getattr(self, type(mark).__name__.lower())(mark, left, self.sheet.height - top)

    def text(self, mark: Text, left: float, base: float) -> None:
        self.canvas.setFillGray(1.0 if mark.white else mark.style.grey)
        self.canvas.setFont(font(mark.style), mark.style.size)
        self.canvas.drawString(left + mark.x, base - mark.y, mark.text)

    def line(self, mark: Line, left: float, base: float) -> None:
        self.canvas.setStrokeGray(mark.grey)
        self.canvas.setLineWidth(mark.thick)
        self.canvas.line(left + mark.x1, base - mark.y1, left + mark.x2, base - mark.y2)

    def box(self, mark: Box, left: float, base: float) -> None:
        if mark.fill is not None:
            self.canvas.setFillGray(mark.fill)
        if mark.edge is not None:
            self.canvas.setStrokeGray(mark.edge)
            self.canvas.setLineWidth(mark.thick)
            self.canvas.setDash(*((1.6, 1.4) if mark.dashed else ()))
        lower = base - mark.y - mark.height
        stroke, fill = int(mark.edge is not None), int(mark.fill is not None)
        self.canvas.rect(left + mark.x, lower, mark.width, mark.height, stroke=stroke, fill=fill)
        if mark.dashed:
            self.canvas.setDash()

    def dot(self, mark: Dot, left: float, base: float) -> None:
        self.canvas.setStrokeGray(0)
        self.canvas.setFillGray(0 if mark.filled else 1)
        self.canvas.setLineWidth(0.9)
        self.canvas.circle(left + mark.x, base - mark.y, mark.radius, stroke=1, fill=1)

    def jump(self, mark: Jump, left: float, base: float) -> None:
        if mark.to not in self.known:
            return  # a part of a binder may be drawn without the section that a cell points to
        x, upper = left + mark.x, base - mark.y
        where = (x, upper - mark.height, x + mark.width, upper)
        self.canvas.linkRect("", mark.to, where, relative=0, Border="[0 0 0]")


def _right(text: str, sheet: Sheet, y: float) -> Text:
    return Text(sheet.text_width - width(text, RUNNING), y, text, RUNNING)


def _head(binder: Binder, page: Page, sheet: Sheet) -> list[Mark]:
    """Clinic, chapter with its part, period on one line: the chapter in the room that the others leave."""
    period_wide = width(binder.period, RUNNING)
    clinic = fit(binder.clinic, RUNNING, sheet.text_width - period_wide - 90)
    left = width(clinic, RUNNING) + 10
    room = sheet.text_width - left - period_wide - 10
    named = " · ".join(anchor.title for anchor in (page.chapter, page.part) if anchor)
    chapter = fit(named, RUNNING, room)
    middle = left + (room - width(chapter, RUNNING)) / 2
    return [
        Text(0, HEAD_LINE, clinic, RUNNING),
        Text(middle, HEAD_LINE, chapter, RUNNING),
        _right(binder.period, sheet, HEAD_LINE),
        Line(0, HEAD_LINE + 5, sheet.text_width, HEAD_LINE + 5, PALE),
    ]


def _foot(binder: Binder, number: int, total: int, sheet: Sheet) -> list[Mark]:
    y = sheet.height - FOOT_LINE
    back = "Back to contents"
    as_of = f"as of {day(binder.as_of)}"
    return [
        Line(0, y - 12, sheet.text_width, y - 12, PALE),
        Text(0, y, back, RUNNING),
        Jump(0, y - 8, width(back, RUNNING), 11, CONTENTS),
        Text((sheet.text_width - width(as_of, RUNNING)) / 2, y, as_of, RUNNING),
        _right(f"page {number} of {total}", sheet, y),
    ]


def _describe(canvas: Canvas, binder: Binder) -> None:
    """Document data from the binder alone: no wall clock, no environment, no author."""
    canvas.setTitle(binder.title)
    canvas.setAuthor("")
    canvas.setCreator("")
    canvas.setSubject("")
    canvas.setViewerPreference("DisplayDocTitle", "true")
    made = f"D:{binder.as_of:%Y%m%d}000000+00'00'"
    canvas.setDateFormatter(lambda *_: made)
    # The file id is a digest that starts from a time stamp, which the environment may set; start it afresh.
    canvas._doc.signature = md5(b"binder", usedforsecurity=False)


def draw(binder: Binder, pages: list[Page], sheet: Sheet) -> bytes:
    """The file. Destinations carry the ids of the sections."""
    out = BytesIO()
    canvas = Canvas(out, (sheet.width, sheet.height), pageCompression=1, invariant=1, lang="en")
    _describe(canvas, binder)
    pen = Pen(canvas, sheet, frozenset(anchor.id for page in pages for _, anchor in page.anchors))
    for number, page in enumerate(pages, start=1):
        for y, anchor in page.anchors:
            canvas.bookmarkHorizontal(anchor.id, 0, sheet.height - TOP - y + 12)
            canvas.addOutlineEntry(anchor.title, anchor.id, anchor.level - 1, closed=anchor.level > 1)
        for mark in (*_head(binder, page, sheet), *_foot(binder, number, len(pages), sheet)):
            pen.mark(mark, LEFT, 0)
        for y, piece in page.placed:
            pen.piece(piece, TOP + y)
        canvas.showPage()
    canvas.save()
    return out.getvalue()
