"""Where a rule stands. Rules, due items, open items and answers all name their source by this."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Source:
    """Where a rule stands: citation, the day it was checked (ISO) and its grade (read, quoted, from memory)."""

    citation: str
    checked_on: str = ""
    grade: str = ""

    def __str__(self) -> str:
        return self.citation if self.grade in ("", "read") else f"{self.citation} ({self.grade})"
