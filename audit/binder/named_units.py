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
        told = _run(numbers) or f"{', '.join(numbers[:-1])} and {numbers[-1]}"
        return f"Units{NO_BREAK}{told}"
    return f"{', '.join(map(tied, labels[:-1]))} and {tied(labels[-1])}"


def _run(numbers: Sequence[str]) -> str:
    """ "1 to 12" for four or more that follow one another, else ""."""
    if len(numbers) < 4 or not all(each.isdigit() for each in numbers):
        return ""
    first = int(numbers[0])
    return (
        f"{first} to {numbers[-1]}" if [int(n) for n in numbers] == list(range(first, first + len(numbers))) else ""
    )
