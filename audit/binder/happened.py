"""What happened to a unit, by day: moves, withdrawals and returns, visits, failures, counters; each with its page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from audit.binder.failures import case_section, cases_told, refs_of_case
from audit.binder.lookbacks import look_back_id, look_backs_alone
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Cell, Column, Table
from audit.binder.service import concluded, job_ids
from audit.binder.written_on_paper import counted, dated, day, first_upper, labelled, number, quantity, span
from audit.facts import in_order
from audit.judge.failures_said import in_doubt

HAPPENED = "What happened to it"
_COLUMNS = (
    Column("Day", 60, names=True),
    Column("What happened", 376),
    Column("Page", 36, "right"),
    Column("Record", 38, small=True),
)


@dataclass(frozen=True, slots=True)
class _Happened:
    on: date
    text: str
    record: Cell
    to: str = ""
    weighs: bool = False


def _moves(scope: Scope, unit: UnitScope) -> Iterator[_Happened]:
    for placed in unit.facts.placements:
        if scope.holds(placed.effective_on):
            text = f"Placed: {placed.room}, {placed.use}"
            yield _Happened(placed.effective_on, text, scope.proof(placed))


def _events(scope: Scope, unit: UnitScope) -> Iterator[_Happened]:
    """Withdrawals, returns and moves that no failure told here tells of."""
    told = {ref for case in cases_told(scope, unit) for ref in refs_of_case(case)}
    for event in scope.inside(unit.facts.events):
        if event.row.ref not in told:
            why = labelled(first_upper(event.kind), event.reason) or first_upper(event.kind)
            by = f"; by {event.by}" if event.by else ""
            by += f", {event.given_words}" if event.told_return else ""
            yield _Happened(event.row.happened_on, f"{why}{by}", scope.proof(event), weighs=event.kind == "withdrawn")


def _faults(scope: Scope, unit: UnitScope) -> Iterator[_Happened]:
    """Faults that were reported, and that one was settled without a visit."""
    for fault in scope.inside(unit.facts.faults):
        kept = "taken out of service" if fault.withdrawal else f"stays in use, {fault.kept_because}"
        text = f"Fault reported by {fault.reported_by}: {fault.what}; {kept}"
        yield _Happened(fault.row.happened_on, text, scope.proof(fault), weighs=fault.settled is None)
    for fault in unit.facts.faults:
        done = fault.settled
        if done is not None and scope.holds(done.row.happened_on):
            text = f"Fault of {day(fault.row.happened_on)} settled without a visit: {done.outcome}; {done.settled_by}"
            yield _Happened(done.row.happened_on, text, scope.proof(done))


def _visits(scope: Scope, unit: UnitScope) -> Iterator[_Happened]:
    homes = job_ids(scope, unit)
    for job in scope.inside(unit.facts.jobs):
        parts = len(scope.inside(job.parts))
        word = concluded(scope, job)
        work = [first_upper(job.reason or "work, reason not stated"), job.complaint.rstrip(".")]
        text = labelled(work[0], work[1]) or work[0]
        done = [counted(parts, "part") if parts else "", word]
        text = "; ".join(part for part in (text, *done) if part)
        weighs = word != "released"
        yield _Happened(job.row.happened_on, text, scope.proof(job), homes[job.row.ref], weighs)


def _failures(scope: Scope, unit: UnitScope) -> Iterator[_Happened]:
    for case in cases_told(scope, unit):
        state = f"{case.phase} on {day(case.resolved_on)}" if case.resolved_on else f"{case.phase}, still open"
        record = scope.evidence(case.evidence[:1])
        title = first_upper(dated(case.title))
        yield _Happened(
            case.failed_on, f"{title}: {state}", record, case_section(scope, unit, case), case.resolved_on is None
        )


def _look_backs(scope: Scope, unit: UnitScope) -> Iterator[_Happened]:
    told = {case.ref for case in cases_told(scope, unit) if case.ref}
    for n, back in enumerate(look_backs_alone(scope, unit, told), start=1):
        state = f"decided on {day(back.settled_on)}" if back.settled_on else "not decided yet"
        text = f"{first_upper(dated(back.trigger))}: {in_doubt(back)} in doubt; {state}"
        yield _Happened(
            back.to, text, scope.evidence(back.evidence[:1]), look_back_id(unit, n), back.settled_on is None
        )


def _counters(scope: Scope, unit: UnitScope) -> Iterator[_Happened]:
    """Where another counter begins: a life total that an earlier one is added to."""
    before: dict[str, object] = {}
    for read in in_order(unit.facts.counters):
        last = before.get(read.counter)
        before[read.counter] = read.offset
        if last is not None and read.offset != last and scope.holds(read.row.happened_on):
            why = labelled("why", read.offset_reason)
            text = f"Counter of {read.counter} begins anew: {number(read.offset)} is added; {why}".rstrip("; ")
            yield _Happened(read.row.happened_on, text, scope.proof(read))


def _gaps(scope: Scope, unit: UnitScope) -> Iterator[_Happened]:
    """Known gaps of this unit alone; those of the whole place stand with the place."""
    for gap in scope.gaps(unit, scope.from_on, scope.last):
        if gap.unit == unit.facts.ref or any(gap is own for own in unit.facts.gaps):
            text = f"Known gap, {span(gap.from_on, gap.to_on)}: {gap.what}. Why: {gap.why}. Accepted by "
            text += f"{gap.accepted_by} on {day(gap.row.happened_on)}"
            yield _Happened(gap.from_on, text, scope.proof(gap))


def happened_id(unit: UnitScope) -> str:
    """The id of the section that tells it."""
    return f"{unit.chapter}-happened"


def happened_table(scope: Scope, unit: UnitScope) -> Table:
    """Everything of the period by day; nothing that is told in full elsewhere is told again, its page is named."""
    found = [
        each
        for source in (_moves, _events, _faults, _visits, _failures, _look_backs, _counters, _gaps)
        for each in source(scope, unit)
    ]
    found.sort(key=lambda each: each.on)
    rows = tuple(
        (
            Cell(day(each.on)),
            Cell(each.text, to=each.to, strong=each.weighs),
            Cell("", to=each.to, page="") if each.to else Cell(""),
            each.record,
        )
        for each in found
    )
    empty = f"{HAPPENED}: nothing on record in the period."
    return Table("", _COLUMNS, rows, empty, ruled=(), tight=True)


def counter_line(scope: Scope, unit: UnitScope, counter: str) -> str:
    """8169 on 6 Apr 2026; 8 readings since 6 Jan 2025, about 3.4 a day; "" without a reading."""
    read = in_order(c for c in unit.facts.counters if c.counter == counter and c.row.happened_on <= scope.as_of)
    if not read:
        return ""
    first, last = read[0], read[-1]
    told = f"{number(last.shown)} on {day(last.row.happened_on)}"
    if last.offset:
        told += f", life total {number(last.total)}"
    if len(read) > 1:
        told += f"; {counted(len(read), 'reading')} since {day(first.row.happened_on)}"
        span_days = (last.row.happened_on - first.row.happened_on).days
        rise = last.total - first.total
        if span_days > 0 and rise > 0:
            told += f", about {quantity(round(rise / span_days, 1), '')} a day"
    return told
