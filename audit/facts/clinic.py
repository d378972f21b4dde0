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
    """A duty the clinic sets itself, beside those of its regime, with its own source."""

    row: Row
    effective_on: date
    duty: str  # the subject of a duty in words with hyphens: "biological-test", "air-removal-test", ...
    every: str  # a frequency kind, see audit.regimes
    count: int  # days of "rolling-days", months of "rolling-months", else 1
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
    """A paper on file. `valid_to` is the last valid day, None where none is stated."""

    row: Row
    unit: str
    kind: str
    title: str
    valid_from: date
    valid_to: date | None
    sha256: str
    filename: str


@dataclass(frozen=True, slots=True)
class CredentialFact:
    """What somebody is trained or licensed for. `valid_to` is the last valid day, None where none is stated."""

    row: Row
    person: str  # the name as recorded
    holder: str  # "clinic" or "service company"
    kind: str  # training, licence, competence, other
    title: str
    valid_from: date
    valid_to: date | None


@dataclass(frozen=True, slots=True)
class CalibrationFact:
    """An instrument compared with a reference. `valid_to` is the last day it holds.

    `result`: "in tolerance", "adjusted" (was in tolerance, adjusted), "out of tolerance" (as found; whatever was done
    then), "no result".
    """

    row: Row
    certificate: str
    result: str
    as_found: str  # in words, with the unit of measure
    valid_to: date


@dataclass(frozen=True, slots=True)
class InstrumentFact:
    """A measuring instrument. `name` is how readings name it."""

    row: Row
    name: str
    kind: str
    serial: str
    holder: str  # "clinic" or "service company"
    calibrations: tuple[CalibrationFact, ...] = ()


@dataclass(frozen=True, slots=True)
class PartRecallFact:
    """A notice that a lot of a part is in doubt. `number` or `lot` "" where the notice names none (all of them)."""

    row: Row  # happened on the day the notice was received
    part: str  # the part's name in words
    number: str  # part number as printed
    lot: str
    made_from: date | None  # None: the notice names no first day of fitting
    made_to: date | None  # None: the notice names no last day of fitting
    issued_by: str
    reason: str
    action: str  # replace, inspect, use until, stop use


@dataclass(frozen=True, slots=True)
class IssuedFact:
    """A binder that was issued: its days, both inclusive, and the SHA-256 of the signed file in hexadecimal."""

    row: Row
    from_on: date
    to_on: date
    as_of: date
    file_sha256: str


@dataclass(frozen=True, slots=True)
class PointMetFact:
    """A point of an inspection was corrected. `document`: origin of the paper that shows it, "" for none."""

    row: Row
    outcome: str
    done_by: str  # the name as recorded
    document: str


@dataclass(frozen=True, slots=True)
class InspectionPointFact:
    """What an inspection asks to be corrected. `unit`: origin of the unit, "" for the whole place."""

    row: Row
    what: str
    due_on: date | None  # the last day; None: no day was set
    unit: str
    citation: str  # the rule that it names, "" for none
    met: PointMetFact | None = None  # None: open


@dataclass(frozen=True, slots=True)
class InspectionFact:
    """Somebody came to inspect the place; `row` has the day and, if known, the time."""

    row: Row
    visitor: str  # the name as recorded
    office: str
    occasion: str
    asked: str  # what was asked or found, in words
    binder: IssuedFact | None  # the binder that was handed out; None for none
    report: str  # origin of the paper on file, "" for none
    points: tuple[InspectionPointFact, ...] = ()
