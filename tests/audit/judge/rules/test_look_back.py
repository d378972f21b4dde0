"""Loads and measurements in doubt about which nothing was decided, and the items that speak of them."""

from datetime import date

import pytest

from audit.judge.judgement import Severity
from tests.audit.judge.lookback.said import loads, taken
from tests.audit.judge.rules.judged import items, one
from tests.fact_builders import air, bio, calibration, case, instrument, job, leak, step

RULE = "look-back-open"
FAILED = bio("2025-06-05", result="growth", known="2025-06-07")
TESTS = {"bio_tests": (bio("2025-06-02", result="pass"), FAILED), "loads": loads("2025-06-03", "2025-06-05")}


def decided(*steps):
    return {"cases": (case(FAILED.row.origin, "2025-06-07", *steps),)}


@pytest.mark.parametrize(("as_of", "raised"), [("2025-06-14", False), ("2025-06-15", True)])
def test_after_a_week_without_a_decision(as_of, raised):
    """Seven days: common practice, no source."""
    said = items(rule=RULE, as_of=date.fromisoformat(as_of), **TESTS)
    assert bool(said) is raised


def test_what_it_says():
    said = one(rule=RULE, **TESTS)
    assert (said.severity, str(said.since), said.owner) == (Severity.PUT_RIGHT, "2025-06-15", "clinic")
    assert "2 load(s) affected by positive spore test of 2025-06-05" in said.message and "13 days" in said.message


def test_a_decision_or_nothing_to_decide_about():
    assert items(rule=RULE, **TESTS, **decided(step("2025-06-07", "review", done="2025-06-19"))) == []
    assert len(items(rule=RULE, **TESTS, **decided(step("2025-06-07", "review")))) == 1
    assert items(rule=RULE, **TESTS | {"loads": loads("2025-06-01")}) == []


def test_where_the_rules_ask_no_recall_and_the_unit_was_proven_they_have_decided():
    """CDC 2003 VI.F and CDC 2008 rec 16: a repeat that passes asks no recall of items other than implants."""
    repeat = bio("2025-06-08", result="pass", known="2025-06-09", purpose="repeat")
    facts = TESTS | {"bio_tests": (*TESTS["bio_tests"], repeat)}
    assert items(rule=RULE, **facts) == []


def test_a_failed_air_removal_test_that_was_repeated_leaves_its_loads_undecided():
    tests = (air("2025-06-02"), air("2025-06-05", "fail"), air("2025-06-05"))
    more = {"air_removal": tests, "type": "dynamic air removal", "loads": TESTS["loads"]}
    assert "failed air-removal test" in one(rule=RULE, **more).message


def test_measurements_of_an_instrument_out_of_tolerance():
    tool = instrument(calibration("2025-01-01"), calibration("2025-06-01", "out of tolerance"))
    visit = job("2025-05-01", readings=(taken("2025-05-01"),))
    said = one(rule=RULE, jobs=(visit,), place={"instruments": (tool,)})
    assert said.owner == "service company" and "1 measurement(s) affected by thermometer T1" in said.message
    assert "measure again" in said.way_out


def test_found_out_of_tolerance_counts_what_ran_since():
    visits = [job(d, readings=(taken(d, found=f),)) for d, f in (("2025-06-02", None), ("2025-06-06", "133"))]
    said = one(rule="found-out-of-tolerance", jobs=tuple(visits), loads=TESTS["loads"])
    assert "2 load(s) ran since it was last measured within them on 2025-06-02" in said.message
    said = one(rule="found-out-of-tolerance", jobs=tuple(visits[1:]), loads=TESTS["loads"])
    assert "never measured within them" in said.message and said.severity is Severity.NOTE
    assert items(rule=RULE, jobs=tuple(visits), loads=TESTS["loads"]) == []


def test_left_outside_forbids_use_until_measured_within():
    bad = job("2025-06-02", readings=(taken("2025-06-02", left="133"),))
    assert one(rule="reading-out-of-limits", jobs=(bad,)).severity is Severity.FORBIDS
    for more, severity in (({}, Severity.NOTE), ({"point": "door"}, Severity.FORBIDS)):
        later = job("2025-06-06", readings=(taken("2025-06-06", **more),))
        assert one(rule="reading-out-of-limits", jobs=(bad, later)).severity is severity


def test_tests_that_do_not_apply_are_one_item_a_kind():
    """A gravity unit has no vacuum to test (EN 13060 type N; common practice)."""
    said = items(
        rule="test-not-applicable",
        air_removal=(air("2025-06-02"), air("2025-06-03", "fail")),
        leaks=(leak("2025-06-04"),),
    )
    assert len(said) == 2 and "the newest of 2" in said[0].message and "gravity unit" in said[0].message


def test_an_invalid_test_is_made_good_by_a_later_one_that_passed():
    bad = bio("2025-06-02", result="invalid")
    for later, severity in (("pass", Severity.NOTE), ("growth", Severity.PUT_RIGHT), ("invalid", Severity.PUT_RIGHT)):
        said = items(rule="invalid-test", bio_tests=(bad, bio("2025-06-09", result=later)))
        assert next(f for f in said if str(f.since) == "2025-06-02").severity is severity


def test_how_a_measurement_outside_limits_is_said():
    visit = job("2025-06-02", readings=(taken("2025-06-02", left="133", upper=None),))
    assert "limits from 134 no upper limit" in one(rule="reading-out-of-limits", jobs=(visit,)).message
    visit = job("2025-06-02", readings=(taken("2025-06-02", left="138", lower=None),))
    assert "limits no lower limit to 137" in one(rule="reading-out-of-limits", jobs=(visit,)).message


def test_one_case_decided_by_the_rules_decides_no_other():
    """Each failure is judged on its own: the first was proven by its repeat, the second is open."""
    early = (bio("2025-05-01", result="pass"), bio("2025-05-05", result="growth"))
    proven = bio("2025-05-08", result="pass", known="2025-05-09", purpose="repeat")
    facts = {"bio_tests": (*early, proven, FAILED), "loads": loads("2025-05-02", "2025-06-03")}
    assert "2025-06-05" in one(rule=RULE, **facts).message


def test_not_applicable_speaks_of_the_newest():
    tests = tuple(air(f"2025-06-0{n}") for n in range(1, 8))
    said = one(rule="test-not-applicable", air_removal=tests)
    assert "2025-06-07" in said.message and [e.ref for e in said.evidence] == [t.row.ref for t in tests[2:]]
    assert "newest" not in one(rule="test-not-applicable", air_removal=tests[:1]).message


def test_a_test_that_counts_before_makes_nothing_good():
    facts = (bio("2025-05-26", result="pass"), bio("2025-06-02", result="invalid"), bio("2025-06-09", result="pass"))
    assert one(rule="invalid-test", bio_tests=facts).severity is Severity.NOTE
    assert one(rule="invalid-test", bio_tests=facts[:2]).severity is Severity.PUT_RIGHT


def test_what_is_shown_are_the_newest_five():
    run = loads(*(f"2025-06-0{n}" for n in (3, 3, 4, 4, 5, 6, 7)))
    said = one(rule=RULE, **TESTS | {"loads": run})
    assert [e.ref for e in said.evidence[1:]] == [x.row.ref for x in run[2:]]
