"""The day before and the day after an edge of each clock, where the one permits and the other does not.

Common practice, no source, unless a row says otherwise; limits are invented or those of the rules named.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from audit.facts import LocalDutyFact
from audit.judge.clocks import periods
from audit.judge.clocks.frequency import duty_clock
from audit.judge.clocks.hours import known_since
from audit.judge.clocks.plan import plan_clocks
from audit.judge.clocks.spans import spans
from audit.judge.clocks.used_days import clock as due_by_use
from audit.judge.clocks.used_days import last_owed
from audit.judge.clocks.used_days import spans as days_of_use
from audit.judge.situation import at, settle
from audit.regimes import load_regime
from tests.audit.judge.clock_stories import BASE, a_duty
from tests.fact_builders import (
    bio,
    clinic,
    closure,
    counter,
    credential,
    document,
    event,
    line,
    load,
    on,
    placed,
    row,
    terms,
    unit,
)

from .test_counters import made
from .test_duty import FIRST, PATIENTS, WEEKLY, duty
from .test_events import facts_of as facts_of_events
from .test_events import of
from .test_hours import RULES as FLORIDA
from .test_hours import clock as hours_clock
from .test_hours import facts_of as facts_of_hours
from .test_last_valid_days import of_place
from .test_plan_edges import clock as plan_clock
from .test_plan_edges import held as of_plan
from .test_rolling import PAPER, THIRTY, said, told
from .test_used_days import DAY, MISSED, RULES, TYPE, used

STORED = "stored as spare"


def hours(*told):
    return tuple(counter(day, shown, counter="hours") for day, shown in told)


# ------------------------------------------------------------------------------------------------ days and months


def test_what_forbids_use_is_overdue_on_the_very_day_it_comes_out_of_the_store():
    """Due on 9 February and stored from the 1st; other things fall due at the return and have that day."""
    away = {"stored": "2025-02-01", "back": "2025-03-15"}
    before = replace(THIRTY, forbids=True)
    assert said(before, "2025-03-14", "2025-01-10", **away) == ("not applicable", None)
    assert said(before, "2025-03-15", "2025-01-10", **away) == ("overdue", "02-09")
    assert said(THIRTY, "2025-03-15", "2025-01-10", **away) == ("due", "03-15")
    assert said(THIRTY, "2025-03-16", "2025-01-10", **away) == ("overdue", "03-15")


@pytest.mark.parametrize(("forbids", "state"), [(True, "overdue"), (False, "not applicable")])
def test_back_for_one_day_what_forbids_use_was_overdue_on_it_and_stays_so(forbids, state):
    """Due on 9 February, in the store since the 1st, in use on 15 March alone."""
    moves = (placed("2025-01-01"), placed("2025-02-01", STORED), placed("2025-03-15"), placed("2025-03-16", STORED))
    asked, tests = replace(THIRTY, forbids=forbids), (bio("2025-01-10", result="pass", known="2025-01-10"),)
    held = unit("2025-01-01", events=(event("2025-01-01"),), bio_tests=tests, placements=moves)
    now = at(settle(held, clinic(held, regime="base"), BASE, on("2025-03-20")), on("2025-03-20")).duty
    assert duty_clock(now, asked).state == state


def test_a_unit_stored_from_its_first_day_lacks_no_paper_until_it_is_used():
    assert said(PAPER, "2025-03-01", events=(), stored="2025-01-01") == ("not applicable", None)
    assert said(PAPER, "2025-03-01", events=(), stored="2025-01-01", back="2025-03-01") == ("no evidence", None)


def test_stretches_of_one_day_are_told():
    assert told(THIRTY, "2025-01-20", "2025-01-01")[0] == ("01-01", "01-01", "met", "")
    assert told(THIRTY, "2025-02-01", "2025-01-31")[-1] == ("02-01", "03-02", "open", "not over yet")
    both = told(THIRTY, "2025-03-20", "2025-01-31", "2025-02-20", last="2025-02-01")
    assert [(a, b) for a, b, *_ in both] == [("01-01", "01-31"), ("02-01", "02-20")]


# ------------------------------------------------------------------------------------------------ hours of use

OUT_OF_USE = [
    # out since the day before the test of 3 March, hours not known: why, and what is said a week later
    ("withdrawn", "no evidence"),
    ("decommissioned", "not applicable"),
    ("loaner out", "not applicable"),
]


@pytest.mark.parametrize(("why", "state"), OUT_OF_USE)
def test_hours_not_known_of_a_unit_taken_out_for_a_fault_stay_in_doubt(why, state):
    gone = (event("2025-01-01"), event("2025-03-02", why, "as told"))
    held = unit("2025-01-01", events=gone, bio_tests=(bio("2025-03-03", result="pass", known="2025-03-03"),))
    for day, expected in (("2025-03-10", state), ("2025-03-03", "not applicable")):
        made_of = at(settle(held, clinic(held, regime="us-fl-dental"), FLORIDA, on(day)), on(day)).duty
        duty_ = next(d for d in made_of.duties() if d.every == "hours-or-days")
        assert duty_clock(made_of, duty_).state == expected, day


def test_a_counter_that_stands_still_is_not_asked_for_again_after_28_days():
    """No hour ran between two readings 30 days apart: the thirty days alone are left."""
    said_ = hours_clock("2025-03-10", counters=hours(("2025-02-01", 100), ("2025-03-03", 100)))
    assert (str(said_.due_on), "read it again" in said_.note) == ("2025-04-02", False)


def test_the_present_rate_tells_though_nothing_was_read_since_the_test():
    """One hour a day by 3 March: 40 hours on 12 April, after the thirty days."""
    said_ = hours_clock("2025-03-20", counters=hours(("2025-02-01", 0), ("2025-03-03", 30)))
    assert (said_.state, str(said_.due_on), said_.projected) == ("ok", "2025-04-02", False)


def test_a_reading_good_for_28_days_is_no_projection():
    said_ = hours_clock("2025-03-20", counters=hours(("2025-03-03", 100), ("2025-03-04", 101)))
    assert (str(said_.due_on), said_.projected) == ("2025-04-01", False)


def test_forty_hours_in_loads_of_the_day_of_the_test_are_reached_that_day():
    run = (load("2025-03-01", minutes="10"), load("2025-03-03", minutes="2400", at="13:00"))
    assert str(hours_clock("2025-03-05", loads=run).due_on) == "2025-03-03"


def test_what_was_reached_and_not_what_was_projected_makes_a_test_late():
    """Two hours a day by the last reading on 3 March: 40 hours projected on the 23rd, none of it read."""
    read = hours(("2025-02-01", 0), ("2025-03-03", 60))
    tests = tuple(bio(day, result="pass", known=day, at="12:00") for day in ("2025-03-03", "2025-03-25"))
    held = facts_of_hours("2025-03-30", tests=tests, counters=read)
    duty_ = next(d for d in held.duties() if d.every == "hours-or-days")
    found = [(str(s.end), s.result, str(s.due_on)) for s in spans(held, duty_, on("2025-03-04"), on("2025-03-30"))]
    assert found == [("2025-03-25", "met", "2025-04-02"), ("2025-04-14", "open", "2025-04-14")]


SINCE = [
    # readings of the hours counter, loads, the day since when hours are known; the last test was on 3 March
    ((), (), "2025-03-03"),
    ((), (load("2025-02-10", minutes="30"), load("2025-03-04", minutes="30")), "2025-02-10"),
    ((), (load("2025-02-10", minutes="30"), load("2025-03-04")), "2025-03-03"),
    ((("2025-02-01", 0), ("2025-02-10", 9), ("2025-03-05", 30)), (), "2025-03-05"),  # the first 28 days apart
    ((("2025-02-01", 0), ("2025-02-10", 9)), (), "2025-03-03"),
    ((("2025-02-01", 500), ("2025-03-13", 10)), (), "2025-03-13"),  # fell
    ((("2025-01-20", 500), ("2025-02-10", 10)), (), "2025-03-03"),
]


@pytest.mark.parametrize(("read", "run", "day"), SINCE)
def test_since_when_the_hours_are_known(read, run, day):
    other = (counter("2025-02-03", 7), counter("2025-03-10", 9))  # of cycles, which tell nothing of hours
    held = facts_of_hours("2025-03-20", counters=(*hours(*read), *other), loads=run)
    assert str(known_since(held, on("2025-03-03"))) == day


# ------------------------------------------------------------------------------------------------ counters


def test_what_a_counter_shows_of_one_day():
    assert made(("2025-03-01", 100), ("2025-03-11", 110)).total_on(on("2025-03-11")) == 110, "read on it, no rate yet"
    assert made(("2025-03-11", "100.5")).total_on(on("2025-03-11")) == Fraction(201, 2)
    # 12.5 a day from the first reading to the last: carried back from the first one
    rising = made(("2025-03-11", 100), ("2025-04-10", 400), ("2025-04-20", 600))
    assert rising.total_on(on("2025-03-09")) == 75


def test_so_much_more_than_on_a_day_between_two_readings_is_spread_from_the_next_one_on():
    """5 on 6 March, 10 on the 11th, 110 on the 21st: 55 on the fifth of these ten days."""
    read = made(("2025-03-01", 0), ("2025-03-11", 10), ("2025-03-21", 110))
    assert str(read.reached_on(on("2025-03-06"), 50)[0]) == "2025-03-16"


def test_one_cycle_in_28_days_is_a_rate():
    slow = made(("2024-01-01", 0), ("2024-01-29", 1))
    assert slow.due_on(on("2024-01-01"), 2) == (on("2024-02-26"), True)


# ------------------------------------------------------------------------------------------------ weeks


def test_installed_on_the_last_day_of_a_week_it_owes_that_week_its_test():
    """From an installation on record the duty holds at once; Sunday 2 March 2025 ends its week."""
    sunday = (event("2025-03-02"),)
    assert (duty("2025-03-02", events=sunday).state, str(duty("2025-03-02", events=sunday).due_on)) == (
        "due",
        "2025-03-02",
    )
    assert duty("2025-03-03", events=sunday).state == "overdue"


def test_a_closure_of_the_last_day_alone_closes_the_gap_of_the_week():
    parts = [
        closure("2025-03-03", "2025-03-08", day="2025-02-25"),
        closure("2025-03-09", "2025-03-09", day="2025-02-25"),
    ]
    assert duty("2025-03-10", FIRST, regime=PATIENTS, closures=parts).state != "overdue"
    assert duty("2025-03-10", FIRST, regime=PATIENTS, closures=parts[:1]).state == "overdue"


def test_out_of_use_on_the_last_day_in_time_it_is_not_due_and_on_the_next_it_is_overdue():
    away = {"placements": (placed("2025-02-24"), placed("2025-03-05", STORED))}
    assert duty("2025-03-09", FIRST, **away).state == "not applicable"
    assert (duty("2025-03-10", FIRST, **away).state, str(duty("2025-03-10", FIRST, **away).due_on)) == (
        "overdue",
        "2025-03-09",
    )


AWAITED = bio("2025-03-05")  # 24 h on the label and seven days: counts until 13 March


@pytest.mark.parametrize(
    ("tests", "days"),
    [
        ((FIRST,), (("2025-03-20", "overdue"), ("2025-03-09", "due"), ("2025-03-10", "overdue"))),
        ((FIRST, AWAITED), (("2025-03-14", "overdue"), ("2025-03-13", "due"), ("2025-03-14", "overdue"))),
    ],
)
def test_a_day_asked_about_after_a_later_one_is_answered_for_itself(tests, days):
    regime = load_regime(WEEKLY)
    held = unit(events=(event("2025-02-24"),), bio_tests=tests)
    settled = settle(held, clinic(held), regime, on("2025-03-20"))
    for day, state in days:
        now = at(settled, on(day)).duty
        weekly = next(d for d in now.duties() if d.id == "biological-test")
        assert periods.clock(now, weekly).state == state, day


def test_the_periods_not_met_are_the_same_where_the_week_changes_its_first_day():
    """Monday to Sunday until 13 March 2025, then Sunday to Saturday."""
    held = unit(events=(event("2025-02-24"),), bio_tests=(FIRST, bio("2025-03-19", result="pass")))
    place = clinic(held, terms=(terms(week_start=0), terms(day="2025-03-13", week_start=6)))
    now = at(settle(held, place, BASE, on("2025-04-07")), on("2025-04-07")).duty
    week = a_duty("calendar-week")
    whole = periods.spans(now, week, on("2025-02-24"), on("2025-04-07"))
    left = periods.spans(now, week, on("2025-02-24"), on("2025-04-07"), unmet=True)
    assert left == [s for s in whole if s.result not in ("met", "awaited")] and len(left) < len(whole)


# ------------------------------------------------------------------------------------------------ days of use


def invalid(day):
    return bio(day, result="invalid", known=day)


def of_use(as_of="2025-03-20", loads=(), tests=(), **more):
    return facts_of_events(as_of, RULES, loads=used(*loads), bio_tests=tests, **more)


def test_a_test_run_while_it_was_stored_makes_no_day_of_use():
    away = (placed("2024-01-08"), placed("2025-03-10", STORED), placed("2025-03-18"))
    held = of_use(tests=(invalid("2025-03-12"),), placements=away)
    assert due_by_use(held, DAY).state == "ok" and last_owed(held, DAY, on("2025-03-01")) is None
    here = of_use(tests=(invalid("2025-03-12"),))
    assert due_by_use(here, DAY).state == "overdue" and last_owed(here, DAY, on("2025-03-01")).day == 19


def test_what_does_not_count_begins_no_new_row_of_days_owed():
    found = due_by_use(of_use(loads=("17", "18", "19"), tests=(invalid("2025-03-18"),)), DAY)
    assert (found.state, found.due_on.day) == ("overdue", 17)


def test_of_two_cycle_types_owed_the_older_says_since_when():
    found = due_by_use(of_use(loads=("17 open", "19 open", "19")), TYPE)
    assert (found.state, found.due_on.day) == ("overdue", 17)
    assert found.note == f"{MISSED}; cycle type 'open'; cycle type 'wrapped'"


@pytest.mark.parametrize(
    ("tests", "result"),
    [
        ((invalid("2025-03-10"),), "invalid"),
        ((), "missed"),
        ((bio("2025-03-10", result="pass", known="2025-03-10"), bio("2025-03-10")), "met"),
    ],
)
def test_what_became_of_a_day_of_use(tests, result):
    found = days_of_use(of_use("2025-03-12", ("10",), tests), DAY, on("2025-03-10"), on("2025-03-10"))
    assert [s.result for s in found] == [result]


# ------------------------------------------------------------------------------------------------ results not read

FAILED, PASSED, LATE, NEW = (
    bio("2025-02-03", result="growth", known="2025-02-04"),
    bio("2025-02-04", result="pass", known="2025-02-06"),
    bio("2025-02-10"),
    bio("2025-03-18"),
)
LATER = bio("2025-03-12", result="pass", known="2025-03-14")
UNREAD = [
    # tests, oldest first, on 20 March 2025; why none that is awaited proves anything
    ((NEW,), "none has a result yet"),
    ((FAILED, NEW), ""),
    ((PASSED, NEW), ""),
    ((PASSED, LATE, NEW), "that of 2025-02-10 is late and not read"),
    ((PASSED, LATE, LATER, NEW), ""),
    ((PASSED, invalid("2025-02-11"), NEW), ""),
]


@pytest.mark.parametrize(("tests", "why"), UNREAD)
def test_why_a_test_that_is_awaited_proves_nothing(tests, why):
    assert of_use(tests=tests).why_unread() == why


FROM = [
    # the tests, which of them, the day it counts from: its own where the one before was read, else when it was known
    ((PASSED,), 0, "2025-02-06"),
    ((PASSED, LATER), 0, "2025-02-06"),
    ((PASSED, LATER), 1, "2025-03-12"),
    ((FAILED, LATER), 1, "2025-03-12"),
    ((PASSED, LATE, LATER), 2, "2025-03-14"),
    ((PASSED, LATER, NEW), 1, "2025-03-12"),
    ((PASSED, NEW), 0, "2025-02-06"),
]


@pytest.mark.parametrize(("tests", "which", "day"), FROM)
def test_from_which_day_a_test_counts(tests, which, day):
    assert str(of_use(tests=tests).counts_from(tests[which])) == day


# ------------------------------------------------------------------------------------------------ events

MOVED = replace(a_duty("after-event"), events=("relocated",), forbids=True)
UNUSED = replace(MOVED, events=("idle", "relocated"), idle_days=9)


def test_moved_while_stored_it_was_overdue_the_day_after_its_return_and_stays_so_in_the_store():
    """In use on 15 and 16 March alone."""
    away = [placed("2024-01-08"), placed("2025-03-05", STORED), placed("2025-03-15"), placed("2025-03-17", STORED)]
    more = {"events": (event("2025-03-10", "relocated"),)}
    found, _ = of(MOVED, "2025-03-20", placements=tuple(away), **more)
    assert (found.state, str(found.due_on)) == ("overdue", "2025-03-15")
    away[-1] = placed("2025-03-16", STORED)  # back for one day
    assert of(MOVED, "2025-03-20", placements=tuple(away), **more)[0].state == "not applicable"


def test_unused_for_too_long_it_was_overdue_on_the_very_day_of_its_return():
    """In use on 15 March alone, after more than nine days in the store."""
    away = (placed("2024-01-08"), placed("2025-03-03", STORED), placed("2025-03-15"), placed("2025-03-16", STORED))
    run = (load("2025-03-01"),)
    found, _ = of(UNUSED, "2025-03-20", placements=away, loads=run)
    assert found.state == "overdue"


def test_moved_on_the_first_day_too_many_the_tests_come_before_use_that_day():
    """Last used on 1 March: nine days may pass, the 11th is one too many."""
    run, moved = (load("2025-03-01"),), (event("2025-03-11", "relocated"),)
    assert of(UNUSED, "2025-03-11", loads=run, events=moved)[0].state == "overdue"
    assert of(MOVED, "2025-03-11", loads=run, events=moved)[0].state == "due"


@pytest.mark.parametrize(("second", "found"), [("2025-03-10", []), ("2025-03-11", ["2025-03-11"])])
def test_a_gap_of_just_so_many_days_is_none(second, found):
    made_of = facts_of_events("2025-03-12", replace(BASE, duties=(UNUSED,)), loads=(load("2025-03-01"), load(second)))
    assert [str(s.start) for s in spans(made_of, UNUSED, on("2025-03-02"), on("2025-12-31"))] == found


# ------------------------------------------------------------------------------------------------ the plan


def test_a_line_by_months_and_hours_is_due_by_the_hours_where_they_come_first():
    read = hours(("2024-01-10", 0), ("2024-02-19", 400))  # ten a day
    said_ = plan_clock("2024-06-01", line(months=24, hours=1000), counters=read)
    assert (said_.state, str(said_.due_on), said_.projected) == ("overdue", "2024-04-19", True)
    plain = plan_clock("2024-06-01", line(months=24), counters=read)
    assert (str(plain.due_on), plain.projected) == ("2026-01-10", False)


def test_a_line_overdue_by_its_months_is_overdue_though_its_counter_was_never_read():
    line_ = line(months=12, cycles=1000)
    assert [plan_clock(day, line_).state for day in ("2025-01-10", "2025-01-11")] == ["no evidence", "overdue"]


def test_a_line_that_takes_effect_on_a_day_is_there_on_it_whichever_day_was_asked_before():
    held, kept = of_plan(line(), line("clean-seal", action="clean", day="2025-06-01")), {}

    def once(key, make):
        return kept[key] if key in kept else kept.setdefault(key, make())

    assert [len(plan_clocks(held, on(day), once)) for day in ("2025-05-31", "2025-06-01")] == [1, 2]


# ------------------------------------------------------------------------------------------------ papers


def test_a_paper_of_a_unit_is_no_paper_of_the_place_and_what_a_duty_asks_stands_once():
    day = on("2024-01-01")
    own = LocalDutyFact(row(day), day, "training", "rolling-months", 12, "own policy")
    papers = (document("training", "2025-01-01", "2025-12-31"), document("insurance", "2025-01-01", "2025-11-30"))
    of_unit = document("insurance", "2025-01-01", "2025-10-31", unit="unit-1")
    found = of_place("2025-06-01", local_duties=(own,), documents=(*papers, of_unit))
    assert [(c.kind, c.title, str(c.due_on)) for c in found[1:]] == [("paper", "insurance", "2025-11-30")]
    assert found[0].id == "duty:training" and len(found) == 2


def test_one_without_a_last_day_is_not_carried_on_by_what_begins_later():
    held = (credential("2024-01-01"), credential("2025-09-01", "2026-08-31", day="2025-01-01"))
    assert of_place("2025-06-01", credentials=held) == ()
    assert [str(c.due_on) for c in of_place("2025-09-01", credentials=held)] == ["2026-08-31"]
