"""Blocks to pieces: everything is wrapped and measured here, nothing is drawn."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from audit.binder.pdf.appendix import attached_pieces
from audit.binder.pdf.beside import beside_pieces
from audit.binder.pdf.elements import Element, inside
from audit.binder.pdf.links import links_pieces
from audit.binder.pdf.marks import Anchor, Box, Dot, DrawnLine, Mark, Piece, Run, kept
from audit.binder.pdf.masthead import masthead_pieces, signed_pieces
from audit.binder.pdf.measure import wrap
from audit.binder.pdf.months import calendar_pieces
from audit.binder.pdf.page import (
    BODY,
    CELL,
    CELL_STRONG,
    COVER_KIND,
    COVER_LINE,
    COVER_NAME,
    HAIR,
    HEADINGS,
    INK,
    LEAD,
    PALE,
    SMALL,
    SOFT,
    STANDING,
    STRONG,
    TINT,
    Sheet,
    Type,
)
from audit.binder.pdf.photos import photo_pieces
from audit.binder.pdf.pictures import BUILDERS as PICTURES
from audit.binder.pdf.rows import Slot, caption_piece, key_values, pair_pieces, set_lines, table_pieces, text_piece
from audit.binder.pdf.strip import strip_pieces
from audit.binder.sections import (
    AttachedPage,
    Beside,
    Block,
    CaseTimeline,
    Cautions,
    KeyValues,
    Links,
    Masthead,
    MonthCalendar,
    Paragraph,
    Photos,
    Section,
    Signed,
    StandingBox,
    Strip,
    Table,
    TimelineStep,
    Title,
)

_STYLES = {"body": BODY, "small": SMALL, "strong": STRONG, "lead": LEAD}
_INSET = 10.0
_RAIL = 6.0  # where the line of a timeline runs
_STEP_TEXT = 96.0
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
    lines = wrap(block.text, style, sheet.text_width)
    pieces = _line_pieces(lines, style, 0, sheet.text_width, 6, Element("P"))
    if block.style == "strong":
        # It introduces what follows, so it goes where that goes.
        return [replace(piece, keep=True) for piece in pieces]
    return pieces


def _title(block: Title, sheet: Sheet) -> list[Piece]:
    pieces = [Piece(64, (Run(None, (DrawnLine(0, 64, sheet.text_width, 64, INK, 4 * HAIR),)),), keep=True)]
    wide = sheet.text_width
    name = Element("H1")
    pieces += _line_pieces(wrap(block.what, COVER_KIND, wide), COVER_KIND, 0, wide, 14, name)
    pieces += _line_pieces(wrap(block.name, COVER_NAME, wide), COVER_NAME, 0, wide, 8, name)
    for line in block.lines:
        pieces += _line_pieces(wrap(line, COVER_LINE, wide), COVER_LINE, 0, wide, 4, Element("P"))
    return [*pieces, Piece(30, keep=True)]


def _framed(pieces: list[Piece], sheet: Sheet, fill: float | None, bar: float) -> list[Piece]:
    """Pieces inside one frame that may go on over a page: each draws its own part of the ground and the bar."""
    out = []
    for piece in pieces:
        ground: list[Mark] = [Box(0, 0, sheet.text_width, piece.height, fill)] if fill is not None else []
        ground.append(Box(0, 0, bar, piece.height, INK))
        out.append(replace(piece, runs=(Run(None, ground), *piece.runs)))
    return out


def _gap(height: float) -> Piece:
    return Piece(height, keep=True)


def _cautions(block: Cautions, sheet: Sheet) -> list[Piece]:
    wide = sheet.text_width - 2 * _INSET
    slot = Slot(_INSET, wide, "left")
    title = Run(Element("P"), set_lines((block.title,), slot, 0, STRONG))
    pieces = [_gap(5), Piece(STRONG.leading, (title,), keep=True)]
    for text in block.lines:
        lines = wrap(text, CELL, wide)
        run = Run(Element("P"), set_lines(lines, slot, 1, CELL))
        pieces.append(Piece(len(lines) * CELL.leading + 2.4, (run,), keep=True))
    framed = _framed([*pieces, replace(_gap(5), keep=False)], sheet, TINT, 2.2)
    return [replace(framed[0], above=14), *framed[1:]]


def _standing(block: StandingBox, sheet: Sheet) -> list[Piece]:
    wide = sheet.text_width - 2 * _INSET
    slot = Slot(_INSET, wide, "left")
    word = wrap(block.word, STANDING, wide)
    reason = wrap(block.reason, BODY, wide)
    pieces = [
        _gap(6),
        Piece(len(word) * STANDING.leading, (Run(Element("P"), set_lines(word, slot, 0, STANDING)),), keep=True),
        Piece(len(reason) * BODY.leading + 4, (Run(Element("P"), set_lines(reason, slot, 1, BODY)),), keep=True),
        *kept(pair_pieces(block.pairs, sheet, Element("Table"), _INSET, sheet.text_width - _INSET), len(block.pairs)),
    ]
    outranked = wrap(block.outranked, SMALL, wide)
    pieces[-1] = replace(pieces[-1], keep=True)
    last = Run(Element("P"), set_lines(outranked, slot, 3, SMALL))
    pieces.append(Piece(len(outranked) * SMALL.leading + 8, (last,)))
    framed = _framed(pieces, sheet, TINT, 4.0)
    return [replace(framed[0], above=8), *framed[1:]]


def _step(step: TimelineStep, sheet: Sheet, last: bool, whole: Element) -> Piece:
    left = Slot(18, _STEP_TEXT - 24, "left")
    right = Slot(_STEP_TEXT, sheet.text_width - _STEP_TEXT, "left")
    state = wrap(step.state, CELL_STRONG, left.width)
    when = wrap(step.when, CELL, left.width)
    label = [
        *set_lines(state, left, 1, CELL_STRONG),
        *set_lines(when, left, 1 + len(state) * CELL.leading, CELL),
    ]
    title = wrap(step.title, CELL_STRONG, right.width)
    lines = [line for text in step.lines for line in wrap(text, CELL, right.width)]
    body = [
        *set_lines(title, right, 1, CELL_STRONG),
        *set_lines(lines, right, 1 + len(title) * CELL.leading, CELL),
    ]
    tall = max(len(state) + len(when), len(title) + len(lines)) * CELL.leading + 7
    rail = () if last else (DrawnLine(_RAIL, 5.5, _RAIL, tall + 5.5, SOFT, 2 * HAIR),)
    dot = Dot(_RAIL, 5.8, 3.0, filled=step.state == "done")
    item = Element("LI", whole)
    return Piece(tall, (Run(None, (*rail, dot)), Run(inside(item, "Lbl"), label), Run(inside(item, "LBody"), body)))


def _timeline(block: CaseTimeline, sheet: Sheet) -> list[Piece]:
    whole = Element("L")
    steps = [_step(step, sheet, n == len(block.steps) - 1, whole) for n, step in enumerate(block.steps)]
    if not steps:
        steps = [text_piece("No step on record.", SMALL, sheet, above=0)]
    return [caption_piece(block.caption, sheet), replace(steps[0], above=2), *steps[1:]]


_BUILDERS = {
    Paragraph: _paragraph,
    Title: _title,
    KeyValues: key_values,
    Table: table_pieces,
    Cautions: _cautions,
    StandingBox: _standing,
    Strip: strip_pieces,
    CaseTimeline: _timeline,
    Links: links_pieces,
    AttachedPage: attached_pieces,
    Photos: photo_pieces,
    Masthead: masthead_pieces,
    Signed: signed_pieces,
    MonthCalendar: calendar_pieces,
    **PICTURES,
}


def block_pieces(block: Block, sheet: Sheet) -> list[Piece]:
    if isinstance(block, Beside):
        return beside_pieces(block, sheet, block_pieces)
    return _BUILDERS[type(block)](block, sheet)


def heading(section: Section, sheet: Sheet) -> list[Piece]:
    """The heading of a section; the cover has none, for its title is one."""
    anchor = Anchor(section.id, section.title, section.level)
    fresh = section.level == 1 and not section.flows
    if section.blocks and isinstance(section.blocks[0], Title | Masthead):
        return [Piece(0, anchor=anchor, fresh=fresh, keep=True)]
    style = HEADINGS[section.level]
    lines = wrap(section.title, style, sheet.text_width)
    title = Run(Element(f"H{section.level}"), set_lines(lines, Slot(0, sheet.text_width, "left"), 0, style))
    tall = len(lines) * style.leading + 3
    rules: tuple[Mark, ...] = ()
    if section.level < 3:
        rules = (DrawnLine(0, tall, sheet.text_width, tall, INK if fresh else PALE, 2 * HAIR),)
    above = {1: 26, 2: 22, 3: 18}[section.level]
    runs = (title, Run(None, rules))
    return [Piece(tall + 2, runs, above, keep=True, fresh=fresh, anchor=anchor)]


def section_pieces(section: Section, sheet: Sheet) -> Iterator[Piece]:
    """Heading and blocks, one block after the other: never all of a long section at once."""
    yield from heading(section, sheet)
    for block in section.blocks:
        yield from block_pieces(block, sheet)
