"""After work on a unit: the repair class, the tests it asks, what is proven of them and what is missing.

Which tests a job asks follows from its class and from what it touched (`work.asked`); the numbers are data of the
rules (`audit.regimes`). A test passed in the job, or in a later job, counts; the newest result of a test wins. A test
run apart from a job counts only when it is shown to have run after the work (`work.order`). Where major work asks
tests in a row, they are counted from there on, for each cycle type in use where the rules say so; a spore test still
awaited within a row breaks it until its result is known.

Work that was not released is covered by a later job alone that was released, or released with a limitation, together
with its own missing tests; that somebody accepts a pending result of a later visit answers nothing for it. Source of
the classes: see the verification sets of the rules; otherwise common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from datetime import date

from audit.facts import JobFact, ReadingFact, UnitFacts, in_order
from audit.regimes.model import Regime, VerificationSet

from .biological import AWAITED, FAILED, PASSED
from .cycle_types import named, types_in_use, types_tested
from .judgement import Evidence, TestVerdict
from .response import ANY, PassRows, order_warnings
from .work.asked import JobClass, asked_of, class_of, leak_tested, required_class
from .work.classes import (
    BACK_IN_USE,
    CLASS_WORDS,
    DO_NOT_USE,
    LIMITED,
    NOT_RELEASED,
    NOT_WORKED,
    PENDING,
    RELEASED,
    class_letter,
)
from .work.order import WorkSpan, came_after, span_of
from .work.readings import left_out
from .work.results import FAIL, PASS, STATED, Result, results_of
from .work.touched import NamesOnUnit

__all__ = [
    "CLASS_WORDS",
    "LIMITED",
    "NOT_RELEASED",
    "NOT_WORKED",
    "PENDING",
    "RELEASED",
    "Work",
    "causes_of",
    "class_letter",
    "evidence_of_job",
    "not_released_spans",
    "required_class",
    "run_apart",
    "works_of",
]

DYNAMIC = "dynamic air removal"
STATED_WORDS = "stated, not shown"


@dataclass(slots=True, unsafe_hash=True)  # not frozen, nor ever changed
class Work:
    """One job as judged. `missing` names what is still to be proven; `failed` the tests that failed last."""

    job: JobFact
    repair_class: str  # A, B or C; "" when nothing was done
    asked: VerificationSet | None  # None: no work was done
    missing: tuple[str, ...]
    failed: tuple[str, ...]
    biological_missing: int  # negative tests still to come of those the class or a pending release asks
    conclusion: str  # "" when the job is not concluded; of this job or of a later one that covers it
    concluded_by: JobFact | None
    short: tuple[tuple[str, int], ...] = ()  # (cycle type, negative tests missing); the type "" where none is asked
    warnings: tuple[str, ...] = ()  # tests run in another order than the rules name; forbids nothing
    do_not_use: bool = False  # stands beside the class: something was found that forbids use, or it was stated
    unknown: tuple[str, ...] = ()  # what was changed and the table of components does not know, nobody having decided
    unshown: tuple[str, ...] = ()  # tests that were passed without a value and count all the same
    outside: tuple[ReadingFact, ...] = ()  # left outside their limits, and not shown within them since

    @property
    def by_cycle_type(self) -> bool:
        """Whether the tests still missing are asked of each cycle type."""
        return any(cycle_type for cycle_type, _ in self.short)

    @property
    def biological_words(self) -> str:
        """The negative spore tests still to come, with their cycle types where they are told apart; "" for none."""
        return " and ".join(
            f"{n} more negative spore test(s) in a row" + (f" in cycle type {name!r}" if name else "")
            for name, n in self.short
        )

    @property
    def done(self) -> bool:
        """Whether anything was done to the unit."""
        return self.asked is not None

    @property
    def class_words(self) -> str:
        """The class in words, with "do not use" beside it where that was found: "major, do not use"."""
        words = CLASS_WORDS.get(self.repair_class, "no work")
        return f"{words}, {CLASS_WORDS[DO_NOT_USE]}" if self.do_not_use else words


def works_of(unit: UnitFacts, regime: Regime, verdicts: dict[str, TestVerdict]) -> tuple[Work, ...]:
    """Every job of the unit judged, oldest first."""
    if not unit.jobs:
        return ()
    ground = _Ground(unit, regime, verdicts)
    out, since, same_day, released = [], {}, [], []
    for job in reversed(in_order(unit.jobs)):
        if same_day and same_day[0][0].row.happened_on != job.row.happened_on:
            for _, results in same_day:
                since = _older(results, since)
            same_day = []
        own = ground.results(job)
        newest = since
        for other, results in same_day:
            if came_after(other, job):
                newest = _older(results, newest)
        later = next((j for j in reversed(released) if came_after(j, job)), None)
        out.append(ground.work(job, own, _older(own, newest), later))
        same_day.append((job, own))
        if job.conclusion is not None and job.conclusion.conclusion in (RELEASED, LIMITED):
            released.append(job)
    return tuple(reversed(out))


def _older(results: dict[str, Result], newer: dict[str, Result]) -> dict[str, Result]:
    """Results of a job under those of later ones: the newest wins, but for one that is stated and not shown."""
    if not newer:
        return results
    more = {code: r for code, r in results.items() if code not in newer or _is_stated_before(r, newer[code])}
    return newer | more if more else newer


def _is_stated_before(result: Result, newer: Result) -> bool:
    return newer.word == STATED and result.word != STATED


def causes_of(works) -> list[tuple[date, Evidence]]:
    """Days of concluded repairs of class B or C: a repair after a failed repeat stands for the cause found.

    What is major only because nobody knows what was changed is no cause found.
    """
    found = []
    for work in works:
        own = work.job.conclusion
        if work.repair_class in ("B", "C") and not work.unknown and own and own.conclusion in BACK_IN_USE:
            found.append((own.row.happened_on, evidence_of_job(work)))
    return found


def run_apart(unit: UnitFacts, regime: Regime, verdicts: dict[str, TestVerdict], job: JobFact) -> frozenset[str]:
    """The codes for which tests of the clinic's own stand, each shown to have run after the job."""
    ground, span = _Ground(unit, regime, verdicts), span_of(job)
    return frozenset(code for code in ("V2", "V3") if ground.run_apart(code, job, span))


