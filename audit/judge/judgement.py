"""What judgement says: clocks, findings, standings, look-backs, as values. Nothing here decides.

No value is changed once it is made. Those made by the dozen for each unit are not frozen by their class, as freezing
more than doubles what making one takes.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from enum import StrEnum

from audit.facts.dates import days_words
from audit.regimes.source import Source

NOT_WRITTEN = {"written": False}  # of a field that JSON leaves out, since another field says the same


class State(StrEnum):
    """How a day stands to one due item, from calm to worst."""

    NOT_APPLICABLE = "not applicable"
    OK = "ok"
    DUE_SOON = "due soon"
    DUE = "due"
    IN_GRACE = "in grace"
    OVERDUE = "overdue"
    NO_EVIDENCE = "no evidence"

    @property
    def words(self) -> str:
        """As people read it."""
        return _STATE_WORDS.get(self, self.value)


_STATE_WORDS = {State.OK: "in order", State.IN_GRACE: "past its day, within its days of grace"}


class DueKind(StrEnum):
    """What a due item is about; what its `code` names stands beside each."""

    DUTY = "duty"  # a duty of the rules or of the clinic's own: its id, "biological-test"
    PLAN = "plan"  # a line of the maintenance plan: its code, "replace-door-seal"
    PAPER = "paper"  # a paper with a last valid day: its origin
    CREDENTIAL = "credential"  # a person's training or licence: its origin
    INSTRUMENT = "instrument"  # the calibration of an instrument: the origin of the instrument


class Severity(StrEnum):
    """How much a finding weighs: forbids use, to be put right, to be known."""

    FORBIDS = "forbids use"
    PUT_RIGHT = "put right"
    NOTE = "note"


class Word(StrEnum):
    """The answer to "may it be used?"."""

    IN_SERVICE = "In service"
    OVERDUE = "In service, overdue"
    LIMITED = "Limited"
    WAITING = "Waiting for proof"
    OUT = "Out of service"
    NOT_IN_USE = "Not in use"

    @property
    def may_be_used(self) -> bool:
        """Whether it permits use; "Limited" does so within the limitation or deadline that the reason states."""
        return self in (Word.IN_SERVICE, Word.OVERDUE, Word.LIMITED)

    @property
    def rank(self) -> int:
        """How much the answer permits: 0 no use at all, to 4 use without any remark. Common practice, no source."""
        return (Word.OUT, Word.WAITING, Word.LIMITED, Word.OVERDUE, Word.IN_SERVICE).index(
            Word.OUT if self is Word.NOT_IN_USE else self
        )


@dataclass(slots=True, unsafe_hash=True)
class Evidence:
    """One row that an answer rests on: its ref and how it reads in a sentence."""

    ref: str
    text: str


@dataclass(slots=True, unsafe_hash=True)
class Clock:
    """One due item.

    `due_on` is the first day on which it is due; `overdue_on` the first day on which it is overdue; both None when
    there is nothing to compute (not applicable, no evidence). `projected` marks a date extrapolated from counters.
    `id` is a key for files, order and addresses, made of `kind` and `code`; whoever asks what it is reads those two.
    """

    id: str = field(init=False)  # "plan:replace-door-seal", "duty:biological-test"
    kind: DueKind = field(metadata=NOT_WRITTEN)
    code: str = field(metadata=NOT_WRITTEN)
    title: str
    state: State
    due_on: date | None
    overdue_on: date | None
    counts_from: Evidence | None
    rule: str  # in words
    source: Source
    note: str = ""  # deferral, early replacement, not fitted, projection
    projected: bool = False
    position: str = ""  # origin of the position, "" for the whole unit
    action: str = ""
    subject: str = ""  # what the duty asks, a key of audit.regimes.SUBJECTS; "" for a line of the plan
    forbids: bool = False  # while it is not met the unit may not be used

    def __post_init__(self) -> None:
        self.id = f"{self.kind}:{self.code}"

    def days_overdue(self, day: date) -> int:
        """Whole days past the last allowed day, 0 when not overdue."""
        if self.overdue_on is None or day < self.overdue_on:
            return 0
        return (day - self.overdue_on).days + 1

    def when(self, day: date) -> str:
        """By when it is asked, in words: "due 2026-06-09, 6 days overdue"; "" where nothing is to be computed."""
        if self.due_on is None:
            return "no record found to count from" if self.state is State.NO_EVIDENCE else ""
        late = self.days_overdue(day)
        projected = " (projected from the counter)" if self.projected else ""
        return f"due {self.due_on.isoformat()}{projected}" + (f", {days_words(late)} overdue" if late else "")


@dataclass(slots=True, unsafe_hash=True)
class Finding:
    """One open item."""

    rule: str  # id, "positive-test-open"
    severity: Severity
    since: date | None  # None: since before the first record
    message: str  # what, with the numbers
    way_out: str  # what resolves it
    evidence: tuple[Evidence, ...] = ()
    source: Source | None = None
    owner: str = ""  # clinic, service company


@dataclass(slots=True, unsafe_hash=True)
class UnitStanding:
    """May this unit be used: the word, why, since when, until when, and the proof."""

    word: Word
    rule: str  # R1 to R11
    reason: str
    since: date | None  # None: since before the first record
    proof: tuple[Evidence, ...]
    lifted_by: str  # who can lift it and how
    holds_until: date | None  # first day on which the answer changes with no new fact; None: never
    source: Source | None = None
    becomes: str = ""  # what it changes to on that day, and why; "" where it never changes
    changes: str = field(init=False, compare=False)  # from when it is what, in words; days in ISO text

    def __post_init__(self) -> None:
        self.changes = change_words(self.holds_until, self.becomes)


def change_words(from_on: date | None, becomes: str) -> str:
    """From which day on an answer is another, what it is then and why: everywhere in these words.

    Never "until" a day: that reads as "may be used until", which is often false.
    """
    if from_on is None:
        return "when something new is logged"
    return f"from {from_on.isoformat()} on, with nothing new logged: {becomes}"


@dataclass(slots=True, unsafe_hash=True)
class WeekCell:
    """One week of the indicator record; `start` is its first day.

    `result`: passed, failed, invalid, missed, awaited (sent or incubating), exempt, open (not over yet), before (no
    duty yet).
    """

    start: date
    end: date  # inclusive
    result: str
    tests: tuple[Evidence, ...] = ()
    note: str = ""


@dataclass(slots=True, unsafe_hash=True)
class TestVerdict:
    """What a biological test counts for: passed, failed, invalid, awaited; with the reason in words."""

    test: str  # origin of the BioTestFact
    verdict: str
    reason: str
    known_on: date | None  # None: no reading yet


@dataclass(slots=True, unsafe_hash=True)
class Step:
    """One step of the path after a failure: what the regime asks and what was done about it.

    `state`: done, open, late (done or open after its deadline), not needed.
    """

    action: str
    title: str
    state: str
    done_on: date | None
    evidence: tuple[Evidence, ...]
    source: Source
    note: str = ""
    due_on: date | None = None  # last day on which it is in time, inclusive; None: no day is set


@dataclass(frozen=True, slots=True)
class Case:
    """A failure from withdrawal to return, replayed from facts.

    `phase`: "retest needed", "requalification needed", "returned", "entered in error".
    """

    ref: str  # origin of the CaseFact; "" when a failing fact has no case row
    kind: str
    title: str
    failed_on: date
    known_on: date
    phase: str
    resolved_on: date | None
    passes: int  # consecutive passes counted so far in the current phase
    passes_needed: int
    recall: str  # "none needed: ...", "everything since ...": in words
    steps: tuple[Step, ...]
    evidence: tuple[Evidence, ...]
    needs: str = ""  # what is still missing before the unit may return, in words; "" when nothing is
    warnings: tuple[str, ...] = ()  # what was done in another order or way than the rules prefer; forbids nothing

    @property
    def progress(self) -> str:
        """How many tests in a row have passed of those that are needed; "" where none is."""
        return f"{self.passes} of {self.passes_needed} passing tests in a row" if self.passes_needed else ""


@dataclass(frozen=True, slots=True)
class LookBack:
    """Everything on the unit in a window that a trigger puts in doubt. Ends: `after` exclusive, `to` inclusive.

    `outside`: what lies near the window and is left out, each with the reason in words.
    """

    trigger: str  # in words, with its day
    case: str  # ref of the case, "" where none was opened
    after: date | None  # last good proof; None: none on record
    after_text: str
    to: date
    loads: tuple[Evidence, ...]
    unlogged: str  # what is not known (cycle counters against loads logged)
    readings: tuple[Evidence, ...]
    parts: tuple[Evidence, ...]
    kind: str = "positive spore test"  # one of audit.regimes.TRIGGERS
    asked: str = ""  # what the rules ask of what lies inside, in words
    source: Source | None = None
    outside: tuple[tuple[Evidence, str], ...] = ()
    evidence: tuple[Evidence, ...] = ()  # what triggered it
    settled_on: date | None = None  # the day a decision about it was recorded; None: still open


@dataclass(slots=True, unsafe_hash=True)
class Lapse:
    """One stretch of a duty that was not simply met. Both ends inclusive.

    `result`: met late, missed, invalid, exempt, awaited.
    """

    start: date
    end: date
    result: str
    note: str
    evidence: tuple[Evidence, ...] = ()


@dataclass(frozen=True, slots=True)
class Stretch:
    """One stretch of a duty, met or not, both ends inclusive; it may begin before the period and end after it.

    `result` as of a `Lapse`, or met, open (not over yet), before (the duty had not begun). `due_on` is the last day
    in time, None where nothing was due.
    """

    start: date
    end: date
    result: str
    due_on: date | None = None


@dataclass(frozen=True, slots=True)
class Coverage:
    """How a duty was kept over a period, both ends inclusive: due = met + met late + missed + invalid + awaited.

    What is exempt was not due. A test that failed meets the duty to test; `failed` counts such tests. `bound` is the
    exact one-sided 95 % upper bound on the rate of failures per test, None where a test failed or none counts.
    """

    duty: str  # id of the duty
    title: str
    first: date
    last: date
    rule: str
    source: Source
    due: int
    met: int
    met_late: int
    missed: int
    invalid: int
    awaited: int
    exempt: int
    exempt_why: tuple[tuple[str, int], ...]  # reason, how many; most frequent first
    longest_gap: int | None  # days between two that count, in the period; None: fewer than two
    gap: tuple[date, date] | None  # the days of the two
    tests: int  # that passed or failed
    failed: int
    bound: Decimal | None
    words: str  # all of it in a sentence or two
    lapses: tuple[Lapse, ...] = ()  # oldest first
    # Only of a period asked for by itself (`audit.judge.evaluate.coverage_over`), else "" and ():
    every: str = ""  # a key of audit.regimes.FREQUENCIES
    every_days: int = 0  # days of "rolling-days" and "hours-or-days", else 0
    subject: str = ""  # a key of audit.regimes.SUBJECTS
    stretches: tuple[Stretch, ...] = ()  # every one that touches the period, oldest first
    done: tuple[tuple[date, str], ...] = ()  # what was done, and passed, failed, invalid, awaited or not done


@dataclass(slots=True, unsafe_hash=True)
class Answer:
    """One question an inspector asks, answered from the record, or an honest gap.

    `answer`: yes, no, in part, no record found, not asked here.
    """

    id: str
    question: str
    answer: str
    words: str  # the answer in a sentence, with its numbers
    evidence: tuple[Evidence, ...]
    owner: str  # who holds the evidence: clinic, service company, laboratory, insurer
    source: Source
    unit: str = ""  # origin of the unit, "" for the whole place
    gap: str = ""  # what is missing and who can supply it, "" for nothing


@dataclass(frozen=True, slots=True)
class NotAsked:
    """What other places' texts ask and the rules followed do not: no duty, and no fault where nothing is on record.

    `held`: the answers where something is on record of it anyway, for the place or for each such unit.
    """

    id: str  # of the first question about it
    subject: str
    sources: tuple[Source, ...]  # who asks it
    held: tuple[Answer, ...]


@dataclass(frozen=True, slots=True)
class NextStep:
    """What is to be done next.

    `who`: clinic, service company, clinic or service company, or "" where the law names somebody else; where people
    read it, the company's name stands for the service company. `by` is the last day in time, None where none is set.
    """

    who: str
    what: str
    by: date | None = None
    days_late: int = 0  # whole days past `by`
    words: str = field(init=False, compare=False)  # all of it in one line, everywhere the same; days in ISO text

    def __post_init__(self) -> None:
        object.__setattr__(self, "words", f"{self.named}: {self.asked}")

    @property
    def named(self) -> str:
        """Who, in words: "Clinic", the name of a company."""
        who = self.who or "whoever the law names"
        return who[:1].upper() + who[1:]

    @property
    def asked(self) -> str:
        """What, by when, and how late it is."""
        if self.by is None:
            return self.what
        late = f": {days_words(self.days_late)} overdue" if self.days_late else ""
        return f"{self.what}, by {self.by.isoformat()}{late}"


@dataclass(frozen=True, slots=True)
class UnitJudgement:
    """All that is said of one unit on one day."""

    unit: str  # origin of the unit
    label: str
    as_of: date
    standing: UnitStanding
    clocks: tuple[Clock, ...]  # worst first
    findings: tuple[Finding, ...]  # worst first
    verdicts: tuple[TestVerdict, ...]  # every biological test, oldest first
    cases: tuple[Case, ...]  # newest first
    look_backs: tuple[LookBack, ...]
    weeks: tuple[WeekCell, ...]  # oldest first, up to 80 weeks back from as_of
    coverage: tuple[Coverage, ...] = ()  # of the 24 months up to as_of, by id of the duty
    short: str = ""  # the reason of the answer in short
    next: NextStep | None = None  # None: nothing is to be done
    withdrawn: tuple[tuple[date, date | None], ...] = ()  # by hand: first day, day it was ended (None: it stands)


@dataclass(frozen=True, slots=True)
class ClinicJudgement:
    """All that is said of one clinic on one day."""

    clinic: str
    name: str
    as_of: date
    regime: str
    regime_title: str
    regime_edition: str
    regime_sources: tuple[Source, ...]
    units: tuple[UnitJudgement, ...]  # in the order of the facts
    findings: tuple[Finding, ...]  # of the clinic itself, worst first
    clocks: tuple[Clock, ...] = ()  # papers, training, instruments of the whole place; worst first
    answers: tuple[Answer, ...] = ()  # in the order an inspector asks
