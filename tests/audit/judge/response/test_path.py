"""The path after a failure in examples, each with its published source."""

from dataclasses import replace
from datetime import date

import pytest

from tests.fact_builders import air, event, leak, load, step, user_check

from ..said_of_failures import cases, one_case, path_of, run

CAUSE = (step("2025-03-11", "find cause", done="2025-03-11"),)  # on the day the repeat failed, before the next run
TWICE = ["2025-03-03 pass", "2025-03-10 growth", "2025-03-11 growth"]

# CDC 2003 (MMWR 52 RR-17) VI.F: one repeat in the same cycle; if positive too, the cause and three with it empty
CDC_2003 = path_of(same_cycle_type=True, needs_normal=True, return_passes=3, return_chamber="empty")
CDC_2008 = path_of(repeats=3, return_passes=3)  # CDC 2008 Table 12: three in three consecutive cycles
# ST79:2006 Table 8: three biological in a row, then three air-removal tests; each type of cycle used
ST79 = path_of(
    same_cycle_type=True,
    return_passes=3,
    return_each_cycle_type=True,
    return_air_removal=3,
    return_order="biological first",
)
TORONTO = path_of(repeats=3)  # Toronto Public Health: three consecutive passes
NEW_JERSEY = path_of(repeat_chamber="full")  # N.J.A.C. 8:27-5.4: fully loaded chamber; no use until no growth
NEHA = path_of(needs_normal=True, return_passes=1)  # NEHA body art model code 8.11

PATHS = [
    # (source above, runs, returned on or None, passes so far)
    (CDC_2003, ["2025-03-10 growth", "2025-03-11 pass"], "2025-03-11", 1),
    (CDC_2003, ["2025-03-10 growth", "2025-03-11 pass open"], None, 0),  # another cycle
    (CDC_2003, [*TWICE, "2025-03-12 pass empty", "2025-03-13 pass empty"], None, 2),
    (CDC_2003, [*TWICE, "2025-03-12 pass empty", "2025-03-13 pass empty", "2025-03-14 pass full"], None, 2),
    (CDC_2003, [*TWICE, *(f"2025-03-1{n} pass empty" for n in (2, 3, 4))], "2025-03-14", 3),
    (CDC_2003, [*TWICE, *(f"2025-03-1{n} pass empty" for n in (2, 3)), "2025-03-14 growth empty"], None, 0),
    (CDC_2008, ["2025-03-10 growth", "2025-03-11 pass", "2025-03-12 pass"], None, 2),
    (CDC_2008, ["2025-03-10 growth", *(f"2025-03-1{n} pass" for n in (1, 2, 3))], "2025-03-13", 3),
    (TORONTO, ["2025-03-10 growth", "2025-03-11 pass", "2025-03-12 growth", "2025-03-13 pass"], None, 1),
    (TORONTO, ["2025-03-10 growth", *(f"2025-03-1{n} pass" for n in (1, 2, 3))], "2025-03-13", 3),
    (NEW_JERSEY, ["2025-03-10 growth", "2025-03-11 pass empty"], None, 0),
    (NEW_JERSEY, ["2025-03-10 growth", "2025-03-11 pass full"], "2025-03-11", 1),
    (NEHA, ["2025-03-10 growth", "2025-03-11 pass"], "2025-03-11", 1),
    (NEHA, [*TWICE, "2025-03-13 pass"], "2025-03-13", 1),
]


@pytest.mark.parametrize(("path", "lines", "returned", "passes"), PATHS)
def test_a_published_path(path, lines, returned, passes):
    said = one_case(path, lines, CAUSE if "2025-03-11 growth" in lines else ())
    assert (str(said.resolved_on) if said.resolved_on else None, said.passes) == (returned, passes)
    assert bool(said.needs) is (returned is None)


def test_each_cycle_type_in_use_is_proven():
    # ST79:2006 Table 8: each type of cycle used; that of twelve months of loads: common practice, no source
    used = (load("2024-03-10", program="open"), load("2024-03-09", program="flash"))
    wrapped = [*TWICE, *(f"2025-03-1{n} pass" for n in (2, 3, 4))]
    said = one_case(ST79, wrapped, CAUSE, loads=used)
    assert said.needs == "3 more negative test(s) in a row in cycle type 'open'" and said.passes == 0
    said = one_case(ST79, [*wrapped, *(f"2025-03-1{n} pass Open" for n in (5, 6, 7))], CAUSE, loads=used)
    assert said.resolved_on == date(2025, 3, 17)


def test_a_failure_of_one_cycle_type_starts_all_again():
    used = (load("2025-03-01", program="open"),)
    lines = [*TWICE, *(f"2025-03-1{n} pass" for n in (2, 3, 4)), "2025-03-15 growth open"]
    said = one_case(ST79, [*lines, *(f"2025-03-1{n} pass open" for n in (6, 7, 8))], CAUSE, loads=used)
    assert said.resolved_on is None
    assert said.needs == "the cause found or repaired again, after the failure known 2025-03-15"
    again = (*CAUSE, step("2025-03-15", "repair", done="2025-03-15"))
    after = [*lines, *(f"2025-03-1{n} pass open" for n in (6, 7, 8))]
    assert one_case(ST79, after, again, loads=used).needs.endswith("in cycle type 'wrapped'")


