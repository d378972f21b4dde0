"""Readings and checks of a unit as whoever looks writes them: a picture cannot show two units of measure."""

from __future__ import annotations

from dataclasses import replace

from audit.facts import UnitFacts
from records.writing.measures import convert, convert_together, is_level
from records.writing.preferences import Written

_VALUES = ("as_found", "as_left", "lower", "upper")


def as_written(unit: UnitFacts, written: Written) -> UnitFacts:
    """The unit with its readings and the values of its checks in the units chosen; others as they were recorded.

    Readings of one quantity in °C and in °F so stand in one picture.
    """
    jobs = tuple(replace(job, readings=tuple(_reading(r, written) for r in job.readings)) for job in unit.jobs)
    checks = tuple(_check(c, written) for c in unit.checks)
    return replace(unit, jobs=type(unit.jobs)(jobs), checks=type(unit.checks)(checks))


def _reading(reading, written: Written):
    to = written.unit_for(reading.unit_of_measure)
    if to == reading.unit_of_measure or not is_level(reading.quantity):
        return reading
    values = [getattr(reading, name) for name in _VALUES]
    told = convert_together(values, reading.unit_of_measure, to)
    return replace(reading, unit_of_measure=to, **dict(zip(_VALUES, told, strict=True)))


def _check(check, written: Written):
    to = written.unit_for(check.unit_of_measure)
    if check.value is None or to == check.unit_of_measure or not is_level(check.kind):
        return check
    return replace(check, unit_of_measure=to, value=convert(check.value, check.unit_of_measure, to))
