"""Measurements outside their limits. How far an instrument can be trusted is another question, see `instruments`."""

from __future__ import annotations

from collections.abc import Iterator

from audit.facts import ReadingFact
from audit.judge.judgement import Finding, LookBack, Severity
from audit.judge.lookback.measurements import FOUND_OUT, left_good, outside, readings_of
from audit.judge.work.readings import left_value
from audit.regimes.source import Source

from .tools import COMPANY, PRACTICE, Judged, day, row_evidence

__all__ = ["check", "outside"]


def check(judged: Judged) -> Iterator[Finding]:
    """As left outside limits (until shown within them later), and as found outside limits but put right.

    What was found outside and not measured again was left so.
    """
    rows = [r for r, _ in readings_of(judged.unit)]
    still = {r.row.ref for work in judged.settled.works for r in work.outside}
    if not still and not any(outside(r, r.as_left) or outside(r, r.as_found) for r in rows):
        return
    backs = {e.ref: b for b in judged.look_backs if b.kind == FOUND_OUT for e in b.evidence}
    for reading in rows:
        left = outside(reading, reading.as_left)
        if left or reading.row.ref in still:
            yield _left(reading, reading.row.ref not in still)
        if outside(reading, reading.as_found) and not left:
            yield _found(reading, backs.get(reading.row.ref), left_good(reading))


def _left(reading: ReadingFact, later_good: bool) -> Finding:
    """Until a later measurement shows it within limits the unit waits (R5)."""
    severity = Severity.NOTE if later_good else Severity.FORBIDS
    way_out = "nothing more: a later measurement was within limits"
    return _finding(
        reading,
        "as left" if reading.as_left is not None else "as found and not measured again",
        left_value(reading),
        "reading-out-of-limits",
        severity,
        way_out if later_good else "adjust or repair, and measure again",
    )


def _found(reading: ReadingFact, back: LookBack | None, put_right: bool) -> Finding:
    ran = ""
    if back is not None and back.after:
        ran = f"; {len(back.loads)} load(s) ran since it was last measured within them on {day(back.after)}"
    elif back is not None:
        ran = f"; never measured within them on record before: {len(back.loads)} load(s) ran until then"
    way_out = "put right at that visit; " if put_right else ""
    return _finding(
        reading,
        "as found",
        reading.as_found,
        "found-out-of-tolerance",
        Severity.NOTE,
        way_out + "look at what ran since the last good measurement",
        ran,
    )


def _finding(reading: ReadingFact, when: str, value, rule: str, severity: Severity, way_out: str, ran="") -> Finding:
    unit = reading.unit_of_measure
    low = "no lower limit" if reading.lower is None else f"from {reading.lower}"
    high = "no upper limit" if reading.upper is None else f"to {reading.upper}"
    at = f" at {reading.point}" if reading.point else ""
    stands = f" ({reading.limit_source})" if reading.limit_source else ""
    text = (
        f"{reading.quantity}{at} not measured" if value is None else f"{reading.quantity}{at} {when} {value} {unit}"
    )
    return Finding(
        rule=rule,
        severity=severity,
        since=reading.row.happened_on,
        message=f"{text} on {day(reading.row.happened_on)}, limits {low} {high} {unit}{stands}{ran}",
        way_out=way_out,
        evidence=row_evidence(reading, text),
        source=Source(reading.limit_source) if reading.limit_source else PRACTICE,
        owner=COMPANY,
    )
