"""Loads of today that were run before the test that each day of use asks, or without it."""

from __future__ import annotations

from collections.abc import Iterator

from audit.judge.biological import run_of, shown_before
from audit.judge.clocks.rows import rows_of
from audit.judge.clocks.used_days import EACH_DAY
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.usage import loads_within
from audit.regimes.model import Duty

from .tools import CLINIC, Judged, day

_IN_A_LOAD = "biological"  # run in a load of the day itself: that it was run counts, not that it came first


def check(judged: Judged) -> Iterator[Finding]:
    """One for each such duty, of the day judged alone: from the next day on a day without its test is overdue."""
    today = judged.now.as_of
    duties = [d for d in judged.now.duty.duties() if d.every in EACH_DAY]
    loads = loads_within(judged.unit, today, today) if duties else []
    for duty in duties:
        early = _early(judged, duty, loads)
        if early:
            done = list(rows_of(judged.now.owed, duty).counting(today, today))
            how = "before it" if done else "without it"
            yield Finding(
                rule="load-before-test",
                severity=Severity.FORBIDS if duty.forbids and not done else Severity.PUT_RIGHT,
                since=today,
                message=f"{duty.title} is asked before the first load; {len(early)} load(s) of {day(today)} {how}",
                way_out="hold these packs until the test is done and passed, and test before the first load",
                evidence=tuple(Evidence(x.row.ref, f"cycle {x.cycle_number or '?'} of {day(today)}") for x in early),
                source=duty.source,
                owner=CLINIC,
            )


def _early(judged: Judged, duty: Duty, loads) -> list:
    """The loads shown to have run before every test of the day; all of them where there is none."""
    today = judged.now.as_of
    tests = [run_of(t) for t in rows_of(judged.now.owed, duty).counting(today, today)]
    if tests and duty.subject == _IN_A_LOAD:
        return []
    return [x for x in loads if all(shown_before(run_of(x), t) for t in tests)]
