"""Facts: plain frozen copies of rows, the only thing that judgement reads. Nothing here computes a verdict.

A fact that happened on a day carries a `Row`: which row it is, who logged it, when, and in which entry of the
ledger. Days are the clinic's local calendar days; moments are UTC and None where the time of day is not known.
`from_day` cuts a clinic's or a unit's facts to what had happened by a day; what had been *logged* by a moment, and
what was corrected or entered in error, is settled before (see `audit.gather`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class Row:
    """Where a fact comes from: the row, its entry in the ledger, and the two kinds of time."""

    ref: str  # of the version in force
    origin: str  # of the first version; what other facts point to
    number: int  # of the ledger entry; larger is later
    line: int  # within the entry
    happened_on: date
    happened_at: datetime | None  # None: the time of day is not known
    logged_at: datetime
    logged_by: str = ""
    logged_for: str = ""  # the company on whose behalf, "" for the clinic's own people
    late: bool = False  # written after the end of the next working day
    paper: str = ""  # the page it was transcribed from, "" when it was witnessed
    corrected: bool = False  # an earlier version exists


def in_order(facts):
    """The facts sorted by day, then time where both know it, then ledger number and line.

    A row without a time sorts last of its day.
    """
    last = datetime.max  # noqa: DTZ901 (compared only with moments made naive below)

    def key(fact):
        row = fact.row
        at = row.happened_at.replace(tzinfo=None) if row.happened_at else last
        return (row.happened_on, at, row.number, row.line)

    return tuple(sorted(facts, key=key))


# ------------------------------------------------------------------------------------------------ the clinic


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


# ------------------------------------------------------------------------------------------------ the unit


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
class UnitEventFact:
    """installed, relocated, withdrawn, returned, decommissioned, loaner in, loaner out."""

    row: Row
    kind: str
    reason: str
    by: str


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
        return self.shown + self.offset


# ------------------------------------------------------------------------------------------------ service


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
    decision: str  # leave, clean, adjust, repair kit, replace, condemn
    rule: str
    reason: str
    repair_class: str


@dataclass(frozen=True, slots=True)
class ReadingFact:
    """A measured pair. None means not measured; a limit of None means that side has no limit."""

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


@dataclass(frozen=True, slots=True)
class VerificationFact:
    """One test after work, V1 to V10. `result`: pass, fail, not done, not applicable."""

    row: Row
    code: str
    result: str
    value: str
    cycle_number: str
    reason: str


@dataclass(frozen=True, slots=True)
class SignatureFact:
    """`meaning`: released, returned to use, refused, nobody present."""

    row: Row
    meaning: str
    name: str
    role: str
    reason: str


@dataclass(frozen=True, slots=True)
class ConclusionFact:
    """`conclusion`: released, limited, pending, not released, not worked on."""

    row: Row
    conclusion: str
    limitation: str
    acceptor: str
    deadline: date | None  # None: nothing is pending
    reason: str


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


# ------------------------------------------------------------------------------------------------ monitoring


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
    row: Row
    result: str  # pass, fail
    cycle_number: str
    chamber: str
    lot: str


@dataclass(frozen=True, slots=True)
class LeakFact:
    """Rate in kPa per minute, computed from the rise and the time; `limit` as it held that day."""

    row: Row
    rate: Decimal
    limit: Decimal
    limit_source: str
    result: str  # pass, fail (computed when logged)
    as_read: str  # value, unit and duration as typed


@dataclass(frozen=True, slots=True)
class LoadFact:
    row: Row
    cycle_number: str
    program: str
    contents: str
    implant: bool
    released: str  # released, rejected, "" when nothing is recorded


@dataclass(frozen=True, slots=True)
class FollowUpFact:
    """An action in a failure case. `done_on` None: not done. `action` is a code of audit.response."""

    row: Row
    action: str  # withdraw, review, retest, recall packs, find cause, repair, notify, return
    text: str
    owner: str
    due_on: date | None  # None: no day was set
    done_on: date | None
    done_at: datetime | None
    done_by: str
    outcome: str
    done_row: Row | None = None


@dataclass(frozen=True, slots=True)
class CaseFact:
    """Opened by the failing fact. `opened_by` is that fact's origin."""

    row: Row
    kind: str  # biological, air removal, air leak, chemical, mechanical
    opened_by: str
    followups: tuple[FollowUpFact, ...] = ()


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
    cases: tuple[CaseFact, ...] = ()
    documents: tuple[DocumentFact, ...] = ()
    gaps: tuple[GapFact, ...] = ()

    @property
    def ref(self) -> str:
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
    corrections: tuple[CorrectionFact, ...] = ()
    heads: tuple[LedgerHead, ...] = ()
    known_at: datetime | None = None  # None: all that is logged

    def terms_on(self, day: date) -> TermsFact | None:
        """The terms in effect on `day`, or None before the first."""
        current = [t for t in self.terms if t.effective_on <= day]
        return max(current, key=lambda t: (t.effective_on, t.row.number, t.row.line), default=None)


# ------------------------------------------------------------------------------------------------ the cut by day


def _had_happened(facts, day: date):
    return tuple(f for f in facts if f.row.happened_on <= day)


def _case_by(case: CaseFact, day: date) -> CaseFact:
    steps = []
    for step in _had_happened(case.followups, day):
        if step.done_on is not None and step.done_on > day:
            step = replace(step, done_on=None, done_at=None, done_by="", outcome="", done_row=None)
        steps.append(step)
    return replace(case, followups=tuple(steps))


def _job_by(job: JobFact, day: date) -> JobFact:
    """A job's leaves happen on the day of the visit unless they say otherwise (a later signature)."""
    kept = {
        name: _had_happened(getattr(job, name), day)
        for name in ("outcomes", "findings", "readings", "parts", "tests", "signatures")
    }
    conclusion = job.conclusion
    if conclusion is not None and conclusion.row.happened_on > day:
        conclusion = None
    return replace(job, conclusion=conclusion, **kept)


def unit_by_day(unit: UnitFacts, day: date) -> UnitFacts:
    """The unit's facts that had happened by the end of `day` (inclusive).

    A reading of a biological test counts from the day it was read or, if later, the day the clinic knew it:
    on a day before that the result could not be acted on.
    """
    cut = {}
    for name in ("placements", "positions", "fits", "plan", "events", "counters", "chemical", "air_removal"):
        cut[name] = _had_happened(getattr(unit, name), day)
    for name in ("leaks", "loads", "documents", "gaps"):
        cut[name] = _had_happened(getattr(unit, name), day)
    cut["jobs"] = tuple(_job_by(j, day) for j in _had_happened(unit.jobs, day))
    cut["cases"] = tuple(_case_by(c, day) for c in _had_happened(unit.cases, day))
    cut["bio_tests"] = tuple(
        replace(t, readings=tuple(r for r in t.readings if max(r.row.happened_on, r.known_on) <= day))
        for t in _had_happened(unit.bio_tests, day)
    )
    return replace(unit, **cut)
