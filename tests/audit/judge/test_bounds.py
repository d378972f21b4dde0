"""The exact upper bound on a rate of failures, against a table and against SciPy."""

from __future__ import annotations

import csv
from decimal import Decimal
from functools import cache
from math import isclose
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.judge.bounds import LEAST, PLACES, exact_bound, upper_bound, words

STEP = Decimal(1).scaleb(-PLACES)
TABLE = Path(__file__).parents[2] / "reference" / "zero_failures.csv"


def table() -> list[dict[str, str]]:
    """The rows of the table; its sources stand in its head."""
    lines = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    return list(csv.DictReader(lines))


@pytest.mark.parametrize("row", table(), ids=lambda row: row["n"])
def test_the_bound_without_a_failure_is_that_of_the_table(row):
    printed = Decimal(row["exact_one_sided_95"])  # rounded to the nearest; ours is rounded up
    assert printed - STEP / 2 <= exact_bound(int(row["n"])) <= printed + STEP


def test_the_table_was_read():
    assert [int(row["n"]) for row in table()][:5] == [1, 3, 5, 10, 20]
    assert len(table()) == 17


@cache
def stats():
    """Takes a second to load, and not every process of a run needs it."""
    from scipy import stats

    return stats


# SciPy: beta.ppf and binomtest(...).proportion_ci(method="exact") give Clopper-Pearson (scipy.stats documentation).
@given(st.integers(1, 2000), st.data())
def test_scipy_gives_the_same_bound_for_any_number_of_failures(tests, data):
    failed = data.draw(st.integers(0, min(tests - 1, 12)))
    exact = stats().beta.ppf(0.95, failed + 1, tests - failed)
    bound = float(exact_bound(tests, failed))
    assert exact - 1e-9 <= bound <= exact + float(STEP) + 1e-9


@pytest.mark.parametrize(("tests", "failed"), [(20, 4), (104, 0), (104, 1), (300, 7)])
def test_scipy_gives_the_same_upper_end_of_a_one_sided_interval(tests, failed):
    interval = stats().binomtest(failed, tests, alternative="less").proportion_ci(0.95, method="exact")
    assert isclose(float(exact_bound(tests, failed)), interval.high, abs_tol=float(STEP))


@given(st.integers(1, 400), st.integers(0, 5))
def test_a_bound_is_never_understated_and_one_step_less_would_be(tests, failed):
    failed = min(failed, tests - 1)
    bound = exact_bound(tests, failed)
    assert stats().binom.cdf(failed, tests, float(bound)) <= 0.05 + 1e-9
    assert stats().binom.cdf(failed, tests, float(bound - STEP)) >= 0.05 - 1e-9


def test_an_exact_value_is_not_rounded_up():
    assert exact_bound(1) == Decimal("0.95")  # 1 - 0.05


def test_all_failed_and_no_tests():
    assert exact_bound(7, 7) == 1
    assert exact_bound(0) is None


@pytest.mark.parametrize(("tests", "failed"), [(3, 4), (3, -1), (-1, 0)])
def test_numbers_that_cannot_be_are_refused(tests, failed):
    with pytest.raises(ValueError, match="between 0 and the number of tests"):
        exact_bound(tests, failed)


@pytest.mark.parametrize(
    ("tests", "said"),
    [
        (1, "1 test, which did not fail"),
        (19, "19 tests, none failed"),
        (20, "20 tests, none failed: with 95 % confidence at most 14.0 in 100 tests would fail"),
        (104, "104 tests, none failed: with 95 % confidence at most 2.9 in 100 tests would fail"),
        (1000, "1000 tests, none failed: with 95 % confidence at most 3.0 in 1000 tests would fail"),
        (0, ""),
    ],
)
def test_the_bound_in_words(tests, said):
    assert words(tests, exact_bound(tests)) == said


@given(st.integers(0, 60), st.data())
def test_of_fewer_than_twenty_tests_no_rate_is_spoken_of(tests, data):
    failed = data.draw(st.integers(0, tests))
    bound = upper_bound(tests, failed)
    assert bound == (exact_bound(tests, failed) if tests >= 20 else None)
    assert LEAST == 20 and (tests >= 20 or "confidence" not in words(tests, exact_bound(tests, failed)))


@given(st.integers(20, 5000))
def test_words_never_understate_the_bound(tests):
    bound = exact_bound(tests)
    rate, of = words(tests, bound).split("at most ")[1].split(" tests")[0].split(" in ")
    assert Decimal(rate) / int(of) >= bound
