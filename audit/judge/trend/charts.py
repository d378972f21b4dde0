"""Control charts: the moving average that forgets (EWMA) and the cumulative sum (CUSUM), two-sided.

NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4 (EWMA) and 6.3.2.3 (CUSUM), read. A chart compares values
with a baseline that is stated: after each calibration or repair a new one begins. A signal says that values have
moved, never why.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import fmean, stdev

LEAST_BASELINE = 20  # values, fewer say too little of the spread: common practice, no source


@dataclass(frozen=True, slots=True)
class Baseline:
    """The mean and the standard deviation (above 0) that values are held against, and how many values gave them."""

    mean: float
    sigma: float
    values: int


@dataclass(frozen=True, slots=True)
class ChartPoint:
    """One value on a chart. Of an EWMA `high` and `low` are the average; of a CUSUM the sums above and below.

    `signal` is "high" or "low" where it lies beyond its limit, else "".
    """

    high: float
    low: float
    signal: str


@dataclass(frozen=True, slots=True)
class Chart:
    """The points, in the order of the values, and the limits: upper and lower; of a CUSUM both are h."""

    points: tuple[ChartPoint, ...]
    upper: float
    lower: float

    @property
    def first_signal(self) -> int | None:
        """The place of the first point beyond a limit, from 0; None where there is none."""
        return next((n for n, point in enumerate(self.points) if point.signal), None)


def baseline_of(values: Sequence[float]) -> Baseline:
    """From the values since a calibration or repair. Raises ValueError for fewer than 20, or for all equal ones."""
    if len(values) < LEAST_BASELINE:
        raise ValueError(f"{len(values)} values: a baseline asks at least {LEAST_BASELINE}")
    sigma = stdev(values)
    if sigma == 0:
        raise ValueError("all values are equal: is the sensor read? They have no spread to hold others against")
    return Baseline(fmean(values), sigma, len(values))


def ewma(values: Sequence[float], baseline: Baseline, weight: float = 0.3, width: float = 3.0) -> Chart:
    """The moving average of `weight` (above 0, at most 1) for the newest value; limits `width` standard errors wide.

    Limits are those of a long run, mean ± width * sigma * sqrt(weight / (2 - weight)); beyond means outside, not on.
    Raises ValueError for a weight or width that is none.
    """
    if not 0 < weight <= 1 or not width > 0:
        raise ValueError(f"a weight of {weight:g} and a width of {width:g}: above 0, the weight at most 1")
    reach = width * baseline.sigma * sqrt(weight / (2 - weight))
    upper, lower = baseline.mean + reach, baseline.mean - reach
    points, average = [], baseline.mean
    for value in values:
        average = weight * value + (1 - weight) * average
        points.append(ChartPoint(average, average, "high" if average > upper else "low" if average < lower else ""))
    return Chart(tuple(points), upper, lower)


def cusum(values: Sequence[float], target: float, slack: float, limit: float) -> Chart:
    """Sums of what lies more than `slack` above and below the target; beyond `limit` (h) is outside, not on, it.

    Raises ValueError for a slack under 0 or a limit that is not above 0.
    """
    if slack < 0 or not limit > 0:
        raise ValueError(f"a slack of {slack:g} and a limit of {limit:g}: the slack from 0, the limit above 0")
    points, high, low = [], 0.0, 0.0
    for value in values:
        high, low = max(0.0, high + value - target - slack), max(0.0, low + target - slack - value)
        points.append(ChartPoint(high, low, "high" if high > limit else "low" if low > limit else ""))
    return Chart(tuple(points), limit, limit)
