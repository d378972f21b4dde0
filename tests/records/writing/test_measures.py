"""Conversions against published factors, and that what is shown keeps apart what was read."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.writing.measures import (
    BASE,
    TEMPERATURE,
    UNITS,
    WRITTEN,
    NotConvertible,
    convert,
    convert_together,
    is_level,
    kind_of,
)

# NIST Special Publication 811, 2008 edition, appendix B.8: "to convert from … to pascal, multiply by …". The digits
# are from memory of that table; bar and millibar are printed there in bold, as exact.
PASCALS = {
    "bar": Decimal("1.0E+05"),
    "mbar": Decimal("1.0E+02"),
    "psi": Decimal("6.894757E+03"),
    "mmHg": Decimal("1.333224E+02"),
    "inHg": Decimal("3.386389E+03"),
}


@pytest.mark.parametrize("unit", PASCALS)
def test_a_factor_is_the_published_one_to_its_last_digit(unit):
    published = PASCALS[unit]
    places = max(0, -published.as_tuple().exponent)
    assert convert(Decimal(1), unit, "Pa", places) == published


# t/°C = (t/°F - 32)/1.8, SP 811 B.8, exact. The pairs follow from it; freezing and boiling of water are common
# knowledge, 121 °C and 134 °C are the usual plateaus.
@pytest.mark.parametrize(
    ("fahrenheit", "celsius"),
    [("32", "0"), ("212", "100"), ("-40", "-40"), ("249.8", "121"), ("273.2", "134"), ("269.6", "132")],
)
def test_degrees_fahrenheit_are_exact(fahrenheit, celsius):
    assert convert(Decimal(fahrenheit), "°F", "°C", 1) == Decimal(celsius)
    assert convert(Decimal(celsius), "°C", "°F", 1) == Decimal(fahrenheit)


def test_rounding_is_half_to_even_and_once():
    # 0.25 kPa is 2.5 mbar and 0.35 kPa 3.5 mbar: rounding halves up both would be raised.
    assert convert(Decimal("0.25"), "kPa", "mbar", 0) == 2
    assert convert(Decimal("0.35"), "kPa", "mbar", 0) == 4
    assert convert(Decimal("-0.25"), "kPa", "mbar", 0) == -2


VALUES = st.decimals(min_value=-50, max_value=400, places=1)
PAIRS = [(unit, to) for to_kind in WRITTEN for unit in UNITS if kind_of(unit) == to_kind for to in WRITTEN[to_kind]]


@pytest.mark.parametrize(("unit", "to"), PAIRS)
@given(value=VALUES)
def test_there_and_back_gives_what_was_read(unit, to, value):
    shown = convert(value, unit, to)
    assert convert(shown, to, unit, 1) == value, f"{value} {unit} was shown as {shown} {to}"


@given(low=VALUES, high=VALUES)
def test_a_higher_temperature_stays_higher(low, high):
    if low < high:
        assert convert(low, "°C", "°F") < convert(high, "°C", "°F")


# °F = °C × 1.8 + 32 and 1 psi = 6.894757 kPa (NIST SP 811, B.8): 133.9 °C is 273.02 °F and 134 °C is 273.2 °F, which
# are one number without decimals; 204.9 kPa is 29.718 psi and 205 kPa is 29.733 psi.
@pytest.mark.parametrize(
    ("found", "limit", "unit", "to", "told"),
    [("133.9", "134", "°C", "°F", ["273.0", "273.2"]), ("204.9", "205", "kPa", "psi", ["29.72", "29.73"])],
)
def test_a_value_beyond_its_limit_is_beyond_it_in_every_unit(found, limit, unit, to, told):
    assert [str(v) for v in convert_together([Decimal(found), Decimal(limit)], unit, to)] == told


@pytest.mark.parametrize(("unit", "to"), PAIRS)
@given(values=st.lists(st.none() | st.decimals(min_value=-50, max_value=400, places=2), max_size=4))
def test_no_value_changes_sides_with_another(unit, to, values):
    told = convert_together(values, unit, to)
    assert [v is None for v in told] == [v is None for v in values]
    pairs = [(a, b) for a in zip(values, told, strict=True) for b in zip(values, told, strict=True)]
    assert all((a < b) == (x < y) for (a, x), (b, y) in pairs if a is not None and b is not None)


def test_the_same_unit_changes_nothing_not_even_zeros():
    assert str(convert(Decimal("134.60"), "°C", "°C")) == "134.60"


@pytest.mark.parametrize(("unit", "to"), [("°C", "kPa"), ("kPa", "°F"), ("Ω", "kPa"), ("kPa", ""), ("minutes", "°C")])
def test_other_kinds_are_refused(unit, to):
    with pytest.raises(NotConvertible):
        convert(Decimal(1), unit, to)


def test_each_kind_has_its_base_among_what_a_clinic_may_choose():
    assert {kind: kind_of(unit) for kind, unit in BASE.items()} == {kind: kind for kind in WRITTEN}
    assert all(BASE[kind] in units for kind, units in WRITTEN.items())


@pytest.mark.parametrize("quantity", ["temperature spread", "Difference of two points", "temperature drift", "error"])
def test_a_distance_between_temperatures_is_no_level(quantity):
    """2 °C apart is 3.6 °F apart, not 35.6 °F: such a quantity is never converted."""
    assert not is_level(quantity) and is_level("chamber temperature") and kind_of("°C") == TEMPERATURE
