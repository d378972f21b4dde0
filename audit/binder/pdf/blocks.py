"""Blocks to pieces: everything is wrapped and measured here, nothing is drawn."""

from __future__ import annotations

from dataclasses import replace

from audit.binder.pdf.marks import Anchor, Box, Dot, Line, Mark, Piece, kept
from audit.binder.pdf.measure import wrap
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
    PALE,
    SMALL,
    SOFT,
    STANDING,
    STRONG,
    TINT,
    Sheet,
    Type,
)
from audit.binder.pdf.rows import Slot, caption_piece, key_values, pair_pieces, set_lines, table_pieces
from audit.binder.pdf.strip import strip_pieces
from audit.binder.sections import (
    Block,
    CaseTimeline,
    Cautions,
    KeyValues,
    Paragraph,
    Section,
    StandingBox,
    Strip,
    Table,
    TimelineStep,
    Title,
)

_STYLES = {"body": BODY, "small": SMALL, "strong": STRONG}
_INSET = 10.0
_RAIL = 6.0  # where the line of a timeline runs
_STEP_TEXT = 96.0


def _line_pieces(lines, style: Type, left: float, wide: float, above: float) -> list[Piece]:
    """Lines as pieces that break between lines, never leaving one line alone."""
    slot = Slot(left, wide, "left")
    pieces = [Piece(style.leading, tuple(set_lines((line,), slot, 0, style))) for line in lines]
    if not pieces:
        return []
    held = {0, len(pieces) - 2} if len(pieces) > 1 else set()
    pieces = [replace(p, keep=n in held) for n, p in enumerate(pieces)]
    return [replace(pieces[0], above=above), *pieces[1:]]


def _paragraph(block: Paragraph, sheet: Sheet) -> list[Piece]:
    style = _STYLES[block.style]
    pieces = _line_pieces(wrap(block.text, style, sheet.text_width), style, 0, sheet.text_width, 6)
    if block.style == "strong":
        # It introduces what follows, so it goes where that goes.
        return [replace(piece, keep=True) for piece in pieces]
    return pieces


def _title(block: Title, sheet: Sheet) -> list[Piece]:
    pieces = [Piece(104, (Line(0, 104, sheet.text_width, 104, INK, 4 * HAIR),), keep=True)]
    pieces += _line_pieces(wrap(block.kind, COVER_KIND, sheet.text_width), COVER_KIND, 0, sheet.text_width, 14)
    pieces += _line_pieces(wrap(block.name, COVER_NAME, sheet.text_width), COVER_NAME, 0, sheet.text_width, 8)
    for line in block.lines:
        pieces += _line_pieces(wrap(line, COVER_LINE, sheet.text_width), COVER_LINE, 0, sheet.text_width, 4)
    return [*pieces, Piece(30, (), keep=True)]


def _framed(pieces: list[Piece], sheet: Sheet, fill: float | None, bar: float) -> list[Piece]:
    """Pieces inside one frame that may go on over a page: each draws its own part of the ground and the bar."""
    out = []
    for piece in pieces:
        ground: list[Mark] = [Box(0, 0, sheet.text_width, piece.height, fill)] if fill is not None else []
        ground.append(Box(0, 0, bar, piece.height, INK))
        out.append(replace(piece, marks=(*ground, *piece.marks)))
    return out


def _gap(height: float) -> Piece:
    return Piece(height, (), keep=True)


def _cautions(block: Cautions, sheet: Sheet) -> list[Piece]:
    wide = sheet.text_width - 2 * _INSET
    slot = Slot(_INSET, wide, "left")
    pieces = [_gap(5), Piece(STRONG.leading, tuple(set_lines((block.title,), slot, 0, STRONG)), keep=True)]
    for text in block.lines:
        lines = wrap(text, CELL, wide)
        pieces.append(Piece(len(lines) * CELL.leading + 2.4, tuple(set_lines(lines, slot, 1, CELL)), keep=True))
    framed = _framed([*pieces, replace(_gap(5), keep=False)], sheet, TINT, 2.2)
    return [replace(framed[0], above=14), *framed[1:]]


