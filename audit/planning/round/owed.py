"""Work that is owed out of what was found: no plan line says it. Common practice, no source.

| owed | until |
| --- | --- |
| a fault that was reported | the open item of it is gone: somebody looked, or it was settled |
| finding the cause, or a repair, that the path after a failure asks | that step is done or not needed any more |
| a return visit to a unit that the newest job left out of use, or did not work on after a breakdown | a later job |
| a return visit by the day until which a pending spore test was accepted | it passed and none runs; a later job |
| replacing a part that failed | another is on record as fitted |
| fitting what must be replaced and whose part was not at hand | another is fitted |
| a look at a unit that was taken out of service by hand | it is returned |

A unit that was taken out for a reason named already is not named twice. All is owed at once but what waits for a
spore test: that has the day which was accepted, and is late after it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from audit.facts import JobFact, UnitFacts, in_order
from audit.judge.biological import AWAITED, PASSED, ran_after
from audit.judge.judgement import Case, UnitJudgement, Word
from audit.judge.response import BY_COMPANY, ERROR, RETURNED, undone
from audit.judge.rules.fault_reported import RULE as FAULT

from .parts import Fitted
from .values import Need, WorkItem

LEFT_OUT, NOT_WORKED, PENDING = "not released", "not worked on", "pending"
FAILED_PART = "failed-part-not-replaced"  # the open item of one


@dataclass(frozen=True, slots=True)
class _Owed:
    """One thing. `day` is the last on which it is in time, None: at once."""

    id: str
    title: str
    rule: str
    note: str
    day: date | None = None
    needs: tuple[Need, ...] = ()


def owed_now(unit: UnitFacts, judged: UnitJudgement, common: dict) -> Iterator[WorkItem]:
    """What was found and needs somebody to come; `common` are the fields that all work on the unit shares."""
    faults = list(_faults(unit, judged))
    found = [*faults, *_steps(judged), *_returns(unit, judged, bool(faults)), *_failed_parts(unit, judged)]
    if not found:
        found = list(_by_hand(unit, judged))
    for each in found:
        late = each.day is None or each.day < judged.as_of
        said = {"id": each.id, "title": each.title, "day": each.day, "rule": each.rule, "note": each.note}
        yield WorkItem(**said, state="open item", overdue=late, needs=each.needs, **common)


def _faults(unit: UnitFacts, judged: UnitJudgement) -> Iterator[_Owed]:
    open_ = {evidence.ref for f in judged.findings if f.rule == FAULT for evidence in f.evidence}
    for fault in in_order(unit.faults):
        if fault.row.ref in open_:
            reported = f"reported on {fault.row.happened_on.isoformat()} by {fault.reported_by}, {fault.how}"
            meanwhile = "taken out of service" if fault.withdrawal else f"stays in use: {fault.kept_because}"
            about = f"{reported}; {meanwhile}"
            yield _Owed(f"fault:{fault.row.origin}", f"Fault reported: {fault.what}", reported, about)


def _steps(judged: UnitJudgement) -> Iterator[_Owed]:
    for case in judged.cases:
        for n, step in enumerate(case.steps if case.phase not in (ERROR, RETURNED) else ()):
            if step.action in BY_COMPANY and undone(step):
                id_ = f"step:{_case_id(case)}:{step.action}:{n}"
                yield _Owed(id_, f"{step.title}: {case.title}", case.title, step.note)


def _case_id(case: Case) -> str:
    """The case, or what failed where no case was opened."""
    return case.ref or next((evidence.ref for evidence in case.evidence), "")


def _returns(unit: UnitFacts, judged: UnitJudgement, reported: bool) -> Iterator[_Owed]:
    """What the newest job left over; `reported`: a fault is open, which says already that somebody is to look."""
    last = in_order(unit.jobs)[-1] if unit.jobs else None
    if last is None or last.conclusion is None:
        return
    day, why, by = last.row.happened_on.isoformat(), last.conclusion.reason, f"by {last.worked_by}"
    more, id_ = (f", {why}" if why else ""), f"return:{last.row.origin}"
    end = last.conclusion.conclusion
    if end == LEFT_OUT:
        title = f"Return visit: left out of use on {day}{more}"
        yield _Owed(id_, title, "the newest job did not release it", by)
    elif end == NOT_WORKED and last.reason == "breakdown" and not reported:
        yield _Owed(id_, f"Return visit: not worked on on {day}{more}", "a breakdown that nobody looked into", by)
    elif end == PENDING and not _spores_passed(unit, judged, last):
        until = last.conclusion.deadline
        known = f", to be known by {until.isoformat()}" if until else ""
        title = f"Return visit: a spore test runs since the work of {day}{known}"
        yield _Owed(id_, title, "the newest job was released while its result is pending", by, until)


def _spores_passed(unit: UnitFacts, judged: UnitJudgement, job: JobFact) -> bool:
    """Whether spore tests begun after the work passed, and none of them still runs or has failed."""
    verdicts = {verdict.test: verdict.verdict for verdict in judged.verdicts}
    begun, passed = job.arrived_at or job.row.happened_at, False
    for test in unit.bio_tests:
        row = test.row
        after = ran_after(row.happened_on, row.happened_at, job.row.happened_on, begun)
        if after is False:
            continue
        if verdicts.get(row.origin, AWAITED) != PASSED:
            return False
        passed = passed or after is True  # one of the same day without times shows nothing
    return passed


def _failed_parts(unit: UnitFacts, judged: UnitJudgement) -> Iterator[_Owed]:
    """What failed and was to be replaced, with no other on record as fitted."""
    open_ = {evidence.ref for f in judged.findings if f.rule == FAILED_PART for evidence in f.evidence}
    fitted = Fitted(unit, judged.as_of)
    for found in (each for job in in_order(unit.jobs) for each in job.findings if each.row.ref in open_):
        day = found.row.happened_on.isoformat()
        needs = fitted.needs_at(found.position, f"failed when seen on {day}") if found.position else ()
        title = f"Replace what failed: {found.component}"
        yield _Owed(f"failed:{found.row.origin}", title, "failed and to be replaced", f"seen on {day}", needs=needs)


def _by_hand(unit: UnitFacts, judged: UnitJudgement) -> Iterator[_Owed]:
    proof = {evidence.ref for evidence in judged.standing.proof}
    out = [e for e in unit.events if e.kind == "withdrawn" and e.row.ref in proof]
    if judged.standing.word is Word.OUT and out:
        first = in_order(out)[0]
        title = f"Taken out of service on {first.row.happened_on.isoformat()}: {first.reason}"
        yield _Owed(f"out:{first.row.origin}", title, "out of service by hand", "ask the clinic what is wanted")
