"""The work for service visits at one clinic, out of its judgement, each with the parts that it takes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta

from audit.facts import ClinicFacts, PlanLineFact, in_order, unit_by_day
from audit.judge.clocks.plan import plan_lines
from audit.judge.judgement import ClinicJudgement, Clock, DueKind, State, UnitJudgement, Word
from audit.judge.lookback.recalled_parts import recalled_parts
from audit.judge.situation import clinic_by_day
from audit.judge.work.classes import AWAITED

from .owed import owed_now
from .parts import Fitted
from .values import ClinicWork, StatedPart, WorkItem

# Duties that a service visit meets; what users do themselves is not among them. Common practice, no source.
SERVICE = ("servicing", "pressure examination", "validation report", "thermometer comparison")
AWAITED_RULES = ("part-awaited", "safety-finding-open")  # open items of what waits for its part
_LATE = (State.OVERDUE, State.NO_EVIDENCE)


def clinic_work(
    facts: ClinicFacts, judgement: ClinicJudgement, stated: Mapping[str, Sequence[StatedPart]] | None = None
) -> ClinicWork:
    """Everything that service visits have to do at the clinic, by what was known and had happened on the day judged.

    `stated`: by the ref of a unit the parts that are said to belong to it.

    Units that are not in use have no work. A due item without a day, that is not without evidence, has none either:
    nothing says when it would be due.
    """
    own = clinic_by_day(facts, judgement.as_of)
    judged = {unit.unit: unit for unit in judgement.units}
    items = []
    for held in facts.units:
        said = judged.get(held.ref)
        if said is not None and said.standing.word is not Word.NOT_IN_USE:
            fitted = Fitted(unit_by_day(held, judgement.as_of), judgement.as_of, (stated or {}).get(held.ref, ()))
            items += _of_unit(facts.slug, judgement.name, own, fitted, said)
    return ClinicWork(facts.slug, judgement.name, tuple(items))


def _of_unit(slug, name, clinic: ClinicFacts, fitted: Fitted, judged: UnitJudgement) -> Iterator[WorkItem]:
    unit = fitted.unit
    placed = max(unit.placements, key=lambda p: (p.effective_on, p.row.number), default=None)
    last = in_order(unit.jobs)[-1] if unit.jobs else None
    common = {
        "clinic": slug,
        "clinic_name": name,
        "unit": unit.ref,
        "label": unit.label,
        "room": placed.room if placed else "",
        "last_by": last.worked_by if last else "",
        "out": "" if judged.standing.word.may_be_used else judged.standing.reason,
    }
    yield from owed_now(unit, judged, common)
    lines = {line.code: line for line in plan_lines(unit, judged.as_of)}
    for clock in judged.clocks:
        if _is_service(clock) and (clock.due_on is not None or clock.state is State.NO_EVIDENCE):
            line = lines.get(clock.code) if clock.kind is DueKind.PLAN else None
            yield WorkItem(
                id=clock.id,
                title=clock.title,
                day=_last_day(clock, line),
                state=clock.state.value,
                rule=clock.rule,
                note=clock.note,
                overdue=clock.state in _LATE,
                needs=fitted.needs_of(line) if line else (),
                **common,
            )
    yield from _awaited(fitted, judged, common)
    yield from _missing(fitted, common)
    yield from _recalled(fitted, clinic, judged.as_of, common)


def _is_service(clock: Clock) -> bool:
    if clock.state is State.NOT_APPLICABLE:
        return False
    return clock.kind is DueKind.PLAN or clock.subject in SERVICE


def _last_day(clock: Clock, line: PlanLineFact | None) -> date | None:
    """The due day; of what was postponed by a decision the last day it was postponed to."""
    if clock.due_on is None or clock.overdue_on is None or line is None:
        return clock.due_on
    in_grace_until = clock.due_on + timedelta(days=line.grace_days)
    last = clock.overdue_on - timedelta(days=1)
    return last if last > in_grace_until else clock.due_on


def _awaited(fitted: Fitted, judged: UnitJudgement, common: dict) -> Iterator[WorkItem]:
    """What must be replaced and whose part was not at hand: fitted at the next visit, and that part brought."""
    open_ = {evidence.ref for f in judged.findings if f.rule in AWAITED_RULES for evidence in f.evidence}
    for found in (x for job in in_order(fitted.unit.jobs) for x in job.findings if x.decision == AWAITED):
        if found.row.ref in open_:
            what = found.component or found.part_needed
            yield WorkItem(
                id=f"awaited:{found.row.origin}",
                title=f"Fit the part that is awaited: {what}",
                day=None,
                state="open item",
                rule="must be replaced, and the part was not at hand",
                note=f"{found.seen}, found {found.row.happened_on.isoformat()}",
                overdue=True,
                needs=fitted.needs_awaited(found),
                **common,
            )


def _missing(fitted: Fitted, common: dict) -> Iterator[WorkItem]:
    """A part that should be there: an open item, to be put right at the next visit."""
    for position in fitted.missing():
        yield WorkItem(
            id=f"missing:{position.row.origin}",
            title=f"Fit the missing part: {position.name}",
            day=None,
            state="open item",
            rule="should be fitted and is missing",
            note="",
            overdue=True,
            needs=fitted.needs_at(position.row.origin, "missing on the unit"),
            **common,
        )


def _recalled(fitted: Fitted, clinic: ClinicFacts, as_of: date, common: dict) -> Iterator[WorkItem]:
    """A part that a notice means and that is still in."""
    for found in recalled_parts(fitted.unit, clinic.part_recalls, as_of):
        if found.out_on is None:
            looks = found.notice.action == "inspect"
            place = found.part.position
            yield WorkItem(
                id=f"recall:{found.notice.row.origin}:{found.part.row.origin}",
                title=f"Part recall: {'inspect' if looks else 'replace'} {found.part.name}",
                day=None,
                state="open item",
                rule=f"notice of {found.notice.issued_by}: {found.notice.reason}",
                note=found.unsure,
                overdue=True,
                needs=() if looks else fitted.needs_at(place, "part recall: not out of the lot recalled"),
                **common,
            )
