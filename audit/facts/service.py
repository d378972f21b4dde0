"""Facts of service: a job and everything done in it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from .names import TOLD, given_words
from .row import Row


@dataclass(frozen=True, slots=True)
class OutcomeFact:
    """What became of one task: done, not due, deferred, not possible, not applicable or not done."""

    row: Row
    plan_line: str  # code of the line, "" for an unplanned task
    position: str  # origin of the PositionFact, "" for the whole unit
    action: str
    outcome: str
    found: str
    reason: str
    deferred_until: date | None  # None: the outcome is not a deferral
    decided_by: str
    agreed_by: str


@dataclass(frozen=True, slots=True)
class FindingFact:
    """The condition of a component as seen. `grade` 0 as new, 1 worn, 2 at its limit, 3 failed."""

    row: Row
    position: str
    component: str
    grade: int
    seen: str
    decision: str  # leave, clean, adjust, repair kit, replace, part awaited, condemn
    rule: str
    reason: str
    repair_class: str
    part_needed: str = ""  # of "part awaited": what is to be brought
    part_needed_number: str = ""


@dataclass(frozen=True, slots=True)
class ReadingFact:
    """A measured pair. None means not measured; a limit of None means that side has no limit.

    `instrument` took as left too, unless `instrument_left` names another one. A day of calibration is the last on
    which it holds.
    """

    row: Row
    quantity: str
    unit_of_measure: str
    point: str
    as_found: Decimal | None
    as_left: Decimal | None
    lower: Decimal | None
    upper: Decimal | None
    limit_source: str
    instrument: str
    calibration_due: date | None  # None: no calibrated instrument was used (a counter, a display)
    found_while: str = ""  # as found was taken: before cool-down, after cool-down, "" where nobody said
    instrument_left: str = ""  # the instrument of as left; "": the same
    calibration_due_left: date | None = None  # of `instrument_left`, as `calibration_due`

    @property
    def left_with(self) -> tuple[str, date | None]:
        """With which instrument as left was taken, and the last day of its calibration."""
        if not (self.instrument_left or self.calibration_due_left):
            return self.instrument, self.calibration_due
        return self.instrument_left or self.instrument, self.calibration_due_left

    @property
    def shown_with(self) -> tuple[str, date | None]:
        """The same of the value that shows how the unit was left: as left, else as found."""
        return (self.instrument, self.calibration_due) if self.as_left is None else self.left_with

    @property
    def instruments(self) -> tuple[tuple[str, date | None], ...]:
        """Each instrument of the pair, that of as found first, with the last day of its calibration."""
        return tuple(dict.fromkeys(((self.instrument, self.calibration_due), self.left_with)))


@dataclass(frozen=True, slots=True)
class PartFact:
    """A part fitted. `lot_state`: printed, not printed, unreadable. `expiry` None: the part carries none."""

    row: Row
    position: str
    name: str
    number: str  # part number as printed
    lot: str
    lot_state: str
    receipt_lot: str
    expiry: date | None
    quantity: int
    action: str  # replaced on plan, replaced on condition, found in place
    old_part: str  # fate: scrapped, kept, returned, none was fitted
    kit: str
    kit_fate: str = ""  # of a piece out of a kit: fitted, old one kept, left out, not in the bag; "": not said
    kit_pieces: int | None = None  # how many pieces of the kit the row is about; None: not said


@dataclass(frozen=True, slots=True)
class VerificationFact:
    """One test after work, V1 to V10. `result`: pass, fail, not done, not applicable.

    Measured over the holding time: temperatures and band in degrees Celsius, absolute pressures in kPa, times in
    minutes; both ends of the band are inside. None: not recorded.
    """

    row: Row
    code: str
    result: str
    value: str
    cycle_number: str
    reason: str
    temperature_low: Decimal | None = None
    temperature_high: Decimal | None = None
    pressure_low: Decimal | None = None
    pressure_high: Decimal | None = None
    minutes: Decimal | None = None
    band_low: Decimal | None = None
    band_high: Decimal | None = None
    minutes_needed: Decimal | None = None


@dataclass(frozen=True, slots=True)
class SignatureFact:
    """`meaning`: released, returned to use, left out of use, refused, nobody present."""

    row: Row
    meaning: str
    name: str
    role: str
    reason: str
    given: str = ""  # how the name came in: signed, entered, told, paper, not asked; "" where nothing says so

    @property
    def told(self) -> bool:
        """Whether somebody else gave the name: its person signed nothing (21 CFR 11.100, 11.200)."""
        return self.given == TOLD

    @property
    def given_words(self) -> str:
        """How the name came in, in words; "" where nothing says so."""
        return given_words(self.given, self.row.logged_by)


@dataclass(frozen=True, slots=True)
class ConclusionFact:
    """`conclusion`: released, limited, pending, not released, not worked on."""

    row: Row
    conclusion: str
    limitation: str
    acceptor: str
    deadline: date | None  # None: nothing is pending
    reason: str
    accepted_given: str = ""  # how the name of the acceptor came in, as of a signature; "" where nothing says so

    @property
    def told(self) -> bool:
        """Whether somebody else entered that the acceptor accepts: that person signed nothing."""
        return bool(self.acceptor) and self.accepted_given == TOLD


@dataclass(frozen=True, slots=True)
class JobFact:
    """One unit in one visit, with everything done to it."""

    row: Row
    visit: str
    servicer: str
    worked_by: str
    arrived_at: datetime | None
    departed_at: datetime | None
    reason: str  # planned, breakdown, installation, ...
    complaint: str
    contamination: str
    make_safe: tuple[str, ...]  # each step with "done" or why not
    class_stated: str
    class_reason: str
    outcomes: tuple[OutcomeFact, ...] = ()
    findings: tuple[FindingFact, ...] = ()
    readings: tuple[ReadingFact, ...] = ()
    parts: tuple[PartFact, ...] = ()
    tests: tuple[VerificationFact, ...] = ()
    signatures: tuple[SignatureFact, ...] = ()
    conclusion: ConclusionFact | None = None  # None: work started, not concluded
