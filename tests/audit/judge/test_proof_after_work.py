"""Tests in a row after major work: how many, of which cycle type, with which chamber, in which order."""

from dataclasses import replace
from datetime import date

import pytest

from audit.facts import unit_by_day
from audit.judge.biological import judge_tests
from audit.judge.proof_after_work import works_of
from audit.regimes import load_regime
from tests.fact_builders import air, check, job, load, unit

from .said_of_failures import run

DAY = date(2025, 6, 1)
MOVED = job("2025-03-10", reason="relocation", tests=("V1", "V4", "V2"))
BASE = load_regime("us-healthcare-st79-2017")


def work(lines=(), jobs=(MOVED,), **more):
    rule = {"biological": 3, "air_removal": 3, "chamber": "any", "each_cycle_type": False, "order": ""}
    rule |= {k: more.pop(k) for k in list(more) if k in rule and k != "air_removal"}
    regime = replace(BASE, requalification=replace(BASE.requalification, **rule))
    facts = unit_by_day(unit(bio_tests=tuple(run(x) for x in lines), jobs=jobs, **more), DAY)
    return works_of(facts, regime, judge_tests(facts.bio_tests, regime.validity))[0]


PASSES = [f"2025-03-1{n} pass" for n in (1, 2, 3)]


@pytest.mark.parametrize(
    ("lines", "missing"),
    [
        # ST79:2006 Table 8: three biological tests in a row after relocation
        ((), 3),
        (PASSES[:2], 1),
        (PASSES, 0),
        (["2025-03-09 pass", *PASSES[:2]], 1),  # before the work
        ([*PASSES[:2], "2025-03-13 growth"], 3),
        ([*PASSES, "2025-03-14 growth"], 0),  # proven before: that failure is a case of its own
        ([*PASSES[:2], "2025-03-13 awaited"], 1),
        ([PASSES[0], "2025-03-12 awaited", "2025-03-13 pass", "2025-03-14 pass"], 1),  # broken by what is awaited
    ],
)
def test_three_in_a_row(lines, missing):
    assert work(lines).biological_missing == missing


def test_each_cycle_type_says_which_is_missing():
    # ST79:2006 Table 8: each type of cycle used
    used = (load("2025-03-01", program="wrapped"), load("2025-03-02", program="Open"))
    found = work(PASSES, each_cycle_type=True, loads=used)
    assert found.short == (("open", 3),) and found.by_cycle_type and found.biological_missing == 3
    assert found.biological_words == "3 more negative spore test(s) in a row in cycle type 'open'"
    done = work([*PASSES, *(f"2025-03-1{n} pass open" for n in (4, 5, 6))], each_cycle_type=True, loads=used)
    assert done.biological_missing == 0 and done.biological_words == ""


def test_without_any_load_the_cycle_types_are_those_tested():
    before = ["2025-03-01 pass open"]
    assert work([*before, *PASSES], each_cycle_type=True).short == (("open", 3),)
    assert work(PASSES, each_cycle_type=True).biological_missing == 0  # nothing known: any one type


@pytest.mark.parametrize("chamber", ["empty", "full"])
def test_the_filling_of_the_chamber(chamber):
    assert work([f"{x} {chamber}" for x in PASSES], chamber=chamber).biological_missing == 0
    other = {"empty": "full", "full": "empty"}[chamber]
    assert work([f"{x} {other}" for x in PASSES], chamber=chamber).biological_missing == 3


def test_another_order_is_a_warning_and_no_more():
    # ST79:2006 Table 8: the air-removal tests come after the biological ones
    days = {"before": (11, 12, 13), "after": (14, 15, 16)}
    for when, warned in (("before", 1), ("after", 0)):
        made = {"air_removal": tuple(air(f"2025-03-{n}") for n in days[when]), "type": "dynamic air removal"}
        found = work(PASSES, order="biological first", **made)
        assert not found.missing and len(found.warnings) == warned
    assert (
        "air-removal tests"
        in work(
            PASSES,
            order="biological first",
            type="dynamic air removal",
            air_removal=tuple(air(f"2025-03-{n}") for n in days["before"]),
        ).warnings[0]
    )


def test_air_removal_tests_missing_after_a_failed_one():
    made = {"air_removal": (air("2025-03-11"), air("2025-03-12", "fail"), air("2025-03-13"))}
    assert work(PASSES, type="dynamic air removal", **made).missing == (
        "2 more passing air-removal test(s) in a row",
    )


def test_the_newest_result_of_a_later_job_wins_for_every_earlier_one():
    jobs = (
        job("2025-01-01", tests=(check("2025-01-01", "V1", "fail"),)),
        job("2025-01-02", tests=(check("2025-01-02", "V1", "pass"),), end="not released"),
        job("2025-01-03", tests=(check("2025-01-03", "V1", "fail"),)),
        job("2025-01-04", tests=(check("2025-01-04", "V1", "pass"),), end=""),
    )
    facts = unit_by_day(unit(jobs=jobs), DAY)
    works = works_of(facts, BASE, {})
    assert [w.failed for w in works] == [()] * 4
    assert works_of(replace(facts, jobs=facts.jobs[:3]), BASE, {})[0].failed == ("V1",)
    assert [w.concluded_by and str(w.concluded_by.row.happened_on) for w in works] == [
        "2025-01-01",
        "2025-01-03",
        "2025-01-03",
        None,
    ]
