"""Weeks (or months) that asked a biological test and have none that counts."""

from __future__ import annotations

from collections.abc import Iterator

from audit.clocks.duty import missed_periods, repeating_duty, rolling_gaps
from audit.dates import ONE_DAY
from audit.judgement import Finding, Severity

from .tools import CLINIC, Judged, day


def check(judged: Judged) -> Iterator[Finding]:
    """One for each unbroken row of periods missed within the weeks shown."""
    facts = judged.now.duty
    duty = repeating_duty(facts.regime, facts.clinic, facts.as_of)
    if duty is None:
        return
    oldest = judged.weeks[0].start if judged.weeks else facts.as_of
    rolling = duty.every == "rolling-days"
    spans = rolling_gaps(facts, duty) if rolling else missed_periods(facts, duty)
    for start, end, periods in _rows([s for s in spans if s[1] >= oldest]):
        tests = [e for w in judged.weeks if start <= w.start <= end for e in w.tests]
        how_many = f"{periods} in a row, " if periods > 1 else ""
        yield Finding(
            rule="missed-week",
            severity=Severity.NOTE,
            since=start,
            message=f"no spore test that counts from {day(start)} to {day(end)} "
            f"({how_many}{duty.words}){_closures(judged, start, end)}",
            way_out="cannot be made good; explain it in the record and test in every coming period",
            evidence=tuple(tests),
            source=duty.source,
            owner=CLINIC,
        )


def _rows(spans):
    """Periods that follow on each other made one: (first day, last day, how many)."""
    rows = []
    for start, end in spans:
        if rows and start == rows[-1][1] + ONE_DAY:
            rows[-1] = (rows[-1][0], end, rows[-1][2] + 1)
        else:
            rows.append((start, end, 1))
    return rows


def _closures(judged: Judged, start, end) -> str:
    """Closures that touch the period: shown, though this rule may not pause for them."""
    found = [c for c in judged.settled.clinic.closures if c.from_on <= end and c.to_on >= start]
    found = [c for c in found if c.unit in ("", judged.unit.ref)]
    if not found:
        return ""
    words = ", ".join(f"{day(c.from_on)} to {day(c.to_on)}: {c.why}" for c in found)
    return f"; closed {words}"
