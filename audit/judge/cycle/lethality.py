"""Lethality of a recorded temperature: the integral of 10 ** ((T - Tref) / z) over time.

F0 (moist heat) takes Tref 121.1 °C and z 10 K, in minutes: proposed 21 CFR 212.3 (FDA, 1976) has 121 °C or 250 °F
(quoted); Tref 121.1 °C is the trade's default. A0 (washing and hot-water disinfection) takes Tref 80 °C and z 10 K,
in seconds: ISO 15883-1 annex B (read in an excerpt); that only 65 °C and above counts is from memory.

Two rules: the trapezoid, and the one that is exact where the temperature runs straight between two samples. Time
stamps may lie unevenly. Lethality never stands for the check of time, temperature and saturation: it presumes
saturated steam. D and z change with temperature themselves: van Doornmalen and Kopinga, J. Appl. Microbiol. (2009).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

import numpy as np

LN10 = log(10)


@dataclass(frozen=True, slots=True)
class Lethality:
    """A reference temperature in °C and z in K (more than 0)."""

    t_ref: float
    z: float

    def rate(self, celsius: np.ndarray) -> np.ndarray:
        """Equivalent time per time at each temperature: 1 at the reference temperature."""
        return np.exp((celsius - self.t_ref) * (LN10 / self.z))


F0 = Lethality(121.1, 10.0)
A0 = Lethality(80.0, 10.0)
A0_FROM = 65.0  # °C, inclusive


def exact(time: np.ndarray, celsius: np.ndarray, by: Lethality) -> float:
    """Equivalent time, in the unit of `time`, as if the temperature ran straight from each sample to the next.

    `time` grows strictly and may be uneven; both arrays have one shape (n,). 0.0 for fewer than two samples. A ramp
    from L0 to L1 in d gives (L1 - L0) / ln(L1 / L0) * d, a level one L0 * d.
    """
    if len(time) < 2:
        return 0.0
    power = (celsius - by.t_ref) * (LN10 / by.z)
    rate = np.exp(power)
    rise = power[1:] - power[:-1]
    level = rise == 0
    mean = np.where(level, rate[1:], (rate[1:] - rate[:-1]) / (rise + level))
    return float(np.dot(mean, time[1:] - time[:-1]))


def trapezoid(time: np.ndarray, celsius: np.ndarray, by: Lethality) -> float:
    """As `exact`, with the mean of the two rates of each step: reads a little high on ramps."""
    if len(time) < 2:
        return 0.0
    rate = by.rate(celsius)
    return float(np.dot((rate[1:] + rate[:-1]) / 2, time[1:] - time[:-1]))


def f0_minutes(seconds: np.ndarray, celsius: np.ndarray) -> float:
    """F0 in minutes, by the exact rule, of all samples."""
    return exact(seconds, celsius, F0) / 60


def a0_seconds(seconds: np.ndarray, celsius: np.ndarray) -> float:
    """A0 in seconds, by the exact rule; a step counts only where both of its samples are at 65 °C or above."""
    counted = (celsius[1:] >= A0_FROM) & (celsius[:-1] >= A0_FROM)
    steps = [exact(seconds[n : n + 2], celsius[n : n + 2], A0) for n in np.flatnonzero(counted)]
    return float(sum(steps))
