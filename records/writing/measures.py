"""Units of measure: what is stored and how a clinic writes it, converted exactly and rounded once.

Factors: NIST Special Publication 811 (2008 edition), appendix B.8, whose digits stand in the tests: the bar and the
degree Fahrenheit are exact; the pound-force per square inch is computed from the exact pound, inch and standard
gravity; the conventional millimetre and inch of mercury have the digits given there (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_EVEN, Decimal
from fractions import Fraction

TEMPERATURE, PRESSURE = "temperature", "pressure"
BASE = {TEMPERATURE: "°C", PRESSURE: "kPa"}
WRITTEN = {TEMPERATURE: ("°C", "°F"), PRESSURE: ("kPa", "bar", "psi")}

# 1 lb = 0.45359237 kg, 1 in = 0.0254 m, standard gravity 9.80665 m/s²: pascal, then kilopascal.
_PSI = Fraction("0.45359237") * Fraction("9.80665") / Fraction("0.0254") ** 2 / 1000

# (kind, kilopascal or degree Celsius in one of it, what is added after that)
_OF: dict[str, tuple[str, Fraction, Fraction]] = {
    "°C": (TEMPERATURE, Fraction(1), Fraction(0)),
    "°F": (TEMPERATURE, Fraction(5, 9), Fraction(-160, 9)),
    "Pa": (PRESSURE, Fraction(1, 1000), Fraction(0)),
    "hPa": (PRESSURE, Fraction(1, 10), Fraction(0)),
    "kPa": (PRESSURE, Fraction(1), Fraction(0)),
    "MPa": (PRESSURE, Fraction(1000), Fraction(0)),
    "mbar": (PRESSURE, Fraction(1, 10), Fraction(0)),
    "bar": (PRESSURE, Fraction(100), Fraction(0)),
    "psi": (PRESSURE, _PSI, Fraction(0)),
    "mmHg": (PRESSURE, Fraction("0.1333224"), Fraction(0)),
    "inHg": (PRESSURE, Fraction("3.386389"), Fraction(0)),
}
UNITS = tuple(_OF)
MOST_PLACES = 6


class NotConvertible(ValueError):
    """The two units do not measure the same kind of thing, or one of them is not known."""


def kind_of(unit: str) -> str:
    """temperature or pressure; "" for a unit that is not converted."""
    return _OF[unit][0] if unit in _OF else ""


def _exact(value: Decimal, unit: str, to: str) -> Fraction:
    if not kind_of(unit) or kind_of(unit) != kind_of(to):
        raise NotConvertible(f"{unit or 'nothing'} cannot be told in {to or 'nothing'}.")
    _, factor, plus = _OF[unit]
    _, factor_to, plus_to = _OF[to]
    return (Fraction(value) * factor + plus - plus_to) / factor_to


def convert(value: Decimal, unit: str, to: str, places: int | None = None) -> Decimal:
    """The value told in another unit, rounded half to even to `places` decimals.

    Without `places` to as many as keep what was read apart: the coarsest step that is not coarser than that of the
    value. The same unit gives the value unchanged. Raises NotConvertible.
    """
    if unit == to and places is None:
        return value
    exact = _exact(value, unit, to)
    if places is None:
        places = _places(value, unit, to)
    step = Decimal(1).scaleb(-places)
    scaled = exact * 10**places
    # round() of a Fraction is exact and rounds half to even, like the rounding of the decimal module asked for here.
    return (Decimal(round(scaled)) * step).quantize(step, ROUND_HALF_EVEN)


def convert_together(values: Sequence[Decimal | None], unit: str, to: str) -> list[Decimal | None]:
    """The values told in another unit to as many decimals each, so many that none changes sides with another.

    What is below, at or above another stays so: a reading beyond its limit is beyond it in every unit. None stays
    None. The same unit gives the values unchanged. Raises NotConvertible.
    """
    known = [value for value in values if value is not None]
    if unit == to or not known:
        return list(values)
    places = max(_places(value, unit, to) for value in known)
    while _order(told := [convert(value, unit, to, places) for value in known]) != _order(known):
        places += 1
    each = iter(told)
    return [None if value is None else next(each) for value in values]


def _order(values: list[Decimal]) -> list[int]:
    """How each of the values stands to each: -1 below, 0 equal, 1 above."""
    return [(a > b) - (a < b) for a in values for b in values]


def _places(value: Decimal, unit: str, to: str) -> int:
    exponent = value.as_tuple().exponent
    step = Fraction(10) ** exponent * _OF[unit][1] / _OF[to][1]
    return next((p for p in range(MOST_PLACES) if Fraction(1, 10**p) <= step), MOST_PLACES)


# A reading of one of these is a distance between two temperatures, for which another conversion holds.
_DISTANCES = (
    "difference", "spread", "deviation", "drift", "offset", "rise", "tolerance", "band", "uniformity", "stability",
    "fluctuation", "correction", "error", "overshoot", "per minute", "/min", "rate",
)  # fmt: skip


def is_level(quantity: str) -> bool:
    """Whether a quantity, as it is called in a record, is a level and not a distance between two levels."""
    return not any(word in quantity.lower() for word in _DISTANCES)
