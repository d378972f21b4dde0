"""What a test after work showed: as ticked, by its values, and which of two rows of one test counts."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.judge.work.results import cannot_be_compared, has_value, out_of_band, results_of
from tests.fact_builders import check, job, measured

DAY = "2025-03-10"


def word(*tests, asks=(), readings=(), left_out=(), code="V4"):
    """(result, whether it was shown) of the one test of that code; None where there is none."""
    held = results_of(job(DAY, tests=tests, readings=readings), asks, left_out).get(code)
    return held and (held.word, held.shown)


def v4(result="pass", at="", cycle="", value="", **numbers):
    return check(DAY, "V4", result, value, at=at, cycle=cycle, **numbers)


HALF = {"band_low": "134", "temperature_high": "135"}
SHORT = {"minutes": "2", "minutes_needed": "3"}
TWO_OF_ONE_DAY = [
    # the rows in the order they were written, which result counts
    ((v4("fail", "09:00"), v4("pass", "10:00")), "pass"),
    ((v4("fail", "10:00"), v4("pass", "09:00")), "fail"),
    ((v4("fail", "09:00"), v4("pass", "09:00")), "pass"),
    ((v4("fail"), v4("pass")), "pass"),
    ((v4("pass"), v4("fail")), "fail"),
    ((v4("fail", "09:00"), v4("pass")), "fail"),
    ((v4("fail"), v4("pass", "10:00")), "fail"),
    ((v4("fail", cycle="7"), v4("pass", cycle="8")), "pass"),
    ((v4("pass", "10:00"), v4("fail", "09:00")), "pass"),
    ((v4("pass"), v4("pass", **HALF)), "pass"),
    ((v4("fail"), v4("pass", **HALF)), "fail"),
    ((v4("pass", **HALF), v4("pass")), "pass"),
    ((v4("pass", **HALF), v4("fail")), "fail"),
    ((v4("pass"), v4("not done")), "pass"),
    ((v4("fail"), v4("not done")), "fail"),
    ((v4("pass"), v4("fail"), v4("pass")), "pass"),
    ((v4("pass"), v4("pass", **SHORT)), "fail"),
]


@pytest.mark.parametrize(("tests", "counts"), TWO_OF_ONE_DAY)
def test_a_pass_makes_a_failure_of_its_day_good_only_where_it_is_the_later_one(tests, counts):
    """By its time; or written after it, where neither has one. Common practice, no source."""
    assert word(*tests)[0] == counts


def test_only_passed_and_failed_are_results():
    assert word(v4("not done")) is None and word(v4("not applicable")) is None
    assert word(v4(), code="V1") is None


TEMPERATURE, RESISTANCE = measured(DAY), measured(DAY, "0.1", None, "0.2", of="earth resistance")
SHOWN = [
    ({}, ("pass", False)),
    ({"asks": ("V4",)}, ("stated", False)),
    ({"asks": ("V1",)}, ("pass", False)),
    ({"asks": ("V4",), "readings": (TEMPERATURE,)}, ("pass", True)),
    ({"asks": ("V4",), "readings": (RESISTANCE,)}, ("stated", False)),
    ({"asks": ("V4",), "readings": (replace(TEMPERATURE, quantity="Holding time"),)}, ("pass", True)),
    ({"asks": ("V4",), "readings": (replace(TEMPERATURE, as_left=None),)}, ("stated", False)),
    ({"left_out": (TEMPERATURE,)}, ("fail", False)),
    ({"left_out": (RESISTANCE,)}, ("pass", False)),
]


@pytest.mark.parametrize(("more", "counts"), SHOWN)
def test_a_measurement_of_the_same_job_shows_the_cycle_or_speaks_against_it(more, counts):
    assert word(v4(), **more) == counts


def test_a_measurement_of_the_cycle_says_nothing_of_another_test():
    tight = check(DAY, "V3", value="")
    assert word(tight, code="V3", readings=(TEMPERATURE,), left_out=(TEMPERATURE,)) == ("pass", False)
    assert word(tight, code="V3", readings=(TEMPERATURE,), asks=("V3",)) == ("stated", False)


@pytest.mark.parametrize("name", ["temperature_low", "temperature_high", "pressure_low", "pressure_high", "minutes"])
def test_a_number_in_any_field_is_a_value(name):
    assert has_value(v4(**{name: "1"}))


@pytest.mark.parametrize(("text", "held"), [("", False), ("within limits", False), ("134 °C", True)])
def test_a_number_in_words_is_a_value_too(text, held):
    assert has_value(v4(value=text)) is held
    assert not has_value(v4(band_low="134", band_high="137", minutes_needed="3"))


BAND = {"band_low": "134", "band_high": "137", "minutes_needed": "3"}
INSIDE = {"temperature_low": "134", "temperature_high": "137", "minutes": "3"}
WRONG = [
    ({}, False),
    ({"temperature_low": "133.9"}, True),
    ({"temperature_low": "137.1"}, True),
    ({"temperature_high": "137.1"}, True),
    ({"temperature_high": "133.9"}, True),
    ({"minutes": "2.9"}, True),
    ({"temperature_low": "133.9", "band_low": None}, False),
    ({"temperature_high": "137.1", "band_high": None}, False),
    ({"minutes": "2.9", "minutes_needed": None}, False),
    ({"minutes": None}, False),
    ({"temperature_low": None, "temperature_high": None}, False),
    ({"temperature_low": None, "temperature_high": "137.1"}, True),
    ({"temperature_high": None, "temperature_low": "133.9"}, True),
]


@pytest.mark.parametrize(("more", "wrong"), WRONG)
def test_both_ends_of_the_band_and_the_least_time_are_inside(more, wrong):
    assert out_of_band(v4(**BAND | INSIDE | more)) is wrong


@pytest.mark.parametrize(
    ("numbers", "open_"),
    [
        ({}, False),
        (INSIDE, False),
        (BAND | INSIDE, False),
        (BAND, True),
        *((BAND | INSIDE | {name: None}, True) for name in (*BAND, *INSIDE)),
        ({"minutes": "3", "minutes_needed": "3"}, False),
        ({"temperature_low": "134", "band_low": "134"}, False),
        ({"temperature_high": "134", "band_high": "134"}, False),
        ({"minutes_needed": "3"}, True),
        ({"band_low": "3"}, True),
        ({"band_high": "3"}, True),
    ],
)
def test_a_limit_or_a_value_alone_cannot_be_compared(numbers, open_):
    assert cannot_be_compared(v4(**numbers)) is open_


@pytest.mark.parametrize("times", [("", ""), ("10:00", ""), ("09:00", "10:00")])
def test_of_two_passes_the_last_one_counts_with_or_without_its_value(times):
    first, last = times
    assert word(v4(at=first, value="134"), v4(at=last)) == ("pass", False)
    assert word(v4(at=first), v4(at=last, value="134")) == ("pass", True)
