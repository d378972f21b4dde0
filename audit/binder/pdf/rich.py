"""Lines in which some words are set bold."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from audit.binder.pdf.measure import JOINED, NO_BREAK, clean, cut, width, wrap
from audit.binder.pdf.page import Type


class Weighted(NamedTuple):
    """Words of one weight, from `x` points after the start of the line."""

    x: float
    text: str
    bold: bool


Line = str | tuple[Weighted, ...]


@lru_cache(maxsize=256)
def bolder(style: Type) -> Type:
    return Type(style.size, style.leading, bold=True)


@lru_cache(maxsize=256)
def lighter(style: Type) -> Type:
    return Type(style.size, style.leading)


def styled(bold: bool, style: Type) -> Type:
    return bolder(style) if bold else lighter(style)


def _weights(text: str, bold: tuple[str, ...]) -> list[bool]:
    """For each letter whether it is bold."""
    found = [False] * len(text)
    for words in bold:
        at = text.find(clean(words)) if words else -1
        if at >= 0:
            found[at : at + len(clean(words))] = [True] * len(clean(words))
    return found


def _chunks(word: str, weights: list[bool]) -> list[tuple[str, bool]]:
    """A word cut where its weight changes."""
    found: list[tuple[str, bool]] = []
    for letter, heavy in zip(word, weights, strict=True):
        if found and found[-1][1] == heavy:
            found[-1] = (found[-1][0] + letter, heavy)
        else:
            found.append((letter, heavy))
    return found


def _wide(chunks: list[tuple[str, bool]], style: Type) -> float:
    return sum(width(text, styled(heavy, style)) for text, heavy in chunks)


def _words(text: str, weights: list[bool], style: Type, limit: float) -> list[list[tuple[str, bool]]]:
    """The words of a text, those that are too wide for a line torn as `measure.wrap` tears them."""
    found, start = [], 0
    for word in text.split(" "):
        chunks = _chunks(word, weights[start : start + len(word)])
        if chunks and _wide(chunks, style) > limit:
            heavy = chunks[0][1]
            parts = [part for part in word.split(NO_BREAK) if part]
            for part in parts:
                torn = cut(part, styled(heavy, style), limit)
                found += [[(each + JOINED, heavy)] for each in torn[:-1]] + [[(torn[-1], heavy)]]
        elif chunks:
            found.append(chunks)
        start += len(word) + 1
    return found


def _joined(line: list[list[tuple[str, bool]]], style: Type) -> tuple[Weighted, ...]:
    """The words of a line as parts of one weight each. A part that the next one is joined to says so at its end."""
    parts: list[Weighted] = []
    x, space = 0.0, width(" ", style)
    for n, word in enumerate(line):
        for m, (text, heavy) in enumerate(word):
            first = m == 0
            if n and first:
                x += space
            if parts and parts[-1].bold == heavy and first:
                parts[-1] = parts[-1]._replace(text=f"{parts[-1].text} {text}")
                x = parts[-1].x + width(parts[-1].text, styled(heavy, style))
                continue
            if parts and not first:
                parts[-1] = parts[-1]._replace(text=parts[-1].text + JOINED)
            parts.append(Weighted(x, text, heavy))
            x += width(text, styled(heavy, style))
    return tuple(parts)


def _broken(text: str, weights: list[bool], style: Type, limit: float) -> list[tuple[Weighted, ...]]:
    lines: list[list[list[tuple[str, bool]]]] = []
    used, space = 0.0, width(" ", style)
    for word in _words(text, weights, style, limit):
        wide = _wide(word, style)
        torn = lines and lines[-1][-1][-1][0].endswith(JOINED)
        if lines and not torn and used + space + wide <= limit:
            lines[-1].append(word)
            used += space + wide
        else:
            lines.append([word])
            used = wide
    return [_joined(line, style) for line in lines] or [()]


@lru_cache(maxsize=16384)
def wrap_rich(text: str, bold: tuple[str, ...], style: Type, limit: float) -> tuple[Line, ...]:
    """As `measure.wrap`, with these words of the text set bold, each where it first stands."""
    if not bold or style.bold:
        return wrap(text, style, limit)
    whole = clean(text)
    weights, start, found = _weights(whole, bold), 0, []
    for part in whole.split("\n"):
        found += _broken(part, weights[start : start + len(part)], style, limit)
        start += len(part) + 1
    return tuple(found)


def line_width(line: Line, style: Type) -> float:
    if line.__class__ is str:
        return width(line, style)
    return line[-1].x + width(line[-1].text, styled(line[-1].bold, style)) if line else 0.0
