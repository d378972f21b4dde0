"""Units by their labels in a sentence: "Unit 3", "Units 1, 2 and 4", "Front and S1"."""

from __future__ import annotations

import re
from collections.abc import Sequence

from audit.binder.written_on_paper import NO_BREAK, tied

_NUMBERED = re.compile(r"Unit (\S+)")


def units_words(labels: Sequence[str]) -> str:
    """The units by their own labels, in that order; "" for none. Labels like "Unit 3" share their first word."""
    if not labels:
        return ""
    if len(labels) == 1:
        return tied(labels[0])
    numbers = [found.group(1) for label in labels if (found := _NUMBERED.fullmatch(label))]
    if len(numbers) == len(labels):
        return f"Units{NO_BREAK}{', '.join(numbers[:-1])} and {numbers[-1]}"
    return f"{', '.join(map(tied, labels[:-1]))} and {tied(labels[-1])}"
