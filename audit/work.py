"""After work on a unit: the repair class, the tests it asks, what is proven of them and what is missing.

The class is derived from what was done; the technician may raise it, never lower it. Which tests a class asks is
data of the rules (`audit.regimes`). A test passed in the job or in a later job counts; the newest result of a test
wins. Source of the classes: see the verification sets of the rules; otherwise common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from .biological import FAILED, PASSED
from .facts import JobFact, UnitFacts, in_order
from .judgement import Evidence, TestVerdict
from .regimes.model import Regime, VerificationSet

RELEASED, LIMITED, PENDING = "released", "limited", "pending"
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

    @property
    def done(self) -> bool:
        """Whether anything was done to the unit."""
        return self.asked is not None


def class_letter(text: str) -> str:
    """A, B, C or X from the letter or the word; "" for neither."""
    text = text.strip()
    return _WORDS.get(text.lower(), text.upper() if text.upper() in _RANK else "")


def works_of(unit: UnitFacts, regime: Regime, verdicts: dict[str, TestVerdict]) -> tuple[Work, ...]:
    """Every job of the unit judged, oldest first."""
    jobs = [j for j in in_order(unit.jobs)]
    return tuple(_work(unit, regime, verdicts, jobs[n:]) for n in range(len(jobs)))


def major_repairs(works) -> list[tuple[date, Evidence]]:
    """Days on which major work (class C) was done, with its evidence."""
    return [(w.job.row.happened_on, _job_evidence(w)) for w in works if w.done and w.repair_class == "C"]


def causes_of(works) -> list[tuple[date, Evidence]]:
    """Days of concluded repairs of class B or C: a repair after a failed repeat stands for the cause found."""
    found = []
    for work in works:
        own = work.job.conclusion
        if work.repair_class in ("B", "C") and own and own.conclusion in (RELEASED, LIMITED, PENDING):
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
        end = next((c.row.happened_on for c in later if c.conclusion in (RELEASED, LIMITED, PENDING)), None)
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


def _work(unit: UnitFacts, regime: Regime, verdicts, jobs: list[JobFact]) -> Work:
    job = jobs[0]
    conclusion, by = _conclusion(jobs)
    repair_class = required_class(job, unit)
    own = job.conclusion
    if own is not None and own.conclusion == NOT_WORKED:
        return Work(job, repair_class, None, (), (), 0, NOT_WORKED, job)
    asked = regime.verification_set({"": "A", "X": "B"}.get(repair_class, repair_class))
    dynamic = unit.equipment_type == "dynamic air removal"
    codes = [*asked.tests, *(asked.dynamic if dynamic else ())]
    newest = _newest_results(jobs)
    failed = tuple(sorted(c for c, result in newest.items() if result == "fail"))
    missing = [c for c in codes if newest.get(c) not in ("pass", "fail")]
    bio = _biological_missing(unit, regime, verdicts, job, asked, own)
    if asked.requalify and dynamic:
        air = regime.requalification.air_removal - _air_passes(unit, job)
        if air > 0:
            missing.append(f"{air} more passing air-removal test(s) in a row")
    return Work(job, repair_class, asked, tuple(missing), failed, bio, conclusion, by)


def _conclusion(jobs: list[JobFact]) -> tuple[str, JobFact | None]:
    """The conclusion of the job, or of the first later job that put the unit back into use."""
    own = jobs[0].conclusion
    if own is not None and own.conclusion != NOT_RELEASED:
        return own.conclusion, jobs[0]
    for later in jobs[1:]:
        if later.conclusion is not None and later.conclusion.conclusion in (RELEASED, LIMITED, PENDING):
            return later.conclusion.conclusion, later
    return (own.conclusion, jobs[0]) if own else ("", None)


def _newest_results(jobs: list[JobFact]) -> dict[str, str]:
    newest = {}
    for job in jobs:
        for test in in_order(job.tests):
            if test.result in ("pass", "fail"):
                newest[test.code] = test.result
    return newest


def _biological_missing(unit, regime: Regime, verdicts, job: JobFact, asked: VerificationSet, own) -> int:
    """Negative tests in a row, run on or after the day of the job, still missing of those asked."""
    need = regime.requalification.biological if asked.requalify else 0
    if own is not None and own.conclusion == PENDING:
        need = max(need, 1)
    if not need:
        return 0
    run = 0
    for test in in_order(unit.bio_tests):
        verdict = verdicts[test.row.origin].verdict
        wrong_chamber = regime.requalification.chamber == "empty" and test.chamber != "empty"
        if test.row.happened_on < job.row.happened_on or (verdict == PASSED and wrong_chamber):
            continue
        if verdict == PASSED:
            run += 1
        elif verdict == FAILED:
            run = 0
        if run >= need:
            return 0
    return need - run


def _air_passes(unit: UnitFacts, job: JobFact) -> int:
    """The longest run of passing air-removal tests from the day of the job on."""
    best = run = 0
    for test in in_order(unit.air_removal):
        if test.row.happened_on >= job.row.happened_on:
            run = run + 1 if test.result == "pass" else 0
            best = max(best, run)
    return best


def _job_evidence(work: Work) -> Evidence:
    job = work.job
    words = CLASS_WORDS.get(work.repair_class, "no work")
    return Evidence(job.row.ref, f"work of {job.row.happened_on.isoformat()} ({words}): {job.reason}")


def evidence_of_job(work: Work) -> Evidence:
    """The job in one line."""
    return _job_evidence(work)
