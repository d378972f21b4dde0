"""What a program of a unit must reach, as its instructions state it, and what a load of it reached.

A result that is called passing although exposure time or temperature stayed below the least that the program needs is
contradictory: it is asked about, and once confirmed it is recorded, and judgement takes it for failed.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from records import clock
from records.models import Load, Program

from . import gathering, may_be_logged, row_rules
from .errors import InputPlace, Problem
from .indicators import open_case
from .load_rules import LEAST_STEAM, below_least
from .submission import submission
from .units import effective

LIMITS = ("exposure_minutes", "temperature_low", "temperature_high", "pressure_low", "pressure_high")


def log_program(
    *, by, request_key, clinic, unit, name, effective_on, source, exposure_minutes=None, temperature_low=None,
    temperature_high=None, pressure_low=None, pressure_high=None, retired=False, confirmed=(),
) -> Program:  # fmt: skip
    """What the program of that name needs from a day on: the least exposure in minutes, its band of temperature in °C
    and of pressure in kPa on the gauge, both ends inside; None where the document states none.
    """
    rights = may_be_logged.rights_or_refuse(by, clinic, visit=True)
    zone = may_be_logged.zone_of(clinic)
    fields = {"unit": unit, "name": (name or "").strip(), "effective_on": effective_on, "source": source}
    fields |= {"exposure_minutes": exposure_minutes, "temperature_low": temperature_low}
    fields |= {"temperature_high": temperature_high, "pressure_low": pressure_low, "pressure_high": pressure_high}
    fields |= {"retired": retired}
    problems = [*may_be_logged.unit_of_clinic("unit", unit, clinic), *effective("effective_on", effective_on)]
    may_be_logged.stop_on([*problems, *row_rules.program(fields.get)], confirmed)
    with submission(clinic, by, request_key, "program of a unit", fields, logged_for=rights.company) as s:
        if s.repeated:
            return s.first(Program)
        on = min(effective_on, clock.today(zone))
        return s.add(Program(clinic=clinic, happened_on=on, zone=zone, **fields))


def programs_of(unit, day: date) -> list[Program]:
    """What each program of the unit that is not retired needs on that day, by name."""
    newest: dict[str, Program] = {}
    for row in (row for row in _on_file(unit) if row.effective_on <= day):
        newest[row.name.strip().casefold()] = row
    return [newest[name] for name in sorted(newest) if not newest[name].retired]


def _on_file(unit) -> list[Program]:
    rows = Program.objects.in_force
    return gathering.once(
        ("programs", unit.pk), lambda: list(rows().filter(unit=unit).order_by("effective_on", "id"))
    )


def program_on(unit, name: str, day: date) -> Program | None:
    """What the program of that name needed on that day; None where nothing is on record, or it is retired."""
    named = (name or "").strip().casefold()
    return next((row for row in programs_of(unit, day) if row.name.strip().casefold() == named), None)


def short_of(load: Load) -> list[str]:
    """In words, where exposure time and temperature of the load stayed below the least that is needed.

    That of its program on its day; of temperature, where none is on record, the least at which steam sterilizes.
    """
    program = program_on(load.unit, load.program, load.happened_on) if _reached(load) else None
    minutes, heat = (program.exposure_minutes, program.temperature_low) if program else (None, None)
    heat = LEAST_STEAM if heat is None else heat
    return below_least(load.exposure_minutes, load.exposure_temperature, minutes, heat)


def _reached(load: Load) -> bool:
    return not {load.exposure_minutes, load.exposure_temperature, load.exposure_pressure} <= {None}


def open_case_of_exposure(s, load: Load) -> None:
    """An exposure that fell short is a failed mechanical result: its case, in the same entry."""
    if short_of(load):
        open_case(s, "mechanical", load, load.happened_on)


def about_exposure(load: Load, at: InputPlace = row_rules.WHOLE) -> Iterator[Problem]:
    """What lies outside the band of the program is asked about: below its least a pass contradicts itself."""
    program = program_on(load.unit, load.program, load.happened_on) if _reached(load) else None
    if program is None:
        return
    below = short_of(load)
    if load.mechanical != "fail" and below:
        yield Problem(
            at / "mechanical",
            f"{' and '.join(below)[:1].upper()}{' and '.join(below)[1:]} ({program.source}): that is no pass. Enter "
            "“fail”, or check the numbers. If it was called a pass all the same, confirm it; it is recorded, and "
            "counts as failed.",
            confirm="below-program",
        )
    for name, words in _outside(load, program):
        yield Problem(
            at / name,
            f"{words} ({program.source}). Check the number. If it was really so, confirm it; it is recorded and "
            "flagged.",
            confirm="outside-program",
        )


def _outside(load: Load, program: Program) -> Iterator[tuple[str, str]]:
    heat, pressure = load.exposure_temperature, load.exposure_pressure
    most = program.temperature_high
    if heat is not None and most is not None and heat > most:
        yield "exposure_temperature", f"{heat:f} °C lies above the band, which ends at {most:f} °C"
    low, high = program.pressure_low, program.pressure_high
    if pressure is not None and low is not None and pressure < low:
        yield "exposure_pressure", f"{pressure:f} kPa lies below the band, which begins at {low:f} kPa"
    if pressure is not None and high is not None and pressure > high:
        yield "exposure_pressure", f"{pressure:f} kPa lies above the band, which ends at {high:f} kPa"
