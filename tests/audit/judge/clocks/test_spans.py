"""The record of a duty: what was done, each stretch with its proof, the strip of weeks, open items of missed ones."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings

from audit.judge.clocks.spans import kept, spans, unmet_spans
from audit.judge.evaluate import evaluate_unit
from audit.judge.situation import at, clinic_by_day, settle
from audit.regimes import load_regime
from audit.regimes.model import PERIODS
from tests.audit.judge.clock_stories import BASE, a_duty
from tests.examples import examples
from tests.fact_builders import air, bio, clinic, event, leak, load, on, placed, terms, unit, user_check
from tests.strategies import clinics, days

START = (event("2025-03-03"),)
CHECKS = a_duty("calendar-week", "automatic control", signed=True)


def facts_of(duty, as_of, **more):
    held = unit("2025-03-03", type="dynamic air removal", events=START, **more)
    regime = replace(BASE, duties=(duty,))
    return at(settle(held, clinic(held, regime="base"), regime, on(as_of)), on(as_of)).duty


def test_everything_done_is_told_what_does_not_count_too():
    checks = (
        user_check("2025-03-05", cycle_type="wrapped"),
        user_check("2025-03-04", signed=""),
        user_check("2025-03-06", result="not done"),
        user_check("2025-03-07", result="fail", at="08:00"),
        user_check("2025-03-07", kind="water"),
    )
    held = kept(facts_of(CHECKS, "2025-03-10", checks=checks), CHECKS)
    assert [(str(k.day), k.result) for k in held] == [
        ("2025-03-04", "invalid"),
        ("2025-03-05", "passed"),
        ("2025-03-06", "not done"),
        ("2025-03-07", "failed"),
    ]
    assert held[0].evidence.text == "automatic control of 2025-03-04: doesn't count: not signed"
    assert held[0].evidence.ref == checks[1].row.ref
    assert (held[1].cycle_type, held[1].at, held[3].at.hour) == ("wrapped", None, 8)
    some = kept(facts_of(CHECKS, "2025-03-10", checks=checks), CHECKS, on("2025-03-05"), on("2025-03-06"))
    assert [str(k.day) for k in some] == ["2025-03-05", "2025-03-06"]


def test_each_subject_tells_its_own_rows():
    more = {
        "bio_tests": (bio("2025-03-04", result="pass", chamber="full"),),
        "air_removal": (air("2025-03-04", "fail"),),
        "leaks": (leak("2025-03-04"),),
    }
    said = {
        subject: [
            (k.result, k.chamber) for k in kept(facts_of(a_duty("day-of-use", subject), "2025-03-10", **more), duty)
        ]
        for subject, duty in ((s, a_duty("day-of-use", s)) for s in ("biological", "air removal", "air leak"))
    }
    assert said == {
        "biological": [("passed", "full")],
        "air removal": [("failed", "empty")],
        "air leak": [("passed", "")],
    }


def test_weeks_with_their_proof_and_reason():
    checks = (user_check("2025-03-05"), user_check("2025-03-12", signed=""), user_check("2025-03-26"))
    facts = facts_of(CHECKS, "2025-04-02", checks=checks)
    said = spans(facts, CHECKS, on("2025-02-24"), on("2025-04-30"))
    assert [(str(s.start), s.result, [e.ref for e in s.proof]) for s in said] == [
        ("2025-02-24", "before", []),
        ("2025-03-03", "met", [checks[0].row.ref]),
        ("2025-03-10", "invalid", [checks[1].row.ref]),
        ("2025-03-17", "missed", []),
        ("2025-03-24", "met", [checks[2].row.ref]),
        ("2025-03-31", "open", []),
    ]
    assert "not signed" in said[2].note
    assert [str(s.due_on) for s in said[1:4]] == ["2025-03-09", "2025-03-16", "2025-03-23"]


def test_only_stretches_that_touch_the_period():
    facts = facts_of(CHECKS, "2025-04-02")
    found = spans(facts, CHECKS, on("2025-03-16"), on("2025-03-17"))
    assert [(str(s.start), str(s.end)) for s in found] == [("2025-03-10", "2025-03-16"), ("2025-03-17", "2025-03-23")]
    assert spans(facts, CHECKS, on("2025-05-01"), on("2025-06-01")) == []
    duty = a_duty("rolling-days", count=7)
    tests = tuple(bio(f"2025-03-{n:02}", result="pass") for n in (5, 12, 19, 29))
    found = spans(facts_of(duty, "2025-04-02", bio_tests=tests), duty, on("2025-03-12"), on("2025-03-19"))
    assert [(str(s.start), str(s.end)) for s in found] == [("2025-03-06", "2025-03-12"), ("2025-03-13", "2025-03-19")]


def test_a_late_test_says_by_how_much():
    duty = a_duty("rolling-days", count=7)
    tests = (bio("2025-03-05", result="pass"), bio("2025-03-15", result="pass"))
    late = spans(facts_of(duty, "2025-03-16", bio_tests=tests), duty, on("2025-03-03"), on("2025-03-16"))[1]
    assert (late.result, late.note, str(late.due_on)) == (
        "met late",
        "due by 2025-03-12, 3 day(s) late",
        "2025-03-12",
    )


# ------------------------------------------------------------------------------------------------ open items


def judged(as_of, regime, *, type="dynamic air removal", events=START, **more):
    held = unit("2025-03-03", type=type, events=events, **more)
    place = clinic(held, terms=(terms(regime),))
    return evaluate_unit(held, place, load_regime(regime), on(as_of))


def missed(said, rule="missed-duty"):
    return [f for f in said.findings if f.rule == rule]


def test_days_of_use_missed_in_a_row_are_one_open_item():
    days = [n for n in range(3, 29) if n % 7 not in (1, 2)]  # working days
    loads = tuple(load(f"2025-03-{n:02}") for n in days)
    tests = tuple(air(f"2025-03-{n:02}") for n in days if n not in (5, 6, 7, 10, 18))
    said = missed(judged("2025-03-28", "us-healthcare-cdc-2008", loads=loads, air_removal=tests))
    assert [(str(f.since), "(4 in a row, " in f.message, f.owner) for f in said] == [
        ("2025-03-05", True, "clinic"),
        ("2025-03-18", False, "clinic"),
    ]
    assert "nothing that counts from 2025-03-05 to 2025-03-10" in said[0].message
    assert said[0].severity == "note"


def test_each_cycle_type_of_a_day_is_told_once_in_one_row():
    loads = tuple(load("2025-03-04", program=name) for name in ("wrapped", "unwrapped"))
    said = missed(judged("2025-03-10", "ca-on-dental", loads=loads), "missed-week")
    assert len(said) == 1 and "from 2025-03-04 to 2025-03-04 (" in said[0].message


def test_weeks_missed_of_the_spore_test_keep_their_name():
    tests = (bio("2025-03-05", result="pass"), bio("2025-03-26", result="pass"))
    said = judged("2025-03-31", "us-dental-cdc-2003", bio_tests=tests)
    assert [(str(f.since), "2 in a row" in f.message) for f in missed(said, "missed-week")] == [("2025-03-10", True)]
    assert missed(said) == []
    assert [w.result for w in said.weeks] == ["passed", "missed", "missed", "passed", "open"]


def test_a_test_of_the_last_day_of_a_week_is_of_that_week():
    tests = (bio("2025-03-09", result="pass"), bio("2025-03-10", result="pass"), bio("2025-03-23", result="pass"))
    said = judged("2025-03-24", "us-dental-cdc-2003", bio_tests=tests)
    assert [len(w.tests) for w in said.weeks] == [1, 1, 1, 0]


def test_a_week_tested_on_some_days_names_the_days_without():
    loads = tuple(load(f"2025-03-{n:02}") for n in (3, 4, 5))
    tests = tuple(bio(f"2025-03-{n:02}", result="pass") for n in (3, 5))
    cell = judged("2025-03-10", "ca-on-dental", loads=loads, bio_tests=tests).weeks[0]
    assert (cell.result, cell.note) == ("passed", "2025-03-04: no test that counts on a day of use")


def test_late_tests_are_told_one_by_one_and_a_single_day_late_is_not():
    """410 IAC 1-4-8(d)(2): within 7 days; that no whole day passed without is our reading."""
    tests = tuple(bio(f"2025-03-{n:02}", result="pass") for n in (3, 11, 20, 29))
    said = missed(judged("2025-03-30", "us-in", bio_tests=tests), "missed-week")
    assert [f.message.partition(" (")[0] for f in said] == [
        "no spore test that counts from 2025-03-19 to 2025-03-20",
        "no spore test that counts from 2025-03-28 to 2025-03-29",
    ]


def test_two_cycle_types_on_two_days_are_two_days():
    loads = tuple(
        load(day, program=name) for day in ("2025-03-04", "2025-03-05") for name in ("wrapped", "unwrapped")
    )
    said = missed(judged("2025-03-10", "ca-on-dental", loads=loads), "missed-week")
    assert len(said) == 1 and "(2 in a row, " in said[0].message


def test_the_first_day_of_the_weeks_shown_is_told():
    first = judged("2027-03-01", "us-healthcare-cdc-2008").weeks[0].start
    for day, told in ((first, 1), (first - timedelta(days=1), 0)):
        assert len(missed(judged("2027-03-01", "us-healthcare-cdc-2008", loads=(load(day),)))) == told


def test_what_lies_before_the_weeks_shown_is_left_out():
    said = judged("2027-03-01", "us-healthcare-cdc-2008", loads=(load("2025-03-04"),))
    assert missed(said) == [] and len(said.weeks) == 80


def test_a_duty_that_forbids_use_forbids_when_overdue():
    """HTM 01-05 (2013) 11.12: signed before return to use."""
    more = {"loads": (load("2025-03-04"),)}
    said = judged("2025-03-05", "gb-eng-dental-htm0105", **more)
    late = {f.message.partition(":")[0]: f.severity for f in said.findings if f.rule == "duty-overdue"}
    assert set(late.values()) == {"forbids use", "put right"}
    assert said.standing.word == "Out of service"


@pytest.mark.parametrize(("as_of", "word"), [("2025-03-04", "In service"), ("2025-03-05", "In service, overdue")])
def test_the_answer_holds_to_the_day_the_day_of_use_is_missed(as_of, word):
    tests = (bio("2025-03-04", result="pass"),)
    said = judged(as_of, "us-healthcare-cdc-2008", loads=(load("2025-03-04"),), bio_tests=tests)
    assert said.standing.word == word
    if word == "In service":
        assert str(said.standing.holds_until) == "2025-03-05"


@settings(max_examples=examples(80), deadline=None, suppress_health_check=list(HealthCheck))
@given(clinics(), days)
def test_what_was_not_met_is_all_but_what_was_met(place, as_of):
    """The quick way to the stretches not met gives those of the long way."""
    own = clinic_by_day(place, as_of)
    facts = at(settle(place.units[0], own, load_regime(own.terms_on(as_of).regime).on(as_of), as_of), as_of).duty
    for duty in facts.duties():
        first = as_of - timedelta(days=200)
        every = spans(facts, duty, first, as_of)
        short = unmet_spans(facts, duty, first, as_of)
        wanted = every if duty.every not in PERIODS else [s for s in every if s.result not in ("met", "awaited")]
        assert [(s.start, s.end, s.result, s.note, s.proof) for s in short] == [
            (s.start, s.end, s.result, s.note, s.proof) for s in wanted
        ]


@pytest.mark.parametrize(
    ("as_of", "result"), [("2025-03-15", "open"), ("2025-03-16", "open"), ("2025-03-17", "missed")]
)
def test_a_week_is_not_over_before_the_end_of_its_last_day(as_of, result):
    """The second week of use, Monday 10 to Sunday 16 March, with nothing done in it."""
    facts = facts_of(CHECKS, as_of, checks=(user_check("2025-03-04"),))
    (week,) = [s for s in spans(facts, CHECKS, on("2025-03-10"), on("2025-03-16")) if s.start == on("2025-03-10")]
    assert week.result == result


def of_biological(as_of, *tests, every="calendar-week", **more):
    duty = a_duty(every)
    return facts_of(duty, as_of, bio_tests=tests, **more), duty


@pytest.mark.parametrize("gap", range(1, 8))
@pytest.mark.parametrize("every", ["calendar-week", "calendar-month"])
def test_the_stretches_not_met_are_those_of_all_that_were_not(gap, every):
    """A test each so many days from the first on, every fourth of them invalid."""
    days = [on("2025-03-03") + timedelta(days=n) for n in range(0, 150, gap * 4)]
    tests = tuple(bio(d, result="invalid" if n % 4 == 3 else "pass", known=d) for n, d in enumerate(days))
    facts, duty = of_biological("2025-08-01", *tests, every=every)
    for first in ("2025-03-03", "2025-03-12", "2025-05-01"):
        whole = spans(facts, duty, on(first), on("2025-07-28"))
        assert unmet_spans(facts, duty, on(first), on("2025-07-28")) == [s for s in whole if s.result != "met"]


@pytest.mark.parametrize(
    ("results", "said"),
    [
        (("", "pass"), "met"),
        (("pass", ""), "met"),
        (("", "", "pass"), "met"),
        (("", "pass", ""), "met"),
        (("", ""), "awaited"),
        (("", "", ""), "awaited"),
        (("",), "awaited"),
        (("", "invalid"), "awaited"),
    ],
)
def test_a_week_is_awaited_while_no_test_of_it_has_a_result(results, said):
    tests = [bio(f"2025-03-0{n}", result=r, known=f"2025-03-0{n}") for n, r in enumerate(results, start=4)]
    facts, duty = of_biological("2025-03-09", *tests)
    assert [s.result for s in spans(facts, duty, on("2025-03-03"), on("2025-03-09"))] == [said]


def test_why_a_week_asks_nothing_is_said():
    """Before the duty began; in store; out for two reasons, the one at its end."""
    store = (placed("2025-03-01"), placed("2025-03-15", "stored as spare"))
    out = (*START, event("2025-03-24", "withdrawn"))
    held = unit("2025-03-03", events=out, placements=store)
    duty = a_duty("calendar-week")
    regime = replace(BASE, duties=(duty,))
    facts = at(settle(held, clinic(held, regime="base"), regime, on("2025-04-10")), on("2025-04-10")).duty
    said = {str(s.start): (s.result, s.note) for s in spans(facts, duty, on("2025-02-17"), on("2025-04-10"))}
    assert said["2025-02-17"] == ("before", "before the duty began")
    assert said["2025-03-17"][0] == said["2025-03-31"][0] == "exempt"
    assert said["2025-03-17"][1] == "stored as spare" == said["2025-03-31"][1]
