"""Open items of the response to a failure and of work not proven."""

from dataclasses import replace
from datetime import date

import pytest

from audit.regimes import load_regime
from audit.regimes.model import NoticeRule
from audit.regimes.source import Source
from tests.fact_builders import bio, case, conclude, event, job, load, look, step

from .judged import items, one

BASE = load_regime("us-dental-cdc-2003")
MONTANA = NoticeRule("the authority", 1, "business days", "US-MT", "always", Source("ARM 37.112.131"))
TOLD = replace(BASE, failure=tuple(replace(p, notices=(MONTANA,)) for p in BASE.failure))
IN_USE = event("2025-01-01")


def grown(day="2025-06-13", **more):
    return bio(day, result="growth", known=day, **more)


def told(failed, day):
    return (case(failed.row.origin, "2025-06-13", step("2025-06-13", "notify", done=day)),)


def test_a_notice_not_given():
    # ARM 37.112.131: failed on Friday 13 June 2025, contact due by the end of Monday
    failed = {"bio_tests": (grown(),), "regime": TOLD}
    assert not items(rule="notice-not-given", as_of=date(2025, 6, 16), **failed)
    found = one(rule="notice-not-given", as_of=date(2025, 6, 17), **failed)
    assert found.since == date(2025, 6, 17) and found.severity == "put right"
    assert not items(rule="step-open", as_of=date(2025, 6, 17), **failed)


@pytest.mark.parametrize(("day", "late"), [("2025-06-16", 0), ("2025-06-17", 1)])
def test_a_notice_given_late_can_only_be_known(day, late):
    failed = grown()
    said = items(rule="notice-late", bio_tests=(failed,), cases=told(failed, day), regime=TOLD)
    assert len(said) == late and all(f.severity == "note" for f in said)
    assert not items(rule="notice-not-given", bio_tests=(failed,), cases=told(failed, day), regime=TOLD)


def test_loads_while_withdrawn_by_hand():
    out = (IN_USE, event("2025-06-02", "withdrawn", "smells"), event("2025-06-05", "returned"))
    for day, raised in (("2025-06-02", 0), ("2025-06-03", 1), ("2025-06-05", 0), ("2025-06-06", 0)):
        said = items(rule="loads-while-withdrawn", events=out, loads=(load(day, "7"),))
        assert len(said) == raised, day
    found = one(rule="loads-while-withdrawn", events=out[:2], loads=(load("2025-06-06", "7"),))
    assert found.severity == "forbids use" and found.since == date(2025, 6, 6)


def test_a_failure_of_which_the_order_is_not_known_hides_no_load_of_a_withdrawal():
    """Withdrawn on 2 June and run on the 4th: that a failure became known on that day, no times, does not help."""
    out = (IN_USE, event("2025-06-02", "withdrawn", "smells"))
    history = {"events": out, "loads": (load("2025-06-04", "7"),)}
    failed = bio("2025-06-03", result="growth", known="2025-06-04", cycle="6")
    for more in ({}, {"bio_tests": (failed,)}):
        assert one(rule="loads-while-withdrawn", **history, **more).severity == "forbids use"
        assert not items(rule="loads-order-not-known", **history, **more)


def test_the_cycle_of_a_test_is_no_load_and_a_load_counts_once():
    out = (IN_USE, event("2025-06-02", "withdrawn", "positive"))
    tested = (bio("2025-06-04", result="pass", cycle="8"),)
    assert not items(rule="loads-while-withdrawn", events=out, bio_tests=tested, loads=(load("2025-06-04", "8"),))
    failed = {"events": out, "bio_tests": (grown("2025-06-02"),), "loads": (load("2025-06-04", "9"),)}
    assert one(rule="loads-while-out", **failed) and not items(rule="loads-while-withdrawn", **failed)


def test_an_implant_in_an_open_look_back():
    # CDC 2008 recommendation 16 leaves implants out of what need not be recalled
    tests = (bio("2025-06-02", result="pass"), grown())
    found = one(rule="implant-in-window", bio_tests=tests, loads=(load("2025-06-10", "5", True), load("2025-06-11")))
    assert len([e for e in found.evidence if "2025-06-10" in e.text]) == 1
    assert not items(rule="implant-in-window", bio_tests=tests, loads=(load("2025-05-30", "5", True),))
    recalled = step("2025-06-13", "recall packs", done="2025-06-14")
    cases = (case(tests[1].row.origin, "2025-06-13", recalled),)
    loads = (load("2025-06-10", "5", True),)
    assert not items(rule="implant-in-window", bio_tests=tests, cases=cases, loads=loads)


