"""Business days against public holidays listed by hand, and against a slow count day by day."""

from datetime import date, timedelta

import holidays
import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.judge.business_days import add_business_days, is_business_day, public_holidays

# Montana Code Annotated 1-1-216 (legal holidays), the days of 2025 worked out from a calendar by hand.
MONTANA_2025 = {
    date(2025, 1, 1),  # New Year's Day
    date(2025, 1, 20),  # Martin Luther King Jr. Day, third Monday of January
    date(2025, 2, 17),  # Lincoln's and Washington's birthdays, third Monday of February
    date(2025, 5, 26),  # Memorial Day, last Monday of May
    date(2025, 7, 4),  # Independence Day
    date(2025, 9, 1),  # Labor Day, first Monday of September
    date(2025, 10, 13),  # Columbus Day, second Monday of October
    date(2025, 11, 11),  # Veterans Day
    date(2025, 11, 27),  # Thanksgiving Day, fourth Thursday of November
    date(2025, 12, 25),  # Christmas Day
}
JUNETEENTH = date(2025, 6, 19)  # 5 U.S.C. 6103: a federal holiday, which the library counts in every state


def test_the_public_holidays_of_a_year():
    assert public_holidays("US-MT", 2025) == MONTANA_2025 | {JUNETEENTH}


def test_the_day_of_the_state_general_election_in_even_years():
    # Montana Code Annotated 1-1-216: the day of the state general election, as is 3 November 2026
    assert not is_business_day(date(2026, 11, 3), "US-MT") and is_business_day(date(2025, 11, 4), "US-MT")


@pytest.mark.parametrize(
    ("day", "count", "due"),
    [
        ("2025-03-14", 1, "2025-03-17"),  # ARM 37.112.131: failed on a Friday, due by the end of Monday
        ("2025-05-23", 1, "2025-05-27"),  # the Friday before Memorial Day: Tuesday
        ("2025-03-15", 1, "2025-03-17"),  # known on a Saturday
        ("2025-03-17", 1, "2025-03-18"),
        ("2025-12-24", 2, "2025-12-29"),  # Christmas on a Thursday, then Friday and Monday
        ("2025-03-15", 0, "2025-03-15"),
        ("2024-12-31", 1, "2025-01-02"),  # over the end of a year
    ],
)
def test_deadlines(day, count, due):
    assert add_business_days(date.fromisoformat(day), count, "US-MT") == date.fromisoformat(due)


def test_without_a_place_only_weekends_are_left_out():
    assert add_business_days(date(2025, 12, 24), 1, "") == date(2025, 12, 25)
    assert public_holidays("", 2025) == frozenset()


@given(
    st.dates(date(2020, 1, 1), date(2035, 1, 1)), st.integers(0, 20), st.sampled_from(["US-MT", "US-NJ", "IE", ""])
)
def test_a_deadline_is_the_last_of_so_many_business_days(day, count, place):
    due = add_business_days(day, count, place)
    country, _, state = place.partition("-")
    free = holidays.country_holidays(country, subdiv=state or None) if place else {}
    between = [day + timedelta(n + 1) for n in range((due - day).days)]
    assert sum(d.weekday() < 5 and d not in free for d in between) == count
    assert not between or (between[-1].weekday() < 5 and between[-1] not in free)


@pytest.mark.parametrize("place", ["XX", "US-XX"])
def test_an_unknown_place_is_refused_with_the_way_out(place):
    with pytest.raises(ValueError, match="ISO 3166"):
        public_holidays(place, 2025)


def test_a_negative_count_is_refused():
    with pytest.raises(ValueError, match="0 or more"):
        add_business_days(date(2025, 1, 2), -1, "")
