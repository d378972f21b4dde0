"""Each answering function against histories, and what every answer must hold."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings

from audit.facts import walk
from audit.judge.answers import answers_of, questions
from audit.judge.answers.asked import ANSWERS
from audit.judge.answers.keeping import _oldest
from audit.judge.answers.registry import OF_PLACE, OF_UNIT
from audit.judge.retention import kept_until
from audit.regimes import load_regime
from audit.regimes.model import Retention
from tests.examples import examples
from tests.fact_builders import bio, clinic, job, load, on, terms
from tests.strategies import FIRST, LAST, clinics

from .asking import CDC, DAY, ask, judged, own_unit, question
from .cases import CASES, IN_PART, NO, NONE, WEEKS, YES


@pytest.mark.parametrize("example", CASES, ids=str)
def test_an_answer(example):
    reply = ask(example.id, *example.units, regime=example.regime, **dict(example.clinic))
    assert reply.answer == example.answer, reply
    assert example.said in reply.words, reply
    assert example.gap in reply.gap, reply
    refs = refs_of(clinic(*example.units, **dict(example.clinic)))
    assert {e.ref for e in reply.evidence} <= refs
    if reply.answer == YES:
        assert reply.evidence
    if reply.answer in (NO, IN_PART, NONE):
        assert reply.gap or "met late" in reply.words  # what came late cannot be supplied
    assert len(reply.evidence) <= 12


@pytest.mark.parametrize("name", sorted({**OF_UNIT, **OF_PLACE}))
def test_every_answering_function_has_a_yes_a_short_and_an_empty_case(name):
    found = {e.answer for e in CASES if question(e.id).answers == name}
    assert (YES in found) != (name in NEVER) and NONE in found
    assert {NO, IN_PART} & found or name in PLAIN


PLAIN = ("last_test",)  # a day or none
# Asked of each pack, and the record holds results per load; asked of purchase documents, which no row shows.
NEVER = ("chemical_used", "test_entries_complete")


def refs_of(facts) -> set[str]:
    """Every row a piece of evidence may name."""
    rows = [fact.row for fact in walk(facts)]
    rows += [fact.done_row for fact in walk(facts) if getattr(fact, "done_row", None)]
    return {ref for row in rows for ref in (row.ref, row.origin)}


# ------------------------------------------------------------------------------------------------ which are asked


def asked(facts, regime=CDC, as_of=DAY):
    rules = load_regime(regime).on(as_of)
    said = [judged(u, facts, rules, as_of) for u in facts.units]
    return answers_of(facts, said, rules, as_of)


def test_only_what_the_rules_and_those_they_inherit_ask_in_the_order_of_the_file():
    given = [a.id for a in asked(clinic(own_unit(bio_tests=WEEKS), regime="us-or-dental"), "us-or-dental")]
    rules = {"us-or-dental", CDC, "base"}
    assert given == [q.id for q in questions() if rules & set(q.regimes)]
    assert "spore-test-with-patients" in given and "two-units" not in given and "water-known" not in given


def test_questions_about_units_are_answered_for_each_in_the_order_of_the_facts():
    facts = clinic(own_unit(ref="unit-2"), own_unit(ref="unit-1"))
    given = asked(facts)
    assert [a.unit for a in given if a.id == "last-spore-test"] == ["unit-2", "unit-1"]
    assert [a.unit for a in given if a.id == "which-units"] == [""]


def test_a_question_of_a_programme_is_asked_there_alone(monkeypatch):
    own = replace(question("last-spore-test"), programmes=("dental",))
    monkeypatch.setattr("audit.judge.answers.questions", lambda: (own,))
    dental = clinic(own_unit())
    medical = replace(dental, terms=(replace(terms(), programme="medical"),))
    assert [a.id for a in asked(dental)] == ["last-spore-test"]
    assert asked(medical) == ()


def test_an_answer_carries_the_question_its_owner_and_its_source():
    (answer,) = [a for a in asked(clinic(own_unit(bio_tests=WEEKS))) if a.id == "spore-test-control"]
    own = question("spore-test-control")
    assert (answer.question, answer.owner, answer.source) == (own.question, own.owner, own.source)
    assert answer.source.citation.startswith("CDC 2003")


def test_what_cannot_be_answered_is_a_gap_and_the_others_are_answered(monkeypatch):
    def broken(place, view, question):
        raise ArithmeticError("no such number")

    monkeypatch.setitem(OF_UNIT, "last_test", broken)
    given = {a.id: a for a in asked(clinic(own_unit(bio_tests=WEEKS)))}
    assert given["last-spore-test"].answer == NONE
    assert "ArithmeticError: no such number" in given["last-spore-test"].words
    assert given["spore-test-control"].answer == YES


def test_facts_after_the_day_change_no_answer():
    before = own_unit(bio_tests=WEEKS)
    after = date(2025, 7, 1)
    later = replace(
        before,
        bio_tests=(*WEEKS, bio(after, result="growth")),
        jobs=(job(after),),
        loads=(load(after, "9", mechanical="pass"),),
    )
    assert asked(clinic(before)) == asked(clinic(later))


# ------------------------------------------------------------------------------------------------ laws


@settings(max_examples=examples(60), suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(clinics(many=2))
def test_laws_of_answers_over_random_histories(facts):
    regime, refs = facts.terms[0].regime, refs_of(facts)
    for answer in asked(facts, regime, LAST):
        assert answer.answer in ANSWERS
        assert "could not be answered" not in answer.words
        assert answer.question and answer.words and answer.owner and answer.source.citation
        assert {e.ref for e in answer.evidence} <= refs
        assert answer.gap if answer.answer in (NO, NONE) else True
        assert not answer.evidence if answer.answer == NONE and answer.unit == "" else True


@settings(max_examples=examples(15), suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(clinics())
def test_an_answer_says_the_same_when_it_is_asked_again(facts):
    regime = facts.terms[0].regime
    assert asked(facts, regime, LAST) == asked(facts, regime, LAST)


@settings(max_examples=examples(15), suppress_health_check=[HealthCheck.too_slow], deadline=None)
@given(clinics(many=2))
def test_one_unit_never_changes_the_answers_about_another(facts):
    regime = facts.terms[0].regime
    alone = replace(facts, units=facts.units[:1])
    both = [a for a in asked(facts, regime, LAST) if a.unit == facts.units[0].ref]
    assert both == [a for a in asked(alone, regime, LAST) if a.unit == facts.units[0].ref]


def test_the_reach_of_a_rule_agrees_with_the_day_a_record_may_go():
    # The oldest day still asked is kept, the day before it may go: against audit.judge.retention day by day.
    for months, years in ((12, 0), (24, 0), (1, 0), (0, 2)):
        rule = Retention("records", months, years, "record", "", question("tests-kept").source)
        day = FIRST
        while day <= on("2026-03-31"):
            oldest = _oldest(rule, day)
            assert kept_until(rule, oldest) > day
            assert kept_until(rule, oldest - timedelta(days=1)) <= day
            day += timedelta(days=1)
