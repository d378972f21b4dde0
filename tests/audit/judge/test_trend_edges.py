"""Charts, drift and life of parts where they turn: on a limit, at the least number of cases, at the first day."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from math import inf

import pytest

from audit.judge.trend.charts import LEAST_BASELINE, Baseline, baseline_of, cusum, ewma
from audit.judge.trend.drift import drift_of
from audit.judge.trend.life import Life, TooFew, kaplan_meier, sample_size, weibull

FIRST = date(2026, 1, 5)
STANDARD = Baseline(0.0, 1.0, 20)


@pytest.mark.parametrize(("value", "signal"), [(3, ""), (3.01, "high"), (-3, ""), (-3.01, "low")])
def test_on_the_limit_of_an_average_is_not_outside(value, signal):
    assert [p.signal for p in ewma([value], STANDARD, 1, 3).points] == [signal]


@pytest.mark.parametrize(("value", "signal"), [(5, ""), (5.01, "high"), (-5, ""), (-5.01, "low")])
def test_on_the_limit_of_a_sum_is_not_outside(value, signal):
    assert [p.signal for p in cusum([value], 0, 0, 5).points] == [signal]


@pytest.mark.parametrize(
    "work",
    [
        lambda: ewma([1], STANDARD, 0), lambda: ewma([1], STANDARD, 1.01), lambda: ewma([1], STANDARD, 0.3, 0),
        lambda: cusum([1], 0, -0.1, 5), lambda: cusum([1], 0, 0.5, 0),
    ],
)  # fmt: skip
def test_a_chart_without_a_weight_or_a_limit_is_none(work):
    with pytest.raises(ValueError, match="above 0"):
        work()


def drift(values, id="theory_mean_k", since=0):
    rows = [(FIRST + timedelta(days=n), value) for n, value in enumerate(values)]
    return drift_of(id, rows, FIRST + timedelta(days=since))


STEADY = [0.1, -0.1] * (LEAST_BASELINE // 2)


def test_the_first_cycle_after_a_baseline_may_signal_and_the_day_since_counts():
    assert drift([*STEADY, 9.0]).since == FIRST + timedelta(days=LEAST_BASELINE)
    assert drift([0.1, *STEADY, 9.0], since=1).since == FIRST + timedelta(days=LEAST_BASELINE + 1)
    assert drift([*STEADY, 9.0], since=1) is None and drift([*STEADY[1:], 9.0]) is None


def test_the_chart_that_signals_first_names_the_day():
    """A step of one and a half deviations: the average is outside with the fifth value, the sum with the sixth."""
    usual = baseline_of(STEADY)
    found = drift([*STEADY, *[usual.mean + 1.5 * usual.sigma] * 10])
    assert found.since == FIRST + timedelta(days=LEAST_BASELINE + 4)
    assert (found.side, "K higher since" in found.words, "superheat" in found.words) == ("high", True, True)


def parts(*times, good=()):
    return [*(Life(t, True) for t in times), *(Life(t, False) for t in good)]


def test_five_failed_parts_are_the_least():
    assert kaplan_meier(parts(1, 2, 3, 4, 5))[-1].survival == 0
    assert weibull(parts(1, 2, 3, 4, 5)).scale > 0
    for work in (kaplan_meier, weibull):
        with pytest.raises(TooFew, match="4 parts failed"):
            work(parts(1, 2, 3, 4, good=(5,)))
        with pytest.raises(ValueError, match="above 0"):
            work(parts(1, 2, 3, 4, inf))


def test_two_times_of_failure_give_a_shape_and_one_gives_none():
    assert weibull(parts(3, 3, 3, 3, 4)).shape > 1
    with pytest.raises(TooFew, match="at one time"):
        weibull(parts(3, 3, 3, 3, 3, good=(4,)))
    early, late = weibull(parts(1, 10, 100, 1000, 5000)), weibull(parts(90, 95, 100, 105, 110))
    assert early.shape < 1 < 10 < late.shape


SIZES = [("1/2", "1/2", 1), ("3/4", "1/2", 2), ("7/8", "1/2", 3), ("1/10", "1/2", 1), ("9/10", "9/10", 22)]


@pytest.mark.parametrize(("confidence", "reliability", "count"), SIZES)
def test_so_many_tests_without_a_failure_show_it(confidence, reliability, count):
    assert sample_size(Fraction(confidence), Fraction(reliability)) == count


@pytest.mark.parametrize(("confidence", "reliability"), [(0, "1/2"), (1, "1/2"), ("1/2", 0), ("1/2", 1), (2, "1/2")])
def test_neither_certainty_nor_nothing_is_shown(confidence, reliability):
    with pytest.raises(ValueError, match="between 0 and 1"):
        sample_size(Fraction(confidence), Fraction(reliability))
