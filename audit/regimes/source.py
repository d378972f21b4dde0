"""Where a rule stands. Rules, due items, open items and answers all name their source by this."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True)
class Source:
    """Where a rule stands: citation, the day it was checked (ISO) and its grade (read, quoted, from memory)."""

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
        return self.citation if self.grade in ("", "read") else f"{self.citation} ({self.grade})"
