"""What stands in a frame: the answer to "may it be used?", cautions, statements that were signed."""

from __future__ import annotations

from dataclasses import replace

from audit.binder.pdf.elements import Element
from audit.binder.pdf.faces import SIGNS
from audit.binder.pdf.marks import Box, DrawnLine, Mark, Piece, Run, kept
from audit.binder.pdf.measure import NO_BREAK, width, wrap
from audit.binder.pdf.page import BODY, CELL, CELL_STRONG, FRAME, HAIR, INK, SMALL, STANDING, UNDER_HEAD, Sheet, Type
from audit.binder.pdf.pairs import pair_pieces
from audit.binder.pdf.rich import wrap_rich
from audit.binder.pdf.rows import Slot, set_lines
from audit.binder.sections import Cautions, Signed, StandingBox

_INSET = 10.0
_WORD = 130.0
_PAD = 5.0
_BETWEEN = 12.0


def _gap(height: float) -> Piece:
    return Piece(height, keep=True)


def in_frame(pieces: list[Piece], sheet: Sheet, thick: float) -> list[Piece]:
    """Pieces in one frame that may go on over a page: each draws its own part of the sides."""
    out, wide = [], sheet.text_width
    for n, piece in enumerate(pieces):
        tall = piece.height + piece.above
        lines: list[Mark] = [DrawnLine(x, -piece.above if n else 0, x, piece.height, INK, thick) for x in (0, wide)]
        if n == 0:
            lines.append(DrawnLine(-thick / 2, 0, wide + thick / 2, 0, INK, thick))
        if n == len(pieces) - 1:
            lines.append(DrawnLine(-thick / 2, piece.height, wide + thick / 2, piece.height, INK, thick))
        out.append(replace(piece, runs=(Run(None, lines), *piece.runs)) if tall else piece)
    return out


def _word(text: str, wide: float) -> tuple[list[Run], float]:
    """The word of the answer, its sign before it; what follows on further lines is set smaller."""
    word, _, rest = text.partition("\n")
    hang = 0.0
    if word[:1] in SIGNS and word[1:2] in (" ", NO_BREAK):
        hang = width(f"{word[0]} ", STANDING)
    lines = wrap(word, STANDING, wide)
    more = wrap(rest, CELL, wide - hang)
    marks = set_lines(lines, Slot(_INSET, wide, "left"), 0, STANDING)
    tall = len(lines) * STANDING.leading
    marks += set_lines(more, Slot(_INSET + hang, wide, "left"), tall, CELL)
    return [Run(Element("P"), marks)], tall + len(more) * CELL.leading


def _answer(block: StandingBox, sheet: Sheet) -> Piece:
    """Word left, sentence right; in a narrow column one under the other."""
    beside = sheet.text_width > 3 * _WORD
    said, tall = _word(block.word, (_WORD if beside else sheet.text_width) - 2 * _INSET)
    at = _WORD if beside else _INSET
    room = sheet.text_width - at - _INSET
    reason = wrap(block.reason, BODY, room)
    top = (STANDING.leading - BODY.leading) / 2 if beside else tall + 2
    runs = [*said, Run(Element("P"), set_lines(reason, Slot(at, room, "left"), top, BODY))] if reason else said
    return Piece(max(tall, top + len(reason) * BODY.leading), tuple(runs), keep=True)


def standing_pieces(block: StandingBox, sheet: Sheet) -> list[Piece]:
    """The answer, what it rests on, what outranks it."""
    pieces = [_gap(6), _answer(block, sheet)]
    if block.pairs:
        table = Element("Table", summary=f"What the answer rests on: {sheet.title}")
        pairs = pair_pieces(block.pairs, sheet, table, _INSET, sheet.text_width - _INSET)
        pieces += [_gap(3), *kept(pairs, len(pairs))]
        pieces[-1] = replace(pieces[-1], keep=True)
    outranked = wrap(block.outranked, SMALL, sheet.text_width - 2 * _INSET)
    if outranked:
        last = Run(Element("P"), set_lines(outranked, Slot(_INSET, sheet.text_width, "left"), 3, SMALL))
        pieces.append(Piece(len(outranked) * SMALL.leading + 3, (last,), keep=True))
    pieces.append(Piece(6, keep=True))  # what it is about goes where it goes
    framed = in_frame(pieces, sheet, FRAME)
    return [replace(framed[0], above=8), *framed[1:]]


def caution_pieces(block: Cautions, sheet: Sheet) -> list[Piece]:
    """Between two lines; one sentence goes on behind the title, several stand under it."""
    wide, sides = sheet.text_width, Slot(0, sheet.text_width, "left")
    texts: list[tuple[str, tuple[str, ...], Type]] = []
    if len(block.lines) == 1:
        opening = block.title.rstrip(".") + "."
        texts.append((f"{opening} {block.lines[0]}", (opening,), CELL))
    else:
        texts += [(block.title, (), CELL_STRONG), *((line, (), CELL) for line in block.lines)]
    pieces = [Piece(3.5, (Run(None, (DrawnLine(0, 0.25, wide, 0.25, INK, UNDER_HEAD),)),), above=9, keep=True)]
    for text, bold, style in texts:
        lines = wrap_rich(text, bold, style, wide)
        run = Run(Element("P"), set_lines(lines, sides, 0, style))
        pieces.append(Piece(len(lines) * style.leading + 1.4, (run,), keep=True))
    pieces.append(Piece(2.0, (Run(None, (DrawnLine(0, 1.5, wide, 1.5, INK, HAIR),)),)))
    return pieces


def signed_pieces(block: Signed, sheet: Sheet) -> list[Piece]:
    """One piece: two statements to a row, each in its frame."""
    wide = (sheet.text_width - _BETWEEN) / 2
    return [_signed(block.statements[n : n + 2], wide) for n in range(0, len(block.statements), 2)]


def _signed(statements, wide: float) -> Piece:
    texts: list[Run] = []
    tallest = 0.0
    for n, (title, lines) in enumerate(statements):
        slot = Slot(n * (wide + _BETWEEN) + _PAD, wide - 2 * _PAD, "left")
        head = wrap(title, CELL_STRONG, slot.width)
        body = [part for line in lines for part in wrap(line, CELL, slot.width)]
        texts.append(Run(Element("P"), set_lines(head, slot, _PAD - 1, CELL_STRONG)))
        if body:
            texts.append(Run(Element("P"), set_lines(body, slot, _PAD - 1 + len(head) * CELL.leading, CELL)))
        tallest = max(tallest, (len(head) + len(body)) * CELL.leading + 2 * _PAD - 2)
    frames = [Box(n * (wide + _BETWEEN), 0, wide, tallest, None, INK, UNDER_HEAD) for n in range(len(statements))]
    return Piece(tallest, (Run(None, frames), *texts), above=7)
