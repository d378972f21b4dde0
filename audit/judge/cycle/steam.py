"""Saturated steam: the pressure at a temperature and the temperature at a pressure, both absolute.

IAPWS R7-97(2012), Revised Release on the IAPWS Industrial Formulation 1997 for the Thermodynamic Properties of Water
and Steam, region 4: equations 29 to 31 with the coefficients of table 34. It holds from 273.15 K (0.6112 kPa) to
647.096 K (22 064 kPa), both inclusive. Numbers, arrays of numpy and decimals of any precision go through one formula.
"""

from __future__ import annotations

from decimal import Decimal, localcontext
from fractions import Fraction
from math import sqrt

import numpy as np

_PRINTED = (
    "0.11670521452767e4", "-0.72421316703206e6", "-0.17073846940092e2", "0.12020824702470e5", "-0.32325550322333e7",
    "0.14915108613530e2", "-0.48232657361591e4", "0.40511340542057e6", "-0.23855557567849", "0.65017534844798e3",
)  # fmt: skip
_FLOATS = tuple(map(float, _PRINTED))
_DECIMALS = tuple(map(Decimal, _PRINTED))
ZERO_C = 273.15  # K
COLDEST, HOTTEST = 0.0, 373.946  # °C
LEAST_KPA, GREATEST_KPA = 0.611213, 22064.0
_DIGITS = 40  # of a comparison that floats leave open


def p_sat(celsius: float) -> float:
    """Absolute pressure in kPa of saturated steam at °C. Raises ValueError outside 0 to 373.946, both inclusive."""
    if not COLDEST <= celsius <= HOTTEST:
        raise ValueError(f"{celsius} °C: the formula holds from {COLDEST:g} to {HOTTEST} °C")
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = _FLOATS
    kelvin = celsius + ZERO_C
    th = kelvin + n9 / (kelvin - n10)
    a = th * th + n1 * th + n2
    b = n3 * th * th + n4 * th + n5
    c = n6 * th * th + n7 * th + n8
    return (2 * c / (-b + sqrt(b * b - 4 * a * c))) ** 4 * 1000


def t_sat(kpa: float) -> float:
    """Temperature in °C of saturated steam at an absolute pressure in kPa.

    Raises ValueError outside 0.611213 to 22064 kPa, both inclusive.
    """
    if not LEAST_KPA <= kpa <= GREATEST_KPA:
        raise ValueError(f"{kpa} kPa: the formula holds from {LEAST_KPA} to {GREATEST_KPA:g} kPa")
    return _t_sat(sqrt(sqrt(kpa / 1000)), _FLOATS, sqrt) - ZERO_C


def t_sat_of(kpa: np.ndarray) -> np.ndarray:
    """As `t_sat`, of an array of floats; what lies outside the range is taken as its nearer end, never refused."""
    held = np.minimum(np.maximum(kpa, LEAST_KPA), GREATEST_KPA)
    return _t_sat(np.sqrt(np.sqrt(held * 1e-3)), _FLOATS, np.sqrt) - ZERO_C


def t_sat_exactly(kpa: Fraction) -> Fraction:
    """As `t_sat_of`, of one exact pressure and to 40 digits: for a comparison at a limit."""
    held = min(max(kpa, Fraction(str(LEAST_KPA))), Fraction(str(GREATEST_KPA)))
    with localcontext() as context:
        context.prec = _DIGITS
        root = (Decimal(held.numerator) / Decimal(held.denominator) / 1000).sqrt().sqrt()
        return Fraction(_t_sat(root, _DECIMALS, Decimal.sqrt)) - Fraction("273.15")


def _t_sat(b, n, root):
    """K, from the fourth root of the pressure in MPa: equations 30 and 31."""
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = n
    e = (b + n3) * b + n6
    f = (n1 * b + n4) * b + n7
    g = (n2 * b + n5) * b + n8
    d = 2 * g / (-f - root(f * f - 4 * e * g)) + n10
    return (d - root(d * d - 4 * (n9 + n10 * (d - n10)))) / 2
