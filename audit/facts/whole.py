"""Everything known of a unit and of a clinic."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from .clinic import (
    ClosureFact,
    CredentialFact,
    DocumentFact,
    GapFact,
    InspectionFact,
    InstrumentFact,
    LocalDutyFact,
    PartRecallFact,
    TermsFact,
)
from .monitoring import AirRemovalFact, BioTestFact, CaseFact, ChemicalFact, LeakFact, LoadFact, UserCheckFact
from .recordings import CycleRecordingFact
from .row import Row
from .service import JobFact
from .unit import CounterFact, FitFact, PlacementFact, PlanLineFact, PositionFact, ProgramFact, UnitEventFact
from .work import FaultFact, VisitAgreedFact


@dataclass(frozen=True, slots=True)
class UnitFacts:
    """Everything known of one unit at one clinic. Tuples in any order."""

    row: Row
    label: str  # the clinic's own number or name for it
    serial: str
    maker: str
    model: str
    equipment_type: str  # gravity, dynamic air removal, cassette
    chamber_litres: Decimal
    udi: str  # "" when the plate carries none
    placements: tuple[PlacementFact, ...] = ()
    positions: tuple[PositionFact, ...] = ()
    fits: tuple[FitFact, ...] = ()
    plan: tuple[PlanLineFact, ...] = ()
    events: tuple[UnitEventFact, ...] = ()
    counters: tuple[CounterFact, ...] = ()
    jobs: tuple[JobFact, ...] = ()
    bio_tests: tuple[BioTestFact, ...] = ()
    chemical: tuple[ChemicalFact, ...] = ()
    air_removal: tuple[AirRemovalFact, ...] = ()
    leaks: tuple[LeakFact, ...] = ()
    loads: tuple[LoadFact, ...] = ()
    checks: tuple[UserCheckFact, ...] = ()
    cases: tuple[CaseFact, ...] = ()
    documents: tuple[DocumentFact, ...] = ()
    gaps: tuple[GapFact, ...] = ()
    programs: tuple[ProgramFact, ...] = ()
    faults: tuple[FaultFact, ...] = ()
    recordings: tuple[CycleRecordingFact, ...] = ()

    @property
    def ref(self) -> str:
        """The origin of the unit: what other facts and judgements name it by, whatever was corrected since."""
        return self.row.origin


@dataclass(frozen=True, slots=True)
class CorrectionFact:
    """One correction or voiding, for the reader: what changed, why, who, when."""

    number: int
    logged_at: datetime
    logged_by: str
    unit: str  # origin of the unit, "" for the whole place
    what: str  # the kind of row in words
    ref: str
    happened_on: date
    reason: str
    changes: tuple[tuple[str, str, str], ...]  # (field, old, new); empty for "entered in error"


@dataclass(frozen=True, slots=True)
class LedgerHead:
    """The newest entry of the clinic's own ledger that these facts rest on; entries are numbered from 1.

    `organisation` is the clinic's name by its newest terms, its short name before any; `hash` is hexadecimal SHA-256.
    """

    organisation: str
    number: int
    hash: str


@dataclass(frozen=True, slots=True)
class ClinicFacts:
    """Everything known of one clinic."""

    ref: str
    slug: str
    terms: tuple[TermsFact, ...]
    local_duties: tuple[LocalDutyFact, ...] = ()
    closures: tuple[ClosureFact, ...] = ()
    units: tuple[UnitFacts, ...] = ()
    documents: tuple[DocumentFact, ...] = ()
    gaps: tuple[GapFact, ...] = ()
    credentials: tuple[CredentialFact, ...] = ()
    instruments: tuple[InstrumentFact, ...] = ()
    part_recalls: tuple[PartRecallFact, ...] = ()
    inspections: tuple[InspectionFact, ...] = ()
    agreed_visits: tuple[VisitAgreedFact, ...] = ()
    corrections: tuple[CorrectionFact, ...] = ()
    heads: tuple[LedgerHead, ...] = ()
    known_at: datetime | None = None  # None: all that is logged

    def zone_at(self, moment: datetime) -> str:
        """The time zone of the clinic at an aware moment: of the newest terms in effect on the day it then is there.

        UTC before any. Terms take effect with the clinic's own day, which is up to a day ahead of UTC's or behind it.
        """
        for terms in sorted(self.terms, key=lambda t: (t.effective_on, t.row.number, t.row.line), reverse=True):
            if terms.effective_on <= moment.astimezone(ZoneInfo(terms.zone)).date():
                return terms.zone
        return "UTC"

    def day_of(self, moment: datetime) -> date:
        """The clinic's own day at an aware moment."""
        return moment.astimezone(ZoneInfo(self.zone_at(moment))).date()

    def terms_on(self, day: date) -> TermsFact | None:
        """The terms in effect on `day`, or None before the first."""
        current = [t for t in self.terms if t.effective_on <= day]
        return max(current, key=lambda t: (t.effective_on, t.row.number, t.row.line), default=None)
