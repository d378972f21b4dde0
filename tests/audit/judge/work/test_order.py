"""Whether a test ran after the work, and one job after another: both sides of each moment.

Common practice, no source.
"""

from __future__ import annotations

from datetime import date, datetime

import pytest

from audit.judge.work.order import WorkSpan, came_after, span_of
from tests.fact_builders import job, row

DAY = "2025-03-10"


def at(time):
    return datetime.fromisoformat(f"{DAY}T{time}+00:00") if time else None


BEGIN, END = "09:00", "12:00"
ORDERS = [
    # begin and end of the work, time of the test, what it was run for, whether it ran after
    (BEGIN, END, "08:59", "", False),
    (BEGIN, END, "09:00", "", None),
    (BEGIN, END, "11:59", "", None),
    (BEGIN, END, "12:00", "", True),
    (BEGIN, END, "13:00", "", True),
    (BEGIN, END, "", "", None),
    (BEGIN, "", "08:59", "", False),
    (BEGIN, "", "13:00", "", None),
    ("", END, "08:59", "", None),
    ("", END, "12:00", "", True),
    ("", "", "12:00", "", None),
    (BEGIN, END, "08:59", "after repair", False),
    (BEGIN, END, "11:59", "after repair", True),
    (BEGIN, END, "", "repeat", True),
    ("", "", "12:00", "requalification", True),
    ("", "", "", "installation", True),
    ("", "", "", "routine", None),
]


@pytest.mark.parametrize(("begin", "end", "tested", "purpose", "after"), ORDERS)
def test_on_the_day_of_the_work_times_decide_and_else_what_a_person_says(begin, end, tested, purpose, after):
    span = WorkSpan(date.fromisoformat(DAY), at(begin), at(end))
    assert span.is_before(row(DAY, at=tested), purpose) is after


@pytest.mark.parametrize(("day", "after"), [("2025-03-09", False), ("2025-03-11", True)])
def test_another_day_decides_by_itself(day, after):
    span = WorkSpan(date.fromisoformat(DAY), at(BEGIN), at(END))
    assert span.is_before(row(day, at="10:00"), "repeat") is after


SPANS = [
    # arrival, departure, time of the row, begin and end
    ("", "", "", "", ""),
    ("", "", "10:00", "10:00", "10:00"),
    ("09:00", "12:00", "10:00", "09:00", "12:00"),
    ("09:00", "", "10:00", "09:00", ""),
    ("", "12:00", "10:00", "10:00", "12:00"),
    ("", "12:00", "", "", "12:00"),
]


@pytest.mark.parametrize(("arrived", "departed", "single", "begin", "end"), SPANS)
def test_the_span_of_a_job(arrived, departed, single, begin, end):
    span = span_of(job(DAY, arrived=arrived, departed=departed, at=single))
    assert span == WorkSpan(date.fromisoformat(DAY), at(begin), at(end))


AFTER = [
    # times of the one job and of the other, whether the one is shown to have begun after the other ended
    (("13:00", ""), ("09:00", "12:00"), True),
    (("12:00", ""), ("09:00", "12:00"), True),
    (("11:59", ""), ("09:00", "12:00"), False),
    (("13:00", ""), ("09:00", ""), False),
    (("", ""), ("09:00", "12:00"), False),
    (("", "13:00"), ("09:00", "12:00"), False),
]


@pytest.mark.parametrize(("one", "other", "after"), AFTER)
def test_one_job_after_another_of_that_day(one, other, after):
    made = [job(DAY, arrived=arrived, departed=departed) for arrived, departed in (one, other)]
    assert came_after(*made) is after


def test_a_job_of_a_later_day_came_after_and_none_after_itself():
    one, other = job("2025-03-11", at="08:00"), job(DAY, at="09:00")
    assert came_after(one, other) and not came_after(other, one)
    assert not came_after(other, other)
