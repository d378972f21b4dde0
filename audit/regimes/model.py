"""The shape of a set of rules ("regime"). Plain frozen values, filled by `audit.regimes.load`."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from audit.judgement import Source

FREQUENCIES = {
    "calendar-week": "once in each calendar week",
    "calendar-week-with-patients": "once in each calendar week with patients",
    "rolling-days": "at most {count} days after the last one",
    "calendar-month": "once in each calendar month",
    "after-event": "after {events}, before use",
}
GRADES = ("read", "quoted", "from memory")
KINDS = ("biological", "air removal", "air leak", "chemical", "mechanical")
CLASSES = ("A", "B", "C")


class RegimeError(ValueError):
    """A rules file that cannot be used: which file, which key, what is wrong, the way out."""

    def __init__(self, file: str, key: str, what: str, way_out: str):
        self.file, self.key, self.what, self.way_out = file, key, what, way_out
        super().__init__(f"{file}: {key}: {what}. {way_out}")


@dataclass(frozen=True, slots=True)
class Duty:
    """Something to be done again and again, or after an event. `count` is days for "rolling-days", else 1.

    `events` (installed, relocated, major repair) and `passes` (negative tests in a row) hold for "after-event".
    """

    id: str
    title: str
    every: str
    count: int
    events: tuple[str, ...]
    passes: int
    words: str
    source: Source


@dataclass(frozen=True, slots=True)
class PathStep:
    """A step after a failure. `when`: "always", or "repeat failed" (only once the repeat has failed too)."""

    action: str
    title: str
    when: str
    source: Source


@dataclass(frozen=True, slots=True)
class FailurePath:
    """What a failed test asks before the unit may be used again.

    `repeats`: passing repeats in a row, run after the failure was known. `return_passes`: passes in a row after a
    failed repeat and its cause; 0 means that a failed repeat only starts the repeats again.
    """

    kind: str
    withdraws: bool  # the unit is out of service until the path is walked
    repeats: int
    same_cycle_type: bool
    needs_normal: bool  # mechanical and chemical results of the repeat must be recorded as passing
    cause_before_repeat: bool  # inspected, repaired or cause found before the repeat counts
    return_passes: int
    return_chamber: str  # "empty" or "any"
    return_air_removal: int  # air-removal passes in a row beside, on dynamic-air-removal units
    recall: str  # "at once", "repeat failed", "none stated"
    recall_words: str
    implant_words: str
    steps: tuple[PathStep, ...]
    source: Source


@dataclass(frozen=True, slots=True)
class Requalification:
    """Tests in a row after installation, relocation or a major repair. `air_removal`: dynamic air removal only."""

    biological: int
    air_removal: int
    chamber: str  # "empty" or "any"
    source: Source


@dataclass(frozen=True, slots=True)
class VerificationSet:
    """Tests (V codes) that must pass after work of one repair class; `dynamic` only with dynamic air removal."""

    repair_class: str
    tests: tuple[str, ...]
    dynamic: tuple[str, ...]
    recommended: tuple[str, ...]
    requalify: bool
    source: Source


@dataclass(frozen=True, slots=True)
class Validity:
    """When a biological test counts."""

    control_not_stated_counts: bool
    awaited_days_clinic: int  # days after the end of incubation
    awaited_days_laboratory: int  # days after the run
    source: Source


@dataclass(frozen=True, slots=True)
class Retention:
    """How long a kind of record is to be kept, in words and in whole months (0: see the words)."""

    what: str
    months: int
    words: str
    source: Source


@dataclass(frozen=True, slots=True)
class Regime:
    """The rules of one place and programme in one edition, everything inherited already merged in."""

    id: str
    title: str
    place: str
    programme: str
    edition: str
    valid_from: date
    inherits: str  # "" for the root
    duties: tuple[Duty, ...]
    failure: tuple[FailurePath, ...]
    requalification: Requalification
    verification: tuple[VerificationSet, ...]
    validity: Validity
    retention: tuple[Retention, ...]
    sources: tuple[Source, ...]

    def path(self, kind: str) -> FailurePath | None:
        """The path after a failure of `kind`, or None where these rules have none."""
        return next((p for p in self.failure if p.kind == kind), None)

    def verification_set(self, repair_class: str) -> VerificationSet:
        """The tests after work of class A, B or C; KeyError for another class."""
        for one in self.verification:
            if one.repair_class == repair_class:
                return one
        raise KeyError(repair_class)
