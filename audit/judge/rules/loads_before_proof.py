"""Loads run while the unit was not to be used for any other reason than a failed test or a withdrawal by hand.

While work or a new place waited for its proof, with an open safety finding or a recalled part to stop use in, after
the last valid day of its pressure examination, or with something overdue that these rules ask before use. A load of
the first or last day itself counts where both times show that it lay between. While a failed test or a withdrawal by
hand kept it out: see `loads_while_out`. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from typing import NamedTuple

from audit.facts import LoadFact, happened_on
from audit.facts.dates import ONE_DAY
from audit.judge.biological import ran_after
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.lookback.recalled_parts import recalled_parts
from audit.judge.standing import (
    arrivals_with_proof,
    awaited_parts,
    open_safety,
    pressure_report,
    refused_return,
    why_waiting,
)
from audit.judge.usage import loads_within

from .part_recall import STOP
from .tools import CLINIC, PRACTICE, Judged, day

_SHOWN = 20


class _Wait(NamedTuple):
    """A time in which it was not to be used. `end` None: it is not over; both ends exclusive but by their times."""

    start: date
    at: datetime | None
    end: date | None
    why: str


def check(judged: Judged) -> Iterator[Finding]:
    """One for all such loads; the reason of the oldest time is named."""
    if not judged.unit.loads:
        return
    waits = [*_of_arrivals(judged), *_of_works(judged)]
    if not judged.standing.word.may_be_used:
        waits += _still(judged)
    found: dict[str, LoadFact] = {}
    first = None
    for wait in sorted(waits, key=lambda w: w.start):
        inside = [x for x in loads_within(judged.unit, wait.start, wait.end) if _inside(x, wait)]
        first = first or (wait if inside else None)
        found |= {x.row.origin: x for x in inside}
    if first is not None:
        yield _finding(sorted(found.values(), key=happened_on), first)


def _inside(load: LoadFact, wait: _Wait) -> bool:
    on, at = happened_on(load), load.row.happened_at
    return bool(ran_after(on, at, wait.start, wait.at)) and (wait.end is None or on < wait.end)


def _of_arrivals(judged: Judged) -> Iterator[_Wait]:
    for came, proved in arrivals_with_proof(judged.now):
        yield _Wait(came.row.happened_on, came.row.happened_at, proved, f"{came.kind} and not proved there yet")


def _of_works(judged: Judged) -> Iterator[_Wait]:
    """Work begun that was concluded on a later day."""
    for work in judged.settled.works:
        own, begun = work.job.conclusion, work.job.row.happened_on
        if work.done and own is not None and own.row.happened_on > begun:
            yield _Wait(begun, None, own.row.happened_on, "work was begun and not concluded")


def _still(judged: Judged) -> Iterator[_Wait]:
    """What keeps it from use on the day judged, each since its first day."""
    s = judged.now
    for work in judged.settled.works:
        if lack := why_waiting(s, work):
            yield _Wait(work.job.row.happened_on, None, None, lack)
        for reading in work.outside:
            yield _Wait(reading.row.happened_on, None, None, "a value was left outside its limits")
        if (refused := refused_return(s, work)) is not None:
            yield _Wait(refused.row.happened_on, refused.row.happened_at, None, "the return to use was refused")
    for found in open_safety(s):
        yield _Wait(found.day, None, None, f"safety finding: {found.words}")
    for part in awaited_parts(s):
        if part.allowed is None:
            yield _Wait(part.finding.row.happened_on, None, None, f"must be replaced: {part.words}")
    for part in recalled_parts(judged.unit, judged.settled.clinic.part_recalls, s.as_of):
        if part.out_on is None and part.notice.action == STOP:
            since = max(part.notice.row.happened_on, part.part.row.happened_on)
            yield _Wait(since, None, None, f"part recall, stop use: {part.where}")
    paper = pressure_report(s)
    if paper is not None and paper.valid_to is not None and paper.valid_to < s.as_of:
        yield _Wait(paper.valid_to, None, None, f"the pressure examination was valid until {day(paper.valid_to)}")
    for clock in s.late:
        if clock.forbids and clock.overdue_on is not None:
            yield _Wait(clock.overdue_on - ONE_DAY, None, None, f"{clock.title} overdue, asked before use")


def _finding(loads: list[LoadFact], first: _Wait) -> Finding:
    return Finding(
        rule="loads-before-proof",
        severity=Severity.PUT_RIGHT,
        since=happened_on(loads[0]),
        message=f"{len(loads)} load(s) run while it was not to be used, {day(happened_on(loads[0]))} to "
        f"{day(happened_on(loads[-1]))}: {first.why}, from {day(first.start)}",
        way_out="hold these packs, decide about them and record it; use it only once it is proven",
        evidence=tuple(
            Evidence(x.row.ref, f"cycle {x.cycle_number or '?'} of {day(happened_on(x))}") for x in loads[-_SHOWN:]
        ),
        source=PRACTICE,
        owner=CLINIC,
    )
