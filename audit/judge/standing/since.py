"""Since when a unit is in service: the last day on which something ended that had kept it from a plain yes.

What stopped it (a failure, work, a move, a withdrawal), what forbade use until it was done, and what was overdue. As
far as the facts tell: when a plan or the rules were changed is not followed back. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from audit.facts.dates import ONE_DAY
from audit.judge.clocks.duties import EVENT, IMPLANT
from audit.judge.clocks.duty import DutyFacts
from audit.judge.clocks.hours import known_since
from audit.judge.clocks.plan import last_done_late
from audit.judge.clocks.rolling import asks_evidence
from audit.judge.clocks.rows import DutyRows, rows_of
from audit.judge.clocks.spans import unmet_spans
from audit.judge.clocks.used_days import EACH_DAY, last_owed
from audit.judge.clocks.values import AWAITED, INVALID, MET, MET_LATE, MISSED
from audit.judge.situation import Situation
from audit.judge.usage import placement_on
from audit.regimes.model import PERIODS, Duty

from .after_work import REFUSED
from .arrived import last_arrivals, proved_on
from .tools import TAKEN_BACK

ROLLING = ("rolling-days", "rolling-months", "hours-or-days", "stated-date")


def in_service_since(s: Situation) -> date | None:
    """The newest such day; the begin of use when nothing ended, None where that is not known.

    A period that was missed is over with the next test that counts.
    """
    days = [*_stops(s)]
    base = max(days, default=s.settled.usage.begin)
    days += [d for d in _spells(s, base) if d > base]
    days += [d for d in (_tested_since(s.duty, duty) for duty in s.duty.duties()) if d is not None]
    if not days:
        return s.settled.usage.begin if s.settled.usage.begin_known else None
    return max(days)


def _stops(s: Situation) -> Iterator[date]:
    """Days on which what had stopped the unit ended."""
    yield from (r.resolved_on for r in s.settled.replays if r.resolved_on and r.withdraws)
    started = (e for e in s.unit.events if e.kind in ("installed", "returned", "loaner in") and not e.told_return)
    yield from (e.row.happened_on for e in started)
    works = (w for w in s.settled.works if w.done and w.concluded_by)
    yield from (w.concluded_by.conclusion.row.happened_on for w in works)
    yield from (day for day in (proved_on(s, came) for came in last_arrivals(s)) if day is not None)
    signed = [x for job in s.unit.jobs for x in job.signatures]
    if any(x.meaning == REFUSED for x in signed):
        yield from (x.row.happened_on for x in signed if x.meaning == TAKEN_BACK and not x.told)
    placed = placement_on(s.unit, s.as_of)
    if placed is not None and len(s.unit.placements) > 1:
        yield placed.effective_on


def _spells(s: Situation, since: date) -> Iterator[date]:
    """Days after `since` on which something that had been overdue was done."""
    facts = s.duty
    key = ("overdue until", since)
    yield from facts.once(key, lambda: tuple(_ends(facts, since)))


def _ends(facts: DutyFacts, since: date) -> Iterator[date]:
    for duty in facts.duties():
        found = max(_ends_of(facts, duty, since), default=None)
        if found is not None:
            yield found
    yield from last_done_late(facts.unit, facts.as_of, facts.once)


def _ends_of(facts: DutyFacts, duty: Duty, since: date) -> Iterator[date]:
    rows = rows_of(facts, duty)
    last = rows.last(since)
    if duty.every in EACH_DAY:
        owed = last_owed(facts, duty, facts.usage.begin if last is None else min(since, rows.day(last)))
        yield from () if owed is None else (owed + ONE_DAY,)
        return
    if duty.every in ROLLING:
        yield from _first_evidence(facts, duty)
    first = facts.usage.begin if last is None else rows.day(last)  # missed before, it may be so until later
    for span in unmet_spans(facts, duty, min(first, since), facts.as_of):
        if duty.every == EVENT:
            if span.result in (MET, MET_LATE, AWAITED) and duty.forbids:
                yield span.end
        elif duty.every == IMPLANT or duty.every in PERIODS:
            if span.result in (MISSED, INVALID):
                after = next(rows.counting(span.end + ONE_DAY, facts.as_of), None)
                if after is not None and _met_on(facts, duty, rows, after) > span.end + ONE_DAY:
                    yield _met_on(facts, duty, rows, after)
        elif span.result == MET_LATE:
            yield span.end


def _met_on(facts: DutyFacts, duty: Duty, rows: DutyRows, fact) -> date:
    """The day from which what was done met the duty."""
    return facts.counts_from(fact) if duty.subject == "biological" else rows.day(fact)


def _first_evidence(facts: DutyFacts, duty: Duty) -> Iterator[date]:
    """The day on which the first evidence came where having none is said, or new evidence of hours not known."""
    rows = rows_of(facts, duty)
    first = next(rows.counting(date.min, facts.as_of), None)
    if first is not None and asks_evidence(facts, duty) and rows.day(first) > facts.usage.begin:
        yield rows.day(first)
    if duty.every == "hours-or-days":
        newest = rows.last()
        yield known_since(facts, facts.usage.begin if newest is None else rows.day(newest))


def _tested_since(facts: DutyFacts, duty: Duty) -> date | None:
    """Where use is forbidden until a test of the day is done: the first of the days in a row that have one."""
    if duty.every not in EACH_DAY or not duty.forbids:
        return None
    rows = rows_of(facts, duty)
    done = {rows.day(f) for f in rows.counting(date.min, facts.as_of)}
    day = facts.as_of
    while day - ONE_DAY in done:
        day -= ONE_DAY
    return day
