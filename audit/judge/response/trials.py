"""Results as the replay sees them, one kind of test at a time, each made only when it is looked at.

What counts as a result of a kind, failed or passed:

| kind | rows |
| --- | --- |
| biological | spore tests, by their verdict |
| mechanical | what gauges or printout showed of loads and of the cycles of spore tests |
| chemical | indicators of any type but 2, and those of loads and of the cycles of spore tests |
| air removal | air-removal tests, and indicators of type 2, which are made for them (ISO 11140-1) |
| air leak | leak tests |
| automatic control, safety check, air detector | checks of that kind; signed where the rules ask it |
| wet packs | loads: wet failed, dry passed |

A pass that gauges, indicators or packs showed proves nothing where anything else of that cycle failed. On a unit that
takes no air-removal test a failed indicator of type 2 is a chemical result.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from operator import attrgetter

from audit.facts import ChemicalFact, LoadFact, Ordered, UnitFacts, happened_on, in_order
from audit.judge.biological import (
    AWAITED,
    FAILED,
    PASSED,
    Run,
    evidence_of,
    known_day,
    number_key,
    ran_after,
    run_of,
    shown_before,
)
from audit.judge.judgement import Evidence, TestVerdict
from audit.regimes.model import WITHOUT_VACUUM

from .cycle_results import FAIL, PASS, PENETRATION, CycleResults

BIOLOGICAL, AIR_REMOVAL, AIR_LEAK = "biological", "air removal", "air leak"
CHEMICAL, MECHANICAL, WET_PACKS = "chemical", "mechanical", "wet packs"
AUTOMATIC_CONTROL, SAFETY_CHECK, AIR_DETECTOR = "automatic control", "safety check", "air detector"
OF_CYCLES = (MECHANICAL, CHEMICAL, WET_PACKS)
CHECKS = (AUTOMATIC_CONTROL, SAFETY_CHECK, AIR_DETECTOR)
AFTER_FAILURE = ("repeat", "requalification", "after repair")  # what a person says of a test run after a failure
_PURPOSE = (AIR_REMOVAL, AIR_LEAK, *CHECKS)  # kinds of which the purpose of the row is that of the result
_FIELD = {MECHANICAL: ("mechanical", FAIL), CHEMICAL: ("chemical", FAIL), WET_PACKS: ("packs", "wet")}
_PACKS = {"wet": FAIL, "dry": PASS}


@dataclass(frozen=True, slots=True)
class Trial:
    """One result of one kind of test, as the replay sees it."""

    kind: str
    origin: str
    ref: str
    day: date
    at: datetime | None
    known_on: date | None  # None: not known yet
    known_at: datetime | None
    result: str  # passed, failed, awaited
    cycle_type: str
    cycle_number: str
    chamber: str
    purpose: str
    mechanical: str  # of the whole cycle: pass, fail, not recorded
    chemical: str
    implant: bool
    words: Callable[[], Evidence] = field(compare=False, repr=False)  # passes nobody shows are never put into words

    @property
    def evidence(self) -> Evidence:
        """The result in one line."""
        return self.words()

    @property
    def run(self) -> Run:
        """When it was run."""
        return self.day, self.at, number_key(self.cycle_number)

    @property
    def normal(self) -> bool:
        """Mechanical and chemical results of the cycle are recorded as passing."""
        return self.mechanical == PASS and self.chemical == PASS

    @property
    def abnormal(self) -> bool:
        """One of them is recorded as failing."""
        return FAIL in (self.mechanical, self.chemical)

    def after(self, failed: Trial, first: bool = False) -> bool:
        """Whether it was run after a failure was known, and in another cycle; `first`: the one that opened the case.

        On the same day a test that a person called one after a failure was, time or no time, unless the failure was
        such a test itself among others; otherwise only both times show it. Common practice, no source.
        """
        if self.origin == failed.origin or self._same_cycle(failed):
            return False
        if failed.known_on is None:
            return False
        if self.day != failed.known_on:
            return self.day > failed.known_on
        if self.purpose in AFTER_FAILURE and (first or failed.purpose not in AFTER_FAILURE):
            return True
        return bool(ran_after(self.day, self.at, failed.known_on, failed.known_at))

    def after_cause(self, day: date, at: datetime | None) -> bool:
        """Whether it was run after a cause was found or a repair done; on that same day as in `after`."""
        if self.day != day:
            return self.day > day
        return self.purpose in AFTER_FAILURE or bool(ran_after(self.day, self.at, day, at))

    def _same_cycle(self, other: Trial) -> bool:
        return self.day == other.day and self.run[2] != "" and self.run[2] == other.run[2]


_OF_LOAD = attrgetter("mechanical", "chemical", "packs")


def failed_kinds(unit: UnitFacts, verdicts: dict[str, TestVerdict], loads: Iterable[LoadFact]) -> frozenset[str]:
    """The kinds of test of which at least one failed. One look at each row, nothing is made.

    `loads`: the loads of the unit, or those among which the failed ones are.
    """
    found = {c.kind for c in unit.checks if c.result == FAIL} & set(CHECKS)
    if FAILED in [v.verdict for v in verdicts.values()]:
        found.add(BIOLOGICAL)
    if {t.result for t in unit.air_removal} - {PASS}:
        found.add(AIR_REMOVAL)
    if {t.result for t in unit.leaks} - {PASS}:
        found.add(AIR_LEAK)
    found |= {AIR_REMOVAL if c.type == PENETRATION else CHEMICAL for c in unit.chemical if c.result == FAIL}
    told = set(map(_OF_LOAD, loads))
    told |= {(t.mechanical, t.chemical, "") for t in unit.bio_tests if t.mechanical == FAIL or t.chemical == FAIL}
    for mechanical, chemical, packs in told:
        found |= {k for k, r in ((MECHANICAL, mechanical), (CHEMICAL, chemical)) if r == FAIL}
        found |= {WET_PACKS} if packs == "wet" else set()
    if unit.equipment_type in WITHOUT_VACUUM:
        if AIR_REMOVAL in found and any(c.result == FAIL and c.type == PENETRATION for c in unit.chemical):
            found.add(CHEMICAL)
        found -= {AIR_REMOVAL, AIR_LEAK}
    return frozenset(found)


class Results:
    """The results of one kind in order of the run, each made only when it is looked at.

    `signed`: of this kind the rules count only what is signed.
    """

    def __init__(self, unit: UnitFacts, verdicts: dict[str, TestVerdict], kind: str, signed: bool = False):
        self.kind, self._signed = kind, signed
        self._unit, self._verdicts = unit, verdicts
        self._lists = [in_order(rows) for rows in _lists(unit, kind)]
        self._cycles: CycleResults | None = None
        self._made: dict[str, Trial | None] = {}

    def failed(self) -> list[Trial]:
        """Those that failed, in order of the run."""
        return [self._make(f) for f in in_order([f for rows in self._lists for f in self._failed_of(rows)])]

    def since(self, day: date) -> Iterator[Trial]:
        """Those run on `day` or later, looked at day by day."""
        at = [bisect_left(rows, day, key=happened_on) for rows in self._lists]
        while left := [happened_on(rows[n]) for rows, n in zip(self._lists, at, strict=True) if n < len(rows)]:
            first, same = min(left), []
            for place, rows in enumerate(self._lists):
                start = end = at[place]
                while end < len(rows) and happened_on(rows[end]) == first:
                    end += 1
                same += rows[start:end]
                at[place] = end
            for fact in in_order(same) if len(same) > 1 else same:
                trial = self._make(fact)
                if trial is not None:
                    yield trial

    def last_pass(self, failed: Sequence[Trial]) -> Trial | None:
        """The newest pass that is shown to have been run before each of the failed ones, or None."""
        first = min(t.day for t in failed)
        near = [t.run for t in failed if t.day == first]
        found = []
        for rows in self._lists:
            n = bisect_left(rows, first, key=happened_on)
            while n < len(rows) and happened_on(rows[n]) == first:
                n += 1
            for at in range(n - 1, -1, -1):
                fact = rows[at]
                if self._is_passed(fact) and all(shown_before(run_of(fact), run) for run in near):
                    found.append(fact)
                    break
        return self._make(in_order(found)[-1]) if found else None

    def _failed_of(self, rows: Ordered) -> Iterable:
        """The rows of one list that failed; of loads, which are many, by one look at one field."""
        name, word = _FIELD.get(self.kind, ("", ""))
        if name and (rows is self._unit.loads or rows is self._unit.bio_tests):
            return [f for f in rows if getattr(f, name) == word]
        return [f for f in rows if self._is_failed(f)]

    def _is_failed(self, fact) -> bool:
        if self.kind == BIOLOGICAL:
            return self._verdicts[fact.row.origin].verdict == FAILED
        return result_of(fact, self.kind, self._unit) == FAIL

    def _is_passed(self, fact) -> bool:
        if self.kind == BIOLOGICAL:
            return self._verdicts[fact.row.origin].verdict == PASSED
        return result_of(fact, self.kind, self._unit) == PASS and self._counts(fact)

    def _counts(self, fact) -> bool:
        """Whether a pass counts: signed where the rules ask it, and of a cycle in which nothing else failed."""
        if self.kind in CHECKS:
            return not self._signed or bool(fact.signed_by.strip())
        return self.kind not in OF_CYCLES or not self._of_cycle().failed(fact)

    def _of_cycle(self) -> CycleResults:
        if self._cycles is None:
            positive = {origin for origin, v in self._verdicts.items() if v.verdict == FAILED}
            self._cycles = CycleResults(self._unit, positive)
        return self._cycles

    def _make(self, fact) -> Trial | None:
        """The row as a result of the kind; None where it is none (invalid, not read, not signed, of another kind)."""
        origin = fact.row.origin
        if origin not in self._made:
            self._made[origin] = self._new(fact)
        return self._made[origin]

    def _new(self, fact) -> Trial | None:
        if self.kind != BIOLOGICAL:
            return _plain(fact, self.kind, self._unit) if self._is_failed(fact) or self._is_passed(fact) else None
        verdict = self._verdicts[fact.row.origin]
        if verdict.verdict not in (PASSED, FAILED, AWAITED):
            return None
        return _bio(fact, verdict, self._of_cycle())


# ------------------------------------------------------------------------------------------------ rows of a kind


def _lists(unit: UnitFacts, kind: str) -> list[Sequence]:
    if kind == BIOLOGICAL:
        return [unit.bio_tests]
    if kind in CHECKS:
        return [unit.checks]
    return {
        MECHANICAL: [unit.bio_tests, unit.loads],
        CHEMICAL: [unit.chemical, unit.bio_tests, unit.loads],
        AIR_REMOVAL: [unit.air_removal, unit.chemical],
        AIR_LEAK: [unit.leaks],
        WET_PACKS: [unit.loads],
    }[kind]


def result_of(fact, kind: str, unit: UnitFacts) -> str:
    """ "pass", "fail", or anything else for what is no result of the kind; "biological" takes a verdict instead."""
    if kind == MECHANICAL:
        return fact.mechanical
    if kind == WET_PACKS:
        return _PACKS.get(fact.packs, "")
    if isinstance(fact, ChemicalFact):
        return fact.result if kind == (CHEMICAL if _of_goods(fact, unit) else AIR_REMOVAL) else ""
    if kind == CHEMICAL:
        return fact.chemical
    if kind in (AIR_REMOVAL, AIR_LEAK):
        return PASS if fact.result == PASS else FAIL
    return fact.result if fact.kind == kind else ""


def _of_goods(strip: ChemicalFact, unit: UnitFacts) -> bool:
    return strip.type != PENETRATION or (unit.equipment_type in WITHOUT_VACUUM and strip.result == FAIL)


# ------------------------------------------------------------------------------------------------ making them


def _bio(test, verdict: TestVerdict, cycles: CycleResults) -> Trial:
    times = [r.known_at for r in test.readings if known_day(r) == verdict.known_on]
    mechanical, chemical = cycles.of(test)
    return Trial(
        kind=BIOLOGICAL,
        origin=test.row.origin,
        ref=test.row.ref,
        day=test.row.happened_on,
        at=test.row.happened_at,
        known_on=verdict.known_on,
        known_at=min(times) if times and None not in times else None,
        result=verdict.verdict,
        cycle_type=test.cycle_type,
        cycle_number=test.cycle_number,
        chamber=test.chamber,
        purpose=test.purpose,
        mechanical=mechanical,
        chemical=chemical,
        implant=test.implant,
        words=lambda: evidence_of(test, verdict),
    )


def _plain(fact, kind: str, unit: UnitFacts) -> Trial:
    """A result known as soon as it was run."""
    row = fact.row
    word = PASSED if result_of(fact, kind, unit) == PASS else FAILED
    return Trial(
        kind=kind,
        origin=row.origin,
        ref=row.ref,
        day=row.happened_on,
        at=row.happened_at,
        known_on=row.happened_on,
        known_at=row.happened_at,
        result=word,
        cycle_type=fact.cycle_type if kind in CHECKS else "",
        cycle_number=getattr(fact, "cycle_number", ""),
        chamber=getattr(fact, "chamber", ""),
        purpose=getattr(fact, "purpose", "") if kind in _PURPOSE else "",
        mechanical=PASS,
        chemical=PASS,
        implant=getattr(fact, "implant", False),
        words=lambda: Evidence(row.ref, f"{_name(fact, kind)} of {row.happened_on.isoformat()}: {word}"),
    )


def _name(fact, kind: str) -> str:
    if kind == AIR_LEAK:
        return f"air-leak test ({fact.as_read or fact.rate})"
    if isinstance(fact, ChemicalFact):
        return f"chemical indicator type {fact.type}"
    if kind == WET_PACKS:
        return f"dryness of the packs of {_cycle(fact)}"
    if isinstance(fact, LoadFact) or kind == CHEMICAL:
        return f"{kind} result of {_cycle(fact)}"
    names = {
        AIR_REMOVAL: "air-removal test",
        MECHANICAL: "mechanical result of the spore-test cycle",
        AUTOMATIC_CONTROL: "automatic control test",
        SAFETY_CHECK: "check of the safety devices",
        AIR_DETECTOR: "check of the air detector",
    }
    return names[kind]


def _cycle(fact) -> str:
    return f"cycle {fact.cycle_number}" if fact.cycle_number else "a cycle without number"
