"""Spore tests that nobody read prove nothing: one that waits counts only where results come.

An answer permits with its proof named. A clinic that puts a test into the incubator each week and reads none has no
proof, on the days after each test as on all others. Common practice, no source.
"""

from dataclasses import replace

import pytest

from audit.judge.evaluate import evaluate
from audit.judge.judgement import Word
from tests.audit.unsafe.table import BEGUN, DAY, PLAIN, TESTED, history, holds
from tests.fact_builders import bio, clinic, event, look, on, unit, weekly

OWED = "the reading of a spore test counts, not the test that waits for it: common practice, no source"
NEVER = tuple(replace(t, readings=()) for t in TESTED)
FIRST = bio("2025-06-23")  # a Monday; to be read by the 25th at the earliest
LONG_AGO = (*weekly("2025-01-01", "2025-03-05"), *NEVER[10:])


def told(words, tests, word, **more):
    never = () if word is Word.IN_SERVICE else PLAIN
    return history(words, OWED, never=never, word=word, bio_tests=tests, **more)


def unread(*days):
    """The tests of these days not read, all others passed."""
    return tuple(replace(t, readings=()) if str(t.row.happened_on) in days else t for t in TESTED)


ROWS = [
    told("a test each week of half a year, never one read", NEVER, Word.OVERDUE, opens=("result-awaited-too-long",)),
    told("the first ten read, none since", LONG_AGO, Word.OVERDUE, opens=("result-awaited-too-long",)),
    told("one test in half a year, two days ago, not read yet", (bio("2025-06-25"),), Word.OVERDUE),
    told("the same read and passed", (bio("2025-06-25", result="pass", known="2025-06-27"),), Word.IN_SERVICE),
    told("every test read but the last, which is not due yet", unread("2025-06-25"), Word.IN_SERVICE),
    told("the last two not read, the first of them late", unread("2025-06-18", "2025-06-25"), Word.OVERDUE,
         opens=("result-awaited-too-long",)),
    told("one never read, and all since read", unread("2025-06-11"), Word.IN_SERVICE,
         opens=("result-awaited-too-long",)),
    told("one never read, the next read, the last waits", unread("2025-06-11", "2025-06-25"), Word.IN_SERVICE),
    told("read too early, again and again", tuple(replace(t, readings=(look(t.row.happened_on, hours="3"),))
         for t in TESTED), Word.OVERDUE),
    told("the first week of a new unit, its first test waits", (FIRST,), Word.IN_SERVICE,
         events=(event("2025-06-23"),), not_says=("last proof",)),
    told("the second week of a new unit, its first test still unread", (FIRST, bio("2025-06-30")), Word.OVERDUE,
         events=(event("2025-06-23"),), as_of="2025-07-01"),
    told("a test each day of use, never one read", tuple(bio(f"2025-06-{n}") for n in range(10, 27)), Word.OVERDUE,
         regime="us-healthcare-cdc-2008"),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


@pytest.mark.parametrize("n", range(len(TESTED)))
def test_no_day_of_a_clinic_that_reads_nothing_is_plain(n):
    """From the second week on, the day of each test and the days after it."""
    held = clinic(unit(events=(BEGUN,), bio_tests=NEVER))
    first = TESTED[n].row.happened_on
    for day in range(7):
        asked = first.fromordinal(first.toordinal() + day)
        said = evaluate(held, asked, brief=True).units[0].standing
        assert (said.word is Word.IN_SERVICE) == (asked <= on("2025-01-05")), (asked, said.reason)


def test_what_is_waited_for_is_said():
    held = clinic(unit(events=(BEGUN,), bio_tests=NEVER))
    (said,) = [c for c in evaluate(held, on(DAY)).units[0].clocks if c.subject == "biological" and c.due_on]
    assert said.note == "the test of 2025-06-25 counts once it is read: that of 2025-01-01 is late and not read"
    one = clinic(unit(events=(BEGUN,), bio_tests=(bio("2025-06-25"),)))
    (said,) = [c for c in evaluate(one, on(DAY)).units[0].clocks if c.subject == "biological" and c.due_on]
    assert said.note == "the test of 2025-06-25 counts once it is read: none has a result yet"


def test_since_is_the_day_of_the_result_where_the_ones_before_were_not_read():
    tests = (*NEVER[:-1], replace(TESTED[-1], readings=(look("2025-06-27"),)))
    (said,) = evaluate(clinic(unit(events=(BEGUN,), bio_tests=tests)), on("2025-06-29")).units
    assert (said.standing.word, str(said.standing.since)) == (Word.IN_SERVICE, "2025-06-27")
    tests = (*TESTED[:-3], NEVER[-3], replace(TESTED[-1], readings=(look("2025-06-27"),)))
    (said,) = evaluate(clinic(unit(events=(BEGUN,), bio_tests=tests)), on("2025-06-29")).units
    assert (said.standing.word, str(said.standing.since)) == (Word.IN_SERVICE, "2025-06-27")
    (said,) = evaluate(clinic(unit(events=(BEGUN,), bio_tests=(*TESTED[:-3], TESTED[-1]))), on("2025-06-29")).units
    assert str(said.standing.since) == "2025-06-25"
