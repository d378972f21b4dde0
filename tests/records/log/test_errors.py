"""Where in an input a problem lies: put together, written and told apart."""

import pytest

from records.log.errors import InputPlace, Problem, Refused

READING = InputPlace() / "jobs" / 0 / "readings" / 2


def test_a_place_is_written_with_dots():
    assert str(READING / "unit_of_measure") == "jobs.0.readings.2.unit_of_measure"
    assert str(InputPlace()) == "" and str(InputPlace.named("on")) == "on"


@pytest.mark.parametrize(("place", "field"), [
    (InputPlace(), ""), (InputPlace.named(""), ""), (InputPlace.named("on"), "on"), (READING, ""),
    (READING / "point", "point"),
])  # fmt: skip
def test_the_field_of_a_place_is_its_last_name(place, field):
    assert place.field == field


def test_a_name_with_dots_is_no_name():
    with pytest.raises(ValueError, match="Put its place together"):
        Problem("jobs.0.unit", "missing")


def test_a_problem_takes_the_name_of_a_field():
    assert Problem("on", "missing").place == InputPlace() / "on"
    assert Problem("", "missing") == Problem(InputPlace(), "missing")
    told = Refused([Problem(READING / "point", "where?"), Problem("", "nothing")])
    assert str(told) == "jobs.0.readings.2.point: where?; entry: nothing"
