"""Repair classes and conclusions, as facts write them."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

RELEASED, LIMITED, PENDING = "released", "limited", "pending"
BACK_IN_USE = (RELEASED, LIMITED, PENDING)
NOT_RELEASED, NOT_WORKED = "not released", "not worked on"
DO_NOT_USE = "X"
MAJOR_REASONS = ("installation", "relocation", "loaner")
AWAITED = "part awaited"  # it must be replaced, and the part was not at hand
LEFT_ALONE = ("leave", "", "condemn", AWAITED)  # decisions on a finding that change nothing on the unit

_RANK = {"": 0, "A": 1, "B": 2, "C": 3}
_WORDS = {"routine": "A", "significant": "B", "major": "C", "do not use": DO_NOT_USE}
CLASS_WORDS = {letter: word for word, letter in _WORDS.items()}


@cache
def class_letter(text: str) -> str:
    """A, B, C or X from the letter or the word; "" for neither."""
    text = text.strip()
    return _WORDS.get(text.lower(), text.upper() if text.upper() in (*_RANK, DO_NOT_USE) else "")


def highest(letters: Iterable[str]) -> str:
    """The highest of A, B and C among the letters; X is no rank and counts for none; "" where there is none."""
    found = ""
    for one in letters:
        if _RANK.get(one, 0) > _RANK[found]:
            found = one
    return found
