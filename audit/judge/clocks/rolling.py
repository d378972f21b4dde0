"""At most so long after the last one: days, months, hours of use or days, the day a report states.

The item is due on the last day in time and overdue from the day after. It never pauses while the unit is out of use.
A test, a check or servicing that falls due meanwhile falls due at the unit's return to use; what was overdue before
stays so, from its old day. The day of a paper stands, and that of what forbids use. With nothing done yet it counts
from the begin of use; for servicing and papers only from an installation on record, and never for what must be done
before use: else there is no evidence, and none where hours of use count and are not known. A paper that states a day
is due by that day or so many months after its first valid day, whichever is sooner. Common practice, no source, but
for the limits themselves.
"""

from __future__ import annotations

from datetime import date

from audit.facts.dates import ONE_DAY, add_days, add_months
from audit.judge.judgement import Clock, State
from audit.judge.usage import STORED
from audit.regimes.model import SUBJECTS, Duty

from .build import awaited_note, blank, dated, first_late, not_in_use
from .duty import DutyFacts
from .hours import Limit, reached, reached_or_projected
from .rows import DutyRows, awaited, rows_of
from .values import AWAITED, EXEMPT, MET, MET_LATE, MISSED, OPEN, Span


def clock(facts: DutyFacts, duty: Duty) -> Clock:
    """The due item on the day."""
    rows, unused = rows_of(facts, duty), not_in_use(facts, duty)
    last = rows.last()
    base = rows.day(last) if last is not None else facts.usage.begin
    was_used = facts.usage.any_use(base, facts.as_of)
    if last is None and asks_evidence(facts, duty):
        return unused if unused is not None and not was_used else blank(duty, State.NO_EVIDENCE, "none on record")
    limit = _limit(facts, duty, base, last, now=True)
    proof = rows.told(last) if last is not None else None
    notes = [n for n in (awaited_note(facts, rows, last), limit.note) if n]
    late = _first_late(facts, duty, limit.due_on, facts.as_of)
    if late is None and limit.unknown and (was_used or (base < facts.as_of and _was_stopped(facts))):
        return blank(duty, State.NO_EVIDENCE, "; ".join([limit.unknown, *notes]), proof)
    if late is None and unused is not None:
        return unused
    due_on = limit.due_on
    if not _stands(duty):
        due_on = late - ONE_DAY if late is not None else max(due_on, facts.usage.resumed(facts.as_of))
    return dated(facts, duty, due_on, proof, "; ".join(notes), projected=limit.projected)


def _was_stopped(facts: DutyFacts) -> bool:
    """Whether the unit is out because of what was found or failed, which ends no doubt about its use before."""
    return facts.usage.why_idle(facts.as_of) not in ("", STORED, "decommissioned", "loaner out")


def _is_paper(duty: Duty) -> bool:
    return SUBJECTS[duty.subject] == "document"


def _stands(duty: Duty) -> bool:
    """Whether the day due stands while the unit is out of use: a paper's, and where use is forbidden after it."""
    return _is_paper(duty) or duty.forbids


def asks_evidence(facts: DutyFacts, duty: Duty) -> bool:
    """Whether having done nothing yet is no evidence: papers and servicing without an installation on record, and
    what must have been done before use."""
    if duty.forbids and not _is_paper(duty):
        return True
    return SUBJECTS[duty.subject] in ("document", "work") and not facts.usage.begin_known


def _limit(facts: DutyFacts, duty: Duty, base: date, fact, *, now: bool) -> Limit:
    """The last day in time after `base`, the day of `fact` (None: the begin of use)."""
    if duty.every == "rolling-days":
        return Limit(add_days(base, duty.count))
    if duty.every == "hours-or-days":
        days = add_days(base, duty.count)
        return (reached_or_projected if now else reached)(facts, duty, base, fact, days)
    months = add_months(base, duty.count)
    stated = getattr(fact, "valid_to", None) if duty.every == "stated-date" else None
    return Limit(min(months, stated) if stated is not None else months)


# ------------------------------------------------------------------------------------------------ the record


def spans(facts: DutyFacts, duty: Duty, first: date, last: date) -> list[Span]:
    """From each one that counts to the next, those that touch `first` to `last`; the last one still runs."""
    rows = rows_of(facts, duty)
    last = min(last, facts.as_of)
    begin = facts.usage.begin
    base = rows.last(first - ONE_DAY) if first > date.min else None
    day = rows.day(base) if base is not None else None
    out = []
    for fact in rows.counting(first, facts.as_of):
        done = rows.day(fact)
        if done == day or done < begin:
            base, day = fact, done
            continue
        start = max(day + ONE_DAY, begin) if day is not None else begin
        if start > last:
            return out
        out.append(_closed(facts, duty, rows, base, start, fact))
        base, day = fact, done
    start = max(day + ONE_DAY, begin) if day is not None else begin
    if start <= last:
        out.append(_running(facts, duty, rows, base, start))
    return [s for s in out if s.end >= first]


def _due(facts: DutyFacts, duty: Duty, rows: DutyRows, base, now: bool) -> Limit:
    day = rows.day(base) if base is not None else facts.usage.begin
    return _limit(facts, duty, day, base, now=now)


def _closed(facts: DutyFacts, duty: Duty, rows: DutyRows, base, start: date, fact) -> Span:
    done, proof = rows.day(fact), ((fact,), rows.told)
    due_on = _due(facts, duty, rows, base, now=False).due_on
    late = _first_late(facts, duty, due_on, done)
    if late is not None:
        days, due_on = (done - late).days + 1, late - ONE_DAY
        return Span(start, done, MET_LATE, f"due by {due_on.isoformat()}, {days} day(s) late", due_on, *proof)
    note = "out of use when it fell due" if done > due_on else ""
    return Span(start, done, AWAITED if awaited(rows, fact) else MET, note, max(due_on, done), *proof)


def _running(facts: DutyFacts, duty: Duty, rows: DutyRows, base, start: date) -> Span:
    """From the last one that counts up to now."""
    if base is None and asks_evidence(facts, duty):
        return Span(start, facts.as_of, MISSED, "none on record")
    limit = _due(facts, duty, rows, base, now=True)
    due_on = limit.due_on
    late = _first_late(facts, duty, due_on, facts.as_of)
    if late is not None:
        due_on = late - ONE_DAY
        held = tuple(rows.within(start, date.max))
        return Span(start, facts.as_of, MISSED, f"due by {due_on.isoformat()}, none since", due_on, held, rows.told)
    if not facts.usage.in_use(facts.as_of):
        why = facts.usage.why_idle(facts.as_of) or "not in use yet"
        return Span(start, max(start, facts.as_of), EXEMPT, why)
    due_on = due_on if _stands(duty) else max(due_on, facts.usage.resumed(facts.as_of))
    return Span(start, max(due_on, start), OPEN, limit.unknown or "not over yet", due_on)


def _first_late(facts: DutyFacts, duty: Duty, due_on: date, to: date) -> date | None:
    """The first day up to `to`, inclusive, on which it was overdue; None for none."""
    return first_late(facts, due_on, to, grace=0 if _stands(duty) else 1)
