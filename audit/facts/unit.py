"""Facts of a unit itself: where it stands, what sits on it, what is planned, its events and counters."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from .names import TOLD, given_words
from .row import Row


@dataclass(frozen=True, slots=True)
class PlacementFact:
    """Where the unit stands from a day on. `use`: "in use" or "stored as spare"."""

    row: Row
    effective_on: date
    room: str
    use: str


@dataclass(frozen=True, slots=True)
class PositionFact:
    """A place on the unit where a part sits."""

    row: Row
    code: str
    name: str
    component: str


@dataclass(frozen=True, slots=True)
class FitFact:
    """Whether a position is fitted, from a day on: "yes", "none", "missing" (should be there) or "unknown"."""

    row: Row
    position: str  # origin of the PositionFact
    state: str
    effective_on: date
    note: str


@dataclass(frozen=True, slots=True)
class PlanLineFact:
    """What is to be done to which position, how often. The newest version of `code` in effect holds.

    `months`, `cycles`, `hours`: None where the line has no such limit; with several, whichever comes first.
    """

    row: Row
    code: str
    position: str  # origin of the PositionFact, "" for the whole unit
    title: str
    action: str  # inspect, clean, lubricate, replace, test, calibrate
    months: int | None
    cycles: int | None
    hours: int | None
    lead_days: int  # shown as due soon from so many days before
    grace_days: int  # overdue only after so many days
    source: str
    edition: str
    rule: str  # the condition rule in words
    repair_class: str
    effective_on: date
    retired: bool


@dataclass(frozen=True, slots=True)
class ProgramFact:
    """What a program of the unit must reach in its exposure, from a day on; the newest row of a name in effect holds.

    Minutes, degrees Celsius and kPa on the gauge; both ends of a band are inside, None where none is stated.
    """

    row: Row
    name: str
    exposure_minutes: Decimal | None
    temperature_low: Decimal | None
    temperature_high: Decimal | None
    pressure_low: Decimal | None
    pressure_high: Decimal | None
    source: str
    effective_on: date
    retired: bool


@dataclass(frozen=True, slots=True)
class UnitEventFact:
    """installed, relocated, withdrawn, returned, decommissioned, loaner in, loaner out."""

    row: Row
    kind: str
    reason: str
    by: str
    ends: str = ""  # of a return: origin of the withdrawal that it ends; "" where none is named
    given: str = ""  # how the name came in, as of a signature; "" where nothing says so

    @property
    def told_return(self) -> bool:
        """Whether it is a return that somebody else entered in that name: its person returned nothing."""
        return self.kind == "returned" and self.given == TOLD

    @property
    def given_words(self) -> str:
        """How the name came in, in words; "" where nothing says so."""
        return given_words(self.given, self.row.logged_by)


@dataclass(frozen=True, slots=True)
class CounterFact:
    """A counter as shown, and what must be added for the life total after a reset. `counter`: cycles or hours."""

    row: Row
    counter: str
    shown: Decimal
    offset: Decimal
    offset_reason: str

    @property
    def total(self) -> Decimal:
        """The life total, in cycles or hours as `counter` says: what is shown plus the offset since a reset."""
        return self.shown + self.offset
