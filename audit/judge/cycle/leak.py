"""The air leakage test: how fast pressure rises in the closed, evacuated chamber, raw and corrected for temperature.

Evacuate to 7 kPa absolute or less, close the valves (p1); after 300 s read p2, after a further 600 s p3. The rate is
(p3 - p2) / time; at most 0.13 kPa a minute: several pages that quote HTM 2010 and EN 285 (quoted); times, start and
moisture hint are from memory. Corrected, p3 is what it would be at the temperature of p2 (ideal gas, kelvin). Both
rates count: a correction never turns a raw failure into a pass, and what cooling hides is not passed either.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from audit.regimes.source import Source

from .verdict import MET, NOT_MET, UNKNOWN, shown

LIMIT = Fraction("0.13")  # kPa a minute, inclusive
LIMIT_SOURCE = Source("HTM 2010 and EN 285, air leakage test", "2026-11-25", "quoted")
START = Fraction(7)  # kPa absolute, inclusive: above it the test is not valid
MOIST = Fraction(2)  # kPa of rise while it settles: more hints at moisture
SETTLE, MEASURE, TOLERANCE = 300, 600, 10  # s
PER_KPA_MINUTE = {
    "kPa/min": Fraction(1),
    "mbar/min": Fraction(1, 10),
    "mmHg/min": Fraction("0.133322387415"),
    "kPa in 10 min": Fraction(1, 10),
    "mbar in 10 min": Fraction(1, 100),
}


@dataclass(frozen=True, slots=True)
class LeakReadings:
    """Absolute pressures in kPa at closing (p1), after settling (p2) and at the end (p3); temperatures in K.

    `measured_s` lie between p2 and p3, `settled_s` (None: not recorded) between p1 and p2. Temperatures may be None.
    """

    p1: Fraction
    p2: Fraction
    p3: Fraction
    measured_s: Fraction
    t2: Fraction | None = None
    t3: Fraction | None = None
    settled_s: Fraction | None = None


@dataclass(frozen=True, slots=True)
class LeakVerdict:
    """Both rates in kPa a minute (`corrected` None without temperatures) and the margin of the worse."""

    verdict: str
    raw: Fraction
    corrected: Fraction | None
    margin: Fraction
    words: str
    hints: tuple[str, ...]


def raw_rate(r: LeakReadings) -> Fraction:
    """kPa a minute as read. Raises ValueError where no time passed."""
    if r.measured_s <= 0:
        raise ValueError(f"{r.measured_s} s lie between the two readings: the later one comes after the earlier")
    return (r.p3 - r.p2) / (r.measured_s / 60)


def corrected_rate(r: LeakReadings) -> Fraction | None:
    """kPa a minute with p3 at the temperature of p2: p3 * T2 / T3; None where a temperature is not recorded.

    Raises ValueError for a temperature that is not above 0 K, and as `raw_rate`.
    """
    raw_rate(r)
    if r.t2 is None or r.t3 is None:
        return None
    if r.t2 <= 0 or r.t3 <= 0:
        raise ValueError("a temperature is in kelvin, above zero: add 273.15 to °C")
    return (r.p3 * r.t2 / r.t3 - r.p2) / (r.measured_s / 60)


def judge_leak(r: LeakReadings, limit: Fraction = LIMIT) -> LeakVerdict:
    """Judge one test; `limit` is inclusive. Raises ValueError as the rates do, and for pressures not above zero.

    A rate over the limit fails whatever else is wrong; a test that was not made as it is to be proves nothing.
    """
    if min(r.p1, r.p2, r.p3) <= 0:
        raise ValueError("pressures are absolute, above zero: add the ambient pressure to a gauge reading")
    raw, corrected = raw_rate(r), corrected_rate(r)
    rates = [raw] if corrected is None else [raw, corrected]
    margin, invalid = limit - max(rates), _not_valid(r)
    if margin < 0:
        verdict = NOT_MET
    else:
        verdict = UNKNOWN if invalid else MET
    return LeakVerdict(verdict, raw, corrected, margin, _words(raw, corrected, limit), (*invalid, *_hints(r)))


def _words(raw: Fraction, corrected: Fraction | None, limit: Fraction) -> str:
    said = f"{shown(raw, limit)} kPa/min as read"
    if corrected is None:
        said += "; without temperatures it is not corrected"
    else:
        said += f", {shown(corrected, limit)} kPa/min corrected for temperature"
    said += f". Asked: at most {shown(limit)} kPa/min."
    if corrected is not None and raw > limit >= corrected:
        said += " Warming may account for it, but what was read fails: repeat the test at a steady temperature."
    if corrected is not None and corrected > limit >= raw:
        said += " Cooling hides it: what was read passes and fails once corrected."
    return said


def _not_valid(r: LeakReadings) -> tuple[str, ...]:
    out = []
    if r.p1 > START:
        out.append(f"The test began at {shown(r.p1, START)} kPa, above {START} kPa absolute: it is not valid.")
    if r.measured_s < MEASURE - TOLERANCE:
        out.append(f"Only {shown(r.measured_s)} s were measured of {MEASURE} s.")
    if r.settled_s is not None and r.settled_s < SETTLE - TOLERANCE:
        out.append(f"It settled for only {shown(r.settled_s)} s of {SETTLE} s.")
    return tuple(out)


def _hints(r: LeakReadings) -> tuple[str, ...]:
    if r.p2 - r.p1 > MOIST:
        return (f"It rose by {shown(r.p2 - r.p1, MOIST)} kPa while it settled: is moisture left in the chamber?",)
    return ()
