"""Thinned for a picture: few points, and no extreme, first or last value is lost."""

from __future__ import annotations

import numpy as np
import pytest

from audit.judge.cycle import load_profile, read_cycle
from audit.judge.cycle.picture import STRETCHES, picture_of, thinned
from tests.audit.judge.cycle import logs


@pytest.mark.parametrize("seed", range(5))
def test_extremes_and_ends_stay(seed):
    chance = np.random.default_rng(seed)
    seconds = np.cumsum(chance.uniform(0.1, 3, 3600))
    values = chance.normal(135, 1, 3600)
    dip = int(chance.integers(3600))
    values[dip] = 20.0
    points = thinned(seconds, values)
    assert len(points) <= 4 * STRETCHES and points == sorted(points)
    kept = [value for _, value in points]
    assert min(kept) == 20.0 and max(kept) == round(float(values.max()), 3)
    assert (points[0][1], points[-1][1]) == (round(float(values[0]), 3), round(float(values[-1]), 3))


def test_few_values_stay_as_they_are_and_none_is_nothing():
    assert thinned(np.array([0.0, 1.5]), np.array([20.0, 21.25])) == [[0.0, 20.0], [1.5, 21.25]]
    assert thinned(np.array([]), np.array([])) == []
    assert thinned(np.array([0.0, 1.0]), np.array([np.nan, 2.0])) == [[1.0, 2.0]]


def test_the_plateau_is_drawn_from_all_its_samples():
    body = logs.rows(hold=200, up=900, low="20.0", down=400)
    body = logs.changed(body, lambda t: t == 1000, second="133.2")
    drawn = picture_of(read_cycle(logs.file(body)), load_profile("holding-134"))
    plateau = drawn["plateau"]
    assert drawn["hold"] == [1001.0, 1105.0] and plateau["since"] < 900 < 1105 < plateau["until"] < drawn["lasts"]
    low = [seconds for seconds, value in plateau["curves"]["sensor 2"] if 950 < seconds < 1050 and value < 134]
    assert low == [1000.0], "a dip of one sample is as wide as it was"
    assert "pressure" not in plateau["curves"] and set(drawn["curves"]) == {
        "reference",
        "sensor 2",
        "theory",
        "pressure",
    }


def test_without_pressure_and_without_the_band_it_is_drawn_too():
    body = logs.without(logs.rows(at="120.0"), 2)
    drawn = picture_of(
        read_cycle(logs.file(body, names="t_s,temperature_c,temperature_2_c")), load_profile("holding-134")
    )
    assert (
        drawn["hold"] is None
        and drawn["plateau"]["since"] == 0.0
        and set(drawn["curves"]) == {"reference", "sensor 2"}
    )
