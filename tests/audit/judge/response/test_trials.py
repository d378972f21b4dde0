"""Results as the replay sees them: which kinds failed, which pass counts, and what ran after a failure."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime

import pytest

from audit.facts import ChemicalFact, unit_by_day
from audit.judge.biological import judge_tests
from audit.judge.response import replay_all
from audit.judge.response.trials import Results, failed_kinds
from audit.regimes import load_regime
from tests.fact_builders import air, bio, leak, load, look, row, step, unit, user_check

from ..said_of_failures import one_case, path_of, run

DYNAMIC = "dynamic air removal"
FAILED = "2025-03-10 growth"


def strip(kind, result, day="2025-03-10"):
    return ChemicalFact(row(day), kind, result, "", "inside", "C1")


def read(**facts):
    """The facts of a unit by day, and the verdicts of its spore tests."""
    held = unit_by_day(unit(**facts), date(2025, 6, 1))
    return held, judge_tests(held.bio_tests, load_regime("us-dental-cdc-2003").validity)


def packs(what, **more):
    return replace(load("2025-03-10", **more), packs=what)


KINDS = [
    ({}, set()),
    ({"bio_tests": (bio("2025-03-10", result="pass"),), "loads": (load("2025-03-10"),)}, set()),
    ({"bio_tests": (bio("2025-03-10", result="growth"),)}, {"biological"}),
    ({"bio_tests": (bio("2025-03-10", result="pass", mechanical="fail"),)}, {"mechanical"}),
    ({"bio_tests": (bio("2025-03-10", chemical="fail"),)}, {"chemical"}),
    ({"loads": (load("2025-03-10", mechanical="fail"),)}, {"mechanical"}),
    ({"loads": (load("2025-03-10", chemical="fail"),)}, {"chemical"}),
    ({"loads": (packs("wet"),)}, {"wet packs"}),
    ({"loads": (packs("dry"),)}, set()),
    ({"loads": (packs("wet", mechanical="fail"), packs("dry"))}, {"wet packs", "mechanical"}),
    ({"checks": (user_check("2025-03-10", result="fail"),)}, {"automatic control"}),
    ({"checks": (user_check("2025-03-10", "water", "fail"),)}, set()),
    ({"checks": (user_check("2025-03-10", "safety check", "not done"),)}, set()),
    ({"air_removal": (air("2025-03-10", "fail"),), "type": DYNAMIC}, {"air removal"}),
    ({"air_removal": (air("2025-03-10"),), "type": DYNAMIC}, set()),
    ({"leaks": (leak("2025-03-10", "fail"),), "type": DYNAMIC}, {"air leak"}),
    ({"leaks": (leak("2025-03-10"),), "type": DYNAMIC}, set()),
    ({"air_removal": (air("2025-03-10", "fail"),)}, set()),  # of a unit that takes none
    ({"leaks": (leak("2025-03-10", "fail"),)}, set()),
    ({"chemical": (strip(5, "fail"),)}, {"chemical"}),
    ({"chemical": (strip(5, "pass"), strip(5, "not read"))}, set()),
    ({"chemical": (strip(2, "fail"),), "type": DYNAMIC}, {"air removal"}),
    ({"chemical": (strip(2, "fail"), strip(5, "pass"))}, {"chemical"}),
    ({"chemical": (strip(2, "pass"),), "air_removal": (air("2025-03-10", "fail"),)}, set()),
    ({"chemical": (strip(2, "pass"),)}, set()),
]


@pytest.mark.parametrize(("facts", "kinds"), KINDS)
def test_the_kinds_of_which_something_failed(facts, kinds):
    """On a unit that takes no air-removal test a failed indicator of type 2 is a chemical result."""
    unit, verdicts = read(**facts)
    assert failed_kinds(unit, verdicts, unit.loads) == kinds


def test_results_of_several_rows_come_in_the_order_of_the_days():
    tests = tuple(bio(f"2025-03-{n}", result="pass") for n in (11, 14))
    loads = tuple(load(f"2025-03-{n}", mechanical="pass") for n in (10, 12, 15))
    held = Results(*read(bio_tests=tests, loads=loads), "mechanical")
    assert [t.day.day for t in held.since(date.min)] == [10, 11, 12, 14, 15]
    assert [t.day.day for t in held.since(date(2025, 3, 12))] == [12, 14, 15]


# ------------------------------------------------------------------------------------------------ what ran after


def resolved(path, lines, *steps, **more):
    found = one_case(path, lines, steps, **more).resolved_on
    return found and str(found)[5:]


def test_what_was_called_a_repeat_before_the_failure_was_known_is_none():
    failed = run(FAILED, known="2025-03-12")
    assert resolved(path_of(), [failed, run("2025-03-11 pass", purpose="repeat")]) is None
    assert resolved(path_of(), [failed, run("2025-03-12 pass", purpose="repeat")]) == "03-12"
    assert resolved(path_of(), [failed, run("2025-03-12 pass")]) is None
    assert resolved(path_of(), [failed, run("2025-03-13 pass")]) == "03-13"


def test_what_was_called_a_repeat_before_the_cause_was_found_is_none():
    path, cause = path_of(cause_before_repeat=True), step("2025-03-12", "find cause", done="2025-03-12")
    for day, counts in (("2025-03-11", None), ("2025-03-12", "03-12"), ("2025-03-13", "03-13")):
        assert resolved(path, [FAILED, run(f"{day} pass", purpose="repeat")], cause) == counts
    assert resolved(path, [FAILED, run("2025-03-12 pass")], cause) is None


def test_of_one_day_a_repeat_is_after_a_failure_that_was_no_repeat_itself():
    again, after = (run(f"2025-03-11 {what}", purpose="repeat") for what in ("growth", "pass"))
    assert resolved(path_of(), [FAILED, again, after]) is None, "which of the two came last is not known"
    assert resolved(path_of(), [FAILED, "2025-03-11 growth", after]) == "03-11"
    first = run(FAILED, purpose="repeat")
    assert resolved(path_of(), [first, run("2025-03-10 pass", purpose="repeat")]) == "03-10"


def test_of_two_failures_of_one_day_the_one_called_a_repeat_is_not_the_first():
    failed = [run(FAILED, purpose="repeat", ref="again"), run(FAILED, ref="first")]
    (said,) = {one_case(path_of(return_passes=1), order).evidence for order in (failed, failed[::-1])}
    assert [e.ref for e in said][:1] == ["first"]


@pytest.mark.parametrize(
    ("day", "cycle", "counts"),
    [
        ("2025-03-10", "5", None),
        ("2025-03-10", "6", "03-10"),
        ("2025-03-11", "5", "03-11"),
        ("2025-03-10", "", "03-10"),
    ],
)
def test_a_result_of_the_failed_cycle_is_no_repeat_of_it(day, cycle, counts):
    lines = [run(FAILED, cycle="5"), run(f"{day} pass", cycle=cycle, purpose="repeat")]
    assert resolved(path_of(), lines) == counts


@pytest.mark.parametrize(
    ("results", "counts"),
    [
        ({}, "03-11"),
        ({"mechanical": "not recorded"}, None),
        ({"chemical": "not recorded"}, None),
        ({"mechanical": "fail"}, None),
        ({"chemical": "fail"}, None),
    ],
)
def test_gauges_and_indicators_of_a_repeat_must_be_right_where_the_rules_say_so(results, counts):
    """CDC 2003 (MMWR 52 RR-17) VI.F: negative, with mechanical and chemical indicators in order."""
    assert resolved(path_of(needs_normal=True), [FAILED, run("2025-03-11 pass", **results)]) == counts


def test_where_no_rule_asks_it_only_a_failure_of_gauges_speaks_against_a_repeat():
    for results, counts in (({"mechanical": "not recorded"}, "03-11"), ({"mechanical": "fail"}, None)):
        assert resolved(path_of(), [FAILED, run("2025-03-11 pass", **results)]) == counts


@pytest.mark.parametrize(("signed", "counts"), [("A. User", "03-11"), (" ", None), ("", None)])
def test_a_check_counts_where_it_is_signed_as_the_rules_ask(signed, counts):
    """HTM 01-05: signed before return to use."""
    htm = load_regime("gb-eng-dental-htm0105")
    asks = replace(htm, failure=(path_of("automatic control"),))
    checks = (user_check("2025-03-10", result="fail"), user_check("2025-03-11", signed=signed))
    facts, verdicts = read(checks=checks)
    (found,) = replay_all(facts, asks, verdicts, [])
    assert (found.resolved_on and str(found.resolved_on)[5:]) == counts
    (free,) = replay_all(facts, replace(asks, duties=()), verdicts, [])
    assert str(free.resolved_on) == "2025-03-11"


# ------------------------------------------------------------------------------------------------ the last good one


def last_good(*lines, kind="biological", **facts):
    """The day and hour of the newest pass before all failures."""
    held = Results(*read(bio_tests=tuple(run(x) if isinstance(x, str) else x for x in lines), **facts), kind)
    found = held.last_pass(held.failed())
    return found and f"{found.day.day} {found.at:%H:%M}" if found and found.at else found and str(found.day.day)


def timed(what, at):
    return run(f"2025-03-10 {what}", at=at)


def test_the_newest_pass_before_the_first_failure():
    assert last_good("2025-03-01 pass", "2025-03-05 pass", FAILED) == "5"
    assert last_good("2025-03-01 pass", "2025-03-05 pass", "2025-03-03 growth", FAILED) == "1"
    assert last_good("2025-03-01 pass", "2025-03-05 awaited", FAILED) == "1"
    assert last_good(FAILED, "2025-03-11 pass") is None


def test_of_the_day_of_the_failure_times_show_what_came_before_each():
    assert last_good("2025-03-05 pass", timed("pass", "09:00"), timed("growth", "10:00")) == "10 09:00"
    assert last_good("2025-03-05 pass", timed("pass", "11:00"), timed("growth", "10:00")) == "5"
    both = (timed("growth", "10:00"), timed("growth", "08:00"))
    assert last_good("2025-03-05 pass", timed("pass", "09:00"), *both) == "5"
    assert last_good("2025-03-05 pass", timed("pass", "07:00"), *both) == "10 07:00"


def test_of_several_rows_of_a_kind_the_newest_pass_counts():
    failed = run("2025-03-10 pass", mechanical="fail")
    good = load("2025-03-05", "1", mechanical="pass")
    assert last_good(failed, kind="mechanical", loads=(good,)) == "5"
    assert last_good(run("2025-03-07 pass"), failed, kind="mechanical", loads=(good,)) == "7"
    assert last_good(run("2025-03-03 pass"), failed, kind="mechanical", loads=(good,)) == "5"


# ------------------------------------------------------------------------------------------------ what is a result


def test_what_is_not_recorded_or_does_not_count_is_no_result():
    loads = tuple(
        load(f"2025-03-{n}", mechanical=what) for n, what in ((10, "fail"), (11, "pass"), (12, "not recorded"))
    )
    assert [t.day.day for t in Results(*read(loads=loads), "mechanical").since(date.min)] == [10, 11]
    tests = (bio("2025-03-10", result="invalid"), bio("2025-03-11", result="pass"), bio("2025-03-12"))
    held = list(Results(*read(bio_tests=tests), "biological").since(date.min))
    assert [(t.day.day, t.result) for t in held] == [(11, "passed"), (12, "awaited")]


def test_an_indicator_made_for_air_removal_tests_proves_nothing_of_goods():
    """ISO 11140-1, type 2; on a gravity unit one that failed is a chemical result all the same."""
    path, failed = path_of("chemical"), strip(5, "fail")
    assert one_case(path, [], chemical=(failed, strip(2, "pass", "2025-03-11"))).resolved_on is None
    assert one_case(path, [], chemical=(failed, strip(5, "pass", "2025-03-11"))).resolved_on == date(2025, 3, 11)
    assert "implant" not in one_case(path, [], chemical=(failed,)).recall


@pytest.mark.parametrize(("times", "known"), [(("11:00", "10:00"), "10:00"), (("10:00", ""), None), (("", ""), None)])
def test_of_two_readings_of_one_day_the_first_is_when_it_was_known(times, known):
    made = bio("2025-03-09", look("2025-03-10", "growth"), look("2025-03-10", "growth"))
    at = [datetime.fromisoformat(f"2025-03-10T{t}+00:00") if t else None for t in times]
    made = replace(made, readings=tuple(replace(r, known_at=t) for r, t in zip(made.readings, at, strict=True)))
    (trial,) = Results(*read(bio_tests=(made,)), "biological").since(date.min)
    assert (trial.known_at and f"{trial.known_at:%H:%M}") == known


def words(kind, **facts):
    (trial,) = Results(*read(**facts), kind).since(date.min)
    return trial.evidence.text


def test_each_result_in_a_line():
    end = "of 2025-03-10: failed"
    tight = leak("2025-03-10", "fail")
    assert words("air leak", leaks=(tight,)) == f"air-leak test (0.20 kPa/min) {end}"
    assert words("air leak", leaks=(replace(tight, as_read=""),)) == f"air-leak test (0.20) {end}"
    assert words("chemical", chemical=(strip(5, "fail"),)) == f"chemical indicator type 5 {end}"
    assert words("wet packs", loads=(packs("wet", cycle="5"),)) == f"dryness of the packs of cycle 5 {end}"
    assert words("wet packs", loads=(packs("wet"),)) == f"dryness of the packs of a cycle without number {end}"
    assert words("chemical", loads=(load("2025-03-10", "5", chemical="fail"),)) == f"chemical result of cycle 5 {end}"
    assert words("air removal", air_removal=(air("2025-03-10", "fail"),)) == f"air-removal test {end}"
    assert words("safety check", checks=(user_check("2025-03-10", "safety check", "fail"),)) == (
        f"check of the safety devices {end}"
    )
