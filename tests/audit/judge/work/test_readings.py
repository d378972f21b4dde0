"""Measurements left outside their limits: what makes one good again, and how it is told.

Common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.judge.work.readings import left_out, reading_words
from tests.fact_builders import job, measured, unit

DAY, LATER = "2025-03-10", "2025-03-11"


def is_left(*jobs):
    """The origins of the jobs that left something outside."""
    return list(left_out(unit(jobs=jobs)))


def visit(day=DAY, *readings, ref="", **times):
    made = job(day, readings=readings, **times)
    return replace(made, row=replace(made.row, ref=ref or made.row.ref, origin=ref or made.row.origin))


BAD = visit(DAY, measured(DAY, "131"), ref="bad")


@pytest.mark.parametrize(
    ("reading", "left"),
    [
        (measured(DAY, "134"), False),
        (measured(DAY, "133.9"), True),
        (measured(DAY, "137"), False),
        (measured(DAY, "137.1"), True),
        (measured(DAY, None, found="131"), True),
        (measured(DAY, None, found="135"), False),
        (measured(DAY, "135", found="131"), False),
        (measured(DAY, None), True),
        (measured(DAY, None, None, "137"), True),
        (measured(DAY, None, "134", None), True),
        (measured(DAY, None, None, None), False),
        (measured(DAY, "131", None, None), False),
        (measured(DAY, "131", None, "137"), False),
        (measured(DAY, "131", "134", None), True),
    ],
)
def test_what_counts_as_left_outside(reading, left):
    assert is_left(visit(DAY, reading, ref="one")) == (["one"] if left else [])


@pytest.mark.parametrize(
    ("reading", "good"),
    [
        (measured(LATER), True),
        (measured(LATER, "131"), False),
        (measured(LATER, None), False),
        (measured(LATER, "135", None, None), False),  # without limits it shows nothing
        (replace(measured(LATER), point="door"), False),
        (replace(measured(LATER), quantity="pressure"), False),
        (replace(measured(LATER), unit_of_measure="°F"), False),
        (replace(measured(LATER), quantity="Temperature"), True),
    ],
)
def test_only_the_same_quantity_at_the_same_point_measured_within_its_limits_makes_it_good(reading, good):
    assert ("bad" in is_left(BAD, visit(LATER, reading))) is not good


def test_a_measurement_of_the_day_before_makes_nothing_good():
    assert is_left(visit("2025-03-09", measured("2025-03-09")), BAD) == ["bad"]


@pytest.mark.parametrize(
    ("bad_at", "good_at", "good"),
    [("14:00", "15:00", True), ("14:00", "14:00", False), ("15:00", "14:00", False), ("", "15:00", False),
     ("14:00", "", False), ("", "", False)],
)  # fmt: skip
def test_of_one_day_both_times_show_the_order(bad_at, good_at, good):
    one = visit(DAY, measured(DAY, "131", at=bad_at), measured(DAY, at=good_at), ref="one")
    assert is_left(one) == ([] if good else ["one"])


def test_a_measurement_of_the_next_day_of_one_visit_is_later():
    assert is_left(visit(DAY, measured(DAY, "131"), measured(LATER), ref="one")) == []
    assert is_left(visit(DAY, measured(DAY), measured(LATER, "131"), ref="one")) == ["one"]


def test_of_one_day_the_times_of_the_visits_show_it_too():
    bad = visit(DAY, measured(DAY, "131"), ref="bad", arrived="08:00", departed="10:00")
    later, same = (visit(DAY, measured(DAY), arrived=t, departed="14:00") for t in ("11:00", "09:00"))
    assert is_left(bad, later) == [] and is_left(bad, same) == ["bad"]


def test_each_reading_left_outside_is_held_by_its_visit():
    two = visit(DAY, measured(DAY, "131"), replace(measured(DAY, "132"), point="door"), ref="two")
    assert [r.as_left for r in left_out(unit(jobs=(two,)))["two"]] == [r.as_left for r in two.readings]


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        (measured(DAY, "131"), "temperature at drain left at 131 °C, limits from 134 to 137 °C"),
        (measured(DAY, "131", None), "temperature at drain left at 131 °C, limits no lower limit to 137 °C"),
        (measured(DAY, "131", "134", None), "temperature at drain left at 131 °C, limits from 134 no upper limit °C"),
        (replace(measured(DAY, "131"), point=""), "temperature left at 131 °C, limits from 134 to 137 °C"),
        (measured(DAY, None), "temperature at drain not measured, limits from 134 to 137 °C"),
        (measured(DAY, None, found="131"), "temperature at drain left at 131 °C, limits from 134 to 137 °C"),
    ],
)
def test_how_it_is_told(reading, words):
    assert reading_words(reading) == words
