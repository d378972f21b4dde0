"""From which day to which day each edition of a set of rules holds, and how well both days are known. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from audit.facts.dates import ONE_DAY

from .model import Regime


@dataclass(frozen=True, slots=True)
class EditionHeld:
    """An edition with its last day, inclusive. `valid_to` None and its grade "": it is not known to have ended."""

    regime: Regime
    valid_to: date | None
    valid_to_grade: str


def days_held(newest: Regime) -> tuple[EditionHeld, ...]:
    """The editions on file, newest first.

    The last day is the one before the first of the next edition, or before that on which the newest is known to hold
    no more: it is known as well as that day is.
    """
    end = newest.ended
    last = EditionHeld(newest, end.on - ONE_DAY if end else None, end.source.grade if end else "")
    pairs = zip(newest.earlier, (newest, *newest.earlier), strict=False)
    return (last, *(EditionHeld(one, after.valid_from - ONE_DAY, after.valid_from_grade) for one, after in pairs))


def in_brackets(grade: str) -> str:
    """How well a day is known, as it stands behind it: " (from memory)"; "" for one that was read in the text."""
    return "" if grade in ("", "read") else f" ({grade})"


def why_that_day(regime: Regime) -> str:
    """Where the first day stands, or why no text was read for it; "" where what the edition is called says it."""
    if regime.valid_from_citation:
        return f"The first day stands in: {regime.valid_from_citation}."
    if regime.valid_from_unread:
        return f"The first day is not from a text: {regime.valid_from_unread}."
    return ""
