"""Spore tests that count, but not for a duty that asks more of them: a laboratory, a full chamber, a place in it."""

from __future__ import annotations

from collections.abc import Iterator

from audit.facts import happened_on
from audit.judge.biological import AWAITED, PASSED
from audit.judge.clocks.rows import lacking, rows_of
from audit.judge.judgement import Finding, Severity, State
from audit.regimes.model import Duty

from .tools import CLINIC, Judged, day

_SHOWN = 20
_OPEN = (State.DUE, State.OVERDUE, State.NO_EVIDENCE)


def check(judged: Judged) -> Iterator[Finding]:
    """One for each duty that is not met by its newest tests, which lack what it asks; gone once a later one meets it.

    Of a duty after an event only while its tests are missing.
    """
    for duty in judged.now.duty.duties():
        if duty.conditions and duty.subject == "biological" and _asks_now(judged, duty):
            yield from _newest(judged, duty)


def _asks_now(judged: Judged, duty: Duty) -> bool:
    return duty.every != "after-event" or any(c.code == duty.id and c.state in _OPEN for c in judged.now.clocks)


def _newest(judged: Judged, duty: Duty) -> Iterator[Finding]:
    rows, verdicts = rows_of(judged.now.duty, duty), judged.settled.verdicts
    lately = []
    for test in reversed(rows.facts):
        if rows.counts(test):
            break
        if verdicts[test.row.origin].verdict in (PASSED, AWAITED) and lacking(test, duty):
            lately.append(test)
    if not lately:
        return
    newest = lately[0]
    more = f"{len(lately)} spore tests, the last " if len(lately) > 1 else "spore test "
    yield Finding(
        rule="not-as-asked",
        severity=Severity.PUT_RIGHT,
        since=happened_on(lately[-1]),
        message=f"{more}of {day(happened_on(newest))}, {'do' if len(lately) > 1 else 'does'} not meet the duty "
        f"“{duty.title}”: {lacking(newest, duty)}",
        way_out="run the test as the rules ask; where it was run so, amend it and record what is missing",
        evidence=rows.proof(reversed(lately[:_SHOWN])),
        source=duty.source,
        owner=CLINIC,
    )
