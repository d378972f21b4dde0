"""Measurements outside their limits, and instruments past their calibration."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from audit.facts import ReadingFact
from audit.judgement import Finding, Severity, Source

from .tools import COMPANY, PRACTICE, Judged, day, row_evidence


def check(judged: Judged) -> Iterator[Finding]:
    """As left outside limits, as found outside limits, and calibration past due on the day."""
    for job in judged.unit.jobs:
        for reading in job.readings:
            if outside(reading, reading.as_left):
                yield _finding(reading, "as left", reading.as_left, "reading-out-of-limits", Severity.PUT_RIGHT)
            elif outside(reading, reading.as_found):
                yield _finding(reading, "as found", reading.as_found, "found-out-of-tolerance", Severity.NOTE)
            due = reading.calibration_due
            if due is not None and due < reading.row.happened_on:
                yield _calibration(reading)


def outside(reading: ReadingFact, value: Decimal | None) -> bool:
    """Whether a value lies outside the limits, both of which are still allowed; not measured is not outside."""
    if value is None:
        return False
    low, high = reading.lower, reading.upper
    return (low is not None and value < low) or (high is not None and value > high)


def _finding(reading: ReadingFact, when: str, value, rule: str, severity: Severity) -> Finding:
    unit = reading.unit_of_measure
    low = "no lower limit" if reading.lower is None else f"from {reading.lower}"
    high = "no upper limit" if reading.upper is None else f"to {reading.upper}"
    at = f" at {reading.point}" if reading.point else ""
    way_out = "adjust or repair, and measure again"
    if severity is Severity.NOTE:
        way_out = "put right at that visit; look at what ran since the last good measurement"
    text = f"{reading.quantity}{at} {when} {value} {unit}"
    return Finding(
        rule=rule,
        severity=severity,
        since=reading.row.happened_on,
        message=f"{text} on {day(reading.row.happened_on)}, limits {low} {high} {unit} ({reading.limit_source})",
        way_out=way_out,
        evidence=row_evidence(reading, text),
        source=Source(reading.limit_source) if reading.limit_source else PRACTICE,
        owner=COMPANY,
    )


def _calibration(reading: ReadingFact) -> Finding:
    return Finding(
        rule="instrument-past-calibration",
        severity=Severity.PUT_RIGHT,
        since=reading.row.happened_on,
        message=f"{reading.quantity} of {day(reading.row.happened_on)} measured with {reading.instrument}, "
        f"whose calibration was due {day(reading.calibration_due)}",
        way_out="calibrate the instrument and judge what it measured since",
        evidence=row_evidence(reading, f"{reading.quantity} with {reading.instrument}"),
        source=PRACTICE,
        owner=COMPANY,
    )
