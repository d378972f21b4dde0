"""Due items that are overdue, in grace, or without any evidence."""

from __future__ import annotations

from collections.abc import Iterator

from audit.dates import days_words
from audit.judgement import Clock, Finding, Severity, State

from .tools import CLINIC, COMPANY, Judged, day


def check(judged: Judged) -> Iterator[Finding]:
    """One for each due item that is overdue or has no evidence."""
    for clock in judged.now.clocks:
        if clock.state is State.OVERDUE:
            yield _overdue(judged, clock)
        elif clock.state is State.NO_EVIDENCE:
            yield Finding(
                rule="no-evidence",
                severity=Severity.PUT_RIGHT,
                since=None,
                message=f"{clock.title}: no record found that it was ever done, and no installation on record",
                way_out="do it and record it, or record the installation",
                source=clock.source,
                owner=COMPANY,
            )


def _overdue(judged: Judged, clock: Clock) -> Finding:
    late = days_words(clock.days_overdue(judged.now.as_of))
    duty = clock.id.startswith("duty:")
    start = clock.counts_from
    last = f"; counts from: {start.text}" if start else "; none on record"
    postponed = f"; {clock.note}" if clock.note else ""
    return Finding(
        rule="duty-overdue" if duty else "plan-overdue",
        severity=Severity.PUT_RIGHT,
        since=clock.overdue_on,
        message=f"{clock.title}: {late} overdue, due by {day(clock.due_on)} ({clock.rule}){last}{postponed}",
        way_out="do the test today" if duty else "do it, or decide to postpone it (who, why, until)",
        evidence=(start,) if start else (),
        source=clock.source,
        owner=CLINIC if duty else COMPANY,
    )