def test_the_cycle_of_an_air_removal_test_is_no_cycle_type_in_use():
    used = (load("2025-03-01", "7", program="air removal"),)
    tested = (type(air("2025-03-01"))(air("2025-03-01").row, "pass", "7", "empty", "AR1"),)
    lines = [*TWICE, *(f"2025-03-1{n} pass" for n in (2, 3, 4))]
    assert one_case(ST79, lines, CAUSE, loads=used, air_removal=tested).resolved_on
    assert not one_case(ST79, lines, CAUSE, loads=used).resolved_on


@pytest.mark.parametrize(
    ("days", "returned", "warned"),
    [
        (("2025-03-15", "2025-03-16"), None, 0),  # two are not three
        (("2025-03-14", "2025-03-15", "2025-03-16"), "2025-03-16", 0),
        (("2025-03-12", "2025-03-13", "2025-03-14"), "2025-03-14", 1),  # before the spore tests were complete
    ],
)
def test_three_air_removal_tests_after_the_spore_tests(days, returned, warned):
    # ST79:2006 Table 8: three biological tests, then three air-removal tests; the order only warns
    lines = [*TWICE, *(f"2025-03-1{n} pass" for n in (2, 3, 4))]
    made = {"air_removal": tuple(air(d) for d in days), "type": "dynamic air removal"}
    said = one_case(ST79, lines, CAUSE, **made)
    assert (str(said.resolved_on) if said.resolved_on else None, len(said.warnings)) == (returned, warned)


@pytest.mark.parametrize(
    ("fails_on", "returned"),
    [("2025-03-16", "2025-03-17"), ("2025-03-17", "2025-03-20"), ("2025-03-18", "2025-03-17")],
)
def test_an_air_removal_test_that_fails_by_the_day_of_the_last_spore_test_starts_its_row_again(fails_on, returned):
    """On that day itself it may have come before the last one; these steps open no other case for it."""
    lines = [*TWICE, *(f"2025-03-{n} pass" for n in (12, 13, 17))]
    passed = [air(f"2025-03-{n}") for n in (11, 12, 13, 14, 15)]
    if fails_on == "2025-03-16":
        passed += [replace(air("2025-03-17"), cycle_number=number) for number in ("1", "2", "3")]
    again = [air(f"2025-03-{n}") for n in (18, 19, 20)]
    made = {"air_removal": (*passed, air(fails_on, "fail"), *again), "type": "dynamic air removal"}
    assert str(one_case(ST79, lines, CAUSE, **made).resolved_on) == returned


def test_a_positive_test_before_the_air_removal_set_is_complete_undoes_the_row():
    lines = [*TWICE, *(f"2025-03-1{n} pass" for n in (2, 3, 4)), "2025-03-15 growth"]
    made = {"air_removal": tuple(air(f"2025-03-1{n}") for n in (4, 6, 7)), "type": "dynamic air removal"}
    assert one_case(ST79, lines, CAUSE, **made).resolved_on is None


def test_a_failure_known_before_the_last_needed_result_starts_again():
    # three runs in a row, the result of the third known late; a growth run after them was known before that
    late = run("2025-03-14 pass", known="2025-03-20")
    lines = [*TWICE, "2025-03-12 pass", "2025-03-13 pass", late, "2025-03-15 growth"]
    assert one_case(path_of(return_passes=3), lines, CAUSE).resolved_on is None


@pytest.mark.parametrize(
    ("kind", "facts", "title"),
    [
        ("automatic control", {"checks": (user_check("2025-03-10", result="fail"),)}, "automatic control test"),
        ("safety check", {"checks": (user_check("2025-03-10", "safety check", "fail"),)}, "safety devices"),
        ("air leak", {"leaks": (leak("2025-03-10", "fail"),), "type": "dynamic air removal"}, "air-leak"),
        ("air removal", {"air_removal": (air("2025-03-10", "fail"),), "type": "dynamic air removal"}, "air-removal"),
    ],
)
def test_every_kind_of_test_has_a_path(kind, facts, title):
    path = path_of(kind)
    said = one_case(path, [], **facts)
    assert title in said.title and said.phase == "retest needed"
    again = {
        "checks": (user_check("2025-03-11", kind),),
        "leaks": (leak("2025-03-11"),),
        "air_removal": (air("2025-03-11"),),
    }
    both = {k: (*v, *again[k]) if k in again else v for k, v in facts.items()}
    assert one_case(path, [], **both).resolved_on == date(2025, 3, 11)


def test_a_check_of_another_kind_or_not_done_proves_nothing():
    checks = (
        user_check("2025-03-10", result="fail"),
        user_check("2025-03-11", "safety check"),
        user_check("2025-03-11", result="not done"),
    )
    assert one_case(path_of("automatic control"), [], checks=checks).resolved_on is None


def test_withdrawal_and_return_are_shown_with_their_proof():
    events = (event("2025-03-10", "withdrawn", "positive"), event("2025-03-12", "returned", "proven"))
    said = one_case(path_of(), ["2025-03-10 growth", "2025-03-11 pass"], events=events)
    by = {s.action: s for s in said.steps}
    assert (by["withdraw"].done_on, by["return"].done_on) == (date(2025, 3, 10), date(2025, 3, 12))


def test_no_failure_no_case():
    assert cases(path_of(), ["2025-03-10 pass", "2025-03-11 awaited"]) == ()
