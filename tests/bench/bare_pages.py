"""A bare canvas that is given the strings, places and structure of laid out pages: drawing, and nothing but that.

Beforehand a plan is made of plain values. What is timed is `drawn`: an element for each node, marked content around
each piece, `drawString` for each string (`setFont` where the font changes), then the structure tree by the binder's
own writer. Lines and grounds are left out.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import NamedTuple

from audit.binder.pdf.elements import Element
from audit.binder.pdf.file import Description, TaggedCanvas
from audit.binder.pdf.furniture import foot_of, head_of
from audit.binder.pdf.marks import Text
from audit.binder.pdf.measure import JOINED, font
from audit.binder.pdf.page import LEFT, TOP, Sheet
from audit.binder.pdf.plan import Plan as Laid
from audit.binder.sections import Binder


class String(NamedTuple):
    """x and y in points from the lower left corner."""

    x: float
    y: float
    text: str
    font: str
    size: float
    grey: float


class Piece(NamedTuple):
    """`element` is a place in the plan's list of elements, -1 for an artifact."""

    element: int
    strings: list[String]


@dataclass(slots=True)
class Plan:
    """`elements` are (role, place of the parent or -1, scope); `places` are where the outline leads: title, page."""

    elements: list[tuple[str, int, str]]
    pages: list[list[Piece]]
    places: list[tuple[str, int]]


class _Planner:
    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.elements: list[tuple[str, int, str]] = []
        self.known: dict[Element, int] = {}

    def element(self, element: Element | None) -> int:
        if element is None:
            return -1
        if element not in self.known:
            parent = self.element(element.parent)
            self.known[element] = len(self.elements)
            self.elements.append((element.role, parent, element.scope))
        return self.known[element]

    def piece(self, element: Element | None, marks, top: float) -> list[Piece]:
        base = self.sheet.height - top
        strings = [
            String(LEFT + m.x, base - m.y, m.text.removesuffix(JOINED), font(m.style), m.style.size, float(m.white))
            for m in marks
            if isinstance(m, Text)
        ]
        return [Piece(self.element(element), strings)] if strings or element is not None else []


def plan(binder: Binder, pages: Laid, sheet: Sheet) -> Plan:
    """Plain values of all that is to be drawn."""
    planner = _Planner(sheet)
    made, places = [], []
    for number, page in enumerate(pages, start=1):
        pieces = planner.piece(None, head_of(binder, page, number, sheet), 0)
        for y, piece in page.placed:
            for run in piece.runs:
                pieces += planner.piece(run.element, run.marks, TOP + y)
        pieces += planner.piece(None, foot_of(binder, number, len(pages), sheet), 0)
        places += [(anchor.title, number) for _, anchor in page.anchors]
        made.append(pieces)
    return Plan(planner.elements, made, places)


def drawn(plan: Plan, sheet: Sheet) -> bytes:
    """The file."""
    canvas = TaggedCanvas(sheet.width, sheet.height, Description("Bare", "", "", datetime(2026, 5, 31, tzinfo=UTC)))
    structure = canvas.structure
    elements: list[Element] = []
    for role, parent, scope in plan.elements:
        elements.append(Element(role, elements[parent] if parent >= 0 else None, "", scope))
    places = {number: title for title, number in plan.places}
    for number, pieces in enumerate(plan.pages, start=1):
        if number in places:
            canvas.bookmarkHorizontal(f"p{number}", 0, sheet.height)
            canvas.addOutlineEntry(places[number], f"p{number}", 0)
        ink, chosen = -1.0, ("", 0.0)  # a page begins afresh
        for index, strings in pieces:
            if index < 0:
                canvas.addLiteral("/Artifact BMC")
            elif strings:
                element = elements[index]
                canvas.addLiteral(f"/{element.role} <</MCID {structure.content(element)}>> BDC")
            else:
                structure.place(elements[index])
                continue
            for x, y, text, face, size, grey in strings:
                if grey != ink:
                    canvas.setFillGray(grey)
                    ink = grey
                if (face, size) != chosen:
                    canvas.setFont(face, size)
                    chosen = (face, size)
                canvas.drawString(x, y, text)
            canvas.addLiteral("EMC")
        canvas.showPage()
    return canvas.whole()
