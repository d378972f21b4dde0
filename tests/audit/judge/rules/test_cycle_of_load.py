"""Which spore tests are of a load, and what speaks against its release: the same for the duty, the open items and the
decision on the load. Of several tests of a day doubt counts against the release."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit.judge.biological import judge_tests
from audit.judge.cycle_of_load import cycle_of, implant_duty, spore_tests_of
from audit.regimes import load_regime
from tests.audit.judge.rules.judged import items
from tests.fact_builders import bio, load, row, unit

RULES = load_regime("us-dental-cdc-2003")
DAY = "2025-06-10"
GREW, WAITS, VOID = "is positive", "has no result yet", "doesn’t count"


def of(word: str, cycle="5", implant=False, day=DAY):
    """A test with that result, known the next day."""
    return bio(day, result=word, cycle=cycle, implant=implant)


# The load: cycle 5 with an implant, released two days later, when all that was read was known. A source for that the
# result is verified before use: CDC 2003 (MMWR 52 RR-17) VI.F.
#   tests of the day                                | of the load | against its release | released before it was known
TWO = [
    ("both passed", (of("pass"), of("pass")), 2, "", False),
    ("passed, then one without a result", (of("pass"), of("")), 2, WAITS, True),
    ("one without a result, then passed", (of(""), of("pass")), 2, WAITS, True),
    ("passed, then growth", (of("pass"), of("growth")), 2, GREW, False),
    ("growth, then passed", (of("growth"), of("pass")), 2, GREW, False),
    ("passed, then one that doesn’t count", (of("pass"), of("invalid")), 2, VOID, False),
    ("passed; a marked one without a number awaited", (of("pass"), of("", "", True)), 2, WAITS, True),
    ("passed; a marked one without a number grew", (of("pass"), of("growth", "", True)), 2, GREW, False),
    ("passed; a marked one of another cycle awaited", (of("pass"), of("", "6", True)), 1, "", False),
    ("passed; one of another cycle grew", (of("pass"), of("growth", "6")), 1, "", False),
    ("passed; an unmarked one without a number grew", (of("pass"), of("growth", "")), 1, "", False),
    ("passed; one of the day before grew", (of("pass"), of("growth", day="2025-06-09")), 1, "", False),
    ("grew and awaited", (of(""), of("growth")), 2, GREW, True),
]  # fmt: skip


def held(**more):
    later = replace(load(DAY, "5", True, released=""), released="released", released_row=row("2025-06-12"))
    return replace(later, **more)


def against(tests, load_, rules=RULES):
    verdicts = judge_tests(tests, rules.validity)
    facts = unit(bio_tests=tests, loads=(load_,))
    return cycle_of(facts, load_, verdicts, implant_duty(rules.duties)).against


@pytest.mark.parametrize("tests, matched, said, early", [row_[1:] for row_ in TWO], ids=[row_[0] for row_ in TWO])
def test_with_two_tests_on_the_day_page_and_rules_say_the_same(tests, matched, said, early):
    load_ = held()
    assert len(spore_tests_of(tests, load_)) == matched
    told = against(tests, load_)
    assert (said in told[0]) if said else told == ()
    found = items(rule="implant-released-early", loads=(load_,), bio_tests=tests)
    assert bool(found) == early
    assert not items(rule="implant-without-test", loads=(load_,), bio_tests=tests)


def test_all_that_was_not_known_at_the_release_is_its_evidence():
    tests = (of(""), of("pass"), of("", "", True))
    (found,) = items(rule="implant-released-early", loads=(held(),), bio_tests=tests)
    assert [e.ref for e in found.evidence] == [found.evidence[0].ref, tests[0].row.ref, tests[2].row.ref]
    assert found.severity == "put right"


def test_without_a_test_it_speaks_against_a_release_where_the_rules_ask_one():
    quiet = replace(RULES, duties=tuple(d for d in RULES.duties if d.every != "each-implant-load"))
    assert "no spore test of this cycle is on record" in against((), held())[0]
    assert against((), held(), quiet) == ()
    assert against((), held(implant=False)) == ()


@pytest.mark.parametrize("word, said", [("pass", ""), ("", ""), ("invalid", ""), ("growth", GREW)])
def test_of_a_load_without_an_implant_growth_alone_speaks_against_it(word, said):
    told = against((of(word),), held(implant=False))
    assert (said in told[0]) if said else told == ()


def test_gauges_that_failed_in_the_spore_test_of_the_cycle_speak_against_it():
    test = replace(of("pass"), mechanical="fail")
    assert "something failed in this cycle" in against((test,), held())[0]
    assert "something failed in this cycle" in against((), held(implant=False, chemical="fail"))[0]


def test_the_day_of_the_load_decides_at_both_its_edges():
    load_ = held()
    days = [of("pass", day=d) for d in ("2025-06-09", DAY, "2025-06-11")]
    assert [t.row.happened_on for t in spore_tests_of(days, load_)] == [date(2025, 6, 10)]
