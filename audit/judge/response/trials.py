"""Results as the replay sees them, one kind of test at a time, each made only when it is looked at.

Mechanical and chemical results are those of spore-test cycles and of chemical indicators. Once a case of that kind is
kept, the results recorded with loads (chemical ones also with spore tests) count too: those that opened a case, and
those that passed since.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from audit.facts import ChemicalFact, LoadFact, UnitFacts, in_order
from audit.judge.biological import AWAITED, FAILED, PASSED, evidence_of, known_day, ran_after, run_of, shown_before
from audit.judge.judgement import Evidence, TestVerdict
from audit.regimes.model import KINDS

BIOLOGICAL, AIR_REMOVAL, AIR_LEAK = "biological", "air removal", "air leak"
CHEMICAL, MECHANICAL = "chemical", "mechanical"
AUTOMATIC_CONTROL, SAFETY_CHECK = "automatic control", "safety check"
_AFTER_FAILURE = ("repeat", "requalification", "after repair")


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
    normal: bool  # mechanical and chemical recorded as passing
    abnormal: bool  # one of them recorded as failing
    implant: bool
    words: Callable[[], Evidence] = field(compare=False, repr=False)  # passes nobody shows are never put into words

    @property
    def evidence(self) -> Evidence:
        """The result in one line."""
        return self.words()

    def after(self, failed: Trial) -> bool:
        """Whether it was run after the failure was known.

        On the same day without both times only a test that says it is one after a failure.
        """
        after = ran_after(self.day, self.at, failed.known_on, failed.known_at)
        if after is None:
            return self.purpose in _AFTER_FAILURE and self.origin != failed.origin
        return after


def trials_of(unit: UnitFacts, verdicts: dict[str, TestVerdict]) -> list[Trial]:
    """Every result that can open or prove a case, in order of the run; invalid biological tests are left out."""
    return [t for kind in KINDS for t in Results(unit, verdicts, kind).since(date.min)]


def failed_kinds(unit: UnitFacts, verdicts: dict[str, TestVerdict]) -> frozenset[str]:
    """The kinds of test of which at least one failed. One look at each row, nothing is made."""
    found = {c.kind for c in unit.checks if c.result == "fail"}
    found &= {AUTOMATIC_CONTROL, SAFETY_CHECK}
    if FAILED in {v.verdict for v in verdicts.values()}:
        found.add(BIOLOGICAL)
    if {t.result for t in unit.air_removal} - {"pass"}:
        found.add(AIR_REMOVAL)
    if {t.result for t in unit.leaks} - {"pass"}:
        found.add(AIR_LEAK)
    if "fail" in {t.result for t in unit.chemical}:
        found.add(CHEMICAL)
    if "fail" in {t.mechanical for t in unit.bio_tests}:
        found.add(MECHANICAL)
    found |= {c.kind for c in unit.cases if c.kind in (CHEMICAL, MECHANICAL)}  # opened by a load, it may be
    return frozenset(found)


class Results:
    """The results of one kind in order of the run, each made only when it is looked at."""

    def __init__(self, unit: UnitFacts, verdicts: dict[str, TestVerdict], kind: str):
        self.kind = kind
        self._rows, self._verdicts = in_order(_rows(unit, kind)), verdicts

    def failed(self) -> list[Trial]:
        """Those that failed."""
        return [_make(f, self._verdicts, self.kind) for f in self._rows if self._is_failed(f)]

    def since(self, day: date) -> Iterator[Trial]:
        """Those run on `day` or later."""
        for n in range(bisect_left(self._rows, day, key=lambda f: f.row.happened_on), len(self._rows)):
            trial = _make(self._rows[n], self._verdicts, self.kind)
            if trial is not None:
                yield trial

    def _is_failed(self, fact) -> bool:
        if self.kind == BIOLOGICAL:
            return self._verdicts[fact.row.origin].verdict == FAILED
        return _result(fact, self.kind) == "fail"


def last_pass(unit: UnitFacts, verdicts: dict[str, TestVerdict], failed: Sequence[Trial]) -> Trial | None:
    """The newest pass of their kind that is shown to have been run before each of the failed ones, or None."""
    kind, runs = failed[0].kind, [(t.day, t.at, t.cycle_number) for t in failed]
    for fact in reversed(in_order(_rows(unit, kind))):
        if not all(shown_before(run_of(fact), run) for run in runs):
            continue
        if kind == BIOLOGICAL:
            if verdicts[fact.row.origin].verdict == PASSED:
                return _bio(fact, verdicts[fact.row.origin])
        elif _passed(fact, kind):
            return _plain(fact, kind)
    return None


# ------------------------------------------------------------------------------------------------ rows of a kind


def _rows(unit: UnitFacts, kind: str):
    if kind == BIOLOGICAL:
        return unit.bio_tests
    if kind in (AUTOMATIC_CONTROL, SAFETY_CHECK):
        return unit.checks
    if kind == MECHANICAL:
        return _with_cycles(unit, kind, unit.bio_tests, unit.loads)
    if kind == CHEMICAL:
        return _with_cycles(unit, kind, unit.chemical, (*unit.loads, *unit.bio_tests))
    return {AIR_REMOVAL: unit.air_removal, AIR_LEAK: unit.leaks}[kind]


def _with_cycles(unit: UnitFacts, kind: str, rows, cycles):
    """The rows of a kind, with the cycles that opened a case of it and those that passed since the first case."""
    cases = [c for c in unit.cases if c.kind == kind]
    if not cases:
        return rows
    opened, first = {c.opened_by for c in cases}, min(c.row.happened_on for c in cases)
    counted = [
        x for x in cycles if x.row.origin in opened or (x.row.happened_on >= first and _result(x, kind) == "pass")
    ]
    return (*rows, *counted)


def _result(fact, kind: str) -> str:
    """ "pass", "fail", or anything else for what is no result of the kind."""
    if kind in (AIR_REMOVAL, AIR_LEAK):
        return "pass" if fact.result == "pass" else "fail"
    if kind == MECHANICAL:
        return fact.mechanical
    if kind == CHEMICAL:
        return fact.result if isinstance(fact, ChemicalFact) else fact.chemical
    if kind in (AUTOMATIC_CONTROL, SAFETY_CHECK) and fact.kind != kind:
        return ""
    return fact.result


def _passed(fact, kind: str) -> bool:
    return _result(fact, kind) == "pass"


# ------------------------------------------------------------------------------------------------ making them


def _make(fact, verdicts: dict[str, TestVerdict], kind: str) -> Trial | None:
    """The row as a result of a kind; None where it is none (invalid, not read, of another kind)."""
    if kind == BIOLOGICAL:
        verdict = verdicts[fact.row.origin]
        return _bio(fact, verdict) if verdict.verdict in (PASSED, FAILED, AWAITED) else None
    return _plain(fact, kind) if _result(fact, kind) in ("pass", "fail") else None


def _bio(test, verdict: TestVerdict) -> Trial:
    times = [r.known_at for r in test.readings if known_day(r) == verdict.known_on]
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
        normal=test.mechanical == "pass" and test.chemical == "pass",
        abnormal="fail" in (test.mechanical, test.chemical),
        implant=test.implant,
        words=lambda: evidence_of(test, verdict),
    )


def _plain(fact, kind: str) -> Trial:
    """A result known as soon as it was run."""
    row = fact.row
    word = PASSED if _passed(fact, kind) else FAILED
    check = kind in (AUTOMATIC_CONTROL, SAFETY_CHECK)
    return Trial(
        kind=kind,
        origin=row.origin,
        ref=row.ref,
        day=row.happened_on,
        at=row.happened_at,
        known_on=row.happened_on,
        known_at=row.happened_at,
        result=word,
        cycle_type=fact.cycle_type if check else "",
        cycle_number=getattr(fact, "cycle_number", ""),
        chamber=getattr(fact, "chamber", ""),
        purpose="",
        normal=True,
        abnormal=False,
        implant=isinstance(fact, LoadFact) and fact.implant,
        words=lambda: Evidence(row.ref, f"{_name(fact, kind)} of {row.happened_on.isoformat()}: {word}"),
    )


def _name(fact, kind: str) -> str:
    if kind == AIR_LEAK:
        return f"air-leak test ({fact.as_read or fact.rate})"
    if kind == CHEMICAL and isinstance(fact, ChemicalFact):
        return f"chemical indicator type {fact.type}"
    if isinstance(fact, LoadFact) or kind == CHEMICAL:
        cycle = f"cycle {fact.cycle_number}" if fact.cycle_number else "a cycle without number"
        return f"{kind} result of {cycle}"
    names = {
        AIR_REMOVAL: "air-removal test",
        MECHANICAL: "mechanical result of the spore-test cycle",
        AUTOMATIC_CONTROL: "automatic control test",
        SAFETY_CHECK: "check of the safety devices",
    }
    return names[kind]
