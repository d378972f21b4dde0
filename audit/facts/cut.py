"""The cut by day: what had happened by a day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from .monitoring import CaseFact
from .row import Ordered
from .service import JobFact
from .whole import UnitFacts


def _had_happened(facts, day: date):
    """Those that had happened; facts in order stay known as in order, and are not looked through when all had."""
    if type(facts) is Ordered:
        if not facts or facts[-1].row.happened_on <= day:
            return facts
        return Ordered([f for f in facts if f.row.happened_on <= day])
    return tuple([f for f in facts if f.row.happened_on <= day])


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
    for name in ("leaks", "loads", "checks", "documents", "gaps"):
        cut[name] = _had_happened(getattr(unit, name), day)
    cut["jobs"] = tuple(_job_by(j, day) for j in _had_happened(unit.jobs, day))
    cut["cases"] = tuple(_case_by(c, day) for c in _had_happened(unit.cases, day))
    cut["bio_tests"] = tuple(
        replace(t, readings=tuple(r for r in t.readings if max(r.row.happened_on, r.known_on) <= day))
        for t in _had_happened(unit.bio_tests, day)
    )
    return replace(unit, **cut)
