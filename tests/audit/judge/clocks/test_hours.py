"""Forty hours of use or thirty days: Florida Administrative Code 64B5-25.003 (use time: cycles times cycle time)."""

from itertools import combinations

import pytest

from audit.judge.clocks.frequency import duty_clock
from audit.judge.clocks.spans import spans
from audit.judge.situation import at, settle
from audit.regimes import load_regime
from tests.fact_builders import bio, clinic, counter, event, load, on, unit

RULES = load_regime("us-fl-dental")
LAST = bio("2025-03-03", result="pass", known="2025-03-03", at="12:00")


def facts_of(as_of, *, tests=(LAST,), **more):
    held = unit("2025-01-01", events=(event("2025-01-01"),), bio_tests=tests, **more)
    return at(settle(held, clinic(held, regime="us-fl-dental"), RULES, on(as_of)), on(as_of)).duty


def clock(as_of, **more):
    facts = facts_of(as_of, **more)
    return duty_clock(facts, next(d for d in facts.duties() if d.every == "hours-or-days"))


def loads(first, days, minutes, times=1):
    start = on(first).toordinal()
    return tuple(load(on(first).fromordinal(start + n), minutes=minutes) for n in range(days) for _ in range(times))


def test_one_cycle_of_half_an_hour_a_day_leaves_the_thirty_days_first():
    """80 cycles would be 2,400 minutes; derived."""
    said = clock("2025-04-02", loads=loads("2025-03-04", 30, "30"))
    assert (said.state, str(said.due_on), said.projected) == ("due", "2025-04-02", False)
    assert "900 of 2400 minutes" in said.note


@pytest.mark.parametrize(("minutes", "due"), [("240", "2025-03-13"), ("239.9", "2025-03-14"), ("241", "2025-03-13")])
def test_the_day_on_which_the_minutes_reach_forty_hours(minutes, due):
    """2,400 minutes: ten days of 240; derived."""
    said = clock("2025-03-20", loads=loads("2025-03-04", 16, minutes))
    assert (said.state, str(said.due_on), str(said.overdue_on)[:9]) == ("overdue", due, "2025-03-1")


def test_without_another_load_the_hours_do_not_grow():
    held = loads("2025-03-04", 9, "240")  # 2,160 minutes
    assert str(clock("2025-03-30", loads=held).due_on) == "2025-04-02"
    more = (*held, load("2025-03-31", minutes="240"))
    assert str(clock("2025-03-31", loads=more).due_on) == "2025-03-31"
    assert clock("2025-03-31", loads=more).state == "due"
    assert clock("2025-04-01", loads=more).state == "overdue"


def test_loads_of_the_day_of_the_test_count_unless_they_are_shown_to_have_run_before_it():
    """Common practice, no source."""
    same = [load("2025-03-03", minutes="2400", at=at_time) for at_time in ("13:00", "11:00", "")]
    due = [str(clock("2025-03-05", loads=(one,)).due_on) for one in same]
    assert due == ["2025-03-03", "2025-04-02", "2025-03-03"]
    numbered = bio("2025-03-03", result="pass", known="2025-03-03", cycle="8")
    for cycle, day in (("7", "2025-04-02"), ("8", "2025-04-02"), ("9", "2025-03-03"), ("", "2025-03-03")):
        said = clock("2025-03-05", tests=(numbered,), loads=(load("2025-03-03", cycle, minutes="2400"),))
        assert str(said.due_on) == day, cycle


def test_loads_without_minutes_are_named_and_not_counted():
    said = clock("2025-03-10", loads=(load("2025-03-04", minutes="30"), load("2025-03-05")))
    assert "30 of 2400 minutes" in said.note and "1 load(s) without minutes" in said.note


# A day holds 1,440 minutes at most: so much may lie in a day with loads of unknown minutes. 2,400 are 40 hours.
UNKNOWN = [
    ((), "no evidence"),  # neither a counter nor a load
    ((load("2025-03-04"),), "ok"),
    ((load("2025-03-04"), load("2025-03-04")), "ok"),
    ((load("2025-03-04"), load("2025-03-05")), "no evidence"),  # 2,880 may be
    ((load("2025-03-04"), load("2025-03-05", minutes="959")), "ok"),  # 2,399 at most
    ((load("2025-03-04"), load("2025-03-05", minutes="960")), "no evidence"),
    ((load("2025-03-01"), load("2025-03-02"), load("2025-03-05", minutes="60")), "ok"),  # before the test
    ((load("2025-03-04"), *loads("2025-03-05", 5, "480")), "overdue"),  # known to be reached
]


@pytest.mark.parametrize(("run", "state"), UNKNOWN)
def test_where_nothing_tells_the_hours_there_is_no_evidence(run, state):
    said = clock("2025-03-11", loads=run)
    assert said.state == state
    assert ("hours of use are not known" in said.note) is (state == "no evidence")


def test_a_counter_that_tells_stands_for_loads_without_minutes():
    unknown = (load("2025-03-04"), load("2025-03-05"))
    two = (counter("2025-02-01", 100, counter="hours"), counter("2025-03-10", 105, counter="hours"))
    assert clock("2025-03-11", loads=unknown, counters=two).state == "ok"
    fell = (counter("2025-02-20", 100, counter="hours"), counter("2025-03-10", 5, counter="hours"))
    assert clock("2025-03-11", loads=unknown, counters=fell).state == "no evidence"
    assert "too few readings of the hours counter" in clock("2025-03-11", loads=unknown, counters=fell).note


