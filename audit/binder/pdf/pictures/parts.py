"""What the pictures share: captions, notes and legends, each a paragraph of its own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from audit.binder.pdf.elements import Element
from audit.binder.pdf.marks import Mark, Piece, Run, Text
from audit.binder.pdf.measure import fit, width, wrap
from audit.binder.pdf.page import Sheet, Type
from audit.binder.pdf.pictures.ink import TICK
from audit.binder.pdf.rows import Slot, baseline, caption_piece, set_lines

WORDS = Type(8, 9.6)
TITLE = Type(8, 9.6, bold=True)
_BETWEEN = 12.0  # points between two entries of a legend

# Draws a sign with its middle at (x, y), at most so wide: its letters, and the rest.
Sign = tuple[float, Callable[[float, float], tuple[list[Mark], list[Mark]]]]


def caption(text: str, sheet: Sheet) -> list[Piece]:
    """A caption that stays with what follows; nothing for an empty one."""
    return [caption_piece(text, sheet)] if text else []


def heading(text: str, aside: str, left: float, wide: float) -> list[Mark]:
    """The title of one chart, cut where it must be, and small at the right what it holds."""
    at, room = baseline(0, TITLE), wide - width(aside, TICK) - 8
    return [Text(left, at, fit(text, TITLE, room), TITLE), Text(left + wide - width(aside, TICK), at, aside, TICK)]


def carried_on(pieces: list[Piece], text: str, sheet: Sheet) -> list[Piece]:
    """The pieces; one after the first that begins a page has the caption above it once more, as decoration."""
    if not text:
        return pieces
    line = fit(f"{text}, continued", WORDS, sheet.text_width)
    again = Piece(WORDS.leading + 4, (Run(None, (Text(0, baseline(0, WORDS), line, WORDS),)),))
    return [*pieces[:1], *(replace(piece, head=again) for piece in pieces[1:])]


def note(text: str, sheet: Sheet, *, keep: bool = False) -> list[Piece]:
    """Small words below a picture; nothing for none."""
    if not text:
        return []
    lines = wrap(text, WORDS, sheet.text_width)
    marks = set_lines(lines, Slot(0, sheet.text_width, "left"), 0, WORDS)
    return [Piece(len(lines) * WORDS.leading, (Run(Element("P"), marks),), above=2, keep=keep)]


def legend(entries: list[tuple[Sign, str]], sheet: Sheet, *, tall: float = 11.0) -> list[Piece]:
    """Signs with their meanings, running on over the lines; nothing for none."""
    said: list[Mark] = []
    drawn: list[Mark] = []
    x = y = 0.0
    for (wide, draw), meaning in entries:
        lines = wrap(meaning, WORDS, sheet.text_width - wide - 4)
        needs = wide + 4 + max((width(line, WORDS) for line in lines), default=0)
        if x and x + needs > sheet.text_width:
            x, y = 0.0, y + tall
        letters, rest = draw(x + wide / 2, y + tall / 2)
        drawn += rest
        said += letters
        for n, line in enumerate(lines):
            top = y + (tall - WORDS.leading) / 2 + n * WORDS.leading
            said.append(Text(x + wide + 4, baseline(top, WORDS), line, WORDS))
        y += (len(lines) - 1) * WORDS.leading
        x += needs + _BETWEEN
    if not entries:
        return []
    return [Piece(y + tall, (Run(None, drawn), Run(Element("P"), said)), above=4)]
