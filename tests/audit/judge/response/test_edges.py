"""The edges of a case: which other results of a cycle speak against a pass, what is a cause, what is said at last."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest

from audit.facts import ChemicalFact
from tests.fact_builders import air, bio, case, load, row, step, user_check

from ..said_of_failures import cases, one_case, path_of, run

FAILED = load("2025-03-10", "5", mechanical="fail")
PASSED = load("2025-03-11", "6", mechanical="pass")
TWICE = ["2025-03-10 growth", "2025-03-11 growth"]


def strip(day, result, cycle="6", kind=5):
    return ChemicalFact(row(day), kind, result, cycle, "inside", "C1")


# ------------------------------------------------------------------------------------------------ of one cycle

SPEAK_AGAINST = [
    ({}, True),
    ({"loads": (FAILED, replace(PASSED, chemical="fail"))}, False),
    ({"loads": (FAILED, replace(PASSED, packs="wet"))}, False),
    ({"loads": (FAILED, replace(PASSED, packs="dry"))}, True),
    ({"chemical": (strip("2025-03-11", "fail"),)}, False),
    ({"chemical": (strip("2025-03-11", "pass"),)}, True),
    ({"chemical": (strip("2025-03-11", "not read"),)}, True),
    ({"chemical": (strip("2025-03-11", "pass", "7"), strip("2025-03-11", "fail"))}, False),
    ({"chemical": (strip("2025-03-11", "fail", "7"),)}, True),
    ({"chemical": (strip("2025-03-10", "fail"),)}, True),
    ({"chemical": (strip("2025-03-12", "fail"),)}, True),
    ({"bio_tests": (bio("2025-03-11", result="growth", known="2025-03-11", cycle="6"),)}, False),
    ({"bio_tests": (bio("2025-03-11", result="growth", known="2025-03-11", cycle="9", mechanical=""),)}, True),
]


@pytest.mark.parametrize(("more", "proves"), SPEAK_AGAINST)
def test_a_pass_of_gauges_proves_nothing_where_anything_else_of_that_cycle_failed(more, proves):
    """Of the same day and number. Common practice, no source."""
    told = {"loads": (FAILED, PASSED)} | more
    tests = told.pop("bio_tests", ())
    said = one_case(path_of("mechanical"), tests, **told)
    assert said.resolved_on == (date(2025, 3, 11) if proves else None)


@pytest.mark.parametrize(
    ("kind", "result", "cycle", "begins"),
    [
        (5, "pass", "40", "none needed: the repeat passed"),
        (5, "pass", "41", "recall"),
        (5, "not read", "40", "recall"),
        (5, "fail", "40", "recall"),
        (2, "pass", "40", "recall"),  # made for air-removal tests: it says nothing of goods (ISO 11140-1)
    ],
)
def test_a_strip_of_the_failed_cycle_tells_its_chemical_result(kind, result, cycle, begins):
    """CDC 2003 (MMWR 52 RR-17), narrative: no recall rests on the indicators of the failed cycle being right."""
    failed = bio("2025-03-10", result="growth", known="2025-03-10", cycle="40", chemical="not recorded")
    path = path_of(recall="repeat failed")
    told = (strip("2025-03-10", result, cycle, kind),)
    assert one_case(path, [failed, "2025-03-11 pass"], chemical=told).recall.startswith(begins)


# ------------------------------------------------------------------------------------------------ the cause

ASKS = path_of(cause_before_repeat=True)
BOTH = replace(ASKS, cause_asks="both")


def done(day, action, time="", **more):
    """A step that was done on the day, at the time where one is given."""
    made = step(day, action, done=day, **more)
    return replace(made, done_at=datetime.fromisoformat(f"{day}T{time}+00:00")) if time else made


def resolved(path, lines, *steps):
    said = one_case(path, lines, steps)
    return str(said.resolved_on) if said.resolved_on else said.needs


ONE_REPEAT = ["2025-03-10 growth", "2025-03-12 pass"]


def test_a_cause_that_is_to_be_found_is_none():
    asked = step("2025-03-10", "find cause", due="2025-03-11")
    assert resolved(ASKS, ONE_REPEAT, asked) == "an inspection, a repair or the cause"


def test_where_both_are_asked_one_is_not_enough_and_the_later_one_counts():
    # NEHA Body Art Model Code, 3rd edition, 8.11: repaired and the exact reason found
    found, mended = done("2025-03-11", "find cause"), done("2025-03-12", "repair")
    lines = ["2025-03-10 growth", "2025-03-11 pass", "2025-03-13 pass"]
    missing = "the repair and the cause found"
    assert resolved(BOTH, lines, found) == missing
    assert resolved(BOTH, lines, mended) == missing
    assert resolved(BOTH, lines, found, mended) == "2025-03-13"
    assert resolved(BOTH, lines[:2], found, mended) != "2025-03-11", "it was run before the repair"
    sooner = step("2025-03-10", "repair", done="2025-03-10")
    assert resolved(BOTH, ["2025-03-10 growth", "2025-03-12 pass"], found, sooner) == "2025-03-12"


def at(made, time):
    return replace(made, done_at=datetime.fromisoformat(f"{made.done_on}T{time}+00:00"))


def test_of_two_causes_of_one_day_the_one_without_a_time_counts_as_the_later():
    """What ran after it is shown by no time."""
    lines = ["2025-03-10 growth", bio("2025-03-12", result="pass", known="2025-03-12", at="12:00")]
    found, mended = done("2025-03-12", "find cause"), done("2025-03-12", "repair")
    assert resolved(BOTH, lines, at(found, "09:00"), at(mended, "10:00")) == "2025-03-12"
    assert "1 more passing repeat" in resolved(BOTH, lines, at(found, "09:00"), at(mended, "13:00"))
    assert "1 more passing repeat" in resolved(BOTH, lines, at(found, "13:00"), at(mended, "09:00"))


def test_of_two_causes_of_one_day_the_first_is_enough_where_one_is():
    """Whichever was written first; one that was written as something to do has no time."""
    lines = ["2025-03-10 growth", bio("2025-03-12", result="pass", known="2025-03-12", at="12:00")]
    late, early = done("2025-03-12", "repair", "13:00"), done("2025-03-12", "find cause", "09:00")
    untimed = step("2025-03-10", "repair", done="2025-03-12")
    for causes in ((late, early), (untimed, early)):
        assert resolved(ASKS, lines, *causes) == "2025-03-12"
    assert "1 more passing repeat" in resolved(ASKS, lines, untimed)
    assert "1 more passing repeat" in resolved(BOTH, lines, untimed, early), (
        "the later of the two, and when is not known"
    )


def test_a_cause_of_the_day_of_the_failure_counts_unless_both_times_show_it_came_first():
    def failed(known):
        made = run("2025-03-10 growth", at="08:00")
        reading = replace(made.readings[0], known_at=datetime.fromisoformat(f"2025-03-10T{known}+00:00"))
        return replace(made, readings=(reading,))

    cause = step("2025-03-10", "find cause", done="2025-03-10")
    for known, said in (("11:00", "2025-03-12"), ("13:00", "an inspection, a repair or the cause")):
        assert resolved(ASKS, [failed(known), "2025-03-12 pass"], at(cause, "12:00")) == said


def test_a_cause_without_a_time_was_found_by_the_time_it_was_recorded():
    """Recorded at 23:00 of its day: a test of noon is not shown to have come after it."""
    lines = ["2025-03-10 growth", bio("2025-03-12", result="pass", known="2025-03-12", at="12:00")]
    assert "1 more" in resolved(ASKS, lines, step("2025-03-12", "find cause", done="2025-03-12"))
    lines[1] = bio("2025-03-12", result="pass", known="2025-03-12", at="23:30")
    assert resolved(ASKS, lines, step("2025-03-12", "find cause", done="2025-03-12")) == "2025-03-12"


def test_the_cause_is_told_by_its_outcome_or_else_by_its_text():
    for outcome, told in (("seal torn", "find cause: seal torn"), ("", "find cause: find cause")):
        said = one_case(ASKS, ONE_REPEAT, (done("2025-03-11", "find cause", outcome=outcome),))
        (found,) = [s for s in said.steps if s.action == "find cause"]
        assert told in {e.text for e in found.evidence}, found.evidence


# ------------------------------------------------------------------------------------------------ what is said


def test_a_case_entered_in_error_needs_nothing():
    passed = run("2025-03-10 pass")
    (said,) = cases(path_of(), [passed], cases=(case(passed.row.origin, "2025-03-10"),))
    assert (said.phase, said.passes, said.passes_needed, said.steps) == ("entered in error", 0, 0, ())


def test_the_order_of_the_two_sets_is_said_with_its_days():
    """ST79:2006 Table 8: three biological tests, then three air-removal tests."""
    path = path_of(return_passes=3, return_air_removal=3, return_order="biological first")
    lines = [*TWICE, *(f"2025-03-1{n} pass" for n in (2, 3, 5))]
    cause = (step("2025-03-11", "find cause", done="2025-03-11"),)

    def warned(*days):
        made = tuple(air(f"2025-03-{n}") for n in days)
        return one_case(path, lines, cause, air_removal=made, type="dynamic air removal").warnings

    (told,) = warned(13, 14, 15)
    assert told.startswith("air-removal tests from 2025-03-13 on, before the spore tests were complete (2025-03-15)")
    assert warned(15, 16, 17) == ()


def test_the_newest_case_stands_first():
    checks = tuple(user_check(day, result=r) for day, r in (("2025-03-10", "fail"), ("2025-03-11", "pass")))
    later = (user_check("2025-03-12", result="fail"),)
    said = cases(path_of("automatic control"), [], checks=(*checks, *later))
    assert [str(c.failed_on) for c in said] == ["2025-03-12", "2025-03-10"]
