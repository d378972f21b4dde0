"""What other rules would change for a clinic: judged in memory, as a change of its terms on that day would be."""

from __future__ import annotations

from dataclasses import replace

from audit.judge.evaluate import evaluate
from audit.judge.judgement import Word
from audit.judge.otherwise import if_followed
from audit.regimes import load_regime
from tests.fact_builders import bio, clinic, event, load, on, unit

CDC, INDIANA = "us-dental-cdc-2003", "us-in"


def place(tested="2026-06-01", regime=CDC):
    """A gravity unit in daily use, tested on a Monday."""
    facts = unit(
        "2025-01-06",
        events=(event("2025-01-06"),),
        bio_tests=(bio(tested, result="pass", known=tested, site="clinic"),),
        loads=(load(tested, program="wrapped", minutes=30),),
    )
    return clinic(facts, regime=regime)


def due(change):
    return {one.title: (one.before and one.before.due_on, one.after and one.after.due_on) for one in change.due}


def test_the_day_due_moves_while_the_answer_stays():
    # CDC 2003 VI.F item 6: once a week, here by Sunday of the next; 410 IAC 1-4-8(d)(2)(C): within seven days
    (one,) = if_followed(place(), load_regime(INDIANA), on("2026-06-05")).units
    assert (one.before.word, one.after.word) == (Word.IN_SERVICE, Word.IN_SERVICE)
    assert due(one)["Spore test (biological indicator)"] == (on("2026-06-14"), on("2026-06-08"))


def test_the_answer_itself_changes_where_the_other_rules_forbid():
    (one,) = if_followed(place(), load_regime(INDIANA), on("2026-06-12")).units
    assert one.answers_otherwise
    assert (one.before.word, one.after.word) == (Word.IN_SERVICE, Word.OUT)
    (back,) = if_followed(place(regime=INDIANA), load_regime(CDC), on("2026-06-12")).units
    assert (back.before.word, back.after.word) == (Word.OUT, Word.IN_SERVICE)


def test_under_the_rules_it_follows_nothing_changes():
    for day in ("2026-06-05", "2026-06-12", "2026-08-01"):
        change = if_followed(place(), load_regime(CDC), on(day))
        assert not change.changes and (change.before, change.after) == (CDC, CDC)


def test_it_says_what_a_change_of_terms_on_that_day_says_and_leaves_the_facts_alone():
    facts, day = place(), on("2026-06-12")
    before = repr(facts)
    (one,) = if_followed(facts, load_regime(INDIANA), day).units
    terms = facts.terms_on(day)
    row = replace(terms.row, number=9999, happened_on=day)
    changed = replace(facts, terms=(*facts.terms, replace(terms, row=row, effective_on=day, regime=INDIANA)))
    assert evaluate(changed, day).units[0].standing == one.after
    assert repr(facts) == before


def test_a_duty_that_only_one_of_them_asks_stands_alone():
    (one,) = if_followed(place(), load_regime("gb-eng-dental-htm0105"), on("2026-06-05")).units
    told = due(one)
    assert told["Spore test (biological indicator)"] == (on("2026-06-14"), None)
    # PSSR 2000: at most 14 months, counted from the day it was installed where no report is on file
    assert told["Pressure examination"] == (None, on("2026-03-06")) and one.after.word is Word.OUT


def test_a_clinic_without_terms_is_judged_as_if_it_had_always_followed_them():
    facts = replace(place(), terms=())
    (one,) = if_followed(facts, load_regime(INDIANA), on("2026-06-12")).units
    assert one.after.word is Word.OUT