def test_one_of_two_readings_of_the_counter_missing_permits_no_more():
    """With both 40 hours are reached; with one of them nothing tells."""
    both = (counter("2025-03-01", 10, counter="hours"), counter("2025-03-20", 400, counter="hours"))
    assert clock("2025-03-21", counters=both, loads=loads("2025-03-04", 3, "30")).state == "overdue"
    for one in both[:1], both[1:]:
        assert clock("2025-03-21", counters=one, loads=loads("2025-03-04", 3, "30")).state == "no evidence"


DAYS_READ = ("2025-02-10", "2025-03-01", "2025-03-03", "2025-03-04", "2025-03-05", "2025-03-10", "2025-03-20")


@pytest.mark.parametrize("as_of", ["2025-03-04", "2025-03-05", "2025-03-21"])
def test_neither_of_two_readings_can_be_lost_and_permit_more(as_of):
    """Every pair of days around the test, every rise, stillness and fall; 30 minutes are logged."""
    forbidding, seen = ("overdue", "no evidence"), set()
    run = loads("2025-03-04", 1, "30")
    for one, other in combinations([d for d in DAYS_READ if d <= as_of], 2):
        for low, high in ((100, 100), (100, 105), (100, 140), (100, 400), (100, 5)):
            both = (counter(one, low, counter="hours"), counter(other, high, counter="hours"))
            held = clock(as_of, counters=both, loads=run).state
            seen.add(held)
            for left in both:
                now = clock(as_of, counters=(left,), loads=run).state
                assert now in forbidding or held not in forbidding, (one, low, other, high, left.row.happened_on)
    assert {"ok", "no evidence"} <= seen if as_of != "2025-03-21" else {"ok", "overdue", "no evidence"} <= seen


def test_the_greater_use_of_counter_and_loads_counts():
    slow = (counter("2025-02-01", 0, counter="hours"), counter("2025-03-13", 10, counter="hours"))
    said = clock("2025-03-14", counters=slow, loads=loads("2025-03-04", 10, "240"))
    assert (said.state, str(said.due_on)) == ("overdue", "2025-03-13")


def test_an_hours_counter_goes_before_the_minutes_of_loads_that_show_less():
    shown = (counter("2025-02-01", 0, counter="hours"), counter("2025-03-13", 80, counter="hours"))  # 2 h a day
    said = clock("2025-03-14", counters=shown, loads=loads("2025-03-04", 9, "1"))
    assert (str(said.due_on), said.projected, said.note) == (
        "2025-03-23",  # 20 h by 13 March since the 3rd, 20 more at 2 a day
        True,
        "date projected from counter readings",
    )
    assert clock("2025-03-23", counters=shown).state == "due"
    assert clock("2025-03-24", counters=shown).state == "overdue"


def test_an_hours_counter_after_a_change_of_the_board_counts_on_with_its_offset():
    shown = (
        counter("2025-02-01", 500, counter="hours"),
        counter("2025-03-03", 560, counter="hours"),
        counter("2025-03-13", 10, 570, counter="hours"),  # 580 in all: 2 h a day
    )
    assert str(clock("2025-03-14", counters=shown).due_on) == "2025-03-23"


def test_a_counter_that_fell_without_an_offset_is_not_carried_across():
    """What ran before the fall is not known: the minutes of loads and the days are left."""
    shown = (
        counter("2025-02-01", 500, counter="hours"),
        counter("2025-03-13", 10, counter="hours"),
        counter("2025-04-20", 200, counter="hours"),
    )
    said = clock("2025-03-14", counters=shown[:2], loads=loads("2025-03-04", 10, "240"))
    assert (str(said.due_on), said.projected) == ("2025-03-13", False)


def test_the_record_of_hours_names_the_tests_that_came_late():
    tests = (LAST, bio("2025-03-16", result="pass", known="2025-03-16"), bio("2025-03-20", result="pass"))
    facts = facts_of("2025-03-25", tests=tests, loads=loads("2025-03-04", 10, "240"))
    duty = next(d for d in facts.duties() if d.every == "hours-or-days")
    said = [(str(s.end), s.result, str(s.due_on)) for s in spans(facts, duty, on("2025-03-04"), on("2025-03-25"))]
    assert said == [
        ("2025-03-16", "met late", "2025-03-13"),
        ("2025-03-20", "met", "2025-04-15"),
        ("2025-04-19", "open", "2025-04-19"),
    ]


def test_the_word_of_the_last_reading_holds_for_28_days_where_there_is_no_rate_yet():
    """Common practice, no source."""
    told = "the last reading of the hours counter is good until then: read it again"
    for last, due in (("2025-03-04", "2025-04-01"), ("2025-03-06", "2025-04-02")):
        read = tuple(counter(day, n, counter="hours") for n, day in enumerate(("2025-03-03", last), start=100))
        said = clock("2025-03-20", counters=read, loads=loads("2025-03-04", 1, "30"))
        assert (str(said.due_on), told in said.note) == (due, due == "2025-04-01")
    reached = tuple(counter(day, n, counter="hours") for day, n in (("2025-03-03", 100), ("2025-03-10", 140)))
    assert str(clock("2025-03-20", counters=reached).due_on) == "2025-03-10"


def test_minutes_run_before_the_test_are_not_counted_after_it():
    before, after = loads("2025-03-01", 2, "600"), loads("2025-03-04", 4, "600")
    assert str(clock("2025-03-20", loads=(*before, *after)).due_on) == "2025-03-07"


def test_a_load_of_the_day_of_the_test_without_minutes_is_named():
    for minutes, named in ((None, True), ("30", False)):
        said = clock("2025-03-10", loads=(load("2025-03-03", minutes=minutes, at="13:00"),))
        assert ("1 load(s) without minutes" in said.note) is named


def test_before_the_first_test_all_loads_since_the_begin_count():
    assert str(clock("2025-01-10", tests=(), loads=loads("2025-01-01", 1, "2400")).due_on) == "2025-01-01"
