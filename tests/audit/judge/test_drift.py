"""Numbers of cycles that drift: what one cycle gives, and when the many say that it has moved."""

from __future__ import annotations

import random
from datetime import date, timedelta

import pytest

from audit.judge.cycle import load_profile, read_cycle
from audit.judge.cycle.features import Features, features_of
from audit.judge.trend.drift import WATCHED, drift_of
from tests.audit.judge.cycle.logs import changed, file, rows, without

FIRST = date(2026, 1, 5)
PROFILE = load_profile("holding-134")


def numbers(values):
    return [(FIRST + timedelta(days=n), value) for n, value in enumerate(values)]


def steady(count, mean=0.0, seed=7, spread=0.1):
    draw = random.Random(seed)
    return [mean + spread * draw.gauss(0, 1) for _ in range(count)]


def test_what_one_cycle_gives():
    found = features_of(read_cycle(file(changed(rows(), lambda t: t == 30, p="20"))), PROFILE)
    assert (found.come_up_s, found.deepest_kpa, found.equilibration_s) == (60, 20, 5)
    assert found.hold_mean_c == pytest.approx(135) and found.hold_margin_k == pytest.approx(1)
    assert found.theory_mean_k == pytest.approx(0, abs=1e-3)


def test_what_is_not_on_record_is_not_said():
    cold = features_of(read_cycle(file(rows(at="133"))), PROFILE)
    assert cold == Features(None, pytest.approx(101.418))
    bare = features_of(read_cycle(file(without(rows(), 2, 3), names="t_s,temperature_c")), PROFILE)
    assert (bare.deepest_kpa, bare.equilibration_s, bare.theory_mean_k) == (None, None, None)
    assert bare.come_up_s == 60


def test_a_number_that_has_moved_is_said_with_day_and_hint():
    found = drift_of("theory_mean_k", numbers(steady(40) + steady(30, -0.9)), FIRST)
    assert found.side == "low" and found.moved == pytest.approx(-0.9, abs=0.1)
    assert FIRST + timedelta(days=39) <= found.since <= FIRST + timedelta(days=46)
    assert "K lower since 2026-02" in found.words and "Worth a look: air that is left in" in found.words


@pytest.mark.parametrize(
    ("what", "values", "since"),
    [
        ("nothing moves", steady(80), 0),
        ("too few since the repair", steady(40) + steady(20, -0.9), 40),
        ("it moved before the repair and is steady since", steady(40) + steady(60, -0.9), 40),
        ("it has come back", steady(40) + steady(10, -0.9) + steady(60), 0),
        ("all are equal", [0.25] * 60, 0),
    ],
)
def test_nothing_is_said_where(what, values, since):
    assert drift_of("theory_mean_k", numbers(values), FIRST + timedelta(days=since)) is None, what


def test_better_is_no_trouble():
    values = numbers(steady(40, 10) + steady(40, 5))
    assert WATCHED["deepest_kpa"].low == "" and drift_of("deepest_kpa", values, FIRST) is None
    assert drift_of("deepest_kpa", numbers(steady(40, 10) + steady(40, 15)), FIRST).side == "high"


def test_a_baseline_without_spread_takes_that_of_the_instrument():
    assert drift_of("equilibration_s", numbers([5.0] * 30 + [5.1] * 30), FIRST) is None
    assert drift_of("equilibration_s", numbers([5.0] * 30 + [8.0] * 5), FIRST).moved == pytest.approx(3)


def test_how_often_steady_numbers_signal_for_nothing():
    """In a hundred runs of a hundred cycles after the baseline: seldom, as the limits are wide."""
    said = [drift_of("hold_mean_c", numbers(steady(120, 135, seed)), FIRST) for seed in range(100)]
    assert sum(found is not None for found in said) <= 25
