"""What must hold between the fields of a load, of the decision on it, and of what a program must reach.

A number that no chamber reaches is refused, one that is out of the usual is asked about; a tenth or the tenfold of a
usual one is named as such. Of a cycle whose gauges failed any number may be true.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from math import isclose

from .errors import InputPlace, Problem

WHOLE = InputPlace()
ODD = "odd-exposure"
BELOW = "below-program"
# The coldest of the bands of porous load and small sterilizers: HTM 2010 part 3, table of bands (from memory). Below
# it no program on file sterilizes, whatever it is called.
LEAST_STEAM = Decimal(115)
# (usual from, usual to, refused from), in minutes, °C and kPa on the gauge: common practice, no source.
USUAL = {
    "exposure_minutes": (Decimal(2), Decimal(90), Decimal(600), "minutes"),
    "exposure_temperature": (LEAST_STEAM, Decimal(140), Decimal(200), "°C"),
    "exposure_pressure": (Decimal(60), Decimal(350), Decimal(1000), "kPa"),
}
MOST_HELD = 200
HELD = {"held_packs": "packs", "held_pouches": "pouches", "held_cassettes": "cassettes"}


def load(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """A use time is longer than nothing; what was held and what the exposure reached are numbers that can be."""
    if g("minutes") is not None and g("minutes") <= 0:
        yield Problem(at / "minutes", "A cycle takes time: enter the minutes as a number above 0, or leave it out.")
    for name, what in HELD.items():
        if g(name) is not None and g(name) > MOST_HELD:
            yield Problem(
                at / name,
                f"{g(name)} {what} in one load is more than a small chamber holds. Check the number. If it held so "
                "many, confirm it; it is recorded.",
                confirm="many-held",
            )
    ran = g("mechanical") != "fail"
    odd = [p for name in USUAL if g(name) is not None for p in _reached(name, g(name), ran, at)]
    yield from odd
    if not odd and ran:
        yield from _steam(g("exposure_temperature"), g("exposure_pressure"), at)


def _reached(name: str, value: Decimal, ran: bool, at: InputPlace) -> Iterator[Problem]:
    low, high, refused, unit = USUAL[name]
    told, meant = f"{value:f} {unit}", _misprint(value, low, high, unit)
    if value < 0:
        yield Problem(at / name, f"{told} lies below nothing. Check the number, or leave it blank.")
    elif value >= refused:
        yield Problem(at / name, f"{told} is no number of an exposure.{meant} Check it, or leave it blank.")
    elif ran and name == "exposure_temperature" and value < low:
        yield Problem(
            at / name,
            f"At {told} steam sterilizes nothing: the coldest programs begin at {low:f} °C.{meant} Check the number. "
            "If it was really so, enter that gauges and printout failed; or confirm it, it is recorded, and a pass "
            "beside it counts as failed.",
            confirm=BELOW,
        )
    elif ran and not low <= value <= high:
        yield Problem(
            at / name,
            f"{told} is out of the usual, {low:f} to {high:f} {unit}.{meant} Check the number. If it was really so, "
            "confirm it; it is recorded and flagged.",
            confirm=ODD,
        )


def _misprint(value: Decimal, low: Decimal, high: Decimal, unit: str) -> str:
    """The usual number of which this is a tenth or the tenfold, as a question; "" where it is neither."""
    if low <= value * 10 <= high:
        return f" It is a tenth of {(value * 10).normalize():f}: was {(value * 10).normalize():f} {unit} meant?"
    if low <= value / 10 <= high:
        return f" It is ten times {(value / 10).normalize():f}: was {(value / 10).normalize():f} {unit} meant?"
    return ""


def saturated(temperature: Decimal) -> float:
    """The absolute pressure in kPa of saturated steam at a temperature in °C: Antoine's equation (from memory)."""
    return 10 ** (8.14019 - 1810.94 / (244.485 + float(temperature))) * 0.1333224


# The air outside, from sea level to about 3000 m, and what gauges and drains are off by: common practice, no source.
_AIR, _OFF = (70.0, 105.0), 20.0


def _steam(temperature: Decimal | None, pressure: Decimal | None, at: InputPlace) -> Iterator[Problem]:
    """Temperature and pressure that belong to no one saturated steam: most often a unit of measure is mixed up."""
    if temperature is None or pressure is None:
        return
    absolute = saturated(temperature)
    least, most = absolute - _AIR[1] - _OFF, absolute - _AIR[0] + _OFF
    if least <= float(pressure) <= most:
        return
    near = " It may be absolute: enter what the gauge shows against the air outside." if isclose(
        float(pressure), absolute, abs_tol=_OFF
    ) else ""  # fmt: skip
    yield Problem(
        at / "exposure_pressure",
        f"Steam of {temperature:f} °C shows {least:.0f} to {most:.0f} kPa on a gauge, not {pressure:f} kPa.{near} "
        "Check both numbers and their units. If both were really read so, confirm it; it is recorded and flagged.",
        confirm=ODD,
    )


def below_least(minutes, temperature, least_minutes, least_temperature) -> list[str]:
    """In words, where an exposure stayed below the least needed; the least itself is enough, None is no limit."""
    found = []
    if minutes is not None and least_minutes is not None and minutes < least_minutes:
        found.append(f"{minutes:f} minutes of exposure are fewer than the {least_minutes:f} that the program needs")
    if temperature is not None and least_temperature is not None and temperature < least_temperature:
        found.append(f"{temperature:f} °C lies below the {least_temperature:f} °C that the program needs")
    return found


def load_release(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """A decision is one of two; a rejection says why."""
    if g("decision") == "rejected" and not str(g("reason") or "").strip():
        yield Problem(at / "reason", "Rejected why? The next person needs it, in a few words.")


def program(g: Callable, at: InputPlace = WHOLE) -> Iterator[Problem]:
    """Limits run from least to greatest, are numbers that a program can have, and name their document."""
    if not str(g("name") or "").strip():
        yield Problem(at / "name", "Which program? Enter its name as the unit shows it.")
    if not str(g("source") or "").strip():
        yield Problem(at / "source", "Which document states it? Enter its name and section.")
    of = {"exposure_minutes": "exposure_minutes"}
    of |= {f"{name}_{end}": f"exposure_{name}" for name in ("temperature", "pressure") for end in ("low", "high")}
    for field, kind in of.items():
        if g(field) is None:
            continue
        low, high, _, unit = USUAL[kind]
        if not 0 < g(field) or not low <= g(field) <= high:
            meant = _misprint(g(field), low, high, unit)
            yield Problem(
                at / field,
                f"{g(field):f} {unit} is out of the usual, {low:f} to {high:f}.{meant} Check the number. If the "
                "document states it, confirm it; it is recorded.",
                confirm="" if g(field) <= 0 else ODD,
            )
    for name in ("temperature", "pressure"):
        low, high = g(f"{name}_low"), g(f"{name}_high")
        if low is not None and high is not None and low > high:
            yield Problem(at / f"{name}_high", f"The greatest {name} lies below the least. Check both numbers.")
