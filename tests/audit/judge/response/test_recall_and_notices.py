"""Recall and notices after a failure, each with its published source."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from audit.regimes.model import NoticeRule
from audit.regimes.source import Source
from tests.fact_builders import load, look, step

from ..said_of_failures import one_case, path_of, run

SOURCE = Source("as named beside the test")
MONTANA = NoticeRule("the health authority", 1, "business days", "US-MT", "always", SOURCE)  # ARM 37.112.131
JERSEY = NoticeRule("the local health authority", 24, "hours", "", "always", SOURCE)  # N.J.A.C. 8:27-5.4
AT_ONCE = path_of(recall="at once", recall_words="everything", return_passes=1)


def notice(rule, lines, steps=(), as_of="2025-06-01"):
    said = one_case(path_of(notices=(rule,), return_passes=1), lines, steps, as_of=date.fromisoformat(as_of))
    (found,) = [s for s in said.steps if s.title == f"Tell {rule.who}"]
    return found


@pytest.mark.parametrize(
    ("rule", "failed", "due"),
    [
        (MONTANA, "2025-03-14", "2025-03-17"),  # ARM 37.112.131: failed Friday, by the end of Monday
        (MONTANA, "2025-05-23", "2025-05-27"),  # before Memorial Day
        (JERSEY, "2025-03-10", "2025-03-11"),  # N.J.A.C. 8:27-5.4: 24 hours
        (replace(JERSEY, within=36), "2025-03-10", "2025-03-11"),  # whole days, rounded to the stricter
        (replace(JERSEY, within=12), "2025-03-10", "2025-03-10"),
        (replace(MONTANA, measure="days", within=3), "2025-03-14", "2025-03-17"),  # no source
    ],
)
def test_deadlines(rule, failed, due):
    found = notice(rule, [f"{failed} growth"], as_of=due)
    assert (str(found.due_on), found.state) == (due, "open")
    day_after = str(date.fromisoformat(due) + timedelta(1))
    assert notice(rule, [f"{failed} growth"], as_of=day_after).state == "late"


def test_a_notice_given_in_time_and_too_late():
    def told(day):
        return (step("2025-03-14", "notify", done=day, outcome="Health authority called"),)

    lines = ["2025-03-14 growth"]
    assert notice(MONTANA, lines, told("2025-03-17")).state == "done"
    late = notice(MONTANA, lines, told("2025-03-18"))
    assert (late.state, late.done_on) == ("late", date(2025, 3, 18))


def test_hours_are_held_against_the_clock_where_both_times_are_known():
    known = datetime(2025, 3, 10, 9, tzinfo=UTC)
    reading = replace(look("2025-03-10", "growth"), known_at=known)
    failed = replace(run("2025-03-10 growth"), readings=(reading,))

    def told(hours):
        at = known + timedelta(hours=hours)
        return (replace(step("2025-03-10", "notify", done=at.date()), done_at=at),)

    assert notice(JERSEY, [failed], told(24)).state == "done"
    assert notice(JERSEY, [failed], told(24.1)).state == "late"


def test_of_two_notices_each_is_answered_by_its_own_name():
    two = (MONTANA, replace(MONTANA, who="the owner"))
    path = path_of(notices=two)
    steps = (step("2025-03-14", "notify", done="2025-03-14", outcome="the owner knows"),)
    said = one_case(path, ["2025-03-14 growth"], steps, as_of=date(2025, 3, 17))
    states = {s.title: s.state for s in said.steps if s.action == "notify"}
    assert states == {"Tell the health authority": "open", "Tell the owner": "done"}
    unnamed = (step("2025-03-14", "notify", done="2025-03-14", outcome="told"),)
    said = one_case(path, ["2025-03-14 growth"], unnamed, as_of=date(2025, 3, 17))
    assert [s.state for s in said.steps if s.action == "notify"] == ["open", "open", "done"]


def test_a_notice_asked_once_the_repeat_fails_counts_from_that_day():
    rule = replace(MONTANA, when="repeat failed")
    assert notice(rule, ["2025-03-10 growth"]).state == "not needed"
    assert notice(rule, ["2025-03-10 growth", "2025-03-12 growth"]).due_on == date(2025, 3, 13)


# ------------------------------------------------------------------------------------------------ recall


def test_the_window_of_a_recall_is_stated():
    # CDC 2003 (MMWR 52 RR-17) VI.F: "since the last negative spore test"
    said = one_case(AT_ONCE, ["2025-02-24 pass", "2025-03-03 pass", "2025-03-10 growth"])
    assert said.recall == ("recall: everything; after the last negative spore test of 2025-03-03, up to 2025-03-10")
    assert "no negative spore test is on record" in one_case(AT_ONCE, ["2025-03-10 growth"]).recall


CONFINED = (step("2025-03-10", "confine", done="2025-03-10", outcome="pack in the wrong tray"),)
ST79 = replace(AT_ONCE, unless_confined=True)  # ST79:2006: no recall where the cause is known at once and confined


def test_a_cause_confined_to_one_load_recalls_that_load_alone():
    said = one_case(ST79, ["2025-03-10 growth"], CONFINED)
    assert said.recall.startswith("recall: only the load of the failed test (2025-03-10): cause known at once")
    assert one_case(AT_ONCE, ["2025-03-10 growth"], CONFINED).recall.startswith("recall: everything")
    assert one_case(ST79, ["2025-03-10 growth"]).recall.startswith("recall: everything")


def test_a_repeat_that_fails_shows_that_it_was_not_confined():
    said = one_case(ST79, ["2025-03-10 growth", "2025-03-11 growth"], CONFINED)
    assert said.recall.startswith("recall: everything")


def test_a_confined_cause_counts_as_the_cause_before_a_repeat():
    path = path_of(cause_before_repeat=True)
    assert one_case(path, ["2025-03-10 growth", "2025-03-11 pass"]).resolved_on is None
    assert one_case(path, ["2025-03-10 growth", "2025-03-11 pass"], CONFINED).resolved_on == date(2025, 3, 11)


def test_only_the_load_where_the_rules_say_so():
    # N.J.A.C. 8:27-5.4: where the integrator fails the whole load is sterilized again
    path = path_of(recall="at once", recall_scope="the load", recall_words="sterilize it again")
    failed = run("2025-03-10 growth")
    said = one_case(path, [replace(failed, cycle_number="12")])
    assert said.recall == "recall: only the load of the failed test (cycle 12 of 2025-03-10): sterilize it again"


@pytest.mark.parametrize("recall", ["none stated", "repeat failed"])
def test_implants_of_the_failed_cycle_are_always_recalled(recall):
    # CDC 2008 recommendation 16: "objects other than implantable objects do not need to be recalled"
    failed = replace(run("2025-03-10 growth"), cycle_number="12")
    path = path_of(recall=recall)
    lines = [failed, "2025-03-11 pass"]
    own = one_case(path, lines, loads=(load("2025-03-10", "12", implant=True),)).recall
    assert own.startswith("recall implants") and own.endswith("; implant loads: cycle 12 of 2025-03-10")


@pytest.mark.parametrize("recall", ["none stated", "repeat failed", "at once"])
def test_every_load_with_an_implant_since_the_last_negative_test_is_named(recall):
    failed = replace(run("2025-03-10 growth"), cycle_number="12")
    path = path_of(recall=recall)
    lines = ["2025-03-08 pass", failed, "2025-03-11 pass"]
    for other, cycle in (("2025-03-10", "13"), ("2025-03-09", "12")):
        said = one_case(path, lines, loads=(load(other, cycle, implant=True), load(other, "14")))
        assert said.recall.startswith("recall") and said.recall.endswith(f"implant loads: cycle {cycle} of {other}")
    for other in ("2025-03-07", "2025-03-11"):
        said = one_case(path, lines, loads=(load(other, "12", implant=True),))
        assert "implant loads" not in said.recall and not said.recall.startswith("recall implants")


def test_a_recall_has_the_deadline_a_follow_up_sets():
    steps = (step("2025-03-10", "recall packs", due="2025-03-12"),)
    path = replace(AT_ONCE, steps=AT_ONCE.steps)
    said = one_case(path, ["2025-03-10 growth"], steps, as_of=date(2025, 3, 13))
    (found,) = [s for s in said.steps if s.action == "recall packs"]
    assert (found.due_on, found.state) == (date(2025, 3, 12), "late")