def _standing(block: StandingBox, sheet: Sheet) -> list[Piece]:
    wide = sheet.text_width - 2 * _INSET
    slot = Slot(_INSET, wide, "left")
    word = wrap(block.word, STANDING, wide)
    reason = wrap(block.reason, BODY, wide)
    pieces = [
        _gap(6),
        Piece(len(word) * STANDING.leading, tuple(set_lines(word, slot, 0, STANDING)), keep=True),
        Piece(len(reason) * BODY.leading + 4, tuple(set_lines(reason, slot, 1, BODY)), keep=True),
        *kept(pair_pieces(block.pairs, sheet, _INSET, sheet.text_width - _INSET), len(block.pairs)),
    ]
    outranked = wrap(block.outranked, SMALL, wide)
    pieces[-1] = replace(pieces[-1], keep=True)
    pieces.append(Piece(len(outranked) * SMALL.leading + 8, tuple(set_lines(outranked, slot, 3, SMALL))))
    framed = _framed(pieces, sheet, TINT, 4.0)
    return [replace(framed[0], above=8), *framed[1:]]


def _step(step: TimelineStep, sheet: Sheet, last: bool) -> Piece:
    left = Slot(18, _STEP_TEXT - 24, "left")
    right = Slot(_STEP_TEXT, sheet.text_width - _STEP_TEXT, "left")
    marks: list[Mark] = []
    state = wrap(step.state, CELL_STRONG, left.width)
    when = wrap(step.when, CELL, left.width)
    marks += set_lines(state, left, 1, CELL_STRONG)
    marks += set_lines(when, left, 1 + len(state) * CELL.leading, CELL)
    title = wrap(step.title, CELL_STRONG, right.width)
    marks += set_lines(title, right, 1, CELL_STRONG)
    lines = [line for text in step.lines for line in wrap(text, CELL, right.width)]
    marks += set_lines(lines, right, 1 + len(title) * CELL.leading, CELL)
    tall = max(len(state) + len(when), len(title) + len(lines)) * CELL.leading + 7
    rail = () if last else (Line(_RAIL, 5.5, _RAIL, tall + 5.5, SOFT, 2 * HAIR),)
    dot = Dot(_RAIL, 5.8, 3.0, filled=step.state == "done")
    return Piece(tall, (*rail, dot, *marks), role="LI")


def _timeline(block: CaseTimeline, sheet: Sheet) -> list[Piece]:
    steps = [_step(step, sheet, n == len(block.steps) - 1) for n, step in enumerate(block.steps)]
    if not steps:
        text = set_lines(("No step on record.",), Slot(0, sheet.text_width, "left"), 0, SMALL)
        steps = [Piece(SMALL.leading, tuple(text))]
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
}


def block_pieces(block: Block, sheet: Sheet) -> list[Piece]:
    return _BUILDERS[type(block)](block, sheet)


def heading(section: Section, sheet: Sheet) -> list[Piece]:
    """The heading of a section; the cover has none, for its title is one."""
    anchor = Anchor(section.id, section.title, section.level)
    fresh = section.level == 1
    if section.blocks and isinstance(section.blocks[0], Title):
        return [Piece(0, (), anchor=anchor, fresh=fresh, keep=True)]
    style = HEADINGS[section.level]
    lines = wrap(section.title, style, sheet.text_width)
    marks = set_lines(lines, Slot(0, sheet.text_width, "left"), 0, style)
    tall = len(lines) * style.leading + 3
    if section.level < 3:
        marks.append(Line(0, tall, sheet.text_width, tall, INK if section.level == 1 else PALE, 2 * HAIR))
    above = {1: 0, 2: 22, 3: 18}[section.level]
    return [Piece(tall + 2, tuple(marks), f"H{section.level}", above, keep=True, fresh=fresh, anchor=anchor)]


def section_pieces(section: Section, sheet: Sheet) -> list[Piece]:
    pieces = heading(section, sheet)
    for block in section.blocks:
        pieces += block_pieces(block, sheet)
    return pieces