def not_released_spans(works) -> list[tuple[date, date | None, str]]:
    """Spans out of service because a job closed as not released: (first, last inclusive or None, why)."""
    spans = []
    for n, work in enumerate(works):
        own = work.job.conclusion
        if own is None or own.conclusion != NOT_RELEASED:
            continue
        later = [w.job.conclusion for w in works[n + 1 :] if w.job.conclusion]
        end = next((c.row.happened_on for c in later if c.conclusion in (RELEASED, LIMITED)), None)
        first = own.row.happened_on.toordinal() + 1
        last = date.fromordinal(end.toordinal() - 1) if end else None
        spans.append((date.fromordinal(first), last, "not released after work"))
    return spans


class _Ground:
    """One unit under one edition of rules: what every job of it is judged with."""

    def __init__(self, unit: UnitFacts, regime: Regime, verdicts: dict[str, TestVerdict]):
        self.unit, self.regime, self.verdicts = unit, regime, verdicts
        self.names = NamesOnUnit(unit)
        self.outside = left_out(unit)
        self.dynamic = unit.equipment_type == DYNAMIC
        self.leaks = leak_tested(unit, regime)
        self.values = {code for v in regime.verification for code in v.values}
        self._asked: dict[tuple, tuple[JobClass, VerificationSet]] = {}

    def results(self, job: JobFact) -> dict[str, Result]:
        """What the tests of a job showed."""
        return results_of(job, self.values, self.outside.get(job.row.origin, ()))

    def work(self, job: JobFact, own: dict[str, Result], newest: dict[str, Result], later: JobFact | None) -> Work:
        """`newest`: the last result of each test from this job on; `later`: the next job that released the unit."""
        held, asked = self._class_and_asked(job)
        outside = self.outside.get(job.row.origin, ())
        concluded = job.conclusion.conclusion if job.conclusion is not None else ""
        failed = tuple(sorted([c for c, result in newest.items() if result.word == FAIL]))
        if concluded == NOT_WORKED and not held.touched and not failed:
            return Work(
                job, held.letter, None, (), (), 0, NOT_WORKED, job, do_not_use=held.do_not_use, outside=outside
            )
        span = span_of(job)
        bio = self._biological(job, span, asked)
        air = self._air(job, span) if asked.requalify and self.dynamic else None
        short = () if bio is None else tuple(bio.missing())
        conclusion, by = _conclusion(job, later)
        return Work(
            job=job,
            repair_class=held.letter,
            asked=asked,
            missing=tuple(self._missing(job, span, asked, newest, air)),
            failed=failed,
            biological_missing=sum([n for _, n in short]),
            conclusion=conclusion,
            concluded_by=by,
            short=short,
            warnings=() if bio is None or air is None else _warnings(self.regime, bio, air),
            do_not_use=held.do_not_use,
            unknown=held.unknown,
            unshown=("V1",) if "V1" in own and own["V1"].word == PASS and not own["V1"].shown else (),
            outside=outside,
        )

    def _class_and_asked(self, job: JobFact) -> tuple[JobClass, VerificationSet]:
        """The class and the tests asked; visits that are alike are told so by all that these are read from."""
        if job.findings:
            held = class_of(job, self.names)
            return held, asked_of(held, self.regime, self.dynamic, self.leaks)
        key = (
            (job.class_stated, job.class_reason, job.reason, job.conclusion and job.conclusion.conclusion),
            tuple([(p.position, p.name, p.action, p.quantity > 0) for p in job.parts]),
            tuple([(o.outcome, o.plan_line, o.position, o.action) for o in job.outcomes]),
        )
        if key not in self._asked:
            held = class_of(job, self.names)
            self._asked[key] = held, asked_of(held, self.regime, self.dynamic, self.leaks)
        return self._asked[key]

    def _missing(self, job: JobFact, span: WorkSpan, asked: VerificationSet, newest, air) -> list[str]:
        codes = dict.fromkeys((*asked.tests, *asked.dynamic) if self.dynamic else asked.tests)
        missing: list[str] = []
        for code in codes:
            word = newest[code].word if code in newest else ""
            if word == STATED:
                missing.append(f"{code} {STATED_WORDS}")
            elif not word and not self.run_apart(code, job, span):
                missing.append(code)
        if air is not None:
            missing += [f"{n} more passing air-removal test(s) in a row" for _, n in air.missing()]
        return missing

    def run_apart(self, code: str, job: JobFact, span: WorkSpan) -> bool:
        """Whether the clinic's own leak or air-removal test, shown to have run after it, stands for the code."""
        if not (self.dynamic or self.leaks):
            return False
        tests = {"V2": self.unit.leaks, "V3": self.unit.air_removal}.get(code, ())
        return any(t.result == PASS and span.is_before(t.row, t.purpose) for t in _since(tests, job))

    def _biological(self, job: JobFact, span: WorkSpan, asked: VerificationSet) -> PassRows | None:
        """The negative tests in a row of those asked, run after the work; None where none is asked."""
        rule, own = self.regime.requalification, job.conclusion
        need = rule.biological if asked.requalify else 0
        if own is not None and own.conclusion == PENDING:
            need = max(need, 1)
        if not need:
            return None
        types = _types(self.unit, job) if rule.each_cycle_type and asked.requalify else (ANY,)
        rows, awaited = PassRows(need, types), set()
        for test in _since(self.unit.bio_tests, job):
            name = ANY if types == (ANY,) else named(test.cycle_type)
            verdict, after = self.verdicts[test.row.origin].verdict, span.is_before(test.row, test.purpose)
            if verdict == FAILED and after is not False:
                rows.failed()
            elif not after:
                continue
            elif verdict == AWAITED:
                awaited.add(name)
            elif verdict == PASSED and rule.chamber in ("any", test.chamber):
                if name in awaited:
                    rows.broken(name)
                    awaited.discard(name)
                rows.passed(name, test.row.happened_on, test)
            if rows.proven_on is not None:
                break
        return rows

    def _air(self, job: JobFact, span: WorkSpan) -> PassRows:
        """The passing air-removal tests in a row, run after the work."""
        rows = PassRows(self.regime.requalification.air_removal)
        for test in _since(self.unit.air_removal, job):
            after = span.is_before(test.row, test.purpose)
            if test.result != PASS and after is not False:
                rows.failed()
            elif test.result == PASS and after:
                rows.passed(ANY, test.row.happened_on, test)
            if rows.proven_on is not None:
                break
        return rows


