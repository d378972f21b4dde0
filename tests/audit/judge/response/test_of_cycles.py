"""Failing mechanical and chemical results of loads and spore-test cycles: the case that is kept on them, its end, and
what a decision on a load means before and after its day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit.facts import UnitFacts, unit_by_day
from audit.judge.evaluate import evaluate_unit
from audit.regimes import load_regime, regime_ids
from tests.audit.judge.rules.judged import items, one
from tests.fact_builders import bio, case, clinic, event, load, on, position, row, step, unit
from tests.in_turn import in_turn

BASE = load_regime("us-dental-cdc-2003")
FAILED = load("2025-06-10", "5", mechanical="fail", chemical="pass", released="rejected")
NEXT = load("2025-06-11", "6", mechanical="pass", chemical="pass")


def placed(**more) -> UnitFacts:
    return unit(events=(event("2025-01-01"),), positions=(position(),), **more)


def judged(day: str = "2025-06-20", regime=BASE, **more):
    facts = placed(**more)
    return evaluate_unit(facts, clinic(facts), regime, on(day))


def kept_on(fact, kind="mechanical", *steps):
    return case(fact.row.origin, fact.row.happened_on, *steps, kind=kind)


@pytest.mark.parametrize("regime", in_turn([r for r in regime_ids() if r != "base"], 3))
@pytest.mark.parametrize("kind", ["mechanical", "chemical"])
def test_a_case_kept_on_a_load_is_guided_under_all_rules_and_stops_no_unit(regime, kind):
    # CDC 2003 (MMWR 52 RR-17) VI.F, N.J.A.C. 8:27-5.4: it is the packs, not the unit, that are not used.
    failed = load("2025-06-10", "5", **{kind: "fail"})
    rules = load_regime(regime)
    said = judged(regime=rules, loads=(failed,), cases=(kept_on(failed, kind),))
    (found,) = said.cases
    assert (found.kind, found.phase, found.needs) == (kind, "retest needed", "1 more passing repeat(s)")
    assert [e.text for e in found.evidence] == [f"{kind} result of cycle 5 of 2025-06-10: failed"]
    assert {s.action for s in found.steps} >= {"retest"} and found.steps[0].state == "open"
    without = judged(regime=rules, loads=(replace(failed, mechanical="pass", chemical="pass"),))
    assert said.standing.word == without.standing.word


def test_a_cycle_that_passes_afterwards_ends_it_and_one_before_does_not():
    # "A cycle with passing mechanical results afterwards": common practice, no source.
    before = load("2025-06-09", "4", mechanical="pass")
    cases = (kept_on(FAILED),)
    assert judged(loads=(before, FAILED), cases=cases).cases[0].resolved_on is None
    said = judged(loads=(before, FAILED, NEXT), cases=cases).cases[0]
    assert (said.phase, said.resolved_on, said.passes) == ("returned", date(2025, 6, 11), 1)
    unread = replace(NEXT, mechanical="not recorded")
    assert judged(loads=(FAILED, unread), cases=cases).cases[0].resolved_on is None
    spore = bio("2025-06-12", result="pass", cycle="7")
    said = judged(loads=(FAILED, unread), bio_tests=(spore,), cases=cases).cases[0]
    assert said.resolved_on == date(2025, 6, 12), "the cycle of a spore test is a cycle"


def test_the_review_stays_open_until_it_is_recorded():
    facts = {"loads": (FAILED, NEXT), "cases": (kept_on(FAILED),)}
    found = one(rule="step-open", **facts)
    assert "Review the load and decide about it" in found.message
    done = kept_on(FAILED, "mechanical", step("2025-06-10", "review", done="2025-06-11"))
    assert not items(rule="step-open", loads=(FAILED, NEXT), cases=(done,))


def test_a_failure_opens_its_case_from_the_facts_alone():
    """CDC 2003 (MMWR 52 RR-17) VI.F: such packs are not used; whether or not somebody opened a case."""
    (said,) = judged(loads=(FAILED, NEXT)).cases
    assert (said.kind, said.ref, said.phase) == ("mechanical", "", "returned")
    assert one(rule="step-open", loads=(FAILED, NEXT)) and one(rule="case-open", loads=(FAILED,))


def test_one_cycle_may_have_a_case_of_each_kind_and_each_keeps_its_own_follow_ups():
    grown = bio("2025-06-10", result="growth", known="2025-06-11", cycle="5", mechanical="fail")
    biological = case(grown.row.origin, "2025-06-11", step("2025-06-11", "review", done="2025-06-12"))
    mechanical = kept_on(grown)
    said = {c.kind: c for c in judged(bio_tests=(grown,), cases=(biological, mechanical)).cases}
    assert said["biological"].ref == biological.row.origin and said["mechanical"].ref == mechanical.row.origin
    review = {kind: next(s for s in c.steps if s.action == "review") for kind, c in said.items()}
    assert (review["biological"].state, review["mechanical"].state) == ("done", "open")


def test_a_failure_read_in_the_spore_test_cycle_has_its_case():
    strip = bio("2025-06-10", result="pass", cycle="5", chemical="fail")
    kept = kept_on(strip, "chemical")
    said = judged(bio_tests=(strip,), cases=(kept,)).cases
    assert [(c.kind, c.ref, c.phase) for c in said] == [("chemical", kept.row.origin, "retest needed")]
    good = load("2025-06-10", "6", at="15:00", chemical="pass")
    same_day = judged(bio_tests=(strip,), loads=(good,), cases=(kept,)).cases[0]
    assert same_day.resolved_on is None, "of the same day only with both times"


def test_a_load_corrected_to_pass_leaves_its_case_entered_in_error():
    said = judged(loads=(replace(FAILED, mechanical="pass"),), cases=(kept_on(FAILED),)).cases
    assert [c.phase for c in said] == ["entered in error"]


def test_implants_of_the_failed_load_are_recalled():
    failed = load("2025-06-10", "5", True, mechanical="fail")
    said = judged(loads=(failed,), cases=(kept_on(failed),)).cases[0]
    assert said.recall.startswith("recall implants")


# ------------------------------------------------------------------------------------------------ decided later


def released(load_, day, at="", **more):
    return replace(load_, released="released", released_row=replace(row(day, at=at), **more))


def test_before_the_day_of_its_decision_a_load_has_none():
    later = released(load("2025-06-10", "5", released=""), "2025-06-12")
    facts = placed(loads=(NEXT, later))
    for day, word in (("2025-06-11", ""), ("2025-06-12", "released"), ("2025-06-20", "released")):
        held = next(x for x in unit_by_day(facts, on(day)).loads if x.cycle_number == "5")
        assert (held.released, held.decided and held.decided.happened_on) == (
            word, date(2025, 6, 12) if word else None,
        )  # fmt: skip
    assert unit_by_day(facts, on("2025-06-11")).loads[-1] is NEXT


def test_an_implant_held_until_its_result_was_known_was_not_released_early():
    # CDC 2003 (MMWR 52 RR-17) VI.F item 7: results verified before an implant is used, whenever possible
    held = load("2025-06-10", "5", True, released="")
    passed = (bio("2025-06-10", result="pass", known="2025-06-11", cycle="5"),)
    assert not items(rule="implant-released-early", loads=(released(held, "2025-06-12"),), bio_tests=passed)
    early = one(rule="implant-released-early", loads=(released(held, "2025-06-10"),), bio_tests=passed)
    assert early.severity == "note" and early.since == date(2025, 6, 10)
    waiting = (bio("2025-06-10", cycle="5"),)
    found = one(rule="implant-released-early", loads=(released(held, "2025-06-12"),), bio_tests=waiting)
    assert (found.severity, found.since) == ("put right", date(2025, 6, 12))
    # On the day before its release nobody had released it.
    assert not items(
        rule="implant-released-early",
        loads=(released(held, "2025-06-12"),),
        bio_tests=waiting,
        as_of=on("2025-06-11"),
    )
