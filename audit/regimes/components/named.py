"""Which components a text names: "Vacuum pump diaphragm, Model One" is a pump kit.

Whole words, without regard to case, hyphens and plural; of two names that overlap the longer holds. What follows
"of", "for", "in" or "on" (and, in the name of a part, a comma) says where the thing sits and counts only where the
words before it name nothing, or where it names a safety function. Common practice, no source.
"""

from __future__ import annotations

import re
from functools import cache

from .table import Component, components

_TOKEN = re.compile(r"\w+")
_SAYS_WHERE = re.compile(r"\b(?:of|for|in|on|at|near|behind|under|from|inside)\b", re.IGNORECASE)


@cache
def named_in(text: str, of_a_part: bool = False) -> tuple[Component, ...]:
    """The components that a text names, each once, in the order of the text; () when it names none known.

    `of_a_part`: the text is the name of one part, in which a comma ends what it is.
    """
    head, _, rest = text.partition(",") if of_a_part else (text, "", "")
    parted = _SAYS_WHERE.split(head, maxsplit=1)
    where = [*parted[1:], *([rest] if rest else [])]
    found = _named(parted[0])
    elsewhere = [c for each in where for c in _named(each)]
    if found:
        elsewhere = [c for c in elsewhere if c.safety]
    return tuple(dict.fromkeys([*found, *elsewhere]))


def _named(text: str) -> list[Component]:
    """Those named in a piece of text; one that says only where drops out before another that follows at once."""
    tokens = [_one(t) for t in _TOKEN.findall(text.casefold().replace("_", " "))]
    phrases, longest = _phrases()
    found: list[tuple[int, Component]] = []  # (where the next word begins, component)
    at = 0
    while at < len(tokens):
        size, held = _longest_at(tokens, at, phrases, longest)
        if held is not None:
            if found and found[-1][0] == at and found[-1][1].place:
                found.pop()
            found.append((at + size, held))
        at += size
    return [c for _, c in found]


def _longest_at(tokens: list[str], at: int, phrases: dict, longest: int) -> tuple[int, Component | None]:
    for size in range(min(longest, len(tokens) - at), 0, -1):
        held = phrases.get(tuple(tokens[at : at + size]))
        if held is not None:
            return size, held
    return 1, None


@cache
def _phrases() -> tuple[dict[tuple[str, ...], Component], int]:
    """Every word or group of words with its component, and how many words the longest has."""
    held = {tuple(_one(t) for t in words.split()): c for c in components().values() for words in c.words}
    return held, max(map(len, held))


def _one(word: str) -> str:
    """A word in the singular, near enough to compare two: "latches", "batteries", "valves"."""
    if len(word) > 3 and word.endswith("ies"):
        return word[:-3] + "y"
    if word.endswith(("ches", "shes", "sses", "xes")):
        return word[:-2]
    return word[:-1] if len(word) > 2 and word.endswith("s") and not word.endswith("ss") else word
