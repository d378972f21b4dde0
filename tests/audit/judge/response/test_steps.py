"""The steps after a failure: which are asked, what shows that one was done, and by which day it was due."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from tests.fact_builders import air, case, event, load, step, user_check

from ..said_of_failures import one_case, path_of

FAILED, PASSED = "2025-03-10 growth", "2025-03-12 pass"
PATH = path_of(
    return_passes=1
)  # CDC 2003 (MMWR 52 RR-17) VI.F: review, retest, cause and three after a failed repeat
AGAIN = "2025-03-11 growth"


def done(day, action, **more):
    return step(day, action, done=day, **more)


def told(action, lines, *steps, path=PATH, **more):
    """The one step of that action."""
    (found,) = [s for s in one_case(path, lines, steps, **more).steps if s.action == action]
    return found


def said(found):
    return found.state, str(found.done_on or ""), len(found.evidence), found.note


# ------------------------------------------------------------------------------------------------ by the tests


def test_a_repeat_is_done_by_its_pass_and_waits_for_nothing_else():
    missing = "1 more passing repeat(s)"
    assert said(told("retest", [FAILED])) == ("open", "", 0, missing)
    assert said(told("retest", [FAILED, PASSED])) == ("done", "2025-03-12", 1, "")
    signed = done("2025-03-11", "retest")
    assert said(told("retest", [FAILED], signed)) == ("open", "", 1, missing)
    assert said(told("retest", [FAILED, PASSED], signed)) == ("done", "2025-03-12", 2, "")
    assert said(told("retest", [FAILED, AGAIN])) == ("done", "2025-03-11", 1, "the repeat failed too")


def test_the_cause_and_the_tests_in_a_row_are_asked_once_a_repeat_failed():
    for action in ("find cause", "requalify"):
        assert said(told(action, [FAILED, PASSED])) == ("not needed", "", 0, "")
    assert said(told("find cause", [FAILED, AGAIN])) == ("open", "", 0, "")
    assert said(told("requalify", [FAILED, AGAIN])) == ("open", "", 0, "the cause found or repaired")
    cause = done("2025-03-11", "find cause")
    assert said(told("find cause", [FAILED, AGAIN], cause))[:2] == ("done", "2025-03-11")
    assert said(told("requalify", [FAILED, AGAIN], cause)) == ("open", "", 0, "1 more negative test(s) in a row")
    assert said(told("requalify", [FAILED, AGAIN, PASSED], cause)) == ("done", "2025-03-12", 1, "")


def test_tests_in_a_row_are_not_needed_where_a_failed_repeat_only_starts_the_repeats_again():
    assert told("requalify", [FAILED, AGAIN], path=path_of()).state == "not needed"


def test_tests_in_a_row_that_were_only_signed_are_missing():
    steps = (done("2025-03-11", "find cause"), done("2025-03-13", "requalify"))
    assert told("requalify", [FAILED, AGAIN], *steps).state == "open"


def test_the_tests_in_a_row_of_both_kinds_are_the_proof():
    path = path_of(return_passes=1, return_air_removal=1)
    more = {"air_removal": (air("2025-03-12"),), "type": "dynamic air removal"}
    found = told("requalify", [FAILED, AGAIN, PASSED], done("2025-03-11", "find cause"), path=path, **more)
    assert said(found) == ("done", "2025-03-12", 2, "")


def test_a_repair_that_was_recorded_is_the_cause_too():
    failed = user_check("2025-03-10", result="fail")
    path = path_of("automatic control", cause_before_repeat=True)
    more = {"path": path, "checks": (failed, user_check("2025-03-12"))}
    assert said(told("find cause", [], **more)) == ("open", "", 0, "")
    mended = case(failed.row.origin, "2025-03-10", done("2025-03-11", "repair"), kind="automatic control")
    assert said(told("find cause", [], cases=(mended,), **more)) == ("done", "2025-03-11", 1, "")


# ------------------------------------------------------------------------------------------------ withdrawal, return


@pytest.mark.parametrize(
    ("day", "kind", "shown"),
    [
        ("2025-03-09", "withdrawn", False),
        ("2025-03-10", "withdrawn", True),
        ("2025-03-12", "withdrawn", True),
        ("2025-03-13", "withdrawn", False),
        ("2025-03-11", "relocated", False),
    ],
)
def test_a_withdrawal_from_the_failure_to_the_proof_is_the_step(day, kind, shown):
    found = told("withdraw", [FAILED, PASSED], events=(event(day, kind, "positive"),))
    by_rule = "by the rules out of service from 2025-03-10"
    assert said(found) == (("done", day, 1, "") if shown else ("open", "", 0, by_rule))


def test_a_withdrawal_at_any_time_counts_while_nothing_is_proven():
    assert told("withdraw", [FAILED], events=(event("2025-05-01", "withdrawn"),)).done_on == date(2025, 5, 1)


def test_a_return_is_done_by_its_row_or_else_by_the_proof():
    assert said(told("return", [FAILED])) == ("open", "", 0, "1 more passing repeat(s)")
    proven = "proven by the tests; no return is signed"
    assert said(told("return", [FAILED, PASSED])) == ("done", "2025-03-12", 0, proven)
    assert said(told("return", [FAILED, PASSED], done("2025-03-13", "return"))) == ("done", "2025-03-12", 1, "")
    back = event("2025-03-14", "returned", "proven")
    assert said(told("return", [FAILED, PASSED], events=(back,))) == ("done", "2025-03-14", 1, "")
    early = event("2025-03-11", "returned", "hoped")
    assert said(told("return", [FAILED, PASSED], events=(early, back))) == ("done", "2025-03-14", 1, "")
    assert said(told("return", [FAILED, PASSED], events=(early,))) == ("done", "2025-03-12", 0, proven)


def test_nothing_but_a_return_is_the_return():
    proven = "proven by the tests; no return is signed"
    moved = event("2025-03-14", "relocated")
    assert said(told("return", [FAILED, PASSED], events=(moved,))) == ("done", "2025-03-12", 0, proven)
    assert told("return", [FAILED, PASSED], done("2025-03-13", "review")).note == proven


def test_a_return_signed_before_the_proof_is_said_unless_another_was_signed_after_it():
    early, late = done("2025-03-11", "return"), done("2025-03-13", "return")
    note = "signed on 2025-03-11, before the proof: that is no return"
    assert said(told("return", [FAILED, PASSED], early)) == ("open", "", 0, note)
    assert said(told("return", [FAILED, PASSED], early, late)) == ("done", "2025-03-12", 1, "")
    back = event("2025-03-14", "returned", "proven")
    assert said(told("return", [FAILED, PASSED], early, events=(back,))) == ("done", "2025-03-14", 1, "")
    assert said(told("return", [FAILED], early)) == ("open", "", 0, "1 more passing repeat(s)")


def test_another_step_done_before_the_proof_is_done():
    assert said(told("review", [FAILED, PASSED], done("2025-03-10", "review"))) == ("done", "2025-03-10", 1, "")
    assert said(told("review", [FAILED, PASSED])) == ("open", "", 0, "")


def test_where_the_path_stops_no_unit_the_withdrawal_and_the_return_come_with_several_failures():
    failed = tuple(load(f"2025-03-{n}", str(n), mechanical="fail") for n in (10, 11))
    path = path_of("mechanical")
    assert [s.action for s in one_case(path, [], loads=failed).steps] == ["withdraw", "review", "retest", "return"]
    assert [s.action for s in one_case(path, [], loads=failed[:1]).steps] == ["review", "retest"]
    without = replace(PATH, steps=tuple(s for s in PATH.steps if s.action != "withdraw"))
    assert "withdraw" not in {s.action for s in one_case(without, [FAILED]).steps}
    own = replace(path, steps=(*path.steps, replace(path.steps[0], action="withdraw")))
    assert [s.action for s in one_case(own, [], loads=failed).steps] == ["review", "retest", "withdraw"]


# ------------------------------------------------------------------------------------------------ recall, deadlines


def test_packs_are_recalled_where_they_must_be_and_not_else():
    path = path_of(recall="repeat failed", return_passes=1)
    assert told("recall packs", [FAILED, PASSED], path=path).state == "not needed"
    found = told("recall packs", [FAILED, AGAIN], path=path)
    assert (found.state, found.note.startswith("recall")) == ("open", True)
    # CDC 2008 recommendation 16: implants are recalled whatever becomes of the repeat.
    implants = (load("2025-03-10", "7", True),)
    assert told("recall packs", [FAILED, PASSED], path=path, loads=implants).state == "open"
    early = done("2025-03-11", "recall packs")
    assert told("recall packs", [FAILED, PASSED], early, path=path).state == "done"


@pytest.mark.parametrize(
    ("did", "as_of", "state"),
    [
        ("", "2025-03-12", "open"),
        ("", "2025-03-13", "late"),
        ("2025-03-12", "2025-03-20", "done"),
        ("2025-03-13", "2025-03-20", "late"),
    ],
)
def test_a_step_is_in_time_on_its_last_day(did, as_of, state):
    made = step("2025-03-10", "review", done=did or None, due="2025-03-12")
    found = told("review", [FAILED], made, as_of=date.fromisoformat(as_of))
    assert (found.state, str(found.due_on)) == (state, "2025-03-12")
    assert found.note == ("was due 2025-03-12" if state == "late" else "")


def test_of_two_deadlines_the_later_one_holds():
    steps = [step("2025-03-10", "review", due=f"2025-03-{n}") for n in (15, 12)]
    assert told("review", [FAILED], *steps, as_of=date(2025, 3, 14)).state == "open"


def test_what_is_late_says_so_after_what_is_missing():
    found = told("retest", [FAILED], step("2025-03-10", "retest", due="2025-03-12"), as_of=date(2025, 3, 13))
    assert said(found) == ("late", "", 0, "1 more passing repeat(s); was due 2025-03-12")


def test_a_step_of_its_own_stands_at_the_end_with_its_deadline():
    own = step("2025-03-10", "call the owner", done="2025-03-14", due="2025-03-12")
    found = one_case(PATH, [FAILED, PASSED], (own,)).steps[-1]
    assert (found.action, *said(found)) == ("call the owner", "late", "2025-03-14", 1, "was due 2025-03-12")


def test_a_follow_up_is_told_by_its_outcome_or_else_by_its_text():
    for outcome, words in (("all seen", "all seen"), ("", "review")):
        found = told("review", [FAILED], done("2025-03-10", "review", outcome=outcome))
        assert found.evidence[0].text == f"review on 2025-03-10 by A. Doer: {words}"
    asked = told("review", [FAILED], step("2025-03-10", "review", due="2025-03-12"))
    assert asked.evidence == ()
