"""Due by a counter of cycles or hours: changes of the board, slips, the present rate. Common practice, no source."""

import pytest

from audit.judge.clocks.counters import counter_of
from audit.judge.clocks.plan import plan_clocks
from tests.fact_builders import counter, event, fit, job, line, on, part, position, unit

TABLE = [
    # limit, (day, shown, offset)..., due, projected; counting from the installation on 10 January 2024
    # a new board on 1 February counts from nought; 220 cycles had run by then: 10 a day on and on
    (1000, [("2024-01-10", 0, 0), ("2024-02-01", 0, 220), ("2024-02-19", 180, 220)], "2024-04-19", True),
    # two changes of the board
    (1000, [("2024-01-10", 0, 0), ("2024-02-09", 0, 300), ("2024-02-19", 0, 400)], "2024-04-19", True),
    # the rate is the present one: 10 a day at first, 1 a day from 19 February on; 572 left on 18 March
    (1000, [("2024-01-10", 0, 0), ("2024-02-19", 400, 0), ("2024-03-18", 428, 0)], "2025-10-11", True),
    # of two pairs far enough apart the newest counts: 20 a day since 1 April, 370 left on 29 April
    (1000, [("2024-01-10", 0, 0), ("2024-04-01", 70, 0), ("2024-04-29", 630, 0)], "2024-05-18", True),
    # read between: 600 of 1,000 on 10 April, 1,200 on 10 June, spread evenly: 1,000 on the 41st of 61 days
    (1000, [("2024-01-10", 0, 0), ("2024-04-10", 600, 0), ("2024-06-10", 1200, 0)], "2024-05-21", True),
    # read on the very day
    (1000, [("2024-01-10", 0, 0), ("2024-04-10", 1000, 0), ("2024-06-10", 1200, 0)], "2024-04-10", False),
    # a slip, lower than both its neighbours, is passed over
    (1000, [("2024-01-10", 9, 0), ("2024-02-05", 2, 0), ("2024-02-19", 409, 0)], "2024-04-19", True),
    # also where nothing ran since; 10 a day since 19 February, 490 left on 10 April
    (1000, [("2024-01-10", 40, 0), ("2024-02-05", 2, 0), ("2024-02-19", 40, 0), ("2024-04-10", 550, 0)],
     "2024-05-29", True),
    # it fell and stayed lower without an offset: not known
    (1000, [("2024-01-10", 500, 0), ("2024-02-01", 10, 0), ("2024-03-10", 300, 0)], None, False),
    # a third of a cycle a day is a whole cycle every third day, not a day later
    (10, [("2024-01-10", 0, 0), ("2024-02-09", 10, 0)], "2024-02-09", False),
    (11, [("2024-01-10", 0, 0), ("2024-02-09", 10, 0)], "2024-02-12", True),
]  # fmt: skip


@pytest.mark.parametrize("name", ["cycles", "hours"])
@pytest.mark.parametrize(("limit", "shown", "due", "projected"), TABLE)
def test_the_day_a_number_is_reached(name, limit, shown, due, projected):
    counters = tuple(counter(*reading, name) for reading in shown)
    other = tuple(counter(day, 7, counter="hours" if name == "cycles" else "cycles") for day, _, _ in shown)
    facts = unit(
        plan=(line(months=None, **{name: limit}),),
        fits=(fit(),),
        events=(event("2024-01-10"),),
        positions=(position(),),
        counters=counters + other,
    )
    clock = plan_clocks(facts, on("2024-07-01"))[0]
    assert (clock.due_on and str(clock.due_on), clock.projected) == (due, projected)


def test_a_fall_without_an_offset_is_named():
    counters = (counter("2024-01-10", 500), counter("2024-02-01", 10), counter("2024-03-10", 300))
    facts = unit(
        plan=(line(months=24, cycles=1000),), fits=(fit(),), events=(event("2024-01-10"),), counters=counters
    )
    clock = plan_clocks(facts, on("2024-03-15"))[0]
    assert "the counter fell on 2024-02-01 without an offset" in clock.note
    assert str(clock.due_on) == "2026-01-10"


def test_work_done_after_the_fall_counts_on_from_the_readings_after_it():
    counters = (counter("2024-01-10", 500), counter("2024-02-01", 0), counter("2024-03-12", 400))  # 10 a day
    done = job("2024-02-11", parts=(part("2024-02-11"),))
    facts = unit(
        plan=(line(months=None, cycles=1000),),
        fits=(fit(),),
        events=(event("2024-01-10"),),
        counters=counters,
        jobs=(done,),
    )
    assert str(plan_clocks(facts, on("2024-03-15"))[0].due_on) == "2024-05-21"  # 100 by 11 February, 1,100


