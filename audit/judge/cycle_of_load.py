"""The cycle of a load: which spore tests and indicators are of it, and what speaks against releasing what it held.

One matching for the duty of a test in each implant load, for the open items about implants and for the decision on a
load. Of several tests of one cycle each counts: what is failed, unread or does not count speaks against a release
though another test passed. A cycle number is compared without case, blanks and leading noughts.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from audit.facts import BioTestFact, CycleRecordingFact, LoadFact, UnitFacts, happened_on, in_order
from audit.judge.biological import AWAITED, FAILED, INVALID, PASSED, same_cycle
from audit.judge.exposure import reached, short_of
from audit.judge.judgement import Source, TestVerdict
from audit.judge.recorded import failed, told_of
from audit.regimes.model import Duty

SPORE_TESTED = Source(
    "CDC 2003 (MMWR 52 RR-17) VI.F: a spore test in every load with an implant, its result verified before use "
    "whenever possible",
    "2026-11-28",
    "read",
)
EACH = "each-implant-load"
_TEST = {
    PASSED: "the spore test of this cycle passed",
    FAILED: "the spore test of this cycle is positive",
    AWAITED: "the spore test of this cycle has no result yet",
    INVALID: "the spore test of this cycle doesn’t count",
}
# Of several tests the gravest is told first.
_GRAVEST = (FAILED, AWAITED, INVALID)


@dataclass(frozen=True, slots=True)
class Cycle:
    """What is on record of the cycle of a load. `against`: what speaks against a release, in words, gravest first."""

    words: tuple[str, ...]
    against: tuple[str, ...]


def spore_tests_of(tests: Iterable[BioTestFact], load: LoadFact) -> list[BioTestFact]:
    """The spore tests of the load: of its day and cycle; for a load with an implant also those of its day marked as
    of an implant load, where one of the two cycle numbers is not recorded. Those of the cycle come first."""
    same_day = of_day(tests, load.row.happened_on)
    same = [t for t in same_day if same_cycle(t, load)]
    if not load.implant:
        return same
    return same + [t for t in same_day if t.implant and not (t.cycle_number and load.cycle_number)]


def of_day(facts: Iterable, day: date) -> list:
    """The facts of that day, in order."""
    rows = in_order(facts)
    return list(rows[bisect_left(rows, day, key=happened_on) : bisect_right(rows, day, key=happened_on)])


def not_passed(tests: Iterable[BioTestFact], verdicts: dict[str, TestVerdict]) -> list[str]:
    """The verdicts of the tests that did not pass, the gravest first; `verdicts` by the test's origin."""
    found = [verdicts[t.row.origin].verdict if t.row.origin in verdicts else AWAITED for t in tests]
    return sorted((v for v in found if v != PASSED), key=_GRAVEST.index)


def implant_duty(duties: Iterable[Duty]) -> Duty | None:
    """What rules ask of a load with an implant; None where they ask nothing."""
    return next((d for d in duties if d.every == EACH), None)


def cycle_of(
    unit: UnitFacts,
    load: LoadFact,
    verdicts: dict[str, TestVerdict],
    duty: Duty | None,
    recorded: Sequence[CycleRecordingFact] | None = None,
) -> Cycle:
    """What is on record of the cycle of the load. `verdicts` by the test's origin, a test without one is awaited;
    `duty`: what the rules ask of a load with an implant; `recorded`: its recorded cycles, where they are at hand."""
    tests = spore_tests_of(unit.bio_tests, load)
    strips = [c for c in of_day(unit.chemical, load.row.happened_on) if same_cycle(c, load)]
    words = [
        f"gauges and printout: {load.mechanical or 'not recorded'}",
        f"chemical indicators: {load.chemical or 'not recorded'}",
        *(f"chemical indicator type {c.type}: {c.result}" for c in strips),
        *(_TEST[verdicts[t.row.origin].verdict if t.row.origin in verdicts else AWAITED] for t in tests),
    ]
    if told := reached(load):
        words.append(f"exposure: {told}")
    recordings = [r for r in unit.recordings if r.load == load.row.origin] if recorded is None else recorded
    words += [told_of(unit, load, each) for each in recordings]
    if load.pack_condition == "damaged":
        words.append("wrapping damaged")
    if load.implant:
        words.append("held an implant")
        if not tests:
            words.append("no spore test of this cycle is on record")
    short = [f"the exposure fell short: {told}" for told in short_of(unit, load)]
    short += [f"its recorded cycle: {why}" for each in recordings if (why := failed(unit, load, each))]
    return Cycle(tuple(words), (*short, *_against(load, strips, tests, not_passed(tests, verdicts), duty)))


def _against(load: LoadFact, strips, tests, doubtful: list[str], duty: Duty | None) -> Iterator[str]:
    rows = [load, *(t for t in tests if same_cycle(t, load))]
    if any("fail" in (r.mechanical, r.chemical) for r in rows) or any(c.result == "fail" for c in strips):
        yield "something failed in this cycle: such packs are not used (CDC 2003, MMWR 52 RR-17, VI.F)"
    if FAILED in doubtful:
        yield _TEST[FAILED]
    if load.implant and doubtful:
        yield f"it held an implant and {_TEST[doubtful[0]]} ({SPORE_TESTED})"
    elif load.implant and not tests and duty is not None:
        yield f"it held an implant and no spore test of this cycle is on record ({duty.source})"
