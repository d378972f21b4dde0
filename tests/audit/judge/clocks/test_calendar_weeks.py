"""The weeks of a clinic where the first day of the week changes. Common practice, no source."""

from __future__ import annotations

from datetime import timedelta

import pytest

from audit.judge.clocks.calendar_weeks import Weeks
from tests.fact_builders import on, terms

MONDAY, WEDNESDAY, SUNDAY = 0, 2, 6
SIX = timedelta(days=6)


def weeks(*changes):
    """Weeks by terms, each (day, first day of the week)."""
    return Weeks.of(terms(day=day, week_start=start) for day, start in changes)


def said(week):
    assert week[1] == week[0] + SIX
    return str(week[0])[5:]


FROM_MONDAY = ("2020-01-01", MONDAY)
TO_SUNDAY = (FROM_MONDAY, ("2025-06-26", SUNDAY))
TO_WEDNESDAY = (FROM_MONDAY, ("2025-06-26", WEDNESDAY))
# Sunday for one week only, then Monday again.
ONE_WEEK = (FROM_MONDAY, ("2025-06-24", SUNDAY), ("2025-07-01", MONDAY))
# Sunday on two days that hold no first day of such a week.
NO_WEEK = (FROM_MONDAY, ("2025-06-24", SUNDAY), ("2025-06-26", WEDNESDAY))

HOLDING = [
    # terms, day, the last and the first week that hold it, by their first days
    ((FROM_MONDAY,), "2025-06-22", "06-16", "06-16"),
    ((FROM_MONDAY,), "2025-06-23", "06-23", "06-23"),
    ((("2020-01-01", SUNDAY),), "2025-06-22", "06-22", "06-22"),
    ((("2030-01-01", SUNDAY),), "2025-06-22", "06-22", "06-22"),
    ((), "2025-06-23", "06-23", "06-23"),
    (TO_SUNDAY, "2025-06-28", "06-23", "06-23"),
    (TO_SUNDAY, "2025-06-29", "06-29", "06-23"),
    (TO_SUNDAY, "2025-06-30", "06-29", "06-29"),
    (TO_SUNDAY, "2025-07-06", "07-06", "07-06"),
    (TO_WEDNESDAY, "2025-06-24", "06-23", "06-23"),
    (TO_WEDNESDAY, "2025-06-25", "06-25", "06-23"),
    (TO_WEDNESDAY, "2025-06-29", "06-25", "06-23"),
    (TO_WEDNESDAY, "2025-06-30", "06-25", "06-25"),
    (TO_WEDNESDAY, "2025-07-02", "07-02", "07-02"),
    (ONE_WEEK, "2025-06-29", "06-29", "06-23"),
    (ONE_WEEK, "2025-06-30", "06-30", "06-29"),
    (ONE_WEEK, "2025-07-06", "06-30", "06-30"),
    (NO_WEEK, "2025-06-29", "06-25", "06-23"),
]


@pytest.mark.parametrize(("changes", "day", "last", "first"), HOLDING)
def test_which_weeks_hold_a_day(changes, day, last, first):
    held = weeks(*changes)
    assert (said(held.holding(on(day))), said(held.first_holding(on(day)))) == (last, first)


FOLLOWING = [
    ((FROM_MONDAY,), "2025-06-23", "06-30"),
    (TO_SUNDAY, "2025-06-16", "06-23"),
    (TO_SUNDAY, "2025-06-23", "06-29"),
    (TO_SUNDAY, "2025-06-29", "07-06"),
    (TO_WEDNESDAY, "2025-06-23", "06-25"),
    (TO_WEDNESDAY, "2025-06-25", "07-02"),
    (ONE_WEEK, "2025-06-23", "06-29"),
    (ONE_WEEK, "2025-06-29", "06-30"),
    (ONE_WEEK, "2025-06-30", "07-07"),
]


@pytest.mark.parametrize(("changes", "start", "after"), FOLLOWING)
def test_the_week_after_a_week(changes, start, after):
    first = on(start)
    assert said(weeks(*changes).following(first, first + SIX)) == after


def test_the_same_day_again_is_no_change_and_of_one_day_the_last_terms_hold():
    assert weeks(FROM_MONDAY, ("2025-06-26", MONDAY)).unchanged and weeks().unchanged
    assert not weeks(*TO_SUNDAY).unchanged
    assert weeks(FROM_MONDAY, ("2025-06-26", WEDNESDAY), ("2025-06-26", SUNDAY)) == weeks(*TO_SUNDAY)


@pytest.mark.parametrize("changes", [TO_SUNDAY, TO_WEDNESDAY, ONE_WEEK, NO_WEEK])
def test_walking_from_week_to_week_leaves_no_day_out(changes):
    held = weeks(*changes)
    start, end = held.holding(on("2025-06-02"))
    while end < on("2025-08-01"):
        following = held.following(start, end)
        assert start < following[0] <= end + timedelta(days=1)
        start, end = following
