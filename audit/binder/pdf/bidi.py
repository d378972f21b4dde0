"""Text as it is drawn from left to right: Arabic letters joined, right-to-left parts turned (Unicode annex 9)."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

_BRACKETS = {"(": ")", "[": "]", "{": "}"}
_OPENS = {closes: opens for opens, closes in _BRACKETS.items()}
# Hebrew, Arabic and the other right-to-left scripts of the basic plane, with their presentation forms.
_PARTED, _FROM_LEFT = re.compile("(?<=[·:;,.][ \u00a0])"), "\u200e"
_RIGHT_TO_LEFT = re.compile("[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff]")


@lru_cache(maxsize=4096)
def _turned(text: str) -> str:
    # Only where such a letter stands: most binders never load these.
    from arabic_reshaper import reshape
    from bidi import get_display

    # A line of an English binder runs from the left, whatever name it begins with; a name by itself runs its own way.
    # A number behind what parts a sentence belongs to what follows: it is not drawn into the name before.
    english = any(unicodedata.bidirectional(each) == "L" for each in text)
    marked = _PARTED.sub(_FROM_LEFT, reshape(text)) if english else reshape(text)
    return _mirrored(get_display(marked, base_dir="L" if english else None).replace(_FROM_LEFT, ""))


def _mirrored(shown: str) -> str:
    """With each bracket that was turned with its words opening to the left again: it meets its like back to front."""
    letters, waiting = list(shown), {opens: [] for opens in _BRACKETS}
    turned: dict[str, list[int]] = {opens: [] for opens in _BRACKETS}
    for n, each in enumerate(letters):
        if each in waiting:
            if turned[each]:
                first = turned[each].pop()
                letters[first], letters[n] = each, _BRACKETS[each]
            else:
                waiting[each].append(n)
        elif each in _OPENS:
            opens = _OPENS[each]
            if waiting[opens]:
                waiting[opens].pop()
            else:
                turned[opens].append(n)
    return "".join(letters)


def drawn(text: str) -> str:
    """The letters in the order in which they are drawn; most texts come back as they are."""
    if text.isascii() or not _RIGHT_TO_LEFT.search(text):
        return text
    return _turned(text)
