"""Month arithmetic against python-dateutil, weeks against the standard library's ISO weeks."""

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from audit.facts.dates import add_months, month_of, week_of

DAYS = st.dates(date(1990, 1, 1), date(2090, 12, 31))


@given(DAYS, st.integers(-240, 240))
def test_months_agree_with_dateutil(day, months):
    assert add_months(day, months) == day + relativedelta(months=months)


@pytest.mark.parametrize(
    ("day", "months", "answer"),
    [
        ("2025-01-31", 1, "2025-02-28"),
        ("2024-01-31", 1, "2024-02-29"),
        ("2024-02-29", 12, "2025-02-28"),
        ("2025-03-31", -1, "2025-02-28"),
        ("2025-12-31", 2, "2026-02-28"),
        ("2025-01-28", 1, "2025-02-28"),
    ],
)
def test_months_clamp(day, months, answer):
    assert str(add_months(date.fromisoformat(day), months)) == answer


@given(DAYS)
def test_a_week_from_monday_is_the_iso_week(day):
    start, end = week_of(day, 0)
    assert start.isocalendar()[:2] == day.isocalendar()[:2] == end.isocalendar()[:2]
    assert start.isocalendar().weekday == 1 and end - start == timedelta(days=6)


@given(DAYS, st.integers(0, 6))
def test_a_week_starts_on_the_chosen_day_and_holds_the_day(day, week_start):
    start, end = week_of(day, week_start)
    assert start.weekday() == week_start and start <= day <= end and (end - start).days == 6


def test_a_week_start_that_is_no_weekday_is_refused():
    with pytest.raises(ValueError, match="0 .Monday. to 6"):
        week_of(date(2025, 1, 1), 7)


@given(DAYS)
def test_a_month_holds_its_day_and_borders_on_the_next(day):
    first, last = month_of(day)
    assert first <= day <= last and first.day == 1 and (last + timedelta(days=1)).day == 1
