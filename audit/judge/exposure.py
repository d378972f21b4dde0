"""What the exposure of a load reached, held against what its program needs. Pure.

Minutes or temperature below the least that is needed are a failed mechanical result, whatever stands beside them: a
pass there contradicts itself. Where no program is on record, or it states no temperature, steam below 115 °C
sterilizes nothing: the coldest band of HTM 2010 part 3 (from memory). What is not recorded changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date
from decimal import Decimal

from audit.facts import LoadFact, ProgramFact, UnitFacts, in_order

from .cycle_types import named

LEAST_STEAM = Decimal(115)


def program_on(unit: UnitFacts, program: str, day: date) -> ProgramFact | None:
    """What the program of that name needs on that day; None where nothing is on record, or it is retired."""
    rows = [p for p in unit.programs if p.effective_on <= day and named(p.name) == named(program)]
    newest = max(rows, key=lambda p: (p.effective_on, p.row.number, p.row.line), default=None)
    return None if newest is None or newest.retired else newest


def short_of(unit: UnitFacts, load: LoadFact) -> tuple[str, ...]:
    """In words, where the exposure of the load stayed below the least needed; the least itself is enough."""
    program = program_on(unit, load.program, load.row.happened_on)
    return tuple(below(load.exposure_minutes, load.exposure_temperature, program))


def below(minutes: Decimal | None, heat: Decimal | None, program: ProgramFact | None) -> Iterator[str]:
    """In words, where minutes of exposure or °C stayed below what a program needs; None is not known."""
    least = program.exposure_minutes if program else None
    if minutes is not None and least is not None and minutes < least:
        yield f"{minutes:f} minutes of exposure, {least:f} are needed"
    stated = program.temperature_low if program else None
    least = LEAST_STEAM if stated is None else stated
    if heat is not None and heat < least:
        yield f"{heat:f} °C, at least {least:f} °C is needed"


def loads_as_shown(unit: UnitFacts, measured: Iterable[LoadFact] | None = None) -> UnitFacts:
    """The unit with every load failed whose exposure stayed below the least, whatever result stands beside it.

    `measured`: loads of the unit among which all those with an exposure on record are, where somebody knows them.
    """
    loads = unit.loads if measured is None else measured
    found = {x.row.ref for x in _doubtful(unit, loads) if short_of(unit, x)} if loads else ()
    if not found:
        return unit
    shown = [replace(x, mechanical="fail") if x.row.ref in found else x for x in unit.loads]
    return replace(unit, loads=in_order(shown))


def _doubtful(unit: UnitFacts, loads: Iterable[LoadFact]) -> list[LoadFact]:
    """Those of the loads below the highest of all limits on record, whatever their program: few, so that most are
    looked at once."""
    minutes = max((p.exposure_minutes for p in unit.programs if p.exposure_minutes is not None), default=Decimal(0))
    stated = [p.temperature_low for p in unit.programs if p.temperature_low is not None]
    heat = max([LEAST_STEAM, *stated])
    return [
        x
        for x in loads
        if (x.exposure_temperature is not None and x.exposure_temperature < heat)
        or (x.exposure_minutes is not None and x.exposure_minutes < minutes)
    ]


def reached(load: LoadFact) -> str:
    """What the exposure reached, as recorded: "4 min, 134.6 °C, 210 kPa"; "" where nothing is."""
    told = (
        (load.exposure_minutes, "min"), (load.exposure_temperature, "°C"), (load.exposure_pressure, "kPa"),
    )  # fmt: skip
    return ", ".join(f"{value:f} {unit}" for value, unit in told if value is not None)


def needs(program: ProgramFact) -> str:
    """What a program needs: "at least 3.5 min, 134 °C to 138 °C, from 200 kPa"; "" where it states nothing."""
    minutes = [] if program.exposure_minutes is None else [f"at least {program.exposure_minutes:f} min"]
    bands = (
        _band(program.temperature_low, program.temperature_high, "°C"),
        _band(program.pressure_low, program.pressure_high, "kPa"),
    )
    return ", ".join([*minutes, *filter(None, bands)])


def _band(low: Decimal | None, high: Decimal | None, unit: str) -> str:
    if low is None and high is None:
        return ""
    if low is None or high is None:
        return f"from {low:f} {unit}" if high is None else f"up to {high:f} {unit}"
    return f"{low:f} {unit} to {high:f} {unit}"


def held(load: LoadFact) -> str:
    """What the load held in numbers: "3 packs, 12 pouches, 1 cassette"; "" where nobody counted."""
    counts = ((load.held_packs, "pack"), (load.held_pouches, "pouch"), (load.held_cassettes, "cassette"))
    return ", ".join(f"{n} {_many(word, n)}" for n, word in counts if n)


def _many(word: str, n: int) -> str:
    return word if n == 1 else f"{word}es" if word.endswith("ch") else f"{word}s"
