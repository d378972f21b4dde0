"""Text as it is drawn from left to right: Arabic letters joined, right-to-left parts turned (Unicode annex 9)."""

from __future__ import annotations

import re
from functools import lru_cache

# Hebrew, Arabic and the other right-to-left scripts of the basic plane, with their presentation forms.
_RIGHT_TO_LEFT = re.compile("[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufeff]")


@lru_cache(maxsize=4096)
def _turned(text: str) -> str:
    # Only where such a letter stands: most binders never load these.
    from arabic_reshaper import reshape
    from bidi import get_display

    return get_display(reshape(text))


def drawn(text: str) -> str:
    """The letters in the order in which they are drawn; most texts come back as they are."""
    if text.isascii() or not _RIGHT_TO_LEFT.search(text):
        return text
    return _turned(text)
