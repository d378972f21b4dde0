"""The year by month: a letter a month for what is asked by the month or by the day, with its numbers in words."""

from __future__ import annotations

from datetime import timedelta

from audit.binder.scope import scope
from audit.judge.evaluate import coverage_over, evaluate
from audit.pages.written_on_screen import WEEK_MARKS
from audit.pages.year_by_month import RESULTS, others_by_month, spore_tests_by_month
from tests.fact_builders import air, bio, clinic, installed, job, load, on, placed, unit, weekly

FIRST, DAY = on("2025-01-01"), on("2026-06-15")


def drawn(regime: str, **facts):
    """The rows of one unit on 15 June 2026 under these rules: (spore tests or None, the others)."""
    start = {"events": (installed("2025-01-01"),), "placements": (placed("2025-01-01"),)}
    place = clinic(unit("2025-01-01", **start, **facts), regime=regime)
    judged, kept = evaluate(place, DAY), coverage_over(place, DAY, FIRST, DAY)
    asked = scope(place, judged, FIRST, DAY, kept)
    return spore_tests_by_month(asked, asked.units[0]), others_by_month(asked, asked.units[0])


def test_spore_tests_of_the_month_are_thirteen_cells_with_the_month_that_was_missed_named():
    """Once a month: California, Safe Body Art Act (Health and Safety Code 119314)."""
    days = [f"{2025 + n // 12}-{n % 12 + 1:02}-05" for n in range(18) if n != 11]
    tests = tuple(bio(day, result="pass") for day in days)
    row, others = drawn("us-ca-body-art", bio_tests=tests, jobs=(job("2025-09-01"),))
    assert others == ()
    letters = "".join(WEEK_MARKS[cell.result] for cell in row.cells)
    assert len(row.cells) == 13 and row.span == "Jun\xa02025 to Jun\xa02026"
    assert letters.count("M") >= 1 and letters[6] == "M", letters
    assert [cell.visit for cell in row.cells].index(True) == 3 and "Missed: " in row.words


def test_where_tests_are_weekly_the_weeks_are_drawn_and_not_the_months():
    row, others = drawn("us-dental-cdc-2003", bio_tests=tuple(weekly("2025-01-06", "2026-06-08")))
    assert row is None and others == ()


def test_a_daily_test_is_drawn_by_month_and_its_days_are_counted_in_words():
    """An air-removal test on each day of use: CDC, Guideline for Disinfection and Sterilization, 2008."""
    days = [on("2026-06-01") + timedelta(n) for n in range(5)]
    loads = tuple(load(day.isoformat(), cycle=str(n)) for n, day in enumerate(days))
    tests = tuple(air(day.isoformat(), "fail" if n == 3 else "pass") for n, day in enumerate(days) if n != 4)
    _, others = drawn("us-healthcare-cdc-2008", loads=loads, air_removal=tests, type="dynamic air removal")
    (row,) = [each for each in others if "ir" in each.title and "removal" in each.title.casefold()]
    assert row.cells[-1].result == "failed" and "1 failed" in row.words and "day" in row.words


def test_every_mark_has_a_letter_and_a_word():
    assert set(RESULTS.values()) <= set(WEEK_MARKS)
