"""A ledger of which only some entries stand here: those on which a clinic's record rests that was brought in.

Their numbers and hashes are those of the whole ledger, which stands elsewhere. What may be missing is said by whoever
asks for the check, never by the ledger itself: without an excerpt every gap is a fault.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Excerpt:
    """`entries`: hash by number of those that were brought in, at least one. What follows was logged here."""

    entries: Mapping[int, str]

    @property
    def last(self) -> int:
        return max(self.entries)

    def may_lack(self, number: int) -> bool:
        """Whether an entry of that number need not be here."""
        return number < self.last and number not in self.entries

    def is_other(self, number: int, digest: str) -> bool:
        """Whether an entry of that number is none of those that were brought in, nor logged since."""
        return number <= self.last and self.entries.get(number) != digest
