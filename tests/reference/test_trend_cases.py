"""Control charts and part life against NIST's worked examples and SciPy; sources head each file of `steam/`."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.judge.trend.charts import Baseline, baseline_of, cusum, ewma
from audit.judge.trend.life import Life, TooFew, kaplan_meier, sample_size, weibull
from tests.examples import examples
from tests.reference.test_steam_cases import HERE, same, table


def test_ewma_of_nist():
    first, *rows = table("s8_EWMA")
    chart = ewma([float(row["x"]) for row in rows], Baseline(float(first["ewma_published"]), 2.0539, 20))
    assert (chart.upper, chart.lower) == pytest.approx((52.5884, 47.4115), abs=1e-4) and chart.first_signal is None
    for row, point in zip(rows, chart.points, strict=True):
        assert same(point.high, row["ewma_computed"]) and same(point.high, row["ewma_published"])


def test_cusum_of_nist():
    rows = table("s8_CUSUM")
    chart = cusum([float(row["x_mean"]) for row in rows], 325, 0.3175, 4.1959)
    for row, point in zip(rows, chart.points, strict=True):
        assert point.high == pytest.approx(float(row["S_hi"]), abs=1e-9)
        assert point.low == pytest.approx(float(row["S_lo"]), abs=1e-9)
        assert point.signal == ("high" if row["state"] == "signal" else "")
    assert chart.first_signal == 13  # sample 14


@settings(max_examples=examples(25), deadline=None)
@given(st.lists(st.integers(-50, 50), min_size=1, max_size=40), st.integers(1, 9))
def test_charts_turned_round_signal_on_the_other_side(values, more):
    values = [v / 10 for v in values]
    turned = {"": "", "high": "low", "low": "high"}
    for chart, other in (
        (ewma(values, Baseline(0, 1, 20)), ewma([-v for v in values], Baseline(0, 1, 20))),
        (cusum(values, 0, 0.5, 4), cusum([-v for v in values], 0, 0.5, 4)),
    ):
        both = [(a.signal, b.signal) for a, b in zip(chart.points, other.points, strict=True)]
        assert all(b == turned[a] or min(p.high, p.low) > 4 for (a, b), p in zip(both, chart.points, strict=True))
    drifted = ewma([v + more for v in values], Baseline(0, 1, 20))
    assert all(a.high > b.high for a, b in zip(drifted.points, ewma(values, Baseline(0, 1, 20)).points, strict=True))


def test_a_baseline_asks_enough_values_that_differ():
    assert baseline_of([1.0, 2.0] * 10).mean == 1.5
    with pytest.raises(ValueError, match="at least 20"):
        baseline_of([1.0, 2.0] * 9)
    with pytest.raises(ValueError, match="equal"):
        baseline_of([1.0] * 20)


@pytest.mark.parametrize(("weight", "width"), [(0, 3), (1.1, 3), (0.3, 0)])
def test_chart_settings_that_are_none(weight, width):
    with pytest.raises(ValueError, match="weight"):
        ewma([1.0], Baseline(0, 1, 20), weight, width)
    with pytest.raises(ValueError, match="slack"):
        cusum([1.0], 0, -1, 4)


def lives(name):
    return [Life(float(row["time"]), row["event"] == "1") for row in table(name)]


def test_kaplan_and_meier_of_nist():
    steps = kaplan_meier(lives("s7_KM"))
    rows = table("s7_KM_answer")
    assert [step.time for step in steps] == [float(row["time"]) for row in rows]
    assert all(same(step.survival, row["R"]) for step, row in zip(steps, rows, strict=True))
    assert steps[-1].low == pytest.approx(0.45057, abs=1e-5) and steps[-1].high == pytest.approx(0.89015, abs=1e-5)
    assert [step.at_risk for step in steps] == [20, 19, 17, 16, 14, 11]


def test_kaplan_and_meier_of_gehan():
    """Gehan's 6-MP data (in circulation with statistics packages; from memory)."""
    failed = [6, 6, 6, 7, 10, 13, 16, 22, 23]
    good = [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
    steps = kaplan_meier([Life(t, True) for t in failed] + [Life(t, False) for t in good])
    printed = {6: 0.8571, 7: 0.8067, 10: 0.7529, 13: 0.6902, 16: 0.6275, 22: 0.5378, 23: 0.4482}
    assert {step.time: round(step.survival, 4) for step in steps} == printed


def test_weibull_of_nist():
    found = weibull(lives("s7_weibull"))
    assert found.shape == pytest.approx(1.7208, abs=2e-4) and found.scale == pytest.approx(606.5280, abs=2e-3)
    assert found.survival(606.528) == pytest.approx(np.exp(-1), abs=1e-5)


@settings(max_examples=examples(15), deadline=None)
@given(st.lists(st.tuples(st.integers(1, 300), st.booleans()), min_size=3, max_size=30))
def test_scipy_says_the_same_of_any_parts(drawn):
    from scipy.stats import CensoredData, ecdf

    parts = [Life(float(t), failed) for t, failed in drawn]
    failed, good = ([p.time for p in parts if p.failed == what] for what in (True, False))
    if not failed:
        with pytest.raises(TooFew):
            kaplan_meier(parts, least=0)
        return
    steps, theirs = kaplan_meier(parts, least=1), ecdf(CensoredData(failed, right=good)).sf
    for step in steps:
        assert step.survival == pytest.approx(float(theirs.evaluate(step.time)), abs=1e-12)
        assert 0 <= step.low <= step.survival <= step.high <= 1
    if len(set(failed)) < 2:
        with pytest.raises(TooFew):
            weibull(parts, least=1)
        return
    found = weibull(parts, least=1)
    best = likelihood(parts, found.shape, found.scale)
    for shape, scale in ((1.01, 1), (0.99, 1), (1, 1.01), (1, 0.99)):
        assert likelihood(parts, found.shape * shape, found.scale * scale) <= best + 1e-9


def likelihood(parts, shape, scale):
    from scipy.stats import weibull_min

    failed, good = (np.array([p.time for p in parts if p.failed == what]) for what in (True, False))
    return weibull_min.logpdf(failed, shape, 0, scale).sum() + weibull_min.logsf(good, shape, 0, scale).sum()


def test_of_too_few_nothing_is_said():
    few = [Life(3, True)] * 4 + [Life(9, False)] * 30
    for work in (kaplan_meier, weibull):
        with pytest.raises(TooFew, match="4 parts failed"):
            work(few)
        with pytest.raises(ValueError, match="above 0"):
            work([Life(0, True), *few])


def test_how_many_sample_size():
    for row in table("s7_sample_size"):
        found = sample_size(Fraction(row["confidence"]), Fraction(row["reliability"]))
        assert found == int(row["n_zero_failures"])


CASES = ("test_steam_cases.py", "test_indicator_cases.py", "test_trend_cases.py")


def test_every_file_is_read():
    """And names its source in its first line."""
    code = "".join((HERE.parent / name).read_text(encoding="utf-8") for name in CASES)
    for path in HERE.glob("*.csv"):
        assert f'"{path.stem}"' in code, path.name
        assert path.read_text(encoding="utf-8").startswith("# ")
