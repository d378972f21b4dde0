"""Fonts, widths and line breaks: text is wrapped once and remembered."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from functools import cache, lru_cache
from pathlib import Path

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from audit.binder.pdf.bidi import drawn
from audit.binder.pdf.page import Type

REGULAR = "BinderSans"
BOLD = "BinderSans-Bold"
_FILES = {REGULAR: "DejaVuSansCondensed.ttf", BOLD: "DejaVuSansCondensed-Bold.ttf"}
_BREAK_AFTER = "-/_.,:;|+@=&"
# At the end of a line where a word was cut: word joiner, U+2060. It is not drawn; without it a blank is read there.
JOINED = "\u2060"


@cache
def _face(name: str):
    """The font, registered once in a process; widths are in thousandths of the size."""
    pdfmetrics.registerFont(TTFont(name, str(Path(__file__).parent / "fonts" / _FILES[name])))
    return pdfmetrics.getFont(name).face


def font(style: Type) -> str:
    name = BOLD if style.bold else REGULAR
    _face(name)
    return name


@lru_cache(maxsize=65536)
def _word_width(text: str, name: str) -> float:
    face = _face(name)
    text = drawn(text.removesuffix(JOINED))
    return sum(face.charWidths.get(ord(each), face.defaultWidth) for each in text) / 1000


def width(text: str, style: Type) -> float:
    """The width of a line in points."""
    return _word_width(text, font(style)) * style.size


@lru_cache(maxsize=65536)
def clean(text: str) -> str:
    """Text that the font can print: accents composed, control characters to spaces, the rest to U+FFFD.

    A letter the font lacks prints as U+FFFD (a question mark in a diamond), so that its absence is seen.
    """
    glyphs = _face(REGULAR).charToGlyph
    composed = unicodedata.normalize("NFC", text).replace("\r\n", "\n")
    out = []
    for each in composed:
        if each == "\n" or (each.isprintable() and ord(each) in glyphs):
            out.append(each)
        elif unicodedata.category(each) in ("Cc", "Zs", "Zl", "Zp"):
            out.append(" ")
        elif unicodedata.category(each) != "Cf":
            out.append("\ufffd")
    return "".join(out)


def _pieces(word: str, style: Type, limit: float) -> list[str]:
    """A word too wide for its line, cut after punctuation where that helps, else anywhere."""
    pieces, current, breakable = [], "", 0
    for each in word:
        if current and width(current + each, style) > limit:
            # A cut after punctuation is kept only if it leaves at least a third of the line filled.
            cut = breakable if breakable > len(current) // 3 else len(current)
            pieces.append(current[:cut])
            current, breakable = current[cut:], 0
        current += each
        if each in _BREAK_AFTER:
            breakable = len(current)
    return [*pieces, current] if current else pieces


def _wrap_line(text: str, style: Type, limit: float) -> list[str]:
    lines, current, used = [], "", 0.0
    space = width(" ", style)
    for word in text.split():
        wide = width(word, style)
        if current and used + space + wide <= limit:
            current, used = f"{current} {word}", used + space + wide
            continue
        if current:
            lines.append(current)
        if wide > limit:
            *full, word = _pieces(word, style, limit)
            lines += [part + JOINED for part in full]
            wide = width(word, style)
        current, used = word, wide
    return [*lines, current]


@lru_cache(maxsize=131072)
def wrap(text: str, style: Type, limit: float) -> tuple[str, ...]:
    """The lines of a text not wider than `limit` points; a newline in the text always breaks.

    An empty text has no lines.
    """
    if not text:
        return ()
    return tuple(line for part in clean(text).split("\n") for line in _wrap_line(part, style, limit))


def unbroken(lines: Iterable[str]) -> str:
    """The text of wrapped lines as it was before."""
    return "".join(line.removesuffix(JOINED) if line.endswith(JOINED) else f"{line} " for line in lines).rstrip()


def fit(text: str, style: Type, limit: float) -> str:
    """The text on one line, cut with an ellipsis when it is wider than `limit`."""
    line = " ".join(clean(text).split())
    if width(line, style) <= limit:
        return line
    while line and width(line + "…", style) > limit:
        line = line[:-1]
    return line.rstrip() + "…"
