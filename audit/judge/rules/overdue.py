"""Due items that are overdue, or without any evidence: of a unit, and of the whole place."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from audit.facts.dates import ONE_DAY, days_words
from audit.judge.judgement import Clock, DueKind, Finding, Severity, State
from audit.judge.next_step import owner_of

from .tools import Judged, day

_RULES = {DueKind.DUTY: "duty-overdue", DueKind.PLAN: "plan-overdue"}
_WAYS_OUT = {
    "test": "do the test today",
    "check": "do the check today",
    "service": "have it serviced, or decide to postpone it (who, why, until)",
    "renew": "renew it and record the new paper",
    "calibrate": "have it calibrated, or take it out of use",
}
_POSTPONE = "do it, or decide to postpone it (who, why, until)"
_NEVER = "no record found that it was ever done, and no installation on record"


def check(judged: Judged) -> Iterator[Finding]:
    """One for each due item of the unit that is overdue or has no evidence."""
    return _findings(judged.now.clocks, judged.now.as_of)


def findings_of_clinic(clocks: Iterable[Clock], as_of: date) -> list[Finding]:
    """One for each due item of the whole place that is overdue or has no evidence."""
    return list(_findings(clocks, as_of))


def _findings(clocks: Iterable[Clock], as_of: date) -> Iterator[Finding]:
    for clock in clocks:
        if clock.state is State.OVERDUE:
            yield _overdue(clock, as_of)
        elif clock.state is State.NO_EVIDENCE:
            yield _no_evidence(clock)


def _no_evidence(clock: Clock) -> Finding:
    plan, start = clock.kind is DueKind.PLAN, clock.counts_from
    never = start is None and (plan or not clock.note)
    missing = _NEVER if never else clock.note
    if start is not None:
        missing += f"; counts from: {start.text}"
    way_out = "do it and record it, or record the installation"
    if plan and start is not None:
        way_out = "read the counter and record it; or do the work and record it"
    elif not plan:
        way_out = _WAYS_OUT.get(clock.action, way_out)
    return Finding(
        rule="no-evidence",
        severity=Severity.FORBIDS if clock.forbids else Severity.PUT_RIGHT,
        since=None,
        message=f"{clock.title}: {missing}",
        way_out=way_out,
        evidence=(start,) if start else (),
        source=clock.source,
        owner=owner_of(clock),
    )


def _grace(clock: Clock) -> str:
    """The last day that was allowed, where that is not the day on which it was due."""
    last = clock.overdue_on - ONE_DAY if clock.overdue_on else clock.due_on
    return f", allowed to {day(last)}" if clock.due_on and last > clock.due_on else ""


def _overdue(clock: Clock, as_of: date) -> Finding:
    late = days_words(clock.days_overdue(as_of))
    start = clock.counts_from
    last = f"; counts from: {start.text}" if start else "; none on record"
    said = f"; {clock.note}" if clock.note else ""
    return Finding(
        rule=_RULES.get(clock.kind, "paper-overdue"),
        severity=Severity.FORBIDS if clock.forbids else Severity.PUT_RIGHT,
        since=clock.overdue_on,
        message=f"{clock.title}: {late} overdue, due by {day(clock.due_on)}{_grace(clock)} "
        f"({clock.rule}){last}{said}",
        way_out=_POSTPONE if clock.kind is DueKind.PLAN else _WAYS_OUT.get(clock.action, _POSTPONE),
        evidence=(start,) if start else (),
        source=clock.source,
        owner=owner_of(clock),
    )
