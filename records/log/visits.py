"""A visit with all its jobs, in one submission: all of it or none of it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property

from records.models import (
    ConditionFinding,
    CounterReading,
    FittedPart,
    Job,
    JobConclusion,
    Reading,
    Signature,
    TaskOutcome,
    VerificationTest,
    Visit,
    VisitEnd,
)

from . import kit_rules, left_alone, may_be_logged, recalls, row_rules, visit_tests
from .errors import InputPlace, Problem
from .naming import name_in
from .submission import answered, submission
from .together import out_of_order, within_limits
from .visit_job import JobOutcome, JobPart, JobReading, JobSignature, JobTest, VisitJob, typed

LEAVES = {
    "outcomes": TaskOutcome,
    "findings": ConditionFinding,
    "readings": Reading,
    "parts": FittedPart,
    "tests": VerificationTest,
    "signatures": Signature,
    "counters": CounterReading,
}
JOBS = InputPlace() / "jobs"
# Of a job, what is no column of its row.
APART = ("spore_tests", "chemicals", "conclusion", "worked_by", "on", "meanwhile")


@dataclass
class _VisitContext:
    """What every row of one visit shares."""

    clinic: object
    company: object
    zone: str
    on: object
    problems: list = field(default_factory=list)

    @cached_property
    def notices(self) -> list:
        """The recall notices in the books, read once and only when a part is fitted."""
        return recalls.notices_for(self.clinic)


def _job_problems(place: InputPlace, job: VisitJob, ground: _VisitContext):
    unit = job.get("unit")
    yield from may_be_logged.unit_of_clinic(place / "unit", unit, ground.clinic)
    for n, reading in enumerate(job.get("readings", ())):
        yield from row_rules.reading(reading.get, place / "readings" / n)
    for n, outcome in enumerate(job.get("outcomes", ())):
        yield from _outcome_problems(place / "outcomes" / n, outcome, unit)
    for n, part in enumerate(job.get("parts", ())):
        yield from _part_problems(place / "parts" / n, part, unit, ground)
    yield from kit_rules.not_accounted_for(place / "parts", job.get("parts", ()), ground.company or ground.clinic)
    for n, finding in enumerate(job.get("findings", ())):
        yield from _of_unit(place / "findings" / n / "position", finding.get("position"), unit)
        yield from row_rules.finding(finding.get, place / "findings" / n)
    for n, test in enumerate(job.get("tests", ())):
        yield from row_rules.verification(test.get, place / "tests" / n)
        yield from passed_outside(place / "tests" / n, test, job.get("readings", ()))
    for n, counter in enumerate(job.get("counters", ())):
        yield from may_be_logged.counter_forward(
            place / "counters" / n / "shown",
            unit,
            counter.get("counter"),
            counter.get("shown"),
            may_be_logged.offset_or_last(unit, counter.get("counter"), counter.get("offset"), ground.on),
            counter.get("offset_reason", ""),
            ground.on,
        )
    yield from visit_tests.problems_of(place, job, ground.clinic, ground.zone, job.get("on") or ground.on)
    yield from _conclusion_problems(place / "conclusion", job)
    yield from left_alone.problems(place, job)
    for n, signature in enumerate(job.get("signatures", ())):
        concluded = (job.get("conclusion") or {}).get("conclusion", "")
        yield from _signature_problems(place / "signatures" / n, signature, concluded)


def _of_unit(place: InputPlace, row, unit):
    if row is not None and unit is not None and row.unit_id != unit.pk:
        yield Problem(place, f"That belongs to another unit than {unit.label}. Choose one of its own.")


def _outcome_problems(place: InputPlace, outcome: JobOutcome, unit):
    yield from _of_unit(place / "plan_line", outcome.get("plan_line"), unit)
    yield from _of_unit(place / "position", outcome.get("position"), unit)
    yield from row_rules.outcome(outcome.get, place)


def _part_problems(place: InputPlace, part: JobPart, unit, ground: _VisitContext):
    yield from _of_unit(place / "position", part.get("position"), unit)
    lot = part.get("part_lot")
    if lot is not None:
        yield from may_be_logged.part_lot(place / "part_lot", lot, ground.company, ground.clinic)
    yield from row_rules.part(part.get, place)
    if part.get("quantity") != 0:
        yield from may_be_logged.expired_part(place / "expiry", part.get("expiry"), ground.on)
    if ground.on is not None:
        yield from recalls.fitted(place, part, ground.notices, ground.on)


def passed_outside(place: InputPlace, test: JobTest, readings: Iterable[JobReading]) -> Iterator[Problem]:
    """A test of what a cycle reaches did not pass while a reading of it was left outside its limits."""
    for reading in readings:
        quantity, unit = (str(reading.get(name) or "") for name in ("quantity", "unit_of_measure"))
        orders = within_limits(test.get("code", ""), quantity, unit, reading.get("lower"), reading.get("upper"))
        said = {"result": test.get("result"), "left": reading.get("as_left")}
        for name, words in out_of_order(orders, said.get):
            yield Problem(place / name, words)
            return


def _conclusion_problems(place: InputPlace, job: VisitJob):
    conclusion = job.get("conclusion")
    if not conclusion:
        yield Problem(place / "conclusion", "Say how the job ends: released, limited, pending or not released.")
        return
    yield from row_rules.conclusion(conclusion.get, place)
    awaited = [f for f in job.get("findings", ()) if f.get("decision") == row_rules.AWAITED]
    if awaited:
        yield from row_rules.ends_awaiting(conclusion.get, awaited[0].get("component", ""), place)


def _signature_problems(place: InputPlace, signature: JobSignature, concluded: str):
    meaning = signature.get("meaning")
    if meaning in ("refused", "nobody present") and not signature.get("reason"):
        yield Problem(place / "reason", f"“{meaning}” is a record too: say why.")
    if meaning == "left out of use" and concluded in ("released", "limited", "pending"):
        yield Problem(
            place / "meaning",
            f"The job is concluded as “{concluded}”, and the clinic signs that the unit stays out of use. Only one "
            "of the two is so: choose it.",
        )
    if meaning != "nobody present" and not signature.get("name"):
        yield Problem(place / "name", "A signature needs the name of the person who signs.")


def _add_job(s, visit, place: InputPlace, job: VisitJob, ground: _VisitContext, by) -> None:
    fields = {k: v for k, v in job.items() if k not in (*LEAVES, *APART)}
    common = {"clinic": ground.clinic, "happened_on": job.get("on") or ground.on, "zone": ground.zone}
    owner = ground.company or ground.clinic
    worked_by = name_in(owner, job.get("worked_by", ""), by)
    row = s.add(Job(visit=visit, worked_by=worked_by, **fields, **common), at=place)
    common |= {"unit": row.unit, "job": row}
    for name, model in LEAVES.items():
        for n, leaf in enumerate(job.get(name, ())):
            at = place / name / n
            leaf = _filled(model, dict(leaf), ground, by, row.unit)
            s.add(model(**(common | leaf)), at=at)
    s.add(JobConclusion(**common, **job["conclusion"]), at=place / "conclusion")
    visit_tests.add(s, place, job, common, owner, by)
    left_alone.add(s, place, job, row, by)


def _filled(model, leaf: dict, ground: _VisitContext, by, unit) -> dict:
    """What is copied into the row that used it: the part and its lot; whose name a signature is."""
    if model is FittedPart and (lot := leaf.get("part_lot")) is not None:
        copied = {
            "name": lot.part.name,
            "number": lot.part.number,
            "lot": lot.lot,
            "receipt_lot": lot.receipt_lot,
            "expiry": lot.expiry,
        }
        leaf |= {k: v for k, v in copied.items() if not leaf.get(k)}
        leaf.setdefault("lot_state", "printed" if lot.lot else "not printed")
    if model is CounterReading:
        leaf["offset"] = may_be_logged.offset_or_last(unit, leaf["counter"], leaf.get("offset"), ground.on)
    if model is Signature:
        name = leaf.pop("name", "")
        technician = leaf.get("meaning") == "released"
        owner = (ground.company or ground.clinic) if technician else ground.clinic
        leaf["signed_by"] = name_in(owner, name, by if name == by.full_name else None) if name else None
    return leaf


def log_visit(
    *, by, request_key, clinic, on, jobs, at=None, departed_at=None, servicer="", technician="", report_number="",
    confirmed=(), paper="", written_at=None,
) -> Visit:  # fmt: skip
    """Record a visit.

    Args:
        on, at: the day, and the arrival (aware) if known; `departed_at` likewise.
        servicer: who serviced; the company of the account, or the clinic, when left out.
        jobs: tables as in `records.log.visit_job.VisitJob`, each with its `unit`. TypeError for a name that is none.
        confirmed: codes of problems that really happened so.
        paper: the page it is transcribed from, for history on paper.
    """
    jobs = typed(jobs)
    rights = may_be_logged.rights_or_refuse(by, clinic, visit=True)
    zone = may_be_logged.zone_of(clinic)
    ground = _VisitContext(clinic, rights.company, zone, on)
    problems = list(may_be_logged.not_in_future("on", on, at, zone))
    if not jobs:
        problems.append(Problem(JOBS, "A visit is about at least one unit. Add the unit that was worked on."))
    units = [j.get("unit") for j in jobs]
    for n, job in enumerate(jobs):
        if job.get("unit") is not None and units.index(job["unit"]) != n:
            problems.append(Problem(JOBS / n / "unit", "This unit is in the visit already. One job a unit."))
        problems += _job_problems(JOBS / n, job, ground)
    if at and departed_at and departed_at < at:
        problems.append(Problem("departed_at", "The departure lies before the arrival. Check both times."))
    if not answered(by, request_key):
        may_be_logged.stop_on(problems, confirmed)
    inputs = {"on": on, "at": at, "departed_at": departed_at, "servicer": servicer, "technician": technician}
    inputs |= {"report_number": report_number, "jobs": jobs}
    entry = {"logged_for": rights.company, "paper": paper, "written_at": written_at}
    with submission(clinic, by, request_key, "visit", inputs, **entry) as s:
        if s.repeated:
            return s.first(Visit)
        return _write_visit(s, ground, by, at, departed_at, servicer, technician, report_number, jobs)


def _write_visit(s, ground, by, at, departed_at, servicer, technician, report_number, jobs):
    clinic, company = ground.clinic, ground.company
    common = {"clinic": clinic, "happened_on": ground.on, "zone": ground.zone}
    visit = s.add(
        Visit(
            company=company,
            servicer=servicer or (company or clinic).name,
            technician=name_in(company or clinic, technician, by),
            report_number=report_number,
            happened_at=at,
            **common,
        )
    )
    if departed_at:
        s.add(VisitEnd(visit=visit, happened_at=departed_at, **common))
    for n, job in enumerate(jobs):
        _add_job(s, visit, JOBS / n, job, ground, by)
    return visit
