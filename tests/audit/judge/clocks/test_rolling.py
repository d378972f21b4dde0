"""Duties so many days or months after the last: out of use, never done, of a paper, and what became of each stretch.

Common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit.judge.clocks.periods import first_duty_day, quarter_of, year_of
from audit.judge.clocks.rolling import clock, spans
from audit.judge.situation import at, settle
from tests.audit.judge.clock_stories import BASE, a_duty
from tests.fact_builders import bio, clinic, document, event, on, placed, unit

from .test_hours import clock as hours_clock

THIRTY = a_duty("rolling-days", count=30)
PAPER = replace(a_duty("rolling-months", count=14), subject="pressure examination", forbids=True)
BEGUN = (event("2025-01-01"),)


def facts(as_of, *tests, events=BEGUN, stored="", back="", **more):
    places = (placed("2025-01-01"), *((placed(stored, "stored as spare"),) if stored else ()))
    places += (placed(back),) if back else ()
    made = tuple(bio(day, result="pass", known=day, cycle=str(n)) for n, day in enumerate(tests))
    held = unit("2025-01-01", events=events, bio_tests=made, **({"placements": places} if stored else {}), **more)
    return at(settle(held, clinic(held, regime="base"), BASE, on(as_of)), on(as_of)).duty


def said(duty, *args, **more):
    found = clock(facts(*args, **more), duty)
    return found.state, found.due_on and str(found.due_on)[5:]


def test_what_was_overdue_before_it_went_to_store_stays_so_and_what_was_not_asks_nothing():
    assert said(THIRTY, "2025-03-20", "2025-01-10", stored="2025-03-01") == ("overdue", "02-09")
    assert said(THIRTY, "2025-03-20", "2025-02-20", stored="2025-03-01") == ("not applicable", None)
    assert said(THIRTY, "2025-03-21", "2025-02-20") == ("ok", "03-22")
    assert said(THIRTY, "2025-03-22", "2025-02-20") == ("due", "03-22")
    assert said(THIRTY, "2025-03-23", "2025-02-20") == ("overdue", "03-22")


def test_hours_that_are_not_known_of_a_unit_that_did_not_run_are_no_lack():
    stored = (placed("2025-01-01"), placed("2025-03-02", "stored as spare"))
    assert hours_clock("2025-03-10", placements=stored).state == "not applicable"
    assert hours_clock("2025-03-10").state == "no evidence"


def test_never_done_counts_from_the_begin_of_use_or_is_no_evidence():
    assert said(THIRTY, "2025-01-20") == ("ok", "01-31")
    assert said(THIRTY, "2025-01-20", events=()) == ("ok", "01-31"), "a test is no paper"
    assert said(PAPER, "2025-01-20") == ("ok", "03-01")
    assert said(PAPER, "2025-01-20", events=()) == ("no evidence", None)
    assert said(replace(THIRTY, forbids=True), "2025-01-20") == ("no evidence", None)


def told(duty, as_of, *tests, first="2025-01-01", last="2025-12-31", **more):
    found = spans(facts(as_of, *tests, **more), duty, on(first), on(last))
    return [(str(s.start)[5:], str(s.end)[5:], s.result, s.note) for s in found]


def test_from_each_one_to_the_next():
    assert told(THIRTY, "2025-03-20", "2025-01-31", "2025-01-31", "2025-03-10") == [
        ("01-01", "01-31", "met", ""),
        ("02-01", "03-10", "met late", "due by 2025-03-02, 8 day(s) late"),
        ("03-11", "04-09", "open", "not over yet"),
    ]
    assert told(THIRTY, "2025-03-20", "2025-01-10", "2025-02-09")[-1] == (
        "02-10", "03-20", "missed", "due by 2025-03-11, none since",
    )  # fmt: skip
    only = told(THIRTY, "2025-03-20", "2025-01-31", "2025-02-20", first="2025-01-31", last="2025-02-10")
    assert [(a, b) for a, b, *_ in only] == [("01-01", "01-31"), ("02-01", "02-20")]
    later = told(THIRTY, "2025-03-20", "2025-01-31", "2025-02-20", first="2025-02-01", last="2025-02-10")
    assert [(a, b) for a, b, *_ in later] == [("02-01", "02-20")]


def test_out_of_use_nothing_is_late():
    stored = {"stored": "2025-02-01", "back": "2025-03-15"}
    assert told(THIRTY, "2025-03-20", "2025-01-20", "2025-03-15", **stored)[1] == (
        "01-21", "03-15", "met", "out of use when it fell due",
    )  # fmt: skip
    now = told(THIRTY, "2025-03-10", "2025-01-20", stored="2025-02-01")[-1]
    assert now[:3] == ("01-21", "03-10", "exempt") and "stored as spare" in now[3]


def test_nothing_on_record_where_that_is_no_evidence():
    assert told(PAPER, "2025-01-20", events=()) == [("01-01", "01-20", "missed", "none on record")]
    assert told(PAPER, "2025-01-20")[0][2:] == ("open", "not over yet")
    done = {"documents": (document("pressure examination", "2025-01-10"),), "events": ()}
    assert [s[2] for s in told(PAPER, "2025-01-20", **done)] == ["met", "open"]


# ------------------------------------------------------------------------------------------------ calendar periods


@pytest.mark.parametrize("month", range(1, 13))
def test_the_quarter_of_a_month(month):
    first, last = quarter_of(date(2025, month, 15))
    quarter = (month + 2) // 3
    assert (first.month, first.day, last.month) == (3 * quarter - 2, 1, 3 * quarter)
    assert last == {1: date(2025, 3, 31), 2: date(2025, 6, 30), 3: date(2025, 9, 30), 4: date(2025, 12, 31)}[quarter]
    assert year_of(first) == (date(2025, 1, 1), date(2025, 12, 31))


@pytest.mark.parametrize(
    ("begun", "known", "first"),
    [("2025-03-10", True, "03-10"), ("2025-03-10", False, "04-01"), ("2025-03-01", False, "03-01")],
)
def test_where_records_merely_begin_the_first_full_month_is_the_first(begun, known, first):
    held = unit(begun, events=(event(begun),) if known else ())
    made = at(settle(held, clinic(held, regime="base"), BASE, on("2025-06-01")), on("2025-06-01")).duty
    assert str(first_duty_day(made, a_duty("calendar-month")))[5:] == first
