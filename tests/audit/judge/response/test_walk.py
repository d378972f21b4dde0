"""One walk along a path: what is a repeat, what counts in a row, and in which order the results of one day are taken.

Of one day the order that permits least, unless both times show another. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest

from tests.fact_builders import air, step

from ..said_of_failures import cases, one_case, path_of, run

FAILED, AGAIN = "2025-03-10 growth", "2025-03-11 growth"
THEN = path_of(return_passes=1)  # after a failed repeat the cause, and one in a row
RETEST, REQUALIFY = "retest needed", "requalification needed"


def done(day, action="find cause", time=""):
    made = step(day, action, done=day)
    return replace(made, done_at=datetime.fromisoformat(f"{day}T{time}+00:00")) if time else made


def resolved(path, lines, *steps, **more):
    found = one_case(path, lines, steps, **more).resolved_on
    return found and str(found)[5:]


# ------------------------------------------------------------------------------------------------ what is a repeat


def test_a_second_failure_run_before_the_first_was_known_is_no_repeat():
    before = run("2025-03-09 growth", known="2025-03-11")
    assert one_case(THEN, [FAILED, before]).phase == RETEST
    assert one_case(THEN, [FAILED, AGAIN]).phase == REQUALIFY
    called = run("2025-03-11 growth", known="2025-03-13", purpose="repeat")
    assert one_case(THEN, [run(FAILED, known="2025-03-12"), called]).phase == RETEST


@pytest.mark.parametrize("cycle_type", ["wrapped", "open"])
def test_of_two_repeats_of_one_day_that_failed_the_second_is_one_of_the_first(cycle_type):
    """Of another cycle type too: it may show that the repeat failed."""
    path = replace(THEN, same_cycle_type=True)
    first, other = run(FAILED, purpose="repeat"), run(f"2025-03-10 growth {cycle_type}", purpose="repeat")
    assert REQUALIFY in {c.phase for c in cases(path, [first, other])}


CAUSES = [
    # the cause, the second failure at which time, whether that one is a failed repeat
    ((), "", RETEST),
    ((done("2025-03-11"),), "", REQUALIFY),
    ((done("2025-03-13"),), "", RETEST),
    ((done("2025-03-12", time="12:00"),), "11:00", RETEST),
    ((done("2025-03-12", time="12:00"),), "13:00", REQUALIFY),
    ((done("2025-03-12", time="12:00"),), "", REQUALIFY),
]


@pytest.mark.parametrize(("causes", "at", "phase"), CAUSES)
def test_where_a_cause_comes_first_only_what_failed_after_it_is_a_failed_repeat(causes, at, phase):
    path = replace(THEN, cause_before_repeat=True)
    assert one_case(path, [FAILED, run("2025-03-12 growth", at=at)], causes).phase == phase


@pytest.mark.parametrize(("kind", "asks"), [("mechanical", True), ("chemical", True), ("", False)])
def test_a_positive_cycle_of_which_gauges_or_indicators_failed_too_asks_a_cause(kind, asks):
    """The reverse of CDC 2003 (MMWR 52 RR-17), narrative; among several failures one is enough."""
    odd = run(AGAIN, **({kind: "fail"} if kind else {}))
    needs = one_case(path_of(), [FAILED, odd]).needs
    why = "an inspection, a repair or the cause: gauges or indicators of the failed cycle failed too"
    assert needs == (why if asks else "1 more passing repeat(s)")


def test_what_is_asked_after_a_failed_repeat_in_words():
    assert one_case(THEN, [FAILED, AGAIN]).needs == "the cause found or repaired"
    refuted = [FAILED, AGAIN, "2025-03-13 growth"]
    said = one_case(THEN, refuted, (done("2025-03-12"),)).needs
    assert said == "the cause found or repaired again, after the failure known 2025-03-13"


# ------------------------------------------------------------------------------------------------ in a row


def test_where_types_are_not_told_apart_any_counts():
    path, cause = replace(THEN, return_passes=2), done("2025-03-11")
    assert resolved(path, [FAILED, AGAIN, "2025-03-12 pass", "2025-03-13 pass open"], cause) == "03-13"


def test_without_air_removal_tests_in_the_path_none_is_asked_of_any_unit():
    more = {"type": "dynamic air removal"}
    assert resolved(THEN, [FAILED, AGAIN, "2025-03-12 pass"], done("2025-03-11"), **more) == "03-12"


def test_air_removal_tests_in_a_row_alone_prove_nothing():
    path = replace(THEN, return_air_removal=1)
    more = {"type": "dynamic air removal", "air_removal": tuple(air(f"2025-03-{n}") for n in (12, 13, 14))}
    assert resolved(path, [FAILED, AGAIN], done("2025-03-11"), **more) is None


SHEETS = [
    # times of the pass and of the failure of one day, whether that pass is the proof
    ("", "", False),
    ("10:00", "09:00", True),
    ("10:00", "11:00", False),
    ("10:00", "10:00", False),
    ("10:00", "", False),
    ("", "09:00", False),
]


@pytest.mark.parametrize(("passed", "failed", "proves"), SHEETS)
def test_of_an_air_removal_test_that_passed_and_one_that_failed_on_one_day(passed, failed, proves):
    path = replace(THEN, return_air_removal=1)
    sheets = (air("2025-03-12", at=passed), air("2025-03-12", "fail", at=failed))
    for order in (sheets, sheets[::-1]):
        more = {"type": "dynamic air removal", "air_removal": order}
        found = resolved(path, [FAILED, AGAIN, "2025-03-12 pass"], done("2025-03-11"), **more)
        assert found == ("03-12" if proves else None)


def test_the_failure_itself_breaks_no_row_of_its_day():
    pair = [run("2025-03-11 pass", cycle=n, purpose="repeat") for n in ("1", "2")]
    assert resolved(path_of(repeats=2), [AGAIN, *pair]) == "03-11"
    assert resolved(path_of(repeats=2), [FAILED, AGAIN, *pair]) == "03-11"


def test_a_later_run_known_sooner_is_the_proof():
    late = run("2025-03-11 pass", known="2025-03-20")
    assert resolved(path_of(), [FAILED, late, run("2025-03-12 pass", known="2025-03-13")]) == "03-13"


SAME_DAY = [
    # times of a pass and of a test that nobody has read, whether the pass is one of two in a row
    ("12:00", "10:00", True),
    ("12:00", "13:00", False),
    ("12:00", "12:00", False),
    ("12:00", "", False),
    ("", "10:00", False),
    ("", "", False),
]


@pytest.mark.parametrize(("passed", "awaited", "counts"), SAME_DAY)
def test_an_unread_test_parts_the_others_of_its_day_unless_times_show_it_came_first(passed, awaited, counts):
    told = (("pass", passed), ("awaited", awaited))
    for order in (told, told[::-1]):  # whichever was logged first
        day = [run(f"2025-03-11 {what}", at=at) for what, at in order]
        said = one_case(path_of(repeats=2), [FAILED, *day, "2025-03-12 pass"])
        assert (said.passes, said.resolved_on is not None) == ((2, True) if counts else (1, False))


def test_an_unread_test_parts_two_passes_of_its_day():
    day = [run("2025-03-11 pass", cycle="1"), run("2025-03-11 pass", cycle="2"), run("2025-03-11 awaited")]
    assert resolved(path_of(repeats=2), [FAILED, *day]) is None
    assert resolved(path_of(repeats=2), [FAILED, *day[:2]]) == "03-11"
    assert resolved(path_of(repeats=1), [FAILED, *day]) == "03-11"


# ------------------------------------------------------------------------------------------------ of that very day

ON_THE_DAY = [
    # the run of the second failure, known on the day of the proof (run at 10:00): how many cases, how the first ended
    ("2025-03-11", "12:00", 2, "03-11"),
    ("2025-03-11", "09:00", 1, None),
    ("2025-03-11", "10:00", 1, None),
    ("2025-03-11", "", 1, None),
    ("2025-03-09", "12:00", 1, None),
]


@pytest.mark.parametrize(("day", "at", "count", "ended"), ON_THE_DAY)
def test_a_failure_known_on_the_day_of_the_proof_is_another_where_it_is_shown_to_come_after(day, at, count, ended):
    proof = run("2025-03-11 pass", at="10:00")
    other = run(f"{day} growth", at=at, known="2025-03-11")
    found = cases(path_of(), [FAILED, proof, other])
    assert len(found) == count
    assert found[-1].resolved_on == (proof.row.happened_on if ended else None)


@pytest.mark.parametrize(("at", "count"), [("12:00", 2), ("10:30", 1), ("09:00", 1)])
def test_of_a_proof_of_several_tests_it_must_come_after_the_last(at, count):
    proof = [run("2025-03-11 pass", at=t) for t in ("10:00", "11:00")]
    other = run("2025-03-11 growth", at=at)
    assert len(cases(path_of(repeats=2), [FAILED, *proof, other])) == count


@pytest.mark.parametrize(("day", "count"), [("2025-03-11", 1), ("2025-03-12", 1), ("2025-03-13", 2)])
def test_a_proof_run_before_the_day_on_which_it_was_known_is_compared_by_its_own_day(day, count):
    """Run on the 11th and the 12th, known on the 13th."""
    proof = [run("2025-03-11 pass", known="2025-03-12"), run("2025-03-12 pass", known="2025-03-13")]
    other = run(f"{day} growth", known="2025-03-13")
    assert len(cases(path_of(repeats=2), [FAILED, *proof, other])) == count


def test_a_failure_known_after_the_proof_is_another():
    found = cases(path_of(), [FAILED, "2025-03-11 pass", run("2025-03-11 growth", known="2025-03-12")])
    assert [c.resolved_on is not None for c in found] == [False, True]


OPEN = replace(path_of(repeats=2), same_cycle_type=True)


@pytest.mark.parametrize(("day", "later"), [("2025-03-11", False), ("2025-03-12", False), ("2025-03-13", True)])
def test_a_failure_of_another_type_speaks_against_a_proof_that_it_is_not_shown_to_follow(day, later):
    """Known on the day of the proof, of which the last test was run on the 12th."""
    proof = [run("2025-03-11 pass", known="2025-03-12"), run("2025-03-12 pass", known="2025-03-13")]
    found = cases(OPEN, [FAILED, *proof, run(f"{day} growth open", known="2025-03-13")])
    assert (found[-1].resolved_on is not None) is later


@pytest.mark.parametrize(("at", "later"), [("10:30", False), ("11:30", True), ("", False)])
def test_of_the_day_of_the_last_test_it_must_follow_each_of_that_day(at, later):
    proof = [run("2025-03-11 pass", at=t) for t in ("10:00", "11:00")]
    found = cases(OPEN, [FAILED, *proof, run("2025-03-11 growth open", at=at)])
    assert (found[-1].resolved_on is not None) is later
