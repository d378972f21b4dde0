"""What somebody may have meant: the known words nearest to what was typed."""

from __future__ import annotations

import re
from collections.abc import Iterable
from difflib import SequenceMatcher, get_close_matches

_SPLIT = re.compile(r"[^a-z0-9]+")


def nearest(typed: str, known: Iterable[str], most: int = 5) -> list[str]:
    """At most so many of the known words, the nearest first; none when nothing comes near.

    Those that hold what was typed; only where none does, those that are spelt like it or have a part that is.
    """
    wanted = _plain(typed)
    if not wanted:
        return []
    words = {word: _plain(word) for word in known}
    holding = [word for word, plain in words.items() if wanted in plain]
    holding.sort(key=lambda word: (wanted not in words[word].split(), len(word), word))
    if holding:
        return holding[:most]
    spelt = [word for word, plain in words.items() if _spelt_alike(wanted, plain)]
    spelt.sort(key=lambda word: (-_likeness(wanted, words[word]), word))
    return spelt[:most]


def _plain(text: str) -> str:
    return " ".join(part for part in _SPLIT.split(text.casefold()) if part)


def _spelt_alike(wanted: str, plain: str) -> bool:
    return bool(get_close_matches(wanted, [plain, *plain.split()], n=1, cutoff=0.75))


def _likeness(wanted: str, plain: str) -> float:
    return max(SequenceMatcher(None, wanted, part).ratio() for part in (plain, *plain.split()))


def meant(typed: str, known: Iterable[str], most: int = 5) -> str:
    """ "Did you mean …?" with what comes near, "" when nothing does."""
    found = nearest(typed, known, most)
    if not found:
        return ""
    return f"Did you mean {', '.join(found[:-1])}{' or ' if found[1:] else ''}{found[-1]}?"