def test_totals_between_and_beyond_the_readings():
    held = counter_of(unit(counters=(counter("2024-01-10", 100), counter("2024-02-09", 400))), "cycles")
    said = [held.total_on(on(day)) for day in ("2024-01-05", "2024-01-10", "2024-01-11", "2024-02-09", "2024-02-10")]
    assert said == [50, 100, 110, 400, 410]
    assert held.total_on(on("2023-01-01")) == 0  # never below nought
    assert counter_of(unit(), "cycles") is None


def test_further_days_are_judged_from_what_was_kept():
    facts = unit(plan=(line(),), fits=(fit(),), events=(event("2024-01-10"),))
    held = {}

    def once(key, make):
        return held[key] if key in held else held.setdefault(key, make())

    for day in ("2025-06-01", "2026-01-10", "2026-01-11", "2025-06-01"):
        assert plan_clocks(facts, on(day), once) == plan_clocks(facts, on(day))


# ------------------------------------------------------------------------------------------------ a counter by itself


def made(*told, name="cycles", to="2099-01-01"):
    """The counter of these readings, each (day, total)."""
    return counter_of(unit(counters=tuple(counter(day, shown) for day, shown in told)), name, on(to))


TEN_A_DAY = (("2025-03-11", 100), ("2025-04-10", 400))


@pytest.mark.parametrize(
    ("base", "limit", "reached"),
    [
        ("2025-03-01", 50, ("2025-03-06", True)),  # carried back: 0 on the first of March
        ("2025-03-01", 100, ("2025-03-11", False)),
        ("2025-03-16", 20, ("2025-03-18", True)),
        ("2025-03-11", 300, ("2025-04-10", False)),
        ("2025-03-11", 301, None),
        ("2025-04-11", 1, None),
    ],
)
def test_the_day_on_which_so_much_had_run(base, limit, reached):
    found = made(*TEN_A_DAY).reached_on(on(base), limit)
    assert (found and (str(found[0]), found[1])) == reached


def test_before_the_first_reading_it_is_spread_up_to_that_one():
    faster = made(*TEN_A_DAY, ("2025-04-20", 600))
    assert str(faster.reached_on(on("2025-03-01"), 50)[0]) == "2025-03-06"


def test_what_is_known_not_to_be_reached():
    shown = made(*TEN_A_DAY)
    assert shown.shows_less(on("2025-03-11"), 301) and not shown.shows_less(on("2025-03-11"), 300)
    assert not made(("2025-03-11", 100)).shows_less(on("2025-03-01"), 1000), "the total of that day is not known"


def test_a_hundred_years_ahead_nothing_is_projected():
    one_a_day = made(("2024-01-01", 0), ("2024-01-29", 28))
    base = on("2024-01-01")
    assert one_a_day.due_on(base, 28 + 36500) is not None and one_a_day.due_on(base, 28 + 36501) is None


def test_readings_up_to_the_day_itself_are_read_since_the_last_fall():
    assert made(*TEN_A_DAY, to="2025-04-10").days == (on("2025-03-11"), on("2025-04-10"))
    assert made(*TEN_A_DAY, to="2025-04-09").days == (on("2025-03-11"),)
    assert made(*TEN_A_DAY, to="2025-03-10") is made(*TEN_A_DAY, name="hours") is None
    days = tuple(f"2025-03-0{n}" for n in range(1, 6))
    fallen = made(*zip(days, (100, 10, 20, 5, 15), strict=True))
    assert (fallen.fell_on, fallen.totals) == (on("2025-03-04"), (5, 15))
    assert fallen.total_on(on("2025-03-03")) is None


# Read on 1 January, 1 February (31 more) and 11 February (100 in all): 100 in 41 days between the first and the last.
TOTALS = [
    ("2023-12-22", 0), ("2024-01-01", 0), ("2024-01-11", 10), ("2024-02-01", 31), ("2024-02-06", 65.5),
    ("2024-02-11", 100), ("2024-03-23", 200),
]  # fmt: skip


@pytest.mark.parametrize(("day", "total"), TOTALS)
def test_the_total_of_a_day_is_read_spread_or_carried_on_from_the_last(day, total):
    shown = (("2024-01-01", 0), ("2024-02-01", 31), ("2024-02-11", 100))
    held = counter_of(unit(counters=tuple(counter(*reading) for reading in shown)), "cycles")
    assert held.total_on(on(day)) == total


def test_what_was_read_on_the_very_day_is_no_estimate_and_one_more_is_not_reached():
    shown = (("2024-01-01", 0), ("2024-02-01", 31), ("2024-02-11", 31), ("2024-03-11", 60))
    held = counter_of(unit(counters=tuple(counter(*reading) for reading in shown)), "cycles")
    assert held.reached_on(on("2024-01-01"), 31) == (on("2024-02-01"), False)
    assert held.reached_on(on("2024-02-11"), 29) == (on("2024-03-11"), False)
    assert held.reached_on(on("2024-02-11"), 30) is None
    assert held.shows_less(on("2024-02-11"), 30) and not held.shows_less(on("2024-02-11"), 29)
