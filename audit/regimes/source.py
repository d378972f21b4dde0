"""Where a rule stands. Rules, due items, open items and answers all name their source by this.

Grades: read (the clause itself was seen), quoted (a faithful quotation), common practice (a rule of the trade, which
no text asks), cautious reading (the text was read and is silent: the stricter reading of that), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

PRACTICE, CAUTIOUS, MEMORY = "common practice", "cautious reading", "from memory"


@dataclass(frozen=True, slots=True)
class Source:
    """Where a rule stands: citation, the day it was checked (ISO) and its grade, "" where none is stated."""

    citation: str
    checked_on: str = ""
    grade: str = ""

    def checked_by(self, day: date) -> str:
        """When it was checked, as it could be known on `day`: "2026-11-25"; "" where not stated, or only later.

        Whoever reads what was so on a day is not told that its source had been checked before it was.
        """
        if not self.checked_on:
            return ""
        return self.checked_on if date.fromisoformat(self.checked_on) <= day else ""

    def __str__(self) -> str:
        said = self.grade in ("", "read") or (self.grade == PRACTICE and PRACTICE in self.citation)
        return self.citation if said else f"{self.citation} ({self.grade})"
