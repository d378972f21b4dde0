"""Facts of monitoring and response: lots, tests, loads, failure cases."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from .names import TOLD, given_words
from .row import Row


@dataclass(frozen=True, slots=True)
class LotFact:
    """A box of indicators. Temperatures in degrees Celsius, both ends inclusive; hours are the label's minimum."""

    ref: str
    kind: str  # biological, chemical
    name: str
    lot: str
    expiry: date | None  # None: not printed on the box
    incubation_hours: int
    incubation_low: Decimal | None
    incubation_high: Decimal | None


@dataclass(frozen=True, slots=True)
class BioReadingFact:
    """One look at a biological test: "growth", "no growth", "no result"; control also "not stated".

    `row.happened_at` is when it was read, `known_at` when the clinic knew.
    """

    row: Row
    test: str
    control: str
    known_on: date
    known_at: datetime | None
    incubated_hours: Decimal | None  # None: not stated
    incubator_temperature: Decimal | None  # None: not stated
    read_by: str
    report: str  # laboratory and report number, "" when read in the clinic


@dataclass(frozen=True, slots=True)
class BioTestFact:
    """A biological test as run. `row.happened_on` is the day of the cycle."""

    row: Row
    cycle_number: str
    cycle_type: str
    chamber: str  # empty, full, not stated
    purpose: str  # routine, repeat, requalification, after repair, installation
    site: str  # clinic, laboratory
    lot: LotFact
    control_lot: LotFact | None  # None: no control was run
    implant: bool
    mechanical: str  # pass, fail, not recorded
    chemical: str  # pass, fail, not recorded
    run_by: str
    readings: tuple[BioReadingFact, ...] = ()
    place: str = ""  # in the chamber, in words; "" where nothing is recorded


@dataclass(frozen=True, slots=True)
class ChemicalFact:
    """`type`: 1 to 6 of ISO 11140-1. `result`: pass, fail, not read."""

    row: Row
    type: int
    result: str
    cycle_number: str
    where: str
    lot: str


@dataclass(frozen=True, slots=True)
class AirRemovalFact:
    """A steam penetration (air-removal) test as run, with the result that was read.

    `row.happened_on` is the day of the cycle. `chamber`: empty, full, not stated. `lot`: of the test's chemical
    indicator, "" where none is on record.
    """

    row: Row
    result: str  # pass, fail
    cycle_number: str
    chamber: str
    lot: str
    purpose: str = ""  # as of a biological test; "" where none is recorded


@dataclass(frozen=True, slots=True)
class LeakFact:
    """Rate in kPa per minute, computed from the rise and the time; `limit` as it held that day."""

    row: Row
    rate: Decimal
    limit: Decimal
    limit_source: str
    result: str  # pass, fail (computed when logged)
    as_read: str  # value, unit and duration as typed
    purpose: str = ""  # as of a biological test; "" where none is recorded
    minutes: Decimal | None = None  # over which the rise was read; None: not recorded
    settling: Decimal | None = None  # minutes before the reading began; None: not recorded
    start_pressure: Decimal | None = None  # absolute, in kPa; None: not recorded
    start_temperature: Decimal | None = None  # in degrees Celsius; None: not recorded


@dataclass(frozen=True, slots=True)
class LoadFact:
    """A cycle with goods in it, and the decision on it if one was made. `row.happened_on` is the day of the cycle."""

    row: Row
    cycle_number: str
    program: str
    contents: str
    implant: bool
    released: str  # released, rejected, "" when nothing is recorded
    mechanical: str = ""  # pass, fail, not recorded; "" when it was not asked then
    chemical: str = ""  # pass, fail, not recorded; "" when it was not asked then
    minutes: Decimal | None = None  # use time of the cycle in minutes; None: not recorded
    released_row: Row | None = None  # of a decision logged apart from the load; None: logged with it, or not at all
    packs: str = ""  # dry, wet, not recorded; "" when it was not asked then
    released_given: str = ""  # how the name of who decided came in, as of a signature; "" where nothing says so
    held_packs: int | None = None  # wrapped packs in the load; None: not recorded, as of the two below
    held_pouches: int | None = None
    held_cassettes: int | None = None
    pack_condition: str = ""  # intact, damaged, not recorded; "" when it was not asked then
    exposure_minutes: Decimal | None = None  # of the exposure alone; None: not recorded
    exposure_temperature: Decimal | None = None  # the least of the exposure in degrees Celsius; None: not recorded
    exposure_pressure: Decimal | None = None  # the least of the exposure in kPa on the gauge; None: not recorded
    run_by: str = ""  # who started the cycle, as named; "" where the file does not say
    loaded_by: str = ""  # who loaded the chamber, as named; "" where nobody is
    decided_by: str = ""  # who released or rejected it, as named; "" where nobody is
    reason: str = ""  # why it was decided so; "" where nobody says

    @property
    def barrier_lost(self) -> str:
        """Why its packs were not sterile when taken out: they were wet, or the wrapping damaged; "" for neither."""
        wet = "packs wet" if self.packs == "wet" else ""
        torn = "wrapping damaged" if self.pack_condition == "damaged" else ""
        return " and ".join(words for words in (wet, torn) if words)

    @property
    def told(self) -> bool:
        """Whether somebody else gave the name of who decided: that person signed nothing."""
        return bool(self.released) and self.released_given == TOLD

    @property
    def decided_words(self) -> str:
        """The decision in words, with who told it where it was told; "" where nothing is recorded."""
        if not self.told:
            return self.released
        return f"{self.released}, {given_words(TOLD, self.decided.logged_by)}"

    @property
    def given_words(self) -> str:
        """How the name of who decided came in, in words; "" where nothing says so."""
        return given_words(self.released_given, self.decided.logged_by) if self.decided else ""

    @property
    def decided(self) -> Row | None:
        """The row of the decision; None where there is none."""
        return (self.released_row or self.row) if self.released else None


@dataclass(frozen=True, slots=True)
class UserCheckFact:
    """A check by the people of the place.

    `kind`: automatic control, safety check, thermometer comparison, water, air detector.

    `signed_by` is "" where nobody signed; a check that is not signed does not count where the rules ask a signature.
    """

    row: Row
    kind: str
    result: str  # pass, fail, not done
    value: Decimal | None  # None: the check has no value
    unit_of_measure: str
    cycle_number: str
    cycle_type: str
    signed_by: str
    note: str
    purpose: str = ""  # as of a biological test; "" where none is recorded


@dataclass(frozen=True, slots=True)
class FollowUpFact:
    """An action in a failure case. `done_on` None: not done. `action` is a code of audit.judge.response."""

    row: Row
    action: str  # withdraw, review, retest, recall packs, find cause, confine, repair, notify, return
    text: str
    owner: str
    due_on: date | None  # None: no day was set
    done_on: date | None
    done_at: datetime | None
    done_by: str
    outcome: str
    done_row: Row | None = None
    done_given: str = ""  # how the name of who did it came in, as of a signature; "" where nothing says so

    @property
    def told(self) -> bool:
        """Whether somebody else entered it as done in the name of who did it: that person signed nothing."""
        return self.done_on is not None and self.done_given == TOLD


@dataclass(frozen=True, slots=True)
class CaseFact:
    """Opened by the failing fact. `opened_by` is that fact's origin."""

    row: Row
    kind: str  # one of audit.regimes.model.KINDS
    opened_by: str
    followups: tuple[FollowUpFact, ...] = ()
