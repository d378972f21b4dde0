"""Who is answerable for a place: who coordinates there, and which company serves it. Read beside its facts.

Telephone numbers are contact data, which may change; everything else is a fact of the ledger.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from .row import Row


@dataclass(frozen=True, slots=True)
class CoordinatorFact:
    """Somebody coordinates at the clinic, from a day on. `until` is the first day on which not, None: it holds."""

    row: Row
    name: str
    effective_on: date
    until: date | None = None

    def holds(self, on: date) -> bool:
        """Whether it holds on that day."""
        return self.effective_on <= on and (self.until is None or self.until > on)


@dataclass(frozen=True, slots=True)
class AgreementFact:
    """A company serves the clinic, from a day on. `until` is the first day on which not any more, None: it holds."""

    row: Row
    company: str
    phone: str  # "" where none is on record
    scope: str  # what it covers, in words
    effective_on: date
    until: date | None = None

    def holds(self, on: date) -> bool:
        """Whether it holds on that day."""
        return self.effective_on <= on and (self.until is None or self.until > on)


def serving_on(agreements: Iterable[AgreementFact], on: date) -> str:
    """The companies that serve the place on that day: "A", "A or B"; "" for none."""
    return " or ".join(dict.fromkeys(each.company for each in agreements if each.holds(on)))


@dataclass(frozen=True, slots=True)
class Responsible:
    """Everybody on record, past ones too, oldest first. `phone` is the clinic's, "" where none is on record."""

    coordinators: tuple[CoordinatorFact, ...] = ()
    agreements: tuple[AgreementFact, ...] = ()
    phone: str = ""
