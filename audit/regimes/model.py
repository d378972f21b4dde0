"""The shape of a set of rules ("regime"). Plain frozen values, filled by `audit.regimes.load`."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from audit.regimes.source import CAUTIOUS, MEMORY, PRACTICE, Source

FREQUENCIES = {
    "calendar-week": "once in each calendar week",
    "calendar-week-with-patients": "once in each calendar week with patients",
    "calendar-month": "once in each calendar month",
    "calendar-quarter": "once in each calendar quarter",
    "calendar-year": "once in each calendar year",
    "rolling-days": "at most {count} days after the last one",
    "rolling-months": "at most {count} months after the last one",
    "hours-or-days": "after {hours} hours of use or {count} days, whichever comes first",
    "day-of-use": "on each day of use",
    "day-of-use-and-cycle-type": "on each day of use, for each cycle type used that day",
    "stated-date": "by the day the last report states, at most {count} months after it",
    "each-implant-load": "in every load that holds an implant",
    "after-event": "after {events}, before use",
}
PERIODS = (
    "calendar-week",
    "calendar-week-with-patients",
    "calendar-month",
    "calendar-quarter",
    "calendar-year",
)

# What a duty asks for, and which facts meet it.
SUBJECTS = {
    "biological": "test",
    "air removal": "test",
    "air leak": "test",
    "automatic control": "check",
    "safety check": "check",
    "thermometer comparison": "check",
    "water": "check",
    "servicing": "work",  # a concluded job with at least one task done
    "pressure examination": "document",  # of the unit
    "validation report": "document",  # of the unit
    "training": "document",  # of the whole place, as are the next three
    "insurance": "document",
    "procedure": "document",
    "instructions": "document",  # of the unit or of the whole place
}
WITHOUT_VACUUM = ("gravity",)  # no air-removal and no leak test on these
EVENTS = (
    "installed",
    "relocated",
    "loaner in",
    "major repair",
    "repair",  # any work on a fault: a breakdown, or a part replaced on condition
    "planned part",  # a part replaced on plan
    "idle",  # unused for more than `idle_days` days
)
GRADES = ("read", "quoted", PRACTICE, CAUTIOUS, MEMORY)
DAY_GRADES = ("read", "quoted", CAUTIOUS, MEMORY)  # of the first day of an edition: no practice of a trade sets it
# Kinds of place that use such units, with their words; a set of rules holds for one, for several or for any of them.
KINDS_OF_PLACE = {
    "dental": "dental clinic",
    "medical": "medical practice or clinic",
    "veterinary": "veterinary clinic",
    "body art": "tattooing, piercing, permanent make-up",
    "personal services": "other personal services",
    "acupuncture": "acupuncture",
    "electrology": "electrology",
}
ANY = "any"
KINDS = (
    "biological",
    "air removal",
    "air leak",
    "chemical",
    "mechanical",
    "automatic control",
    "safety check",
    "air detector",
    "wet packs",
)
CLASSES = ("A", "B", "C")
TRIGGERS = (
    "positive spore test",
    "mechanical or penetration failure",
    "part recall",
    "instrument out of tolerance",
    "found out of tolerance",
)


class RegimeError(ValueError):
    """A rules file that cannot be used: which file, which key, what is wrong, the way out."""

    def __init__(self, file: str, key: str, what: str, way_out: str):
        self.file, self.key, self.what, self.way_out = file, key, what, way_out
        super().__init__(f"{file}: {key}: {what}. {way_out}")


@dataclass(frozen=True, slots=True)
class Duty:
    """Something to be done again and again, or after an event.

    `count`: days of "rolling-days" and "hours-or-days", months of "rolling-months" and "stated-date", else 1.
    `hours`: hours of use, for "hours-or-days" alone, else 0.
    `events`, `passes` (in a row), `each_cycle_type`, `idle_days` hold for "after-event".
    `site`, `chamber`, `place`: a spore test without them does not meet the duty.
    """

    id: str  # "biological-test"
    subject: str  # a key of SUBJECTS
    title: str
    every: str  # a key of FREQUENCIES
    count: int
    hours: int
    events: tuple[str, ...]
    passes: int
    chamber: str  # "empty", "full" or "any"
    each_cycle_type: bool
    idle_days: int  # 0: no event "idle"
    equipment: tuple[str, ...]  # equipment types it holds for; () all
    forbids: bool  # while it is not met the unit may not be used
    signed: bool  # only what is signed counts
    lead_days: int  # shown as due soon from so many days before
    words: str  # the frequency in words
    note: str  # what the source leaves open and how it is read here, "" for nothing
    source: Source
    site: str = "any"  # "laboratory": only what a laboratory read counts
    place: str = (
        ""  # where in the chamber the test lies, in the words of the rules; it must be recorded. "": not asked
    )

    @property
    def conditions(self) -> bool:
        """Whether it asks of a spore test who reads it, how full the chamber is or where in it the test lies."""
        return self.site != "any" or self.chamber != "any" or self.place != ""


@dataclass(frozen=True, slots=True)
class PathStep:
    """A step after a failure. `when`: "always", or "repeat failed" (only once the repeat has failed too)."""

    action: str
    title: str
    when: str
    source: Source


@dataclass(frozen=True, slots=True)
class NoticeRule:
    """Somebody who must be told of a failure.

    `within` counts from the day the failure was known, which is day 0; the last day is inclusive. `measure`: days,
    business days (Monday to Friday without the public holidays of `holidays`) or hours. `when` as for a step.
    """

    who: str
    within: int
    measure: str
    holidays: str  # country, or country-subdivision, of ISO 3166 ("US-MT"); "" none are subtracted
    when: str
    source: Source
    note: str = ""  # what the source leaves open and how it is read here, "" for nothing


@dataclass(frozen=True, slots=True)
class FailurePath:
    """What a failed test asks before the unit may be used again.

    `repeats`: passing repeats in a row, run after the failure was known. `return_passes`: passes in a row after a
    failed repeat and its cause; 0 means that a failed repeat only starts the repeats again. `withdraws_from`: where
    one failure does not stop the unit, so many cycles that failed before one is proven again do; 0: none does.
    `withdraws_outside`: nor does it stop it, but one whose own reading lies below what is needed does.
    `cause_asks` "both": the unit is repaired and the reason found; "either": an inspection, a repair or the reason.
    """

    kind: str
    withdraws: bool  # the unit is out of service until the path is walked
    withdraws_from: int
    repeats: int
    repeat_chamber: str  # "empty", "full" or "any"
    same_cycle_type: bool
    needs_normal: bool  # mechanical and chemical results of the repeat must be recorded as passing
    cause_before_repeat: bool  # inspected, repaired or cause found before the repeat counts
    cause_asks: str  # "either" or "both"
    return_passes: int
    return_chamber: str  # "empty", "full" or "any"
    return_each_cycle_type: bool  # the passes in a row for each cycle type in use
    return_air_removal: int  # air-removal passes in a row beside, on units with dynamic air removal
    return_order: str  # "", "biological first" or "air removal first": another order is a warning, no more
    recall: str  # "at once", "repeat failed", "none stated"
    unless_confined: bool  # no recall where the cause is known at once and confined to one load
    recall_scope: str  # "since last pass" or "the load"
    recall_words: str
    implant_words: str
    notices: tuple[NoticeRule, ...]
    steps: tuple[PathStep, ...]
    source: Source
    withdraws_outside: bool = False


@dataclass(frozen=True, slots=True)
class Requalification:
    """Tests in a row after installation, relocation or a major repair. `air_removal`: dynamic air removal only."""

    biological: int
    air_removal: int
    chamber: str  # "empty", "full" or "any"
    each_cycle_type: bool
    order: str  # "", "biological first" or "air removal first": another order is a warning, no more
    source: Source


@dataclass(frozen=True, slots=True)
class VerificationSet:
    """Tests (V codes) that must pass after work of one repair class; `dynamic` only with dynamic air removal.

    `values`: those of them that prove nothing without a value; also where the component touched asks them.
    """

    repair_class: str
    tests: tuple[str, ...]
    dynamic: tuple[str, ...]
    recommended: tuple[str, ...]
    requalify: bool
    source: Source
    values: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ComponentTests:
    """Tests (V codes) that these rules ask after work on one component, beside those of the common table."""

    component: str  # a name of `audit.regimes.components`
    tests: tuple[str, ...]
    dynamic: tuple[str, ...]  # only with dynamic air removal
    source: Source


@dataclass(frozen=True, slots=True)
class Validity:
    """When a biological test counts."""

    control_not_stated_counts: bool
    awaited_days_clinic: int  # days after the end of incubation
    awaited_days_laboratory: int  # days after the run
    source: Source


@dataclass(frozen=True, slots=True)
class ReleaseRule:
    """What must be on record of a cycle before its load is released."""

    mechanical: bool  # the result of gauges, printout or data of each load
    words: str  # what the source asks
    source: Source


@dataclass(frozen=True, slots=True)
class LookBackRule:
    """What one trigger puts in doubt under these rules, in words; see `audit.judge.lookback`."""

    trigger: str  # one of TRIGGERS
    words: str
    source: Source


@dataclass(frozen=True, slots=True)
class Retention:
    """How long a kind of record is to be kept.

    `months` counts from the record, or from the last record of its kind where `starts` is "last entry", or from the
    end of the unit's life where it is "end of life". `calendar_years`: the calendar year of the record and so many
    after it. Both 0: see the words.
    """

    what: str
    months: int
    calendar_years: int
    starts: str  # "record", "last entry", "end of life"
    words: str
    source: Source


@dataclass(frozen=True, slots=True)
class EditionEnd:
    """From `on` on an edition is known to hold no more, though none on file has taken its place."""

    on: date
    words: str  # what came after it, as far as that is known
    source: Source


@dataclass(frozen=True, slots=True)
class Regime:
    """The rules of one place and programme in one edition, everything inherited already merged in.

    How well its first day is known: see `audit.regimes.held`.
    """

    id: str
    title: str
    place: str
    programme: str
    edition: str
    valid_from: date
    valid_from_grade: str  # one of DAY_GRADES
    inherits: str  # "" for the root
    duties: tuple[Duty, ...]
    failure: tuple[FailurePath, ...]
    requalification: Requalification
    verification: tuple[VerificationSet, ...]
    validity: Validity
    retention: tuple[Retention, ...]
    look_back: tuple[LookBackRule, ...]
    sources: tuple[Source, ...]
    notes: tuple[str, ...] = ()  # what a reader should know: cautions, what is left to local rules
    earlier: tuple[Regime, ...] = ()  # earlier editions on file, newest first
    release: ReleaseRule | None = None  # None: these rules ask nothing of each load
    components: tuple[ComponentTests, ...] = ()
    decisive: tuple[tuple[Source, str], ...] = ()  # the words of a source that decide, where they were seen
    unread: tuple[tuple[Source, str], ...] = ()  # why no text could be read, of each source from memory
    country: str = ""  # "" for rules of no country
    region: str = ""  # state, province or part of the country; "" all of it
    locality: str = ""  # county, city or district of the region; "" all of it
    kinds: tuple[str, ...] = (ANY,)  # kinds of place, keys of KINDS_OF_PLACE, or ANY alone
    where_adopted: bool = False  # a model text: it holds only where the place has taken it over
    ended: EditionEnd | None = None  # None: it is not known to have ended
    valid_from_citation: str = ""  # where the first day stands; "": in what the edition is called
    valid_from_unread: str = ""  # why no text states the first day; "" where one was read or quoted

    def decisive_words(self, source: Source) -> str:
        """The decisive words of a source, quoted, with a translation where they are not English; "" for none."""
        return next((words for held, words in self.decisive if held == source), "")

    def why_unread(self, source: Source) -> str:
        """Why no text could be read of a source from memory; "" for every other source."""
        return next((words for held, words in self.unread if held == source), "")

    def has_ended(self, day: date) -> bool:
        """Whether this edition is known to hold no more on `day`."""
        return self.ended is not None and self.ended.on <= day

    def on(self, day: date) -> Regime:
        """The edition in force on `day`: the newest valid by then, or the oldest on file before all of them."""
        held = (self, *self.earlier)
        return next((one for one in held if one.valid_from <= day), held[-1])

    def path(self, kind: str) -> FailurePath | None:
        """The path after a failure of `kind`, or None where these rules have none."""
        return next((p for p in self.failure if p.kind == kind), None)

    def look_back_rule(self, trigger: str) -> LookBackRule | None:
        """What these rules say of a trigger, or None."""
        return next((r for r in self.look_back if r.trigger == trigger), None)

    def verification_set(self, repair_class: str) -> VerificationSet:
        """The tests after work of class A, B or C; KeyError for another class."""
        for one in self.verification:
            if one.repair_class == repair_class:
                return one
        raise KeyError(repair_class)
