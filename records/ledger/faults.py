"""What the tamper check finds: one thing that is not as it was recorded, and where it stands."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Fault:
    """`what` says what is wrong.

    `organisation` is its name, "" for the database as a whole; `entry` the number of the entry, None where no entry
    is meant or known; `row` the row in words and `column` its column, "" where they cannot be told.
    """

    what: str
    organisation: str = ""
    entry: int | None = None
    row: str = ""
    column: str = ""

    @property
    def sentence(self) -> str:
        places = (
            self.organisation or "the database",
            "" if self.entry is None else f"entry {self.entry}",
            self.row,
            f"column {self.column}" if self.column else "",
        )
        return f"{', '.join(place for place in places if place)}: {self.what}"
