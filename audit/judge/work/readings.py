"""Measurements left outside their limits and not shown to be within them later: the unit waits until they are.

What was found and not measured again is what was left; limits without any value are not met. Common practice, no
source.
"""

from __future__ import annotations

from decimal import Decimal

from audit.facts import JobFact, ReadingFact, UnitFacts
from audit.judge.lookback.measurements import left_good, outside, readings_of, what

from .order import came_after


def left_value(reading: ReadingFact) -> Decimal | None:
    """What the unit was left with: as left, else as found."""
    return reading.as_found if reading.as_left is None else reading.as_left


def left_out(unit: UnitFacts) -> dict[str, tuple[ReadingFact, ...]]:
    """Readings left outside their limits that no later one of the same quantity and point made good, by origin of
    the job.
    """
    rows = readings_of(unit)
    bad = [(r, j) for r, j in rows if _is_left_out(r)]
    held: dict[str, tuple[ReadingFact, ...]] = {}
    for reading, job in bad:
        if not any(left_good(r) and what(r) == what(reading) and _later(r, j, reading, job) for r, j in rows):
            held[job.row.origin] = (*held.get(job.row.origin, ()), reading)
    return held


def _is_left_out(reading: ReadingFact) -> bool:
    """Whether it was left outside its limits, or not measured: what is not known is not within limits."""
    value = left_value(reading)
    if value is None:
        return reading.lower is not None or reading.upper is not None
    return outside(reading, value)


def _later(reading: ReadingFact, job: JobFact, bad: ReadingFact, bad_job: JobFact) -> bool:
    """Whether a measurement is shown to be later: by day, by both times of their own, or by those of the jobs."""
    if reading.row.happened_on != bad.row.happened_on:
        return reading.row.happened_on > bad.row.happened_on
    at, bad_at = reading.row.happened_at, bad.row.happened_at
    return (at is not None and bad_at is not None and at > bad_at) or came_after(job, bad_job)


def reading_words(reading: ReadingFact) -> str:
    """A reading left outside in words: "temperature at drain left at 131.0 °C, limits from 134 to 137 °C"."""
    unit = reading.unit_of_measure
    low = "no lower limit" if reading.lower is None else f"from {reading.lower}"
    high = "no upper limit" if reading.upper is None else f"to {reading.upper}"
    at = f" at {reading.point}" if reading.point else ""
    left = "not measured" if left_value(reading) is None else f"left at {left_value(reading)} {unit}"
    return f"{reading.quantity}{at} {left}, limits {low} {high} {unit}"
