"""Whether two texts name the same thing although they were typed by hand: part numbers, lots, instruments, people."""

from __future__ import annotations

import re
from functools import lru_cache

_SEPARATORS = re.compile(r"[\s\-\u2010-\u2015_./]+")
_ZEROS = re.compile(r"(?<!\d)0+(?=\d)")


@lru_cache(maxsize=4096)
def keys(text: str) -> frozenset[str]:
    """The ways to write `text` without case, spaces, hyphens and leading zeros; empty for a text that says nothing.

    Zeros that lead a group of digits are dropped both before and after the separators are: "L-007", "l 7" and
    "L0007" are one, and so are "12-03" and "12-3" or "12-03" and "1203". Two texts that differ only so are taken for
    the same: with a recall it is better to look at one part too many.
    """
    groups = [g for g in _SEPARATORS.split(text.casefold()) if g]
    if not groups:
        return frozenset()
    return frozenset({"".join(_ZEROS.sub("", g) for g in groups), _ZEROS.sub("", "".join(groups))})


def same(one: str, other: str) -> bool:
    """Whether both name the same; a text that says nothing is the same as none."""
    return not keys(one).isdisjoint(keys(other))


@lru_cache(maxsize=4096)
def name_key(text: str) -> str:
    """A name as it is compared: without case and doubled spaces."""
    return " ".join(text.casefold().split())
