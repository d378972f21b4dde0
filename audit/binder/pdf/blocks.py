"""Blocks to pieces: everything is wrapped and measured here, nothing is drawn."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from audit.binder.pdf.appendix import attached_pieces
from audit.binder.pdf.beside import beside_pieces
from audit.binder.pdf.cycles import cycle_pieces
from audit.binder.pdf.elements import Element
from audit.binder.pdf.framed import caution_pieces, signed_pieces, standing_pieces
from audit.binder.pdf.halves import halved_table
from audit.binder.pdf.links import links_pieces
from audit.binder.pdf.marks import Anchor, DrawnLine, Piece, Run
from audit.binder.pdf.masthead import masthead_pieces
from audit.binder.pdf.measure import width, wrap
from audit.binder.pdf.months import calendar_pieces
from audit.binder.pdf.page import (
    ASIDE,
    BODY,
    COVER_KIND,
    COVER_LINE,
    COVER_NAME,
    FLOWING,
    HEADINGS,
    INK,
    LEAD,
    MASTHEAD,
    SMALL,
    STRONG,
    Sheet,
    Type,
)
from audit.binder.pdf.pairs import key_values
from audit.binder.pdf.photos import photo_pieces
from audit.binder.pdf.pictures import BUILDERS as PICTURES
from audit.binder.pdf.rich import wrap_rich
from audit.binder.pdf.rows import Slot, set_lines, subheading
from audit.binder.pdf.steps import timeline_pieces
from audit.binder.pdf.tables import plain_table
from audit.binder.sections import (
    AttachedPage,
    Beside,
    Block,
    CaseTimeline,
    Cautions,
    CycleBar,
    KeyValues,
    Links,
    Masthead,
    MonthCalendar,
    Paragraph,
    Photos,
    Section,
    Signed,
    StandingBox,
    Table,
    Title,
)

_STYLES = {"body": BODY, "small": SMALL, "strong": STRONG, "lead": LEAD}
_ABOVE = {"body": 5.0, "small": 3.0, "strong": 11.0, "lead": 11.0}
_ABOVE_HEADING = {1: 26.0, 2: 18.0, 3: 14.0}
_BEFORE_ASIDE = 10.0
_INTRODUCES = 8  # lines of paragraphs that stay with the table after them
CONTENTS = "contents"  # the id of the pages that list the sections


def _line_pieces(lines, style: Type, left: float, wide: float, above: float, element: Element) -> list[Piece]:
    """Lines as pieces that break between lines, never leaving one line alone; one element however many pages."""
    slot = Slot(left, wide, "left")
    pieces = [Piece(style.leading, (Run(element, set_lines((line,), slot, 0, style)),)) for line in lines]
    if not pieces:
        return []
    if len(pieces) > 1:
        pieces[0].keep = pieces[-2].keep = True
    pieces[0].above = above
    return pieces


def _paragraph(block: Paragraph, sheet: Sheet) -> list[Piece]:
    style = _STYLES[block.style]
    lines = wrap_rich(block.text, block.bold, style, sheet.text_width)
    element = subheading(sheet) if block.style == "strong" else Element("P")
    pieces = _line_pieces(lines, style, 0, sheet.text_width, _ABOVE[block.style], element)
    if block.style == "strong":
        # It introduces what follows, so it goes where that goes.
        return [replace(piece, keep=True) for piece in pieces]
    return pieces


def _title(block: Title, sheet: Sheet) -> list[Piece]:
    line = DrawnLine(0, MASTHEAD / 2, sheet.text_width, MASTHEAD / 2, INK, MASTHEAD)
    pieces = [Piece(MASTHEAD, (Run(None, (line,)),), keep=True)]
    wide = sheet.text_width
    name = Element("H1")
    pieces += _line_pieces(wrap(block.what, COVER_KIND, wide), COVER_KIND, 0, wide, 8, name)
    pieces += _line_pieces(wrap(block.name, COVER_NAME, wide), COVER_NAME, 0, wide, 2, name)
    for text in block.lines:
        pieces += _line_pieces(wrap(text, COVER_LINE, wide), COVER_LINE, 0, wide, 2, Element("P"))
    return [*pieces, Piece(10, keep=True)]


def _table(block: Table, sheet: Sheet) -> list[Piece]:
    return halved_table(block, sheet) if block.halves or block.thirds else plain_table(block, sheet)


_BUILDERS = {
    Paragraph: _paragraph,
    Title: _title,
    KeyValues: key_values,
    Table: _table,
    Masthead: masthead_pieces,
    MonthCalendar: calendar_pieces,
    Signed: signed_pieces,
    Cautions: caution_pieces,
    StandingBox: standing_pieces,
    CaseTimeline: timeline_pieces,
    CycleBar: cycle_pieces,
    Links: links_pieces,
    AttachedPage: attached_pieces,
    Photos: photo_pieces,
    **PICTURES,
}


def block_pieces(block: Block, sheet: Sheet) -> list[Piece]:
    if isinstance(block, Beside):
        return beside_pieces(block, sheet, block_pieces)
    return _BUILDERS[type(block)](block, sheet)


def heading(section: Section, sheet: Sheet) -> list[Piece]:
    """The heading of a section; the first page has none, for its title is one."""
    anchor = Anchor(section.id, section.title, section.level)
    fresh = section.level == 1 and not section.flows
    if section.blocks and isinstance(section.blocks[0], Title | Masthead):
        return [Piece(0, anchor=anchor, fresh=fresh, keep=True)]
    style = FLOWING if section.level == 1 and section.flows else HEADINGS[section.level]
    lines = wrap(section.title, style, sheet.text_width)
    tall = len(lines) * style.leading
    title = Run(Element(f"H{section.level}"), set_lines(lines, Slot(0, sheet.text_width, "left"), 0, style))
    runs = [title]
    if section.aside:
        top, more = _aside(section.aside, lines[-1], style, tall, sheet)
        runs.append(more)
        tall = max(tall, top)
    return [
        Piece(tall + 2, tuple(runs), _ABOVE_HEADING[section.level], True, fresh, anchor=anchor, joins=section.joins)
    ]


def _aside(text: str, last: str, style: Type, tall: float, sheet: Sheet) -> tuple[float, Run]:
    """What stands behind a title: on its last line, its letters on that line, or below where there is no room."""
    x = width(last, style) + _BEFORE_ASIDE
    on_line = x + width(text, ASIDE) <= sheet.text_width
    slot = Slot(x if on_line else 0.0, sheet.text_width, "left")
    lines = wrap(text, ASIDE, sheet.text_width)
    down = 0.24 * (style.size - ASIDE.size) + (style.leading - ASIDE.leading) / 2
    top = tall - style.leading + down if on_line else tall
    return top + len(lines) * ASIDE.leading, Run(Element("P"), set_lines(lines, slot, top, ASIDE))


def section_pieces(section: Section, sheet: Sheet) -> Iterator[Piece]:
    """Heading and blocks, one block after the other: never all of a long section at once."""
    here = replace(sheet, level=section.level, title=section.title)
    yield from heading(section, here)
    waiting: list[Piece] = []  # of paragraphs that may introduce a table
    for block in section.blocks:
        pieces = block_pieces(block, here)
        if isinstance(block, Paragraph):
            waiting += pieces
            continue
        held = isinstance(block, Table) and len(waiting) <= _INTRODUCES
        yield from (replace(piece, keep=True) if held else piece for piece in waiting)
        waiting = []
        yield from pieces
    yield from waiting
