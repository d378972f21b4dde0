"""How long parts last, from those that failed and those still fitted: Kaplan and Meier, Weibull, zero failures.

Kaplan and Meier, J. Am. Stat. Assoc. 53 (1958) 457, as in NIST/SEMATECH e-Handbook 8.2.1.5 (read); variance by
Greenwood. Weibull by greatest likelihood with censoring, NIST 8.4.1.2 (read). What a record shows is information: it
is never advice to exceed a maker's interval.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import exp, fsum, inf, log, sqrt
from statistics import NormalDist

LEAST_FAILED = 5  # parts that failed; of fewer nothing is said: common practice, no source


class TooFew(ValueError):
    """Too few cases to say anything; the message says how many there are and how many are asked."""


@dataclass(frozen=True, slots=True)
class Life:
    """How long one part was fitted (months, or cycles), and whether it failed then; else it was still good."""

    time: float
    failed: bool


@dataclass(frozen=True, slots=True)
class SurvivalStep:
    """At a time of failure: parts at risk just before, how many failed, the part that lasts longer and its band."""

    time: float
    at_risk: int
    failed: int
    survival: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Weibull:
    """Shape (above 1 wears out, below 1 fails early) and scale, in the unit of the times."""

    shape: float
    scale: float

    def survival(self, time: float) -> float:
        """The part that lasts longer than `time`."""
        return exp(-((time / self.scale) ** self.shape))


def kaplan_meier(
    lives: Sequence[Life], confidence: float = 0.95, least: int = LEAST_FAILED
) -> tuple[SurvivalStep, ...]:
    """One step for each time at which parts failed; a part still good at that time was at risk.

    The band is mean ± z standard errors by Greenwood, within 0 and 1. Raises TooFew where fewer than `least` failed,
    ValueError for a time that is not above 0.
    """
    _asked(lives, least)
    z, survival, spread, steps = NormalDist().inv_cdf((1 + confidence) / 2), 1.0, 0.0, []
    for time in sorted({life.time for life in lives if life.failed}):
        at_risk = sum(life.time >= time for life in lives)
        failed = sum(life.failed and life.time == time for life in lives)
        survival *= 1 - failed / at_risk
        spread = inf if failed == at_risk else spread + failed / (at_risk * (at_risk - failed))
        wide = z * survival * sqrt(spread) if survival else 0.0
        steps.append(
            SurvivalStep(time, at_risk, failed, survival, max(0.0, survival - wide), min(1.0, survival + wide))
        )
    return tuple(steps)


def weibull(lives: Sequence[Life], least: int = LEAST_FAILED) -> Weibull:
    """The shape and scale that make what is on record likeliest. Raises TooFew and ValueError as `kaplan_meier`.

    TooFew too where all failed at one time: any shape fits.
    """
    _asked(lives, least)
    failed = [life.time for life in lives if life.failed]
    if len(set(failed)) < 2:
        raise TooFew("all parts failed at one time: that says nothing of how they wear")
    longest = max(life.time for life in lives)
    times = [life.time / longest for life in lives]  # so that no power of them is too large
    mean_log = fsum(log(t / longest) for t in failed) / len(failed)

    def slope(shape: float) -> float:
        powers = [t**shape for t in times]
        return fsum(p * log(t) for p, t in zip(powers, times, strict=True)) / fsum(powers) - 1 / shape - mean_log

    shape = _root(slope)
    scale = (fsum(t**shape for t in times) / len(failed)) ** (1 / shape) * longest
    return Weibull(shape, scale)


def _root(rising: Callable[[float], float]) -> float:
    """Where a rising function passes 0, above 0."""
    low, high = 1e-6, 1.0
    while rising(high) < 0:
        low, high = high, high * 2
    while high - low > 1e-13 * high:
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if rising(middle) < 0 else (low, middle)
    return high


def _asked(lives: Sequence[Life], least: int) -> None:
    if any(not 0 < life.time < inf for life in lives):
        raise ValueError("a part was fitted for some time, above 0")
    failed = sum(life.failed for life in lives)
    if failed < least or not failed:
        raise TooFew(f"{failed} parts failed: nothing is said of fewer than {max(least, 1)}")


def sample_size(confidence: Fraction, reliability: Fraction) -> int:
    """How many tests without any failure show that reliability with that confidence: the least n, R^n <= 1 - C.

    Both between 0 and 1, exact. Raises ValueError.
    """
    if not (0 < confidence < 1 and 0 < reliability < 1):
        raise ValueError("confidence and reliability lie between 0 and 1")
    n = max(1, int(log(1 - confidence) / log(reliability)) - 1)
    while reliability**n > 1 - confidence:
        n += 1
    return n