def test_an_implant_released_before_its_result_was_known():
    # CDC 2003 (MMWR 52 RR-17) VI.F item 7: results verified before an implant is used, whenever possible
    loads = (load("2025-06-10", "5", True),)  # logged, as released, on its own day
    waiting = one(rule="implant-released-early", loads=loads, bio_tests=(bio("2025-06-10", cycle="5"),))
    assert waiting.severity == "put right"
    passed = (bio("2025-06-10", result="pass", known="2025-06-11", cycle="5"),)
    assert one(rule="implant-released-early", loads=loads, bio_tests=passed).severity == "note"
    same_day = (bio("2025-06-10", look("2025-06-10", hours="24"), cycle="5"),)
    assert not items(rule="implant-released-early", loads=loads, bio_tests=same_day)
    held = (load("2025-06-10", "5", True, released=""),)
    assert not items(rule="implant-released-early", loads=held, bio_tests=passed)


def test_an_implant_without_the_test_that_the_rules_ask():
    duty = replace(BASE.duties[0], id="implant-load-test", every="each-implant-load", words="in every implant load")
    asks = replace(BASE, duties=(*(d for d in BASE.duties if d.every != "each-implant-load"), duty))
    quiet = replace(BASE, duties=tuple(d for d in BASE.duties if d.every != "each-implant-load"))
    loads = (load("2025-06-10", "5", True),)
    assert one(rule="implant-without-test", loads=loads, regime=asks)
    assert not items(rule="implant-without-test", loads=loads, regime=quiet)
    for more in ({"cycle": "5"}, {"implant": True}):
        tests = (bio("2025-06-10", result="pass", **more),)
        assert not items(rule="implant-without-test", loads=loads, bio_tests=tests, regime=asks)
    other = (bio("2025-06-10", result="pass", cycle="6", implant=True),)
    assert one(rule="implant-without-test", loads=loads, bio_tests=other, regime=asks)


def test_a_pending_result_past_its_deadline():
    end = conclude("2025-06-10", "pending", acceptor="A. Dentist", deadline="2025-06-12")
    work = {"jobs": (job("2025-06-10", conclusion=end),)}
    assert not items(rule="pending-past-deadline", as_of=date(2025, 6, 12), **work)
    found = one(rule="pending-past-deadline", as_of=date(2025, 6, 13), **work)
    assert "A. Dentist" in found.message and found.since == date(2025, 6, 13)
    known = (bio("2025-06-10", result="pass", known="2025-06-13", purpose="after repair"),)
    assert not items(rule="pending-past-deadline", as_of=date(2025, 6, 13), bio_tests=known, **work)


def test_a_requalification_of_which_a_cycle_type_is_missing():
    each = replace(BASE, requalification=replace(BASE.requalification, each_cycle_type=True, biological=1))
    made = {
        "jobs": (job("2025-06-10", reason="relocation", tests=("V1", "V4")),),
        "loads": (load("2025-06-01", "1", program="open"), load("2025-06-02", "2", program="wrapped")),
        "bio_tests": (bio("2025-06-11", result="pass", chamber="empty"),),
        "regime": each,
    }
    assert "in cycle type 'open'" in one(rule="requalification-incomplete", **made).message
    made["bio_tests"] += (bio("2025-06-12", result="pass", chamber="empty", cycle_type="open"),)
    assert not items(rule="requalification-incomplete", **made)


def test_a_return_signed_without_its_proof():
    failed = grown()
    signed = (case(failed.row.origin, "2025-06-13", step("2025-06-13", "return", done="2025-06-14")),)
    assert one(rule="return-without-proof", bio_tests=(failed,), cases=signed).severity == "forbids use"
    again = bio("2025-06-14", result="pass", known="2025-06-14")
    assert not items(rule="return-without-proof", bio_tests=(failed, again), cases=signed)
