"""Facts of the whole place: terms, duties of its own, closures, gaps, papers."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from .row import Row


@dataclass(frozen=True, slots=True)
class TermsFact:
    """What the clinic is and which rules it follows, from a day on. `week_start`: 0 is Monday, 6 is Sunday."""

    row: Row
    effective_on: date
    name: str
    programme: str  # dental, medical, veterinary, body art
    address: str
    zone: str
    week_start: int
    regime: str


@dataclass(frozen=True, slots=True)
class LocalDutyFact:
    """A duty the clinic sets itself, stricter than its regime, with its own source."""

    row: Row
    effective_on: date
    duty: str  # "biological-test"
    every: str  # a frequency kind, see audit.regimes
    count: int
    source: str


@dataclass(frozen=True, slots=True)
class ClosureFact:
    """Days without patients, both ends inclusive. `unit` is "" when it holds for the whole place."""

    row: Row
    unit: str
    from_on: date
    to_on: date
    why: str


@dataclass(frozen=True, slots=True)
class GapFact:
    """A known gap in the evidence, both ends inclusive, with who accepted it. `unit` "" is the whole place."""

    row: Row
    unit: str
    from_on: date
    to_on: date
    what: str
    why: str
    accepted_by: str


@dataclass(frozen=True, slots=True)
class DocumentFact:
    """A paper on file. `valid_to` is the last valid day, None where the paper states none."""

    row: Row
    unit: str
    kind: str
    title: str
    valid_from: date
    valid_to: date | None
    sha256: str
    filename: str
