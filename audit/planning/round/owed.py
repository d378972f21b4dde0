"""Work that is owed at once, out of what was found: no plan line says it. Common practice, no source.

| owed | until |
| --- | --- |
| a fault that was reported | the open item of it is gone: somebody looked, or it was settled |
| finding the cause, or a repair, that the path after a failure asks | that step is done or not needed any more |
| a return visit to a unit that the newest job left out of use | a later job |
| fitting what must be replaced and whose part was not at hand | another is fitted |
| a look at a unit that was taken out of service by hand | it is returned |

A unit that was taken out for a reason named already is not named twice.
"""

from __future__ import annotations

from collections.abc import Iterator

from audit.facts import UnitFacts, in_order
from audit.judge.judgement import Case, UnitJudgement, Word
from audit.judge.response import ERROR, RETURNED
from audit.judge.rules.fault_reported import RULE as FAULT

from .values import WorkItem

BY_COMPANY = ("find cause", "repair")  # steps of a case that a technician does
_UNDONE = ("open", "late")
LEFT_OUT = "not released"


def owed_now(unit: UnitFacts, judged: UnitJudgement, common: dict) -> Iterator[WorkItem]:
    """What has no day because it is wanted at once; `common` are the fields that all work on the unit shares."""
    found = [*_faults(unit, judged), *_steps(judged), *_left_out(unit)]
    if not found:
        found = list(_by_hand(unit, judged))
    for id_, title, rule, note in found:
        yield WorkItem(id=id_, title=title, day=None, state="open item", rule=rule, note=note, overdue=True, **common)


def _faults(unit: UnitFacts, judged: UnitJudgement) -> Iterator[tuple[str, str, str, str]]:
    open_ = {evidence.ref for f in judged.findings if f.rule == FAULT for evidence in f.evidence}
    for fault in in_order(unit.faults):
        if fault.row.ref in open_:
            reported = f"reported on {fault.row.happened_on.isoformat()} by {fault.reported_by}, {fault.how}"
            meanwhile = "taken out of service" if fault.withdrawal else f"stays in use: {fault.kept_because}"
            yield f"fault:{fault.row.origin}", f"Fault reported: {fault.what}", reported, f"{reported}; {meanwhile}"


def _steps(judged: UnitJudgement) -> Iterator[tuple[str, str, str, str]]:
    for case in judged.cases:
        for n, step in enumerate(case.steps if case.phase not in (ERROR, RETURNED) else ()):
            if step.action in BY_COMPANY and step.state in _UNDONE and step.done_on is None:
                yield f"step:{_case_id(case)}:{step.action}:{n}", f"{step.title}: {case.title}", case.title, step.note


def _case_id(case: Case) -> str:
    """The case, or what failed where no case was opened."""
    return case.ref or next((evidence.ref for evidence in case.evidence), "")


def _left_out(unit: UnitFacts) -> Iterator[tuple[str, str, str, str]]:
    last = in_order(unit.jobs)[-1] if unit.jobs else None
    if last is not None and last.conclusion is not None and last.conclusion.conclusion == LEFT_OUT:
        day, why = last.row.happened_on.isoformat(), last.conclusion.reason
        title = f"Return visit: left out of use on {day}" + (f", {why}" if why else "")
        yield f"return:{last.row.origin}", title, "the newest job did not release it", f"by {last.worked_by}"


def _by_hand(unit: UnitFacts, judged: UnitJudgement) -> Iterator[tuple[str, str, str, str]]:
    proof = {evidence.ref for evidence in judged.standing.proof}
    out = [e for e in unit.events if e.kind == "withdrawn" and e.row.ref in proof]
    if judged.standing.word is Word.OUT and out:
        first = in_order(out)[0]
        title = f"Taken out of service on {first.row.happened_on.isoformat()}: {first.reason}"
        yield f"out:{first.row.origin}", title, "out of service by hand", "ask the clinic what is wanted"
