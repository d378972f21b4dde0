"""Widths and line breaks: text is wrapped once and remembered."""

from __future__ import annotations

import unicodedata
from collections import deque
from collections.abc import Iterable
from functools import lru_cache

from audit.binder.pdf.bidi import drawn
from audit.binder.pdf.faces import BOLD, REGULAR, loaded, widths
from audit.binder.pdf.page import Type

_BREAK_AFTER = "-/_.,:;|+@=&"
# At the end of a line where a word was cut: word joiner, U+2060. It is not drawn; without it a blank is read there.
JOINED = "\u2060"
NO_BREAK = "\u00a0"
_NO_BREAKS = (NO_BREAK, "\u202f")


def font(style: Type) -> str:
    name = BOLD if style.bold else REGULAR
    loaded(name)
    return name


@lru_cache(maxsize=65536)
def _word_width(text: str, name: str) -> float:
    known = widths(name)
    return sum([known[ord(each)] for each in drawn(text.removesuffix(JOINED))]) / 1000


def width(text: str, style: Type) -> float:
    """The width of a line in points."""
    return _word_width(text, font(style)) * style.size


@lru_cache(maxsize=65536)
def clean(text: str) -> str:
    """Text that can be printed: accents composed, control characters and blanks to spaces, formatting dropped.

    A space that does not break stays one.
    """
    composed = unicodedata.normalize("NFC", text).replace("\r\n", "\n")
    if composed.isprintable():
        return composed
    out = []
    for each in composed:
        if each == "\n" or each.isprintable():
            out.append(each)
        elif each in _NO_BREAKS:
            out.append(NO_BREAK)
        elif unicodedata.category(each) in ("Cc", "Zs", "Zl", "Zp"):
            out.append(" ")
        elif unicodedata.category(each) in ("Co", "Cn", "Cs"):
            out.append("\ufffd")  # no letter that a name could hold
    return "".join(out)


def cut(word: str, style: Type, limit: float) -> list[str]:
    """A word too wide for its line, cut after punctuation where that helps, else anywhere."""
    pieces, current, breakable = [], "", 0
    for each in word:
        if current and width(current + each, style) > limit:
            # A cut after punctuation is kept only if it leaves at least a third of the line filled.
            at = breakable if breakable > len(current) // 3 else len(current)
            pieces.append(current[:at])
            current, breakable = current[at:], 0
        current += each
        if each in _BREAK_AFTER:
            breakable = len(current)
    return [*pieces, current] if current else pieces


def _wrap_line(text: str, style: Type, limit: float) -> list[str]:
    lines, current, used = [], "", 0.0
    space = width(" ", style)
    words = deque(word for word in text.split(" ") if word)
    while words:
        word = words.popleft()
        wide = width(word, style)
        if current and used + space + wide <= limit:
            current, used = f"{current} {word}", used + space + wide
            continue
        if wide > limit and NO_BREAK in word:
            # Better torn where two words meet than inside of one.
            words.extendleft(reversed([part for part in word.split(NO_BREAK) if part]))
            continue
        if current:
            lines.append(current)
        if wide > limit:
            *full, word = cut(word, style, limit)
            lines += [part + JOINED for part in full]
            wide = width(word, style)
        current, used = word, wide
    return [*lines, current]


@lru_cache(maxsize=131072)
def wrap(text: str, style: Type, limit: float) -> tuple[str, ...]:
    """The lines of a text not wider than `limit` points; a newline in the text always breaks.

    An empty text has no lines. Words that a no-break space holds together stay on one line where they fit on one.
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
