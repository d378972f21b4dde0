"""One cycle number is one wherever it is compared: without case, blanks and leading noughts.

Common practice, no source.
"""

from dataclasses import replace

import pytest

from audit.judge.biological import cycle_key, number_key, run_of, same_cycle
from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, TESTED, history, holds
from tests.audit.unsafe.test_unknown_use import in_toronto, moved, three
from tests.fact_builders import bio, load, user_check

SIGNING = "gb-eng-dental-htm0105"  # HTM 01-05: the daily test is signed
SAME = [("7", "007"), ("A 7", "a7"), ("12", " 12 "), ("0", "000"), ("b-01", "B-01")]
OTHER = [("7", "70"), ("7", "8"), ("07", "0"), ("", "7"), ("", "")]


@pytest.mark.parametrize(("one", "other", "same"), [(*s, True) for s in SAME] + [(*o, False) for o in OTHER])
def test_two_numbers_are_one_or_not(one, other, same):
    held = load("2025-06-25", one), bio("2025-06-25", cycle=other)
    assert same_cycle(*held) is same and same_cycle(*reversed(held)) is same
    assert not same_cycle(held[0], bio("2025-06-24", cycle=other))
    assert (number_key(one) == number_key(other)) is (same or one == other)
    assert run_of(held[0])[2] == cycle_key(held[0])


@pytest.mark.parametrize(("one", "other", "word"), [("7", "8", Word.IN_SERVICE), ("7", "007", Word.WAITING)])
def test_two_tellings_of_one_cycle_are_no_two_passes(one, other, word):
    """Toronto: three passes in a row after a move, each of a cycle of its own."""
    *before, first, second, third = three(("", "", ""), "requalification")
    tests = (*before, first, replace(second, cycle_number=one), replace(third, cycle_number=other))
    never = PERMITS if word is Word.WAITING else ()
    holds(in_toronto(f"{one} and {other}", word=word, never=never, events=moved("12:00"), bio_tests=tests).values[0])


@pytest.mark.parametrize("number", ["900", "0900", " 900"])
def test_the_failed_cycle_s_own_gauges_are_found_by_another_writing_of_its_number(number):
    failed = bio("2025-06-20", result="growth", known="2025-06-21", cycle="900", mechanical="pass", chemical="pass")
    again = bio("2025-06-23", result="pass", known="2025-06-24", purpose="repeat", cycle="950")
    bad = load("2025-06-20", number, mechanical="fail", released="rejected")
    tests = (*TESTED[:-1], failed, again)
    holds(history("gauges", never=PERMITS, word=Word.OUT, bio_tests=tests, loads=(bad,)).values[0])


@pytest.mark.parametrize(("signed", "since"), [("A. User", "2025-06-24"), ("", "2025-06-20"), (" ", "2025-06-20")])
def test_a_check_that_nobody_signed_ends_no_window_where_the_rules_ask_a_signature(signed, since):
    """Packs are in doubt since the last good check, and one that nobody signed is none."""
    checks = (user_check("2025-06-20"), user_check("2025-06-24", signed=signed))
    checks = (*checks, user_check("2025-06-26", result="fail"))
    one = history("unsigned", never=PERMITS, regime=SIGNING, checks=checks, loads=(load("2025-06-22"),)).values[0]
    said = one.judged()
    backs = [b for b in said.look_backs if "automatic control" in b.trigger]
    assert {str(b.after) for b in backs} == {since}
    told = [c.recall for c in said.cases if c.kind == "automatic control"]
    assert all(since in words for words in told if "after the last" in words)
