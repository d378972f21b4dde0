"""Which week each thing falls in, and what can be done early: example tables and laws."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.planning.round import ClinicWork, WorkItem, plan_round, week_of
from audit.planning.round.plan import own_week

TODAY = date(2026, 3, 18)  # a Wednesday
FIRST = date(2026, 3, 16)


def item(name: str, day: str | date | None, clinic: str = "a", overdue: bool = False) -> WorkItem:
    day = date.fromisoformat(day) if isinstance(day, str) else day
    return WorkItem(
        clinic=clinic, clinic_name=clinic.upper(), unit=f"u-{clinic}", label="1", id=name, title=name, day=day,
        state="overdue" if overdue else "ok", rule="", note="", overdue=overdue,
    )  # fmt: skip


def work(*items: WorkItem, clinic: str = "a") -> ClinicWork:
    return ClinicWork(clinic, clinic.upper(), items)


def told(made) -> dict[str, dict[str, str]]:
    """By first day of the week: what is due, and after a slash what can be done early."""
    return {
        week.start.isoformat(): {
            stop.clinic: " ".join(i.id for i in stop.due)
            + (" / " + " ".join(f.item.id for f in stop.forward) if stop.forward else "")
            for stop in week.stops
        }
        for week in made.weeks
        if week.stops
    }


# Worked by hand on a calendar; that work may be done early within a window is common practice, no source.
TABLE = [
    # days of the things, window, weeks with what is due and what can be done early
    ({"x": None}, 28, {"2026-03-16": "x"}),
    ({"x": "2025-01-01"}, 28, {"2026-03-16": "x"}),
    ({"x": "2026-03-16"}, 0, {"2026-03-16": "x"}),  # the Monday of this week
    ({"x": "2026-03-22", "y": "2026-03-23"}, 0, {"2026-03-16": "x", "2026-03-23": "y"}),  # Sunday and Monday
    ({"x": "2026-03-18", "y": "2026-04-05"}, 14, {"2026-03-16": "x / y"}),  # the last day of the window
    ({"x": "2026-03-18", "y": "2026-04-06"}, 14, {"2026-03-16": "x", "2026-04-06": "y"}),  # the day after it
    # what is done early sets no stop of its own, and its window does not count on
    (
        {"x": "2026-03-18", "y": "2026-04-15", "z": "2026-05-10"},
        28,
        {"2026-03-16": "x / y", "2026-05-04": "z"},
    ),
    ({"x": "2026-06-07"}, 28, {"2026-06-01": "x"}),  # the last day of the twelfth week
    ({"x": "2026-06-08"}, 28, {}),  # the day after it
    ({"x": "2026-06-07", "y": "2026-06-21"}, 14, {"2026-06-01": "x / y"}),  # early, though after the last week
]


@pytest.mark.parametrize(("days", "window", "expected"), TABLE)
def test_each_thing_falls_in_its_week(days, window, expected):
    made = plan_round([work(*(item(name, day) for name, day in days.items()))], TODAY, window=window)
    assert {start: stops["a"] for start, stops in told(made).items()} == expected


def test_overdue_comes_first_in_a_stop_and_among_stops():
    calm = work(item("c", "2026-03-20", "a"))
    late = work(item("d", "2026-03-16", "b"), item("l", "2026-03-17", "b", overdue=True), clinic="b")
    first = plan_round([calm, late], TODAY).weeks[0]
    assert [stop.clinic for stop in first.stops] == ["b", "a"]
    assert [i.id for i in first.stops[0].due] == ["l", "d"]


def test_what_can_be_done_early_says_when_the_next_stop_would_be():
    clinic = work(item("x", "2026-03-18"), item("y", "2026-04-15"), item("z", "2026-05-10"))
    stop = plan_round([clinic], TODAY, window=28).weeks[0].stops[0]
    [early] = stop.forward
    assert (early.own_week, early.next_stop) == (date(2026, 4, 13), date(2026, 5, 4))
    alone = plan_round([work(item("x", "2026-03-18"), item("y", "2026-04-15"))], TODAY, window=28)
    assert alone.weeks[0].stops[0].forward[0].next_stop is None
    assert alone.extra_stops == 1


def test_counts_of_a_week_are_units_and_things():
    clinic = work(item("x", "2026-03-18"), item("y", "2026-03-19"), item("z", "2026-03-25"))
    week = plan_round([clinic], TODAY, window=7).weeks[0]
    assert (week.jobs, week.tasks, week.stops[0].units) == (1, 3, ("1",))


# ------------------------------------------------------------------------------------------------ laws

days = st.none() | st.integers(-400, 200).map(lambda n: TODAY + timedelta(days=n))
clinics = st.lists(st.lists(days, max_size=8), max_size=4).map(
    lambda all_days: [
        work(*(item(f"i{n}", day, f"c{c}") for n, day in enumerate(some)), clinic=f"c{c}")
        for c, some in enumerate(all_days)
    ]
)
windows = st.sampled_from((0, 7, 14, 28, 60))


def _placed(made):
    return [(week, stop, i) for week in made.weeks for stop in week.stops for i in stop.items]


@settings(deadline=None)
@given(clinics, windows, st.integers(1, 15))
def test_nothing_due_is_lost_and_each_is_in_exactly_one_week(clinics, window, weeks):
    made = plan_round(clinics, TODAY, weeks=weeks, window=window)
    keys = [i.key for _, _, i in _placed(made)]
    assert len(keys) == len(set(keys))
    end = made.weeks[-1].end
    due = {i.key for c in clinics for i in c.items if i.day is None or i.day <= end}
    assert due <= set(keys)
    assert len(made.weeks) == weeks and made.weeks[0].start == FIRST


@settings(deadline=None)
@given(clinics, windows)
def test_nothing_is_planned_after_its_week_nor_earlier_than_the_window(clinics, window):
    for week, stop, i in _placed(plan_round(clinics, TODAY, window=window)):
        if i in stop.due:
            assert own_week(i, FIRST) == week.start
        else:
            assert week.end < i.day <= week.end + timedelta(days=window)
        assert stop.clinic == i.clinic
        if i.day is not None and i.day >= TODAY:
            assert week.start <= i.day


@settings(deadline=None)
@given(st.lists(days, min_size=1, max_size=7), windows)
def test_no_choice_of_weeks_has_fewer_stops(some, window):
    """Against every subset of weeks: each thing is allowed from `window` days before its own week on."""
    clinic = work(*(item(f"i{n}", day) for n, day in enumerate(some)))
    made = plan_round([clinic], TODAY, window=window)
    starts = [week.start for week in made.weeks]
    stops = [week.start for week in made.weeks if week.stops]
    must = [i for i in clinic.items if i.day is None or i.day <= made.weeks[-1].end]
    allowed = [
        {
            s
            for s in starts
            if s == own_week(i, FIRST) or (i.day and s + timedelta(days=6) < i.day <= s + timedelta(days=6 + window))
        }
        for i in must
    ]
    own = sorted({own_week(i, FIRST) for i in must})
    # A stop in a week of nobody's own can be moved on to the next own week without losing a thing.
    fewest = next(
        n for n in range(len(own) + 1) for chosen in combinations(own, n) if all(a & set(chosen) for a in allowed)
    )
    assert len(stops) == fewest
    assert made.extra_stops == len(own) - len(stops)


def test_a_week_begins_on_its_monday():
    assert [week_of(FIRST + timedelta(days=n)) for n in range(7)] == [FIRST] * 7
