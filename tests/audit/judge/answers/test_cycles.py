"""How many cycles of a unit are logged: by its counter, by the numbers, and the days of which nothing tells.

Common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import pytest

from audit.facts import in_order, unit_by_day
from audit.judge.answers.asked import Reply
from audit.judge.answers.cycles import CyclesRun, breaks_in, cycles_run, measured, plain, unlogged_inside
from tests.fact_builders import air, bio, counter, event, leak, load, on, unit

FIRST, LAST = on("2025-03-01"), on("2025-03-20")


def held(*, begun="2025-03-01", **facts):
    return unit_by_day(unit("2024-01-01", events=(event(begun),), **facts), LAST)


def numbered(*told):
    """Loads, each (day of March 2025, cycle number)."""
    return tuple(load(f"2025-03-{day:02}", number) for day, number in told)


def read(*told):
    return tuple(counter(f"2025-03-{day:02}" if day > 0 else "2025-02-19", shown) for day, shown in told)


def run(**facts):
    """(logged, missing, by what it is shown, days of March of which nothing tells)."""
    found = cycles_run(held(**facts), FIRST, LAST)
    return found.logged, found.missing, found.shown_by, [(a.day, b.day) for a, b in found.unknown]


NUMBERS, COUNTER = "the cycle numbers", "the cycle counter"
RUNS = [
    ({}, (0, 0, "", [(1, 20)])),
    ({"loads": numbered((1, "1"))}, (1, 0, "", [(1, 20)])),
    ({"loads": numbered((1, "1"), (20, "2"))}, (2, 0, NUMBERS, [])),
    ({"loads": numbered((1, "1"), (20, "4"))}, (2, 2, NUMBERS, [])),
    # without a number: a cycle all the same, which may be the one that is missing
    ({"loads": numbered((1, "1"), (5, ""), (20, "4"))}, (3, 1, NUMBERS, [(5, 5)])),
    ({"loads": numbered((1, "1"), (20, "4")), "bio_tests": (bio("2025-03-05"),)}, (3, 1, NUMBERS, [])),
    ({"loads": numbered((1, "1"), (20, "4")), "air_removal": (air("2025-03-05"),)}, (3, 1, NUMBERS, [])),
    # on the very day of the number before or after it, and of a leak test; one cycle fills one gap
    ({"loads": numbered((1, "1"), (20, "4")), "air_removal": (air("2025-03-01"),)}, (3, 1, NUMBERS, [])),
    ({"loads": numbered((1, "1"), (20, "4")), "air_removal": (air("2025-03-20"),)}, (3, 1, NUMBERS, [])),
    ({"loads": numbered((1, "1"), (20, "4")), "leaks": (leak("2025-03-01"), leak("2025-03-20"))},
     (4, 0, NUMBERS, [])),
    ({"loads": numbered((1, "1"), (10, "3"), (20, "5")), "bio_tests": (bio("2025-03-05"), bio("2025-03-06"))},
     (5, 1, NUMBERS, [])),
    # the number of a day before the period: what runs on from it covers its first day, what falls breaks there
    ({"loads": (load("2025-02-19", "1"), load("2025-03-01", "2"))}, (1, 0, NUMBERS, [])),
    ({"loads": (load("2025-02-19", "7"), *numbered((1, "1"), (20, "2")))}, (2, 0, NUMBERS, [(1, 1)])),
    # days without a plain number that touch are one span
    ({"loads": numbered((1, "A1"), (2, "A2"), (3, "1"), (20, "2"))}, (4, 0, NUMBERS, [(1, 2)])),
    ({"loads": numbered((1, "A1"), (2, "1"), (3, "A2"), (20, "2"))}, (4, 0, NUMBERS, [(1, 1), (3, 3)])),
    # over what breaks the numbers the counter tells only where it was read on both sides
    ({"loads": numbered((1, "7"), (10, "8"), (20, "1")), "counters": read((10, 100), (20, 101))},
     (3, 0, f"{COUNTER} and {NUMBERS}", [])),
    ({"loads": numbered((1, "7"), (10, "8"), (20, "1")), "counters": read((11, 100), (20, 101))},
     (3, 0, f"{COUNTER} and {NUMBERS}", [(10, 20)])),
    ({"loads": numbered((1, "7"), (10, "8"), (20, "1")), "counters": read((10, 100), (19, 100))},
     (3, 0, f"{COUNTER} and {NUMBERS}", [(10, 20)])),
    # one that is no plain number: that day is not known, the first of the period too; with the counter over it it is
    ({"loads": numbered((1, "A1"), (2, "1"), (20, "2"))}, (3, 0, NUMBERS, [(1, 1)])),
    ({"loads": numbered((2, "A1"), (20, "2")), "counters": read((1, 100), (20, 102))}, (2, 0, COUNTER, [])),
    # a number repeated, or one that falls back, breaks the count
    ({"loads": numbered((1, "7"), (10, "8"), (11, "1"), (20, "2"))}, (4, 0, NUMBERS, [(10, 11)])),
    ({"loads": numbered((1, "7"), (10, "8"), (20, "1"))}, (3, 0, NUMBERS, [(10, 20)])),
    ({"loads": numbered((1, "7"), (2, "1"), (20, "2"))}, (3, 0, NUMBERS, [(1, 2)])),
    # at most a hundred cycles a day, both days counted
    ({"loads": numbered((1, "1"), (2, "201"))}, (2, 199, NUMBERS, [])),
    ({"loads": numbered((1, "1"), (2, "202"))}, (2, 0, "", [(1, 20)])),
    # the counter
    ({"counters": read((1, 100), (20, 103))}, (0, 3, COUNTER, [])),
    ({"counters": read((1, 100), (20, 103)), "loads": numbered((5, ""), (6, ""))}, (2, 1, COUNTER, [])),
    ({"counters": read((1, 100), (20, 100)), "loads": numbered((5, ""), (6, ""))}, (2, 0, COUNTER, [])),
    ({"counters": read((20, 103)), "loads": numbered((5, ""))}, (1, 0, "", [(1, 20)])),
    # one reading before the period: of what ran since, the part of its days
    ({"counters": read((0, 100), (9, 118))}, (0, 9, COUNTER, [])),
    ({"counters": read((0, 100), (9, 118), (20, 120))}, (0, 11, COUNTER, [])),
    ({"counters": read((0, 100), (9, 100))}, (0, 0, COUNTER, [])),
    ({"counters": read((0, 100), (9, 118)), "loads": numbered((5, ""), (6, ""))}, (2, 8, COUNTER, [])),
    ({"counters": read((0, 100), (1, 5), (20, 8))}, (0, 3, COUNTER, [(1, 1)])),
    # it fell without an offset: what ran then is not known
    ({"counters": read((1, 100), (10, 5), (20, 8))}, (0, 3, COUNTER, [(9, 10)])),
    # of a stretch with more logged than the counter rose nothing is taken from the next
    ({"counters": read((1, 100), (10, 100), (20, 105)), "loads": numbered((5, ""), (6, ""))}, (2, 3, COUNTER, [])),
    # both tell, the greater number counts; where they tell the same both are named
    ({"counters": read((1, 100), (20, 105)), "loads": numbered((1, "1"), (20, "4"))}, (2, 4, COUNTER, [])),
    ({"counters": read((1, 100), (20, 102)), "loads": numbered((1, "1"), (20, "4"))}, (2, 2, NUMBERS, [])),
    ({"counters": read((1, 100), (20, 103)), "loads": numbered((1, "1"), (20, "4"))},
     (2, 2, f"{COUNTER} and {NUMBERS}", [])),
]  # fmt: skip


@pytest.mark.parametrize(("facts", "said"), RUNS)
def test_how_many_cycles_of_a_period_are_logged(facts, said):
    assert run(**facts) == said


MORE = [
    # of several readings before the period the newest counts, and of what ran since it the part of the period
    (("2025-02-01", 40), ("2025-02-19", 100), ("2025-03-09", 118), 9),
    (("2025-02-01", 100), ("2025-02-19", 100), ("2025-03-09", 118), 9),
    (("2025-02-19", 100), ("2025-03-01", 110), ("2025-03-09", 118), 9),  # one of ten days before, and eight after
]


@pytest.mark.parametrize(("one", "two", "three", "missing"), MORE)
def test_the_newest_reading_before_the_period_counts(one, two, three, missing):
    facts = held(counters=tuple(counter(day, shown) for day, shown in (one, two, three)), begun="2025-01-01")
    assert cycles_run(facts, FIRST, LAST).missing == missing


@pytest.mark.parametrize(("first", "missing"), [("2025-02-27", 12), ("2025-02-28", 12), ("2025-03-01", 9)])
def test_numbers_missing_across_the_first_day_are_spread_over_their_days(first, missing):
    """Twelve are missing from 27 February to 3 March, four days, each with three; the first day is exclusive."""
    loads = (load("2025-02-27", "1"), load("2025-03-03", "14"), load("2025-03-20", "15"))
    found = cycles_run(held(loads=loads, begun="2025-01-01"), on(first), LAST)
    assert found.missing == missing


UNTOLD = [
    # a period of 20 days before and after what tells: at most 31 days are let pass
    ("2025-01-01", ("2025-02-01", "2025-03-20"), []),
    ("2025-01-01", ("2025-02-02", "2025-03-20"), [("2025-01-01", "2025-02-01")]),
    ("2025-01-01", ("2025-01-10", "2025-02-17"), []),
    ("2025-01-01", ("2025-01-10", "2025-02-16"), [("2025-02-17", "2025-03-20")]),
]


@pytest.mark.parametrize(("begun", "read_on", "untold"), UNTOLD)
def test_a_month_without_evidence_is_let_pass(begun, read_on, untold):
    facts = held(begun=begun, counters=tuple(counter(day, 100) for day in read_on))
    found = cycles_run(facts, on("2025-01-01"), LAST).unknown
    assert [(str(a), str(b)) for a, b in found] == untold


@pytest.mark.parametrize(
    ("begins", "untold"), [("2025-02-01", []), ("2025-03-01", []), ("2025-03-02", [(1, 1)]), ("2025-03-05", [(1, 4)])]
)
def test_use_before_the_record_is_not_known(begins, untold):
    facts = unit_by_day(unit(begins, events=(), counters=read((5, 1), (20, 1))), LAST)
    assert [(a.day, b.day) for a, b in cycles_run(facts, FIRST, LAST).unknown] == untold


@pytest.mark.parametrize(("begun", "untold"), [("2025-01-01", []), ("2025-03-20", [(20, 20)])])
def test_what_lies_before_the_period_or_before_use_is_not_asked_about(begun, untold):
    read_since = read((1, 1), (20, 1)) if not untold else ()
    found = cycles_run(held(begun=begun, counters=read_since), FIRST, LAST)
    assert [(a.day, b.day) for a, b in found.unknown] == untold


def test_of_a_time_out_of_use_nothing_need_be_told():
    events = (event("2024-12-01"), event("2024-12-15", "withdrawn"), event("2025-02-15", "returned"))
    facts = held(counters=(counter("2025-02-15", 1), counter("2025-03-20", 1)))
    assert cycles_run(replace(facts, events=in_order(events)), on("2025-01-01"), LAST).unknown == ()


def test_a_counter_that_fell_before_the_period_breaks_nothing_in_it():
    shown = (("2025-02-01", 100), ("2025-02-10", 5), ("2025-02-19", 7), ("2025-03-20", 7))
    facts = held(begun="2025-01-01", counters=tuple(counter(day, n) for day, n in shown))
    assert cycles_run(facts, FIRST, LAST).unknown == ()


def test_numbers_that_run_on_cover_the_time_up_to_the_last_of_them():
    loads = (load("2025-01-10", "1"), load("2025-01-12", "2"), load("2025-03-20", "3"))
    assert cycles_run(held(begun="2025-01-01", loads=loads), on("2025-01-01"), LAST).unknown == ()


def test_in_words():
    found = cycles_run(held(loads=numbered((1, "1"), (10, "4"), (20, "1"))), FIRST, LAST)
    assert found.words == (
        "3 of about 5 cycles logged, by the cycle numbers; how many cycles ran is not known for "
        "2025-03-10 to 2025-03-20."
    )
    assert found.gap == "about 2 cycles that are not logged; readings of the cycle counter, or cycle numbers"
    whole = cycles_run(held(loads=numbered((1, "1"), (20, "2"))), FIRST, LAST)
    assert (whole.words, whole.gap, whole.complete) == (
        "2 cycles logged; none is missing by the cycle numbers.", "", True,
    )  # fmt: skip
    assert not found.complete and cycles_run(held(), FIRST, LAST).words.startswith("0 cycles logged; how many")


# What an answer about each load becomes beside the cycles that ran: (answer, missing, days not known) -> answer, gap.
MEASURED = [
    ("yes", 0, False, "yes", "the gap"),
    ("yes", 2, False, "in part", "about 2 cycles that are not logged; the gap"),
    ("yes", 0, True, "in part", "readings of the cycle counter, or cycle numbers; the gap"),
    ("in part", 2, False, "in part", "about 2 cycles that are not logged; the gap"),
    ("no", 0, False, "no", "the gap"),
    (
        "no",
        2,
        True,
        "no",
        "about 2 cycles that are not logged; readings of the cycle counter, or cycle numbers; the gap",
    ),
    ("no record found", 2, False, "no record found", "about 2 cycles that are not logged; the gap"),
]


@pytest.mark.parametrize(("answer", "missing", "unknown", "becomes", "gap"), MEASURED)
def test_an_answer_about_each_load_is_measured_against_the_cycles_that_ran(answer, missing, unknown, becomes, gap):
    known = ((FIRST, FIRST),) if unknown else ()
    ran = CyclesRun(FIRST, LAST, 8, missing, NUMBERS, known)
    told = measured(*asked_with(ran), 12, Reply(answer, "Eight were good.", (), "the gap"))
    assert (told.answer, told.gap) == (becomes, gap)
    assert told.words == f"Eight were good. {ran.words}" and ran.words.startswith("8 ")


def test_of_no_load_and_no_cycle_nothing_more_is_said():
    none = Reply("no record found", "No load.", (), "the gap")
    for known in ((), ((FIRST, LAST),)):
        assert measured(*asked_with(CyclesRun(FIRST, LAST, 0, 0, "", known)), 12, none) is none


def asked_with(ran):
    """(place, view) of which these cycles are known."""
    place = SimpleNamespace(since=lambda months: FIRST, as_of=LAST)
    return place, SimpleNamespace(once=lambda key, make: ran)


INSIDE = [
    # what was read or numbered between 5 and 15 March, both exclusive: cycles not logged
    ({"counters": read((6, 100), (14, 105))}, 5),
    ({"counters": read((6, 100), (10, 102), (14, 105))}, 5),
    ({"loads": numbered((5, ""), (6, "1"), (14, "4"))}, 2),  # a cycle of the day before fills no gap
    ({"loads": numbered((6, "1"), (15, ""), (14, "4"))}, 2),  # nor one of the day after
    ({"counters": read((5, 100), (14, 105))}, 0),
    ({"counters": read((6, 100), (15, 105))}, 0),
    ({"counters": read((6, 100), (14, 105)), "loads": numbered((10, ""))}, 4),
    ({"counters": read((6, 100), (14, 105)), "loads": numbered((4, ""), (16, ""))}, 5),
    ({"loads": numbered((6, "1"), (14, "4"))}, 2),
    ({"loads": numbered((5, "1"), (14, "4"))}, 0),
    ({"loads": numbered((6, "1"), (15, "4"))}, 0),
    ({"loads": numbered((6, "1"), (10, ""), (14, "4"))}, 1),
    ({"loads": numbered((6, "9"), (14, "4"))}, 0),
    ({"counters": read((6, 100), (14, 105)), "loads": numbered((6, "1"), (14, "4"))}, 4),
    ({}, 0),
]


@pytest.mark.parametrize(("facts", "missing"), INSIDE)
def test_what_ran_between_two_days_and_is_not_logged(facts, missing):
    assert unlogged_inside(held(**facts), on("2025-03-05"), on("2025-03-15")) == missing


def test_between_two_days_that_follow_each_other_nothing_ran():
    facts = held(counters=read((5, 100), (6, 105)))
    assert unlogged_inside(facts, on("2025-03-05"), on("2025-03-06")) == 0
    assert unlogged_inside(facts, on("2025-03-05"), on("2025-03-05")) == 0


@pytest.mark.parametrize(
    ("text", "is_one"),
    [("7", True), ("007", True), ("", False), ("7a", False), ("-7", False), ("७", False), ("1" * 9, True),
     ("1" * 10, False)],
)  # fmt: skip
def test_what_is_a_plain_number(text, is_one):
    assert plain(text) is is_one


def test_what_does_not_follow():
    rows = [(on("2025-03-01"), n) for n in (1, 2, 2, 5, 4)]
    assert [(a[1], b[1]) for a, b in breaks_in(pairwise(rows))] == [(2, 2), (5, 4)]
