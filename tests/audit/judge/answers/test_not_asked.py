"""What the rules followed do not ask: by subject, with what is on record of it anyway."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit.judge.answers import not_asked_of, questions
from audit.judge.evaluate import evaluate_under
from audit.regimes import load_regime, regime_ids
from tests.fact_builders import air, clinic, document, installed, unit, user_check, weekly
from tests.in_turn import in_turn

AS_OF = date(2025, 6, 27)


def left(regime, *units, **place):
    facts = clinic(*(units or (unit(),)), regime=regime, **place)
    judgement = evaluate_under(facts, load_regime(regime), AS_OF)
    return {one.subject: one for one in not_asked_of(facts, judgement)}, judgement


@pytest.mark.parametrize("regime", in_turn(sorted(regime_ids()), 3))
def test_each_subject_is_asked_or_said_not_to_be_and_never_both(regime):
    found, judgement = left(regime)
    asked = {one.id for one in judgement.answers}
    subjects = {q.subject for q in questions() if q.id in asked}
    assert not subjects & found.keys()
    programmes = {q.subject for q in questions() if q.programmes}
    assert {q.subject for q in questions()} - {""} == (subjects | found.keys() | programmes) - {""}


def test_what_the_rules_ask_and_what_others_ask_differs_from_place_to_place():
    dental, scotland = left("us-dental-cdc-2003")[0], left("gb-sct-2024")[0]
    assert "insurance of pressure vessels" in dental and "insurance of pressure vessels" not in scotland
    assert "posting of spore test results" in dental and "posting of spore test results" in scotland


def test_a_paper_on_record_answers_though_nobody_asks_it():
    paper = document("pressure examination", "2025-01-15", "2027-01-14", unit="unit-1")
    found, _ = left("us-dental-cdc-2003", documents=(paper,))
    assert [a.answer for a in found["the report of the pressure examination"].held] == ["yes"]
    assert found["a written scheme for the pressure system"].held == ()


def test_what_is_counted_by_duties_is_on_record_and_never_a_yes():
    """Weekly tests without a miss say nothing of 40 hours of use."""
    tested = unit(bio_tests=weekly("2024-06-01", "2025-06-25"), events=(installed("2024-06-01"),))
    found, _ = left("us-dental-cdc-2003", tested)
    for subject in ("a spore test within 40 hours of use or 30 days", "a spore test each month"):
        (one,) = found[subject].held
        assert one.answer == "not asked here" and "newest of" in one.evidence[0].text


@pytest.mark.parametrize(
    ("subject", "facts"),
    [
        ("an air-removal test on each day of use", {"air_removal": (air("2025-06-20"),)}),
        ("an automatic control test each week", {"checks": (user_check("2025-06-20", "automatic control"),)}),
    ],
)
def test_tests_that_nobody_asks_here_are_said_to_be_on_record(subject, facts):
    assert left("us-dental-cdc-2003", unit(**facts))[0][subject].held
    assert not left("us-dental-cdc-2003")[0][subject].held


def test_of_rules_that_are_not_on_file_nothing_is_said():
    facts = clinic(unit())
    judgement = evaluate_under(facts, load_regime("us-dental-cdc-2003"), AS_OF)
    assert not_asked_of(facts, replace(judgement, regime="nowhere")) == ()
