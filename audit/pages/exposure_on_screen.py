"""What an exposure reached, and what a program needs, in the units of whoever looks."""

from __future__ import annotations

from decimal import Decimal

from audit.facts import LoadFact, ProgramFact
from audit.judge.exposure import needs, reached
from records.writing.preferences import USUAL, current, measured


def reached_on_screen(load: LoadFact) -> str:
    """As `audit.judge.exposure.reached`, each value as it is written here with that of the record beside it."""
    if current() == USUAL:
        return reached(load)
    told = ((load.exposure_minutes, "min"), (load.exposure_temperature, "°C"), (load.exposure_pressure, "kPa"))
    return ", ".join(measured(value, unit) for value, unit in told if value is not None)


def needs_on_screen(program: ProgramFact) -> str:
    """As `audit.judge.exposure.needs`, in the units chosen."""
    if current() == USUAL:
        return needs(program)
    minutes = [] if program.exposure_minutes is None else [f"at least {program.exposure_minutes:f} min"]
    bands = (
        _band(program.temperature_low, program.temperature_high, "°C"),
        _band(program.pressure_low, program.pressure_high, "kPa"),
    )
    return ", ".join([*minutes, *filter(None, bands)])


def _band(low: Decimal | None, high: Decimal | None, unit: str) -> str:
    told = [
        f"{word} {measured(value, unit)}" for word, value in (("from", low), ("up to", high)) if value is not None
    ]
    return " ".join(told)
