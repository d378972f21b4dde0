"""The cut by day: what had happened by a day. What comes out is in order, see `in_order`."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from functools import partial
from operator import is_

from .clinic import InspectionFact, InspectionPointFact
from .monitoring import BioTestFact, CaseFact, LoadFact
from .row import Ordered, in_order
from .service import JobFact
from .whole import UnitFacts
from .work import FaultFact, VisitAgreedFact

_SIMPLE = (
    "placements",
    "positions",
    "fits",
    "plan",
    "events",
    "counters",
    "chemical",
    "air_removal",
    "leaks",
    "checks",
    "documents",
    "gaps",
    "programs",
    "recordings",
)
_LEAVES = ("outcomes", "findings", "readings", "parts", "tests", "signatures")


def had_happened(facts, day: date) -> tuple:
    """Those that had happened by the end of `day`, in order; the same object when all had and were in order."""
    if not facts or (type(facts) is Ordered and facts[-1].row.happened_on <= day):
        return facts
    return in_order([f for f in facts if f.row.happened_on <= day])


def _case_by(case: CaseFact, day: date) -> CaseFact:
    steps = []
    for step in had_happened(case.followups, day):
        if step.done_on is not None and step.done_on > day:
            step = replace(step, done_on=None, done_at=None, done_by="", outcome="", done_row=None, done_given="")
        steps.append(step)
    if len(steps) == len(case.followups) and all(map(is_, steps, case.followups)):
        return case
    return replace(case, followups=Ordered(steps))


def _job_by(job: JobFact, day: date) -> JobFact:
    """A job's leaves happen on the day of the visit unless they say otherwise (a later signature)."""
    if _all_had_happened(job, day):
        return job
    kept = {name: had_happened(getattr(job, name), day) for name in _LEAVES}
    conclusion = job.conclusion
    if conclusion is not None and conclusion.row.happened_on > day:
        conclusion = None
    return replace(job, conclusion=conclusion, **kept)


def _all_had_happened(job: JobFact, day: date) -> bool:
    """Whether all in the job is in order and had happened by the day."""
    if job.conclusion is not None and job.conclusion.row.happened_on > day:
        return False
    for facts in (job.outcomes, job.findings, job.readings, job.parts, job.tests, job.signatures):
        if facts and (type(facts) is not Ordered or facts[-1].row.happened_on > day):
            return False
    return True


def _loads_by(loads: tuple[LoadFact, ...], day: date, decided: Iterable[LoadFact]) -> tuple[LoadFact, ...]:
    """The loads, without the decisions of later days; `decided`: those among which the loads decided apart are."""
    if not any([x.released_row is not None and x.released_row.happened_on > day for x in decided]):
        return loads
    return Ordered(map(partial(_load_by, day=day), loads))


def _load_by(load: LoadFact, day: date) -> LoadFact:
    later = load.released_row is not None and load.released_row.happened_on > day
    return (
        replace(load, released="", released_row=None, decided_by="", reason="", released_given="") if later else load
    )


def inspections_by_day(inspections: tuple[InspectionFact, ...], day: date) -> tuple[InspectionFact, ...]:
    """The inspections that had happened by the end of `day` (inclusive), each with its points as they stood then."""
    return _each_by(had_happened(inspections, day), _inspection_by, day)


def _inspection_by(inspection: InspectionFact, day: date) -> InspectionFact:
    named = had_happened(inspection.points, day)
    points = _each_by(named, _point_by, day)
    return inspection if points is inspection.points else replace(inspection, points=points)


def _point_by(point: InspectionPointFact, day: date) -> InspectionPointFact:
    return replace(point, met=None) if point.met is not None and point.met.row.happened_on > day else point


def agreed_by_day(visits: tuple[VisitAgreedFact, ...], day: date) -> tuple[VisitAgreedFact, ...]:
    """What had been agreed by the end of `day` (inclusive), without what was called off later."""
    return _each_by(had_happened(visits, day), _agreed_by, day)


def _agreed_by(visit: VisitAgreedFact, day: date) -> VisitAgreedFact:
    later = visit.called_off is not None and visit.called_off.row.happened_on > day
    return replace(visit, called_off=None) if later else visit


def _fault_by(fault: FaultFact, day: date) -> FaultFact:
    later = fault.settled is not None and fault.settled.row.happened_on > day
    return replace(fault, settled=None) if later else fault


def _tests_by(tests: tuple[BioTestFact, ...], day: date) -> tuple[BioTestFact, ...]:
    """Each test with its readings up to the day; in most histories all were read once, by then."""
    if not any(
        [len(t.readings) > 1 or r.known_on > day or r.row.happened_on > day for t in tests for r in t.readings]
    ):
        return tests
    return _each_by(tests, _test_by, day)


def _test_by(test: BioTestFact, day: date) -> BioTestFact:
    """A reading counts from the day it was read or, if later, the day the clinic knew it."""
    readings = test.readings
    for reading in readings:
        if reading.row.happened_on > day or reading.known_on > day:
            known = (r for r in readings if r.row.happened_on <= day and r.known_on <= day)
            return replace(test, readings=in_order(list(known)))
    return test if type(readings) is Ordered or len(readings) < 2 else replace(test, readings=in_order(readings))


def unit_by_day(unit: UnitFacts, day: date, decided: Iterable[LoadFact] | None = None) -> UnitFacts:
    """The unit's facts that had happened by the end of `day` (inclusive), each kind in order.

    A reading of a biological test counts from the day it was read or, if later, the day the clinic knew it:
    on a day before that the result could not be acted on. A load is without a decision before the day of it.
    `decided`: loads of the unit among which all those with a decision logged apart are, where somebody knows them.
    """
    changed = {}
    for name in _SIMPLE:
        facts = getattr(unit, name)
        if facts and (held := had_happened(facts, day)) is not facts:
            changed[name] = held
    loads = had_happened(unit.loads, day)
    cut = (
        ("jobs", _each_by(had_happened(unit.jobs, day), _job_by, day)),
        ("cases", _each_by(had_happened(unit.cases, day), _case_by, day)),
        ("faults", _each_by(had_happened(unit.faults, day), _fault_by, day)),
        ("bio_tests", _tests_by(had_happened(unit.bio_tests, day), day)),
        ("loads", _loads_by(loads, day, loads if decided is None else decided)),
    )
    changed |= {name: facts for name, facts in cut if facts is not getattr(unit, name)}
    return replace(unit, **changed) if changed else unit


def _each_by(facts: tuple, by, day: date) -> tuple:
    """Each fact cut by its own leaves; the same object where none changed."""
    if not facts:
        return facts
    made = [by(fact, day) for fact in facts]
    return facts if all(map(is_, made, facts)) else Ordered(made)
