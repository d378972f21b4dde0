"""The weeks of the calendar: each once, with its tests, or how it stands without any."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from audit.binder.calendar import weeks_of
from audit.binder.scope import scope
from audit.judge.evaluate import coverage_over, evaluate
from tests.audit.binder import full, sample
from tests.bench import histories

SIGNS = {"missed": "M", "failed": "F", "invalid": "x", "passed": "", "exempt": "·", "open": "–", "awaited": "○"}


def shown(facts, judgement, n: int = 0, *, from_on=sample.FROM, to_on=sample.TO, coverage=None):
    """The weeks of a unit in a binder of these days."""
    asked = scope(facts, judgement, from_on, to_on, coverage)
    return weeks_of(asked, asked.units[n])


def judged(facts, first: date):
    judgement = evaluate(facts, histories.LAST)
    kept = coverage_over(facts, histories.LAST, first, histories.LAST)
    return judgement, shown(facts, judgement, from_on=first, to_on=histories.LAST, coverage=kept)


@pytest.fixture(scope="module")
def weeks():
    return shown(*full.clinic())


def test_each_week_that_touches_the_period_stands_once(weeks):
    """1 June 2025 is a Sunday: its week begins on 26 May. 53 weeks to 31 May 2026, which is a Sunday too."""
    assert [week.start for week in weeks] == [date(2025, 5, 26) + timedelta(weeks=n) for n in range(53)]
    assert all(week.end == week.start + timedelta(days=6) for week in weeks)


@pytest.mark.parametrize(
    ("begins", "tests", "sign"),
    [
        (date(2025, 6, 2), [date(2025, 6, 2)], ""),
        (sample.MISSED, [], "M"),
        (sample.INVALID, [sample.INVALID], "x"),
        (sample.CLOSED, [], "·"),
        (sample.FAILED, [sample.FAILED, sample.RETEST], "F"),
    ],
)
def test_a_week_holds_its_tests_or_says_how_it_stands(weeks, begins, tests, sign):
    week = next(week for week in weeks if week.start == begins)
    assert ([test.row.happened_on for test in week.tests], week.sign) == (tests, sign)


def test_a_week_that_begins_before_the_period_holds_its_tests_of_the_days_before():
    """The period begins on a Wednesday; the week's one test ran on the Monday."""
    first, _ = shown(*full.clinic(), from_on=date(2025, 10, 8), to_on=date(2025, 10, 14))
    assert (first.start, [test.row.happened_on for test in first.tests]) == (date(2025, 10, 6), [date(2025, 10, 6)])


def test_a_unit_without_any_test_has_weeks_without_a_sign():
    assert {(week.tests, week.sign) for week in shown(*full.clinic(), n=1)} == {((), "")}


# ------------------------------------------------------------------------------------------------ judged for real


def test_the_weeks_are_those_of_the_judgement_and_say_what_it_says():
    """Two ways to the same weeks: from coverage of the period, and from the judgement."""
    facts = histories.clinic(histories.unit(years=1, visits=1, loads=50, daily=False, seed=5))
    first = histories.LAST - timedelta(days=300)
    judgement, found = judged(facts, first)
    asked = {w.start: SIGNS[w.result] for w in judgement.units[0].weeks if w.end >= first}
    assert {week.start: week.sign for week in found} == asked


def test_a_change_of_the_first_day_of_the_week_cuts_no_earlier_week_again():
    """From Monday to Sunday on Wednesday 1 April 2026: the weeks before are those of Monday, on paper as judged; the
    week from Monday 30 March and that from Sunday 5 April share a day, and April has five weeks."""
    facts = histories.clinic(histories.unit(years=1, visits=1, loads=50, daily=False, seed=5))
    (old,) = facts.terms
    changed = replace(facts, terms=(old, replace(old, effective_on=date(2026, 4, 1), week_start=6)))
    first = date(2026, 3, 2)
    judgement, found = judged(changed, first)
    assert [week.start for week in found][:8] == [
        date(2026, month, day) for month, day in ((3, 2), (3, 9), (3, 16), (3, 23), (3, 30), (4, 5), (4, 12), (4, 19))
    ]
    asked = {w.start: SIGNS[w.result] for w in judgement.units[0].weeks if w.end >= first}
    assert {week.start: week.sign for week in found} == asked


def test_weeks_without_a_test_are_missed_also_beyond_the_80_weeks_of_the_judgement():
    """The rules ask a test each week: four weeks from 4 November 2024 have none."""
    unit = histories.unit(years=4, visits=6, loads=400, daily=False, seed=3)
    kept = [t for t in unit.bio_tests if not date(2024, 11, 4) <= t.row.happened_on <= date(2024, 12, 1)]
    _, found = judged(histories.clinic(replace(unit, bio_tests=tuple(kept))), date(2022, 7, 1))
    assert len(found) == (date(2026, 6, 15) - date(2022, 6, 27)).days // 7 + 1
    november = [week for week in found if week.start.isoformat()[:7] == "2024-11"]
    assert [(week.start.day, week.sign) for week in november] == [(4, "M"), (11, "M"), (18, "M"), (25, "M")]
