"""How far back records are kept, and what is a gap in them: by kind, by unit, by the duty that asks them."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from audit.regimes import load_regime
from audit.regimes.model import Retention
from tests.fact_builders import bio, closure, document, event, gap, job, load, on, outcome, weekly

from .asking import CDC, ask, own_unit
from .test_turns import FLORIDA, RACGP, WEEKS, own_duty, replied


@pytest.mark.parametrize(("unit", "kind", "there"), [
    ("unit-1", "validation report", True), ("unit-2", "validation report", False), ("unit-1", "training", False),
])  # fmt: skip
def test_a_report_of_the_very_unit_is_kept_with_it(unit, kind, there):
    one = own_unit(bio_tests=WEEKS)
    reply = ask("kept-seven-years", one, regime=RACGP, documents=(document(kind, "2025-01-08", unit=unit),))
    assert ("validation 2025-01-08 to 2025-01-08, 1" in reply.words) is there
    assert ("no validation" in reply.words) is not there


LONG = replace(own_unit(), events=(event("2020-01-01"),))  # two years back from 30 June 2025 is 29 June 2023


@pytest.mark.parametrize(("before", "first", "answer"), [
    ("2023-05-01", "2023-07-05", "yes"),  # the time before the day from which they are asked is not counted
    ("2023-05-01", "2023-07-19", "in part"),
])  # fmt: skip
def test_a_gap_is_counted_from_the_day_from_which_records_are_asked(before, first, answer):
    tests = (bio(before, result="pass"), *weekly(first, "2025-06-25"))
    reply = ask("two-years-of-tests", replace(LONG, bio_tests=tests))
    assert reply.answer == answer
    assert "use began before" not in reply.words, "a record of before is there"


def test_where_no_record_is_from_before_it_is_said_that_use_began_before():
    reply = ask("two-years-of-tests", replace(LONG, bio_tests=weekly("2023-07-19", "2025-06-25")))
    assert "(records begin on 2023-07-19; use began before)" in reply.words


def every(days, first="2023-06-25", last="2025-06-28"):
    """A passing test each so many days."""
    found, day = [], on(first)
    while day <= on(last):
        found.append(bio(day, result="pass"))
        day += timedelta(days=days)
    return tuple(found)


@pytest.mark.parametrize(("days", "frequency", "count", "answer"), [
    (10, "rolling-days", 10, "yes"), (11, "rolling-days", 10, "in part"),
    (62, "rolling-months", 2, "yes"), (63, "rolling-months", 2, "in part"),
    (31, "", 0, "yes"), (32, "", 0, "in part"),  # nothing asks one at regular times
])  # fmt: skip
def test_the_longest_time_between_two_is_that_of_the_duty(days, frequency, count, answer):
    rules = replace(load_regime(CDC), duties=())
    own = own_duty(frequency, count) if frequency else ()
    asked = replied("two-years-of-tests", replace(LONG, bio_tests=every(days)), rules, local_duties=own)
    assert asked.answer == answer, asked.words


def test_of_two_duties_the_shorter_time_counts():
    """Each calendar week, at most 13 days between two; of its own at most 10."""
    tests = replace(LONG, bio_tests=every(11))
    assert ask("two-years-of-tests", tests).answer == "yes"
    assert ask("two-years-of-tests", tests, local_duties=own_duty("rolling-days", 10)).answer == "in part"


@pytest.mark.parametrize(("days", "answer"), [(30, "yes"), (31, "in part")])
def test_florida_s_thirty_days_are_the_longest_time_between_two(days, answer):
    """Florida Administrative Code 64B5-25.003."""
    assert ask("two-years-of-tests", replace(LONG, bio_tests=every(days)), regime=FLORIDA).answer == answer


@pytest.mark.parametrize("unit", ["", "unit-1", "unit-2"])
@pytest.mark.parametrize(("last", "fills"), [("2024-06-23", False), ("2024-06-24", True)])
def test_a_closure_of_the_unit_or_of_the_place_leaves_its_days_out(unit, last, fills):
    """From 1 June to the 25th 24 days, of which 13 are let pass and 10 or 11 were closed."""
    tests = (
        *weekly("2023-06-26", "2024-06-01"),
        bio("2024-06-01", result="pass"),
        *weekly("2024-06-25", "2025-06-25"),
    )
    shut = (closure("2024-06-14", last, unit=unit),)
    reply = ask("two-years-of-tests", replace(LONG, bio_tests=tests), closures=shut)
    assert (reply.answer == "yes") is (fills and unit != "unit-2"), reply.words


@pytest.mark.parametrize(("unit", "told"), [("", True), ("unit-1", True), ("unit-2", False)])
def test_a_known_gap_of_the_unit_or_of_the_place_is_told(unit, told):
    reply = ask(
        "two-years-of-tests", replace(LONG, bio_tests=weekly("2023-06-21", "2025-06-25")),
        gaps=(gap("2024-03-01", "2024-03-02", unit=unit),),
    )  # fmt: skip
    assert ("paper log, lost in a move" in reply.words) is told


@pytest.mark.parametrize(("id", "what"), [
    ("tests-kept", ("spore test log", "spore test log")),
    ("all-records-kept-one-and-two", ("spore test log", "cycle log")),
    ("all-records-kept-one-and-two", ("cycle log", "spore test log")),
])  # fmt: skip
@pytest.mark.parametrize("months", [(12, 24), (24, 12)])
def test_of_two_rules_the_older_day_is_asked(id, what, months):
    rules = load_regime(CDC)
    source = rules.duties[0].source
    kept = tuple(Retention(w, m, 0, "record", "", source) for w, m in zip(what, months, strict=True))
    one = replace(LONG, bio_tests=weekly("2021-06-01", "2025-06-25"), loads=(load("2025-06-02", "1"),))
    assert "asked from 2023-06-30 on" in replied(id, one, replace(rules, retention=kept)).words


@pytest.mark.parametrize(("last", "answer"), [("2024-09-30", "yes"), ("2024-10-01", "in part")])
def test_fifteen_months_between_two_services_are_let_pass(last, answer):
    """From 30 June 2023 on, as two years are asked; common practice, no source."""
    jobs = tuple(job(day, outcomes=(outcome(day),)) for day in ("2023-06-30", last))
    reply = ask("maintenance-kept-two-years", replace(LONG, jobs=jobs))
    assert reply.answer == answer, reply.words
