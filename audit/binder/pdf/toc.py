"""The contents pages. How many there are follows from the entries alone, before any page number is known."""

from __future__ import annotations

from dataclasses import replace

from audit.binder.pdf.blocks import CONTENTS, heading
from audit.binder.pdf.elements import Element, inside
from audit.binder.pdf.marks import Anchor, DrawnLine, Jump, Mark, Piece, Run
from audit.binder.pdf.measure import width, wrap
from audit.binder.pdf.page import BODY, CELL_STRONG, Sheet, Type
from audit.binder.pdf.rows import Slot, baseline, set_lines
from audit.binder.sections import Section

_NUMBER = 34.0
_STYLES = {1: replace(BODY, bold=True), 2: BODY}
_INDENT = {1: 0.0, 2: 14.0}


def _entry(anchor: Anchor, number: int | None, sheet: Sheet, whole: Element) -> Piece:
    """One entry; its height does not depend on the number."""
    style: Type = _STYLES[anchor.level]
    left = _INDENT[anchor.level]
    lines = wrap(anchor.title, style, sheet.text_width - left - _NUMBER)
    tall = len(lines) * style.leading + 2
    marks: list[Mark] = set_lines(lines, Slot(left, sheet.text_width, "left"), 1, style)
    rules: tuple[Mark, ...] = ()
    if number is not None:
        last = baseline(1 + (len(lines) - 1) * style.leading, style)
        text = Slot(sheet.text_width - _NUMBER, _NUMBER, "right")
        marks += set_lines((str(number),), text, 1 + (len(lines) - 1) * style.leading, style)
        start = left + width(lines[-1], style) + 6
        rules = (DrawnLine(start, last, sheet.text_width - width(str(number), CELL_STRONG) - 12, last),)
        marks.append(Jump(0, 0, sheet.text_width, tall, anchor.id, f"{anchor.title}, page {number}"))
    link = inside(whole, "TOCI", "Reference", "Link")
    return Piece(tall, (Run(link, marks), Run(None, rules)), above=6 if anchor.level == 1 else 0)


def contents_pieces(anchors: list[Anchor], numbers: dict[str, int], sheet: Sheet) -> list[Piece]:
    """Heading and entries; `numbers` gives the page of each section id and may be empty while counting."""
    listed = [anchor for anchor in anchors if anchor.level in _STYLES]
    whole = Element("TOC")
    entries = [_entry(anchor, numbers.get(anchor.id), sheet, whole) for anchor in listed]
    return [*heading(Section(CONTENTS, "Contents", 1), sheet), *entries]
