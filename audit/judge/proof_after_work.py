"""After work on a unit: the repair class, the tests it asks, what is proven of them and what is missing.

The class is derived from what was done; the technician may raise it, never lower it. Which tests a class asks is
data of the rules (`audit.regimes`). A test passed in the job or in a later job counts; the newest result of a test
wins. Where major work asks tests in a row, they are counted from the day of the work, for each cycle type in use
where the rules say so; a spore test still awaited within a row breaks it until its result is known. Source of the
classes: see the verification sets of the rules; otherwise common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from datetime import date
from functools import cache

from audit.facts import JobFact, UnitFacts, in_order
from audit.regimes.model import Regime, VerificationSet

from .biological import AWAITED, FAILED, PASSED
from .judgement import Evidence, TestVerdict
from .response import ANY, PassRows, order_warnings
from .response.cycle_types import named, types_in_use, types_tested

RELEASED, LIMITED, PENDING = "released", "limited", "pending"
_BACK_IN_USE = (RELEASED, LIMITED, PENDING)
NOT_RELEASED, NOT_WORKED = "not released", "not worked on"
_RANK = {"": 0, "A": 1, "B": 2, "C": 3, "X": 4}
_WORDS = {"routine": "A", "significant": "B", "major": "C", "do not use": "X"}
CLASS_WORDS = {letter: word for word, letter in _WORDS.items()}
_MAJOR_REASONS = ("installation", "relocation", "loaner")
_LEFT_ALONE = ("leave", "")


@dataclass(frozen=True, slots=True)
class Work:
    """One job as judged. `missing` names what is still to be proven; `failed` the tests that failed last."""

    job: JobFact
    repair_class: str
    asked: VerificationSet | None  # None: no work was done
    missing: tuple[str, ...]
    failed: tuple[str, ...]
    biological_missing: int  # negative tests still to come of those the class or a pending release asks
    conclusion: str  # "" when the job is not concluded; of this job or of a later one that covers it
    concluded_by: JobFact | None
    short: tuple[tuple[str, int], ...] = ()  # (cycle type, negative tests missing); the type "" where none is asked
    warnings: tuple[str, ...] = ()  # tests run in another order than the rules name; forbids nothing

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


@cache
def class_letter(text: str) -> str:
    """A, B, C or X from the letter or the word; "" for neither."""
    text = text.strip()
    return _WORDS.get(text.lower(), text.upper() if text.upper() in _RANK else "")


def works_of(unit: UnitFacts, regime: Regime, verdicts: dict[str, TestVerdict]) -> tuple[Work, ...]:
    """Every job of the unit judged, oldest first."""
    out, newest, later = [], {}, None
    for job in reversed(in_order(unit.jobs)):
        newest = _results(job) | newest
        out.append(_work(unit, regime, verdicts, job, newest, later))
        if job.conclusion is not None and job.conclusion.conclusion in _BACK_IN_USE:
            later = job
    return tuple(reversed(out))


def causes_of(works) -> list[tuple[date, Evidence]]:
    """Days of concluded repairs of class B or C: a repair after a failed repeat stands for the cause found."""
    found = []
    for work in works:
        own = work.job.conclusion
        if work.repair_class in ("B", "C") and own and own.conclusion in _BACK_IN_USE:
            found.append((own.row.happened_on, _job_evidence(work)))
    return found


def not_released_spans(works) -> list[tuple[date, date | None, str]]:
    """Spans out of service because a job closed as not released: (first, last inclusive or None, why)."""
    spans = []
    for n, work in enumerate(works):
        own = work.job.conclusion
        if own is None or own.conclusion != NOT_RELEASED:
            continue
        later = [w.job.conclusion for w in works[n + 1 :] if w.job.conclusion]
        end = next((c.row.happened_on for c in later if c.conclusion in _BACK_IN_USE), None)
        first = own.row.happened_on.toordinal() + 1
        last = date.fromordinal(end.toordinal() - 1) if end else None
        spans.append((date.fromordinal(first), last, "not released after work"))
    return spans


def required_class(job: JobFact, unit: UnitFacts) -> str:
    """The higher of the class derived from what was done and the class stated; "" when nothing was done."""
    found = _derived(job, unit)
    stated = class_letter(job.class_stated)
    if not found and job.conclusion is not None and job.conclusion.conclusion == NOT_WORKED:
        return ""
    return max([stated, *found], key=_RANK.__getitem__)


def _derived(job: JobFact, unit: UnitFacts) -> list[str]:
    lines = unit.plan
    out = ["C"] if job.reason in _MAJOR_REASONS else []
    for outcome in job.outcomes:
        if outcome.outcome == "done":
            out += [class_letter(p.repair_class) or "A" for p in lines if p.code == outcome.plan_line] or ["A"]
    for part in job.parts:
        if part.action.startswith("replaced"):
            mine = [p for p in lines if p.position and p.position == part.position and p.action == "replace"]
            out += [class_letter(p.repair_class) or "A" for p in mine] or ["A"]
    for finding in job.findings:
        if finding.decision not in _LEFT_ALONE:
            out.append(class_letter(finding.repair_class) or "A")
    return out


def _work(unit: UnitFacts, regime: Regime, verdicts, job: JobFact, newest: dict, later: JobFact | None) -> Work:
    """`newest`: the last result of each test from this job on; `later`: the next job that put the unit into use."""
    conclusion, by = _conclusion(job, later)
    repair_class = required_class(job, unit)
    own = job.conclusion
    if own is not None and own.conclusion == NOT_WORKED:
        return Work(job, repair_class, None, (), (), 0, NOT_WORKED, job)
    asked = regime.verification_set({"": "A", "X": "B"}.get(repair_class, repair_class))
    dynamic = unit.equipment_type == "dynamic air removal"
    codes = [*asked.tests, *(asked.dynamic if dynamic else ())]
    failed = tuple(sorted(c for c, result in newest.items() if result == "fail"))
    missing = [c for c in codes if newest.get(c) not in ("pass", "fail")]
    bio = _biological(unit, regime, verdicts, job, asked)
    air = _air(unit, regime, job) if asked.requalify and dynamic else None
    short = () if bio is None else tuple(bio.missing())
    if air is not None:
        missing += [f"{n} more passing air-removal test(s) in a row" for _, n in air.missing()]
    return Work(
        job=job,
        repair_class=repair_class,
        asked=asked,
        missing=tuple(missing),
        failed=failed,
        biological_missing=sum(n for _, n in short),
        conclusion=conclusion,
        concluded_by=by,
        short=short,
        warnings=_warnings(regime, bio, air),
    )


def _conclusion(job: JobFact, later: JobFact | None) -> tuple[str, JobFact | None]:
    """The conclusion of the job, or of the first later job that put the unit back into use."""
    own = job.conclusion
    if own is not None and own.conclusion != NOT_RELEASED:
        return own.conclusion, job
    if later is not None:
        return later.conclusion.conclusion, later
    return (own.conclusion, job) if own else ("", None)


def _results(job: JobFact) -> dict[str, str]:
    """The last result of each test within a job."""
    return {t.code: t.result for t in in_order(job.tests) if t.result in ("pass", "fail")}


def _since(facts, job: JobFact):
    """The facts from the day of the job on, in order."""
    rows = in_order(facts)
    return rows[bisect_left(rows, job.row.happened_on, key=lambda f: f.row.happened_on) :]


def _biological(unit: UnitFacts, regime: Regime, verdicts, job: JobFact, asked: VerificationSet) -> PassRows | None:
    """The negative tests in a row of those asked, run on or after the day of the job; None where none is asked."""
    rule, own = regime.requalification, job.conclusion
    need = rule.biological if asked.requalify else 0
    if own is not None and own.conclusion == PENDING:
        need = max(need, 1)
    if not need:
        return None
    types = _types(unit, job) if rule.each_cycle_type and asked.requalify else (ANY,)
    rows, awaited = PassRows(need, types), set()
    for test in _since(unit.bio_tests, job):
        name = ANY if types == (ANY,) else named(test.cycle_type)
        verdict = verdicts[test.row.origin].verdict
        if verdict == FAILED:
            rows.failed()
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


def _types(unit: UnitFacts, job: JobFact) -> tuple[str, ...]:
    """The cycle types to be proven after a job: of the loads of the months before it, else of the spore tests."""
    day = job.row.happened_on
    return types_in_use(unit, day, day) or types_tested(unit, day, day) or (ANY,)


def _air(unit: UnitFacts, regime: Regime, job: JobFact) -> PassRows:
    """The passing air-removal tests in a row from the day of the job on."""
    rows = PassRows(regime.requalification.air_removal)
    for test in _since(unit.air_removal, job):
        if test.result == "pass":
            rows.passed(ANY, test.row.happened_on, test)
        else:
            rows.failed()
        if rows.proven_on is not None:
            break
    return rows


def _warnings(regime: Regime, bio: PassRows | None, air: PassRows | None) -> tuple[str, ...]:
    if bio is None or air is None or bio.proven_on is None or air.proven_on is None:
        return ()
    days = [tuple(t.row.happened_on for t in rows.row()) for rows in (bio, air)]
    return order_warnings(regime.requalification.order, *days)


def _job_evidence(work: Work) -> Evidence:
    job = work.job
    words = CLASS_WORDS.get(work.repair_class, "no work")
    return Evidence(job.row.ref, f"work of {job.row.happened_on.isoformat()} ({words}): {job.reason}")


def evidence_of_job(work: Work) -> Evidence:
    """The job in one line."""
    return _job_evidence(work)
