"""How often a test may fail in truth, given how often it was seen to fail: an exact one-sided 95 % upper bound.

Clopper and Pearson, "The use of confidence or fiducial limits illustrated in the case of the binomial", Biometrika 26
(1934) 404-413: the bound is the rate at which so few failures, or fewer, would be seen with a chance of 5 %. With no
failure in n tests that is 1 - 0.05 ** (1 / n), which the "rule of three" (3 / n) approaches: Hanley and Lippman-Hand,
JAMA 249 (1983) 1743-1745. The arithmetic is exact, or to 40 digits, and rounds up, so a bound is never understated.
Of fewer than 20 tests nothing is said of a rate: common practice, no source.
"""

from __future__ import annotations

from decimal import ROUND_CEILING, Decimal, localcontext
from functools import lru_cache
from math import comb

PLACES = 6  # decimals of a bound
_ONE_IN = 20  # the chance left is one in twenty: 5 %
_SCALE = 10**PLACES
_DIGITS = 40  # of the closed form, before it is rounded
LEAST = 20  # tests below which no rate is spoken of


def upper_bound(tests: int, failed: int = 0) -> Decimal | None:
    """The exact bound where there are 20 tests or more, else None. Raises ValueError as `exact_bound`."""
    bound = exact_bound(tests, failed)
    return bound if tests >= LEAST else None


@lru_cache(maxsize=4096)
def exact_bound(tests: int, failed: int = 0) -> Decimal | None:
    """The least rate, in steps of 0.000001, at which `failed` or fewer of `tests` fail with a chance of 5 % or less.

    None for no tests. Raises ValueError where fewer than none or more than all failed.
    """
    if not 0 <= failed <= tests:
        raise ValueError(f"{failed} of {tests} tests failed: the number must lie between 0 and the number of tests")
    if tests == 0:
        return None
    if failed == tests:
        return Decimal(1)
    steps = _none_failed(tests) if failed == 0 else _some_failed(tests, failed)
    return Decimal(steps).scaleb(-PLACES)


def words(tests: int, bound: Decimal | None) -> str:
    """What tests without any failure say, in words; without a bound no rate, "" for no tests."""
    if not tests:
        return ""
    named = "1 test, which did not fail" if tests == 1 else f"{tests} tests, none failed"
    if tests < LEAST or bound is None:
        return named
    of = 1000 if bound < Decimal("0.01") else 100
    rate = (bound * of).quantize(Decimal("0.1"), ROUND_CEILING)
    return f"{named}: with 95 % confidence at most {rate} in {of} tests would fail"


def _none_failed(tests: int) -> int:
    """Steps of the closed form, rounded up; only for one test does it lie on a step, and there it comes out exact."""
    with localcontext() as context:
        context.prec = _DIGITS
        root = (Decimal(1) / _ONE_IN).ln() / tests
        return int(((1 - root.exp()) * _SCALE).to_integral_value(ROUND_CEILING))


def _some_failed(tests: int, failed: int) -> int:
    """Steps by halving: the chance of so few failures falls as the rate rises."""
    low, high = 0, _SCALE  # not rare at `low`, rare at `high`
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if _rare(tests, failed, middle) else (middle, high)
    return high


def _rare(tests: int, failed: int, steps: int) -> bool:
    """Whether `failed` or fewer failures have a chance of 5 % or less at that rate; in whole numbers, so exact."""
    good = _SCALE - steps
    chance = sum(comb(tests, k) * steps**k * good ** (tests - k) for k in range(failed + 1))
    return _ONE_IN * chance <= _SCALE**tests
