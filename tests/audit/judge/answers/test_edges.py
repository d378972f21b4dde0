"""The days on which an answer turns: last valid days are inclusive, and so is the day so many months ago."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.facts import LocalDutyFact
from audit.judge.answers.service import _calibrated
from tests.fact_builders import (
    bio,
    calibration,
    clinic,
    counter,
    credential,
    document,
    gap,
    instrument,
    job,
    line,
    load,
    lot,
    measured,
    on,
    outcome,
    position,
    row,
    user_check,
    weekly,
)

from .asking import BEGIN, ask, own_unit, place_of

HTM, OREGON = "gb-eng-dental-htm0105", "us-or-dental"
WORKED = job("2025-03-01", outcomes=(outcome("2025-03-01"),), readings=(measured("2025-03-01"),))
GOOD = {"mechanical": "pass", "chemical": "pass"}


@pytest.mark.parametrize(("last", "answer"), [("2025-03-01", "yes"), ("2025-02-28", "no")])
def test_a_credential_holds_on_its_last_day(last, answer):
    held = credential(BEGIN, last, person="A. Technician", holder="service company")
    assert ask("technician-qualified", own_unit(jobs=(WORKED,)), credentials=(held,)).answer == answer


@pytest.mark.parametrize(("first", "answer"), [("2025-03-01", "yes"), ("2025-03-02", "no")])
def test_a_credential_holds_from_its_first_day(first, answer):
    held = credential(first, person="A. Technician", holder="service company", day=BEGIN)
    assert ask("technician-qualified", own_unit(jobs=(WORKED,)), credentials=(held,)).answer == answer


@pytest.mark.parametrize(("until", "answer"), [("2025-03-01", "yes"), ("2025-02-28", "no")])
def test_a_calibration_holds_on_its_last_day(until, answer):
    own = instrument(calibration(BEGIN, until=until))
    assert ask("instruments-in-calibration", own_unit(jobs=(WORKED,)), instruments=(own,)).answer == answer


@pytest.mark.parametrize(("copied", "answer"), [("2025-03-01", "yes"), ("2025-02-28", "no")])
def test_the_day_copied_onto_a_measurement_counts_too(copied, answer):
    own = replace(WORKED, readings=(measured("2025-03-01", calibrated=copied),))
    assert ask("instruments-in-calibration", own_unit(jobs=(own,))).answer == answer


@pytest.mark.parametrize(
    ("found_until", "left_until", "answer", "yearly"),
    [
        ("2025-03-01", "2025-03-01", "yes", True),
        ("2025-03-01", "2025-02-28", "no", False),
        ("2025-02-28", "2025-03-01", "no", True),  # as left alone shows how it was left
    ],
)
def test_each_instrument_of_a_pair_is_to_be_in_calibration(found_until, left_until, answer, yearly):
    pair = replace(
        measured("2025-03-01", found="134.1", calibrated=found_until),
        instrument_left="gauge G2", calibration_due_left=on(left_until),
    )  # fmt: skip
    own = replace(WORKED, readings=(pair,))
    said = ask("instruments-in-calibration", own_unit(jobs=(own,)))
    assert said.answer == answer and (answer == "yes" or said.words.startswith("0 of 1 measurement"))
    assert _calibrated(pair, {}) is yearly


def test_an_instrument_on_record_that_was_never_calibrated_is_not_in_calibration():
    assert ask("instruments-in-calibration", own_unit(jobs=(WORKED,)), instruments=(instrument(),)).answer == "no"


@pytest.mark.parametrize(("last", "answer"), [("2025-06-30", "yes"), ("2025-06-29", "no")])
def test_a_paper_holds_on_its_last_day(last, answer):
    paper = document("pressure examination", "2025-01-01", last, unit="unit-1")
    assert ask("pressure-examined", own_unit(), regime=HTM, documents=(paper,)).answer == answer


# At most 14 months old: Care Quality Commission, dental mythbuster 12 (PSSR 2000).
@pytest.mark.parametrize(("first", "answer"), [("2024-04-30", "yes"), ("2024-04-29", "in part")])
def test_a_paper_is_old_enough_on_the_very_day(first, answer):
    paper = document("pressure examination", first, unit="unit-1")
    assert ask("pressure-examined", own_unit(), regime=HTM, documents=(paper,)).answer == answer


@pytest.mark.parametrize(("begun", "answer"), [("2024-06-30", "yes"), ("2024-06-29", "no")])
def test_training_is_yearly_to_the_day(begun, answer):
    one = own_unit(checks=(user_check("2025-06-02"),))
    assert ask("people-trained", one, credentials=(credential(begun),)).answer == answer


@pytest.mark.parametrize(("expiry", "answer"), [("2025-06-02", "yes"), ("2025-06-01", "no")])
def test_an_indicator_is_in_date_on_its_last_day(expiry, answer):
    test = bio("2025-06-02", result="pass", lot_=lot(expiry=expiry))
    assert ask("spore-test-lot-in-date", own_unit(bio_tests=(test,)), regime="us-ca-body-art").answer == answer


@pytest.mark.parametrize(("day", "answer"), [("2024-06-30", "yes"), ("2024-06-29", "no record found")])
def test_loads_of_the_day_a_year_ago_are_counted(day, answer):
    counters = (counter(BEGIN, 0), counter(day, 1), counter("2025-06-30", 1))
    one = own_unit(loads=(load(day, "1", **GOOD),), counters=counters)
    assert ask("mechanical-each-load", one).answer == answer


@pytest.mark.parametrize(("day", "answer"), [("2024-06-30", "yes"), ("2024-06-29", "no")])
def test_servicing_is_yearly_to_the_day(day, answer):
    own = job(day, outcomes=(outcome(day),), readings=(measured(day),))
    one = own_unit(jobs=(own,), plan=(line(months=6),), positions=(position(),))
    assert ask("serviced-yearly", one, regime="au-racgp-2023").answer == answer


# At most 100 cycles a day, and both days count: common practice, no source.
@pytest.mark.parametrize(("number", "said"), [("201", "199 missing between them"), ("202", "does not run on")])
def test_a_leap_in_cycle_numbers_is_missing_cycles_as_far_as_they_can_have_been_run(number, said):
    own = own_unit(loads=(load("2025-06-02", "1"), load("2025-06-03", number)))
    reply = ask("cycle-numbers", own)
    assert reply.answer == "in part" and said in reply.words


# A test in each week with patients: 13 days between two at most.
@pytest.mark.parametrize(("first", "answer"), [("2024-01-13", "yes"), ("2024-01-14", "in part")])
def test_the_record_begins_with_the_use_as_the_duty_asks(first, answer):
    tests = weekly(first, "2025-06-23")
    assert ask("tests-kept-calendar-years", own_unit(bio_tests=tests), regime=OREGON).answer == answer


@pytest.mark.parametrize(("last", "answer"), [("2023-06-30", "in part"), ("2023-06-29", "yes")])
def test_a_known_gap_counts_only_where_the_record_is_still_asked(last, answer):
    # Two years back from 30 June 2025; a unit in use since long before.
    own = replace(own_unit(), events=(replace(own_unit().events[0], row=weekly("2020-01-01", "2020-01-01")[0].row),))
    own = replace(own, bio_tests=weekly("2020-01-01", "2025-06-23"), gaps=(gap("2023-06-01", last),))
    assert ask("two-years-of-tests", own).answer == answer


@pytest.mark.parametrize(
    ("id", "subject", "every"),
    [
        ("biological-test", "biological", "calendar-week"),  # of the rules
        ("biological-test-own", "biological", "day-of-use"),  # of the clinic's own, beside it
        ("water-check-own", "water", ""),  # not set by this clinic
    ],
)
def test_a_duty_of_its_own_is_counted_for_itself_beside_that_of_the_rules(id, subject, every):
    own = LocalDutyFact(row(BEGIN), on(BEGIN), "biological-test", "day-of-use", 1, "invented")
    asked = place_of(clinic(own_unit(), local_duties=(own,)))
    assert (asked.subject(id), asked.every(id)) == (subject, every)
