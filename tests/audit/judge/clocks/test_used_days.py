"""Tests of each day of use, and of each cycle type used: what is owed, from which day, and what is said of today.

Common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.judge.clocks.used_days import BY_TYPE, implant_clock, implant_spans, last_owed, not_done_today, spans
from audit.judge.clocks.used_days import clock as due
from audit.judge.clocks.uses import uses_of
from tests.audit.judge.clock_stories import a_duty
from tests.fact_builders import air, bio, load, on, placed

from .test_events import facts_of, rules

DAY, TYPE, IMPLANT = a_duty("day-of-use"), a_duty(BY_TYPE), a_duty("each-implant-load")
RULES = rules("us-dental-cdc-2003")


def used(*told):
    """Loads, each a day of March 2025, with the cycle type after it: "12 open"."""
    made = [(text.split() + ["wrapped"])[:2] for text in told]
    return tuple(load(f"2025-03-{int(day):02}", program=program) for day, program in made)


def passed(*told):
    made = [(text.split() + ["wrapped"])[:2] for text in told]
    days = [(f"2025-03-{int(day):02}", program) for day, program in made]
    return tuple(bio(day, result="pass", known=day, cycle_type=program) for day, program in days)


def facts(loads=(), tests=(), as_of="2025-03-20", **more):
    return facts_of(as_of, RULES, loads=used(*loads), bio_tests=passed(*tests), **more)


MISSED = "no test that counts on a day of use"
NOW = "due on each day of use, before the first load; not done today"
OWED = [
    (DAY, (), (), {}, ("ok", None, "no load and no spore test is on record: days of use are not known")),
    (DAY, ("19",), ("19",), {}, ("ok", None, NOW)),
    (DAY, ("19",), ("19", "20"), {}, ("ok", None, "due on the next day of use")),
    (DAY, ("19", "20"), ("19",), {}, ("due", 20, "used today, not tested yet")),
    (DAY, ("19",), (), {}, ("overdue", 19, MISSED)),
    (DAY, ("19",), ("20",), {}, ("ok", None, "due on the next day of use")),
    # since the last one that counts, not before it
    (DAY, ("10", "12", "17", "18", "19"), ("10", "16"), {}, ("overdue", 17, MISSED)),
    (TYPE, ("19 open", "19"), ("19",), {}, ("overdue", 19, f"{MISSED}; cycle type 'open'")),
    (TYPE, ("19 open", "19"), ("19", "19 Open"), {}, ("ok", None, NOW)),
    (TYPE, ("17 open", "18 open", "19 open"), ("16 open", "18"), {}, ("overdue", 17, f"{MISSED}; cycle type 'open'")),
    (TYPE, ("17 open", "18", "19 open"), ("16 open", "18"), {}, ("overdue", 17, f"{MISSED}; cycle type 'open'")),
    (TYPE, ("20 open", "20"), ("20",), {}, ("due", 20, "used today, not tested yet; cycle type 'open'")),
]  # fmt: skip


@pytest.mark.parametrize(("duty", "loads", "tests", "more", "said"), OWED)
def test_what_is_owed_and_since_when(duty, loads, tests, more, said):
    found = due(facts(loads, tests, **more), duty)
    assert (found.state, found.due_on and found.due_on.day, found.note) == said


TODAY = [
    (DAY, (), (), True),
    (DAY, (), ("20",), False),
    (DAY, ("20 open",), ("20",), False),
    (TYPE, (), (), True),
    (TYPE, (), ("20 open",), False),
    (TYPE, ("20 open", "20"), ("20",), True),
    (TYPE, ("20 open", "20"), ("20", "20 open"), False),
    (TYPE, ("19 open", "20"), ("20",), False),
]


@pytest.mark.parametrize(("duty", "loads", "tests", "open_"), TODAY)
def test_what_is_still_to_be_done_today(duty, loads, tests, open_):
    assert not_done_today(facts(loads, tests), duty) is open_


def test_today_nothing_is_asked_of_a_unit_in_store_nor_by_another_duty():
    stored = {"placements": (placed("2024-01-08"), placed("2025-03-18", "stored as spare"))}
    assert not not_done_today(facts(**stored), DAY)
    assert not not_done_today(facts(), a_duty("calendar-week"))


LAST = [
    # days of use, tests, the last day on which one of them stood without its test
    (DAY, (), (), None),
    (DAY, ("10", "12"), (), 19),
    (DAY, ("10", "12"), ("14",), 13),
    (DAY, ("10", "12"), ("12",), 11),
    (DAY, ("11", "12"), ("12",), None),
    (DAY, ("11", "12"), ("13",), 12),
    (DAY, ("10",), ("12",), 11),
    (DAY, ("19",), (), None),
    (DAY, ("12",), ("08",), 19),
    (DAY, ("18",), (), 19),
    (TYPE, ("10 open", "10"), ("10", "14 open"), 13),
    (TYPE, ("10 open", "10"), ("10", "10 open"), None),
    (TYPE, ("10 open", "12"), ("12",), 12),
]


@pytest.mark.parametrize(("duty", "loads", "tests", "last"), LAST)
def test_the_last_day_on_which_it_was_owed(duty, loads, tests, last):
    found = last_owed(facts(loads, tests), duty, on("2025-03-01"))
    assert (found and found.day) == last


def test_each_day_of_use_with_what_became_of_it():
    def told(duty, *args, **more):
        return [
            (s.start.day, s.result, s.note)
            for s in spans(facts(*args, **more), duty, on("2025-03-01"), on("2025-03-31"))
        ]

    assert told(DAY, ("10", "12", "20"), ("10",)) == [
        (10, "met", ""), (12, "missed", "nothing that counts"), (20, "open", "not over yet"),
    ]  # fmt: skip
    assert told(TYPE, ("10 open", "10"), ("10",)) == [
        (10, "missed", "cycle type 'open': nothing that counts"), (10, "met", "cycle type 'wrapped'"),
    ]  # fmt: skip


def test_the_first_use_of_a_cycle_type():
    uses = uses_of(facts(("10", "12 open", "14 open"), ()))
    assert uses.first_of("open", on("2025-03-01")).day == 12 and uses.first_of("open", on("2025-03-13")).day == 14
    assert uses.first_of("open", on("2025-03-15")) is None and uses.first_of("flash", on("2025-03-01")) is None


@pytest.mark.parametrize(("number", "words"), [("7", "cycle 7"), ("", "cycle ?")])
def test_a_load_with_an_implant_is_named_by_its_cycle(number, words):
    held = facts_of("2025-03-20", RULES, loads=(load("2025-03-10", number, True), load("2025-03-11", "8")))
    said = implant_clock(held, IMPLANT)
    assert (said.state, said.due_on.day) == ("overdue", 10)
    assert said.note == f"{words} held an implant; no spore test of that cycle that counts"
    (span,) = implant_spans(held, IMPLANT, on("2025-03-01"), on("2025-03-31"))
    assert (span.start.day, span.result, span.note) == (10, "missed", f"{words}: nothing that counts")
    assert implant_spans(held, IMPLANT, on("2025-03-01"), on("2025-03-09")) == []


def test_the_cycle_of_an_air_removal_test_is_no_day_of_use_of_a_type():
    sheet = {"air_removal": (replace(air("2025-03-19"), cycle_number="7"),)}
    loads = (load("2025-03-18", program="open"), load("2025-03-19", "7", program="air removal"))
    held = facts_of("2025-03-20", RULES, loads=loads, **sheet)
    assert (due(held, TYPE).state, due(held, TYPE).due_on.day) == ("overdue", 18)
    assert last_owed(held, TYPE, on("2025-03-01")).day == 19


def test_a_test_run_in_store_begins_no_row_and_asks_none():
    stored = {"placements": (placed("2024-01-08"), placed("2025-03-15", "stored as spare"), placed("2025-03-18"))}
    tests = (*passed("14"), bio("2025-03-17", result="invalid", known="2025-03-17"))
    held = facts_of("2025-03-20", RULES, loads=used("19"), bio_tests=tests, **stored)
    assert due(held, DAY).due_on.day == 19
    assert [(s.start.day, s.result) for s in spans(held, DAY, on("2025-03-15"), on("2025-03-31"))] == [
        (17, "exempt"), (19, "missed"),
    ]  # fmt: skip
