"""Tests asked after an event, before use: installed, moved, repaired, left unused.

Of several events the newest counts, and of one day all of them. The item is due on the day of the event, or of the
unit's return to use after it, and overdue from the day after. So many passes in a row are asked after the event. A
test of the same day counts where both times of day show that it came after, or where one is missing and the person
says that it was run for that (a repeat, a requalification, after repair, at the installation); a paper of that day
does. A failure starts again, what counts for nothing neither counts nor breaks. A test still awaited within reason
counts, but not where the unit may not be used before: there it breaks the row until its result is known. Which cycle
types are in use is read from the loads of the twelve months before the event, else from the spore tests.

Unused for more than so many days: from one use to the next, by the loads and spore tests logged; where no load is
logged, by the days in store or out of service alone. That falls due on the first day too many, and is overdue at
once: the tests come before any use. Common practice, no source, but for the events and the passes.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime

from audit.facts import happened_on, in_order
from audit.facts.dates import ONE_DAY, add_days
from audit.judge.cycle_types import named, types_in_use, types_tested
from audit.judge.judgement import Clock, Evidence, State
from audit.judge.proof_after_work import evidence_of_job
from audit.judge.response.in_a_row import ANY
from audit.judge.response.in_a_row import PassRows as InARow
from audit.judge.work.order import STATED_AFTER, span_of
from audit.regimes.model import SUBJECTS, Duty

from .build import blank, dated, first_late, not_in_use
from .duty import DutyFacts
from .rows import DutyRows, rows_of
from .uses import Uses, uses_of
from .values import AWAITED, EXEMPT, FAILED, MET, MET_LATE, MISSED, OPEN, Span

IDLE = "idle"
BEFORE_IT, NOT_SHOWN, AFTER_IT = _ORDERS = ("before", "not shown", "after")


@dataclass(frozen=True, slots=True)
class TestingEvent:
    """Something after which tests are asked."""

    day: date
    kind: str
    ref: str
    at: datetime | None = None  # None: the time of day is not known

    @property
    def words(self) -> str:
        """Kind and day in ISO text: "relocated on 2026-03-02"; of non-use the first day too many."""
        kind = "unused for too long" if self.kind == IDLE else self.kind
        return f"{kind} on {self.day.isoformat()}"

    @property
    def evidence(self) -> Evidence:
        """The row of the event. Non-use has none: then the last use before it, or the unit if no load is logged."""
        return Evidence(self.ref, self.words)


@dataclass(frozen=True, slots=True)
class Walked:
    """How far the tests after an event have come: `proven_on` None while some are missing."""

    proven_on: date | None
    missing: tuple[tuple[str, int], ...]  # (cycle type or "", how many)
    tests: tuple  # those that proved it, or the rows as they stand
    awaited: bool

    @property
    def words(self) -> str:
        """What is still to come, by cycle type where types are told apart, and a result awaited; "" for nothing."""
        said = [f"{n} more test(s) needed" + (f" in cycle type {t!r}" if t else "") for t, n in self.missing]
        return "; ".join([*said, *(["a result is awaited"] if self.awaited else [])])


def clock(facts: DutyFacts, duty: Duty) -> Clock | None:
    """The due item on the day; None where no such event has happened."""
    events = _events(facts, duty)
    event = next((e for e in reversed(events) if e.day <= facts.as_of), None)
    rows = rows_of(facts, duty)
    if event is not None:
        walked = _walk(facts, duty, rows, event)
        if walked.proven_on is None:
            return _open(facts, duty, event, walked)
    unused = not_in_use(facts, duty)
    idle = None if unused is not None else _idle_next(facts, duty)
    note = f"done after: {event.words}" if event is not None else "no such event yet"
    proof = event.evidence if event is not None else None
    if idle is None:
        return blank(duty, State.OK, note, proof) if event is not None else None
    more = f"{note}; from then on it would be unused for more than {duty.idle_days} days"
    return dated(facts, duty, idle, proof, more, overdue_on=idle)


def _open(facts: DutyFacts, duty: Duty, event: TestingEvent, walked: Walked) -> Clock:
    """Due on the day of the event, or of the return to use where it was out of use then; not in use else."""
    at_once = event.kind == IDLE
    late = first_late(facts, event.day, facts.as_of, grace=0 if at_once else 1, at_once=at_once)
    if late is None:
        unused = not_in_use(facts, duty)
        if unused is not None:
            return unused
        late = max(event.day, facts.usage.resumed(facts.as_of)) + (not at_once) * ONE_DAY
    due_on = late if at_once else late - ONE_DAY
    return dated(facts, duty, due_on, event.evidence, walked.words, overdue_on=late)


# ------------------------------------------------------------------------------------------------ the events


def _events(facts: DutyFacts, duty: Duty) -> list[TestingEvent]:
    """Every event the duty names, oldest first, of one day the strictest last; that of non-use may lie ahead."""
    key = ("events", duty.events, duty.idle_days)
    return facts.once(key, lambda: sorted(_found(facts, duty), key=lambda e: (e.day, e.kind == IDLE, e.ref)))


def _found(facts: DutyFacts, duty: Duty) -> Iterator[TestingEvent]:
    asked = set(duty.events)
    for event in facts.unit.events:
        if event.kind in asked:
            yield TestingEvent(event.row.happened_on, event.kind, event.row.ref, event.row.happened_at)
    for work in facts.works:
        kind = next((k for k in _kinds(work) if k in asked), None)
        if kind is not None:
            job = work.job
            # Its end: what ran while somebody still worked on it proves nothing of the work.
            yield TestingEvent(job.row.happened_on, kind, evidence_of_job(work).ref, span_of(job).end)
    if IDLE in asked:
        yield from _idle(facts, duty.idle_days)


def _kinds(work) -> Iterator[str]:
    """What kinds of event a job was, the gravest first."""
    if not work.done:
        return
    if work.repair_class == "C":
        yield "major repair"
    parts = {p.action for p in work.job.parts}
    if work.job.reason == "breakdown" or "replaced on condition" in parts:
        yield "repair"
    if "replaced on plan" in parts:
        yield "planned part"


def _idle(facts: DutyFacts, idle_days: int) -> Iterator[TestingEvent]:
    """The first day too many of each stretch without use; that of the last one too, though it may lie ahead."""
    uses = uses_of(facts)
    if not uses.loads:
        for first, last in facts.usage.unused:
            day = add_days(first, idle_days)
            if first > facts.usage.begin and day <= (last if last == date.max else last + ONE_DAY):
                yield TestingEvent(day, IDLE, facts.unit.row.ref)
        return
    for day, ref in _last_before_gaps(uses, idle_days):
        yield TestingEvent(add_days(day, idle_days + 1), IDLE, ref)


def _last_before_gaps(uses: Uses, idle_days: int) -> Iterator[tuple[date, str]]:
    """(day, row) of the last use before each gap of more than `idle_days` days, newest first."""
    found = uses.newest(date.max)
    if found is None:
        return
    yield found
    day = found[0]
    while True:
        earliest = uses.first(add_days(day, -idle_days))
        if earliest < day:  # no gap between them can be too long
            day = earliest
            continue
        found = uses.newest(day - ONE_DAY)
        if found is None:
            return
        if (day - found[0]).days > idle_days:
            yield found
        day = found[0]


def _idle_next(facts: DutyFacts, duty: Duty) -> date | None:
    """The coming day from which the unit would be unused for too long; None where that is not known."""
    if IDLE not in duty.events or not facts.unit.loads:
        return None
    days = [e.day for e in _events(facts, duty) if e.kind == IDLE and e.day > facts.as_of]
    return max(days[-1], facts.usage.resumed(facts.as_of)) if days else None


# ------------------------------------------------------------------------------------------------ the tests


def _types(facts: DutyFacts, duty: Duty, event: TestingEvent) -> tuple[str, ...]:
    if not duty.each_cycle_type:
        return (ANY,)
    unit, day = facts.unit, event.day
    return types_in_use(unit, day, day) or types_tested(unit, day, day) or (ANY,)


def _walk(facts: DutyFacts, duty: Duty, rows: DutyRows, event: TestingEvent, to: date = date.max) -> Walked:
    """The tests from the event to `to`, inclusive, one by one until they prove it."""
    types = _types(facts, duty, event)
    held, waits = InARow(duty.passes, types), False
    same_day = [e for e in _events(facts, duty) if e.day == event.day]
    for fact in rows.within(event.day, min(to, facts.as_of)):
        result = rows.result(fact)
        order = min((_order(duty, fact, e) for e in same_day), key=_ORDERS.index)
        if order == BEFORE_IT or (order == NOT_SHOWN and result != FAILED):
            continue
        cycle_type = ANY if types == (ANY,) else named(rows.cycle_type(fact))
        if result == FAILED:
            held.failed()
        elif result == AWAITED and duty.forbids:
            held.broken(cycle_type)
            waits = True
        elif rows.counts(fact) and duty.chamber in ("any", getattr(fact, "chamber", "")):
            held.passed(cycle_type, _proven_day(facts, duty, rows, fact), fact)
        if held.proven_on is not None:
            return Walked(held.proven_on, (), held.row(), False)
    return Walked(None, tuple(held.missing()), held.row(), waits)


def _order(duty: Duty, fact, event: TestingEvent) -> str:
    """Whether the test came after the event: by day, by both times, else by what the person says it was run for.

    A day of non-use begins with its first hour, and a paper of the day is of the event.
    """
    if happened_on(fact) != event.day or event.kind == IDLE or SUBJECTS[duty.subject] == "document":
        return AFTER_IT
    at = fact.row.happened_at
    if at is not None and event.at is not None:
        return AFTER_IT if at > event.at else BEFORE_IT
    return AFTER_IT if getattr(fact, "purpose", "") in STATED_AFTER else NOT_SHOWN


def _proven_day(facts: DutyFacts, duty: Duty, rows: DutyRows, fact) -> date:
    """The day of the cycle; where use is forbidden before, the day the result was known."""
    verdict = facts.verdicts.get(fact.row.origin) if duty.forbids else None
    return verdict.known_on if verdict is not None and verdict.known_on is not None else rows.day(fact)


def spans(facts: DutyFacts, duty: Duty, first: date, last: date) -> list[Span]:
    """One for each event: to the day it was proven, to the day of the next such event where it asks nothing any more,
    or to now. Both ends are inclusive.
    """
    rows, last = rows_of(facts, duty), min(last, facts.as_of)
    events = [e for e in _events(facts, duty) if e.day <= last]
    out = []
    for n, event in enumerate(events):
        following = events[n + 1].day - ONE_DAY if n + 1 < len(events) else date.max
        if following >= event.day:
            out.append(_span(facts, duty, rows, event, following))
    return [s for s in out if s.end >= first]


def _span(facts: DutyFacts, duty: Duty, rows: DutyRows, event: TestingEvent, to: date) -> Span:
    walked = _walk(facts, duty, rows, event, to)
    proof = ((event, *walked.tests), lambda fact: fact.evidence if fact is event else rows.told(fact))
    if walked.proven_on is not None:
        late = _by_load(facts, event, walked.proven_on)
        awaited = any(rows.result(f) == AWAITED for f in walked.tests)
        note = f"after {event.words}" + (": used before" if late else "")
        result = MET_LATE if late else AWAITED if awaited else MET
        return Span(event.day, max(walked.proven_on, event.day), result, note, event.day, *proof)
    end = min(to, facts.as_of)
    note = f"after {event.words}: {walked.words}"
    if _by_load(facts, event, end + ONE_DAY):
        return Span(event.day, end, MISSED, f"{note}; used before", event.day, *proof)
    if to < facts.as_of:
        # To the day of the next event, not the day before: until then nobody knows that this one asks nothing more.
        return Span(event.day, add_days(to, 1), EXEMPT, f"{note}; not used before the next event", None, *proof)
    return Span(event.day, end, OPEN, note, event.day, *proof)


def _by_load(facts: DutyFacts, event: TestingEvent, before: date) -> bool:
    """Whether a load was run after the day of the event and before `before`."""
    loads = in_order(facts.unit.loads)
    n = bisect_left(loads, event.day + ONE_DAY, key=happened_on)
    return n < len(loads) and happened_on(loads[n]) < before
