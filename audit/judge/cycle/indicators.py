"""Arithmetic of biological and chemical indicators: survival and kill time, log reduction, D-value, stated values.

Logarithms to base 10; D in minutes at the temperature it was found at. A D-value is refused where the data do not
allow it: ISO 11138-1 asks at least five exposures, one with growth in all, two with growth in some, and two in a row
without any at the end (quoted). Formulas of Holcomb, Spearman and Karber: GOST ISO 11138-1-2012 annex D (read);
of Stumbo, Murphy and Cochran as in J. C. Lewis, Appl. Microbiol. 4 (1956) 211 (read), the ISO form from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import log, log10, sqrt

EULER_LOG = 0.2507  # Euler's gamma times log10 e, as the annex prints it
TYPE_5_FAILS_AT = (7, 11)  # of the stated value an integrating indicator (type 5) shows fail: ISO 11140-1 (read)


class NotEnough(ValueError):
    """The data do not allow the calculation; the message says what is missing."""


@dataclass(frozen=True, slots=True)
class Exposure:
    """`n` samples exposed for `minutes`, of which `negative` showed no growth."""

    minutes: float
    n: int
    negative: int

    @property
    def fraction(self) -> float:
        """The part without growth, 0 to 1."""
        return self.negative / self.n


@dataclass(frozen=True, slots=True)
class DValue:
    """D in minutes, with the mean time to sterility U, its variance V (min and min²) and D at U ± 2 sqrt(V)."""

    d: float
    u: float
    v: float
    low: float
    high: float


def survival_minutes(population: float, d: float) -> float:
    """The time after which all still grow, (log10 N0 - 2) D: USP <55> and ISO 11138-1 (quoted). Raises ValueError."""
    return (log10(_above(population, "population")) - 2) * _above(d, "D")


def kill_minutes(population: float, d: float) -> float:
    """The time after which none grows, (log10 N0 + 4) D: USP <55> and ISO 11138-1 (quoted). Raises ValueError."""
    return (log10(_above(population, "population")) + 4) * _above(d, "D")


def log_reduction(f: float, d: float) -> float:
    """How many tenfold steps a lethality of F minutes takes away: F / D. Raises ValueError."""
    return f / _above(d, "D")


def survivors_log10(population: float, f: float, d: float) -> float:
    """log10 of the survivors to be expected: log10 N0 - F / D. Raises ValueError."""
    return log10(_above(population, "population")) - log_reduction(f, d)


def spearman_karber(doses: Sequence[float], fractions: Sequence[float], n: Sequence[int]) -> tuple[float, float]:
    """Mean and variance of the dose at which a sample turns: doses grow, fractions go from 0 to 1.

    Raises NotEnough where they do not begin at 0 and end at 1 or doses do not grow, or a group has fewer than two.
    """
    steps = list(zip(doses, doses[1:], strict=False))
    if len(doses) < 2 or any(b <= a for a, b in steps) or fractions[0] != 0 or fractions[-1] != 1 or min(n) < 2:
        raise NotEnough("doses must grow from none to all, with two samples or more at each")
    mean = sum((g - f) * (a + b) / 2 for (a, b), f, g in zip(steps, fractions, fractions[1:], strict=False))
    inner = range(1, len(doses) - 1)
    spread = [
        fractions[i] * (1 - fractions[i]) * (doses[i + 1] - doses[i - 1]) ** 2 / (4 * (n[i] - 1)) for i in inner
    ]
    return mean, sum(spread)


def d_holcomb(exposures: Sequence[Exposure], population: float) -> DValue:
    """D by Holcomb, Spearman and Karber. Raises NotEnough, and ValueError for a population of 1 or less."""
    used = _usable(exposures)
    u, v = spearman_karber([e.minutes for e in used], [e.fraction for e in used], [e.n for e in used])
    return _d_value(u, v, population)


def d_limited(exposures: Sequence[Exposure], population: float) -> DValue:
    """D by the limited form, for equal steps and equal groups. Raises NotEnough, and ValueError as `d_holcomb`."""
    used = _usable(exposures)
    step, n = used[1].minutes - used[0].minutes, used[0].n
    if any(abs(b.minutes - a.minutes - step) > 1e-9 for a, b in zip(used, used[1:], strict=False)):
        raise NotEnough("exposures lie at unequal steps: the limited form asks equal ones")
    if any(e.n != n for e in used):
        raise NotEnough("groups have unequal numbers: the limited form asks equal ones")
    negative = [e.negative for e in used[:-1]]
    u = used[-1].minutes - step / 2 - step / n * sum(negative)
    v = step**2 / (n**2 * (n - 1)) * sum(r * (n - r) for r in negative)
    return _d_value(u, v, population)


def d_stumbo(exposures: Sequence[Exposure], population: float) -> tuple[float, tuple[float, ...]]:
    """D by Stumbo, Murphy and Cochran: the mean, and that of each exposure with growth in some.

    Raises NotEnough where there are fewer than two such, and ValueError for a population that is too small.
    """
    _usable(exposures)
    grown = log10(_above(population, "population"))
    each = []
    for e in exposures:
        if 0 < e.negative < e.n:
            steps = grown - log10(log(e.n / e.negative))
            if steps <= 0:
                raise NotEnough(f"a population of {population:g} is too small for growth after {e.minutes:g} min")
            each.append(e.minutes / steps)
    return sum(each) / len(each), tuple(each)


def _d_value(u: float, v: float, population: float) -> DValue:
    below = log10(_above(population, "population")) + EULER_LOG
    if below <= 0:
        raise NotEnough(f"a population of {population:g} is too small")
    wide = 2 * sqrt(v)
    return DValue(u / below, u, v, (u - wide) / below, (u + wide) / below)


def _usable(exposures: Sequence[Exposure]) -> list[Exposure]:
    """From the last exposure with growth in all to the first of the run without any that ends them."""
    for e in exposures:
        if e.n < 2 or not 0 <= e.negative <= e.n or e.minutes < 0:
            raise NotEnough(f"{e.negative} of {e.n} without growth after {e.minutes:g} min are no result")
    if any(b.minutes <= a.minutes for a, b in zip(exposures, exposures[1:], strict=False)):
        raise NotEnough("exposures stand from the shortest to the longest, each once")
    all_grew = [i for i, e in enumerate(exposures) if e.negative == 0]
    some = [e for e in exposures if 0 < e.negative < e.n]
    if len(exposures) < 5 or not all_grew or len(some) < 2 or any(e.negative < e.n for e in exposures[-2:]):
        raise NotEnough(
            "a D-value asks five exposures or more: one with growth in all, two with growth in some, the last two "
            "without any"
        )
    last = len(exposures) - 1
    while exposures[last - 1].negative == exposures[last - 1].n:
        last -= 1
    used = list(exposures[all_grew[-1] : last + 1])
    if len([e for e in used if 0 < e.negative < e.n]) < len(some):
        raise NotEnough("some did not grow after less time than all grew after: the exposures contradict each other")
    return used


def fails_at(stated_minutes: float) -> float:
    """After how long an integrating indicator (type 5) must still show fail: 7/11 of its stated value."""
    part, whole = TYPE_5_FAILS_AT
    return _above(stated_minutes, "stated value") * part / whole


def z_between(t1: float, minutes1: float, t2: float, minutes2: float) -> float:
    """z in K by two stated values (°C, minutes), the hotter one the shorter. Raises ValueError."""
    if t1 >= t2 or not minutes1 > minutes2 > 0:
        raise ValueError("the hotter stated value must be the shorter one")
    return (t2 - t1) / log10(minutes1 / minutes2)


def stated_at(celsius: float, t1: float, minutes1: float, z: float) -> float:
    """The stated value in minutes at another temperature, on the line through (t1, minutes1) with that z in K."""
    return minutes1 * 10 ** ((t1 - celsius) / _above(z, "z"))


def _above(value: float, name: str) -> float:
    if not value > 0:
        raise ValueError(f"{name} is {value:g}: it must be above zero")
    return value