def _conclusion(job: JobFact, later: JobFact | None) -> tuple[str, JobFact | None]:
    """The conclusion of the job; where that is none or no release, of the first later job that released the unit."""
    own = job.conclusion
    if own is not None and own.conclusion in BACK_IN_USE:
        return own.conclusion, job
    if later is not None:
        return later.conclusion.conclusion, later
    return (own.conclusion, job) if own else ("", None)


def _since(facts, job: JobFact):
    """The facts from the day of the job on, in order."""
    rows = in_order(facts)
    return rows[bisect_left(rows, job.row.happened_on, key=lambda f: f.row.happened_on) :]


def _types(unit: UnitFacts, job: JobFact) -> tuple[str, ...]:
    """The cycle types to be proven after a job: of the loads of the months before it, else of the spore tests."""
    day = job.row.happened_on
    return types_in_use(unit, day, day) or types_tested(unit, day, day) or (ANY,)


def _warnings(regime: Regime, bio: PassRows, air: PassRows) -> tuple[str, ...]:
    if bio.proven_on is None or air.proven_on is None:
        return ()
    days = [tuple(t.row.happened_on for t in rows.row()) for rows in (bio, air)]
    return order_warnings(regime.requalification.order, *days)


def evidence_of_job(work: Work) -> Evidence:
    """The job in one line."""
    job = work.job
    return Evidence(job.row.ref, f"work of {job.row.happened_on.isoformat()} ({work.class_words}): {job.reason}")
