"""Any week by its date: what its spore tests say, wherever a table shows it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from audit.binder.weeks import weeks_block, weeks_of

from audit.binder.contents import binder_contents
from audit.binder.scope import scope
from audit.binder.sections import Paragraph, Table
from audit.judge.evaluate import coverage_over, evaluate
from tests.audit.binder import full, sample
from tests.audit.binder.test_contents import section, table
from tests.bench import histories


def shown(facts, judgement, n: int = 0, *, from_on=sample.FROM, to_on=sample.TO, coverage=None) -> Table | Paragraph:
    """The weeks of a unit as a binder of these days shows them."""
    asked = scope(facts, judgement, from_on, to_on, coverage)
    unit = asked.units[n]
    return weeks_block(asked, unit, weeks_of(asked, unit), "Any week by date")


def spaced(text: str) -> str:
    return text.replace("\u00a0", " ")


def weeks(block: Table) -> list[str]:
    return [spaced(cell.text) for row in block.rows for cell in row[1:6] if cell.text]


def made(facts, judgement, **more):
    return binder_contents(facts, judgement, **{"from_on": sample.FROM, "to_on": sample.TO, **more})


@pytest.fixture(scope="module")
def block():
    return shown(*full.clinic())


def test_a_unit_without_a_test_shows_no_empty_table():
    said = shown(*full.clinic(), n=1)
    assert isinstance(said, Paragraph)
    assert "no spore test is on record in the weeks from 26 May 2025 to 31 May 2026" in spaced(said.text)


def test_each_week_that_touches_the_period_stands_once_under_the_day_it_begins_on(block):
    """1 June 2025 is a Sunday: its week begins on 26 May. 53 weeks to 31 May 2026, which is a Sunday too."""
    found = weeks(block)
    assert len(found) == 53
    assert found[0].startswith("from 26 May") and found[-1].startswith("from 25 May")
    months = [spaced(row[0].text) for row in block.rows]
    assert months == ["May 2025", "Jun 2025", "Jul 2025", "Aug 2025", "Sep 2025", "Oct 2025", "Nov 2025", "Dec 2025",
                      "Jan 2026", "Feb 2026", "Mar 2026", "Apr 2026", "May 2026"]  # fmt: skip


@pytest.mark.parametrize(
    ("begins", "says"),
    [
        ("2 Jun", "passed 2 Jun"),
        ("15 Sep", "missed"),
        ("10 Nov", "invalid 10 Nov"),
        ("22 Dec", "not asked"),
        ("2 Feb", "failed 2 Feb\nnot judged 5 Feb"),
    ],
)
def test_a_week_says_what_its_tests_say(block, begins, says):
    assert f"from {begins}\n{says}" in weeks(block)


def test_what_weighs_is_strong(block):
    cells = [cell for row in block.rows for cell in row[1:6]]
    assert {spaced(cell.text).split("\n")[0] for cell in cells if cell.strong} == {
        "from 15 Sep",
        "from 10 Nov",
        "from 2 Feb",
    }


# ------------------------------------------------------------------------------------------------ judged for real


@pytest.fixture(scope="module")
def long():
    """Four years of a weekly tested unit, one failure, judged by rules on file; no test in the last weeks of 2024."""
    unit = histories.unit(years=4, visits=6, loads=400, daily=False, seed=3)
    kept = [t for t in unit.bio_tests if not date(2024, 11, 4) <= t.row.happened_on <= date(2024, 12, 1)]
    facts = histories.clinic(replace(unit, bio_tests=tuple(kept)))
    first = date(2022, 7, 1)
    return made(
        facts,
        evaluate(facts, histories.LAST),
        from_on=first,
        to_on=histories.LAST,
        coverage=coverage_over(facts, histories.LAST, first, histories.LAST),
    )


def test_every_week_of_a_long_period_stands_in_the_record(long):
    every = table(section(long, "indicators-1-weeks"), "Spore tests, week by week")
    cells = [cell.text for row in every.rows for cell in row[1:6] if cell.text]
    # 27 June 2022, a Monday, to the week of 15 June 2026.
    assert len(cells) == (date(2026, 6, 15) - date(2022, 6, 27)).days // 7 + 1


def test_weeks_without_a_test_are_missed_also_beyond_the_80_weeks_of_the_strip(long):
    """The rules ask a test each week: four weeks from 4 November 2024 have none."""
    every = table(section(long, "indicators-1-weeks"), "Spore tests, week by week")
    november = next(row for row in every.rows if spaced(row[0].text) == "Nov 2024")
    assert [spaced(cell.text) for cell in november[1:5]] == [
        "from 4 Nov\nmissed", "from 11 Nov\nmissed", "from 18 Nov\nmissed", "from 25 Nov\nmissed",
    ]  # fmt: skip


def test_a_week_agrees_with_the_strip_of_the_judgement(long):
    """Two ways to the same weeks: from coverage of the period, and from the strip of the judgement."""
    facts = histories.clinic(histories.unit(years=1, visits=1, loads=50, daily=False, seed=5))
    judgement = evaluate(facts, histories.LAST)
    first = histories.LAST - timedelta(days=300)
    block = shown(facts, judgement, from_on=first, to_on=histories.LAST,
                  coverage=coverage_over(facts, histories.LAST, first, histories.LAST))  # fmt: skip
    strip = {w.start: w.result for w in judgement.units[0].weeks if w.end >= first}
    words = [text.split("\n")[1].split(" ")[0] for text in weeks(block)]
    assert len(words) == len(strip)
    expected = {"open": "not"}
    assert words == [expected.get(result, result) for result in strip.values()]


def test_a_change_of_the_first_day_of_the_week_cuts_no_earlier_week_again():
    """From Monday to Sunday on Wednesday 1 April 2026: the weeks before are those of Monday, on paper as judged; the
    week from Monday 30 March and that from Sunday 5 April share a day, and April has five weeks."""
    facts = histories.clinic(histories.unit(years=1, visits=1, loads=50, daily=False, seed=5))
    (old,) = facts.terms
    changed = replace(facts, terms=(old, replace(old, effective_on=date(2026, 4, 1), week_start=6)))
    first = date(2026, 3, 2)
    judgement = evaluate(changed, histories.LAST)
    coverage = coverage_over(changed, histories.LAST, first, histories.LAST)
    block = shown(changed, judgement, from_on=first, to_on=histories.LAST, coverage=coverage)
    told = [text.split("\n")[0] for text in weeks(block)]
    assert told[:8] == [
        f"from {w}" for w in ("2 Mar", "9 Mar", "16 Mar", "23 Mar", "30 Mar", "5 Apr", "12 Apr", "19 Apr")
    ]
    strip = {w.start: w.result for w in judgement.units[0].weeks if w.end >= first}
    assert told == [f"from {start.day} {start:%b}" for start in strip]
    words = [text.split("\n")[1].split(" ")[0] for text in weeks(block)]
    assert words == [{"open": "not"}.get(result, result) for result in strip.values()]


def test_more_than_five_weeks_that_begin_in_a_month_go_on_in_a_second_row():
    """Weeks from Monday 1, 8, 15, 22 and 29 September 2025, and from Tuesday the 30th, the day of the change."""
    facts, judgement = full.clinic()
    (old,) = facts.terms
    changed = replace(facts, terms=(old, replace(old, effective_on=date(2025, 9, 30), week_start=1)))
    rows = shown(changed, judgement, from_on=date(2025, 9, 1), to_on=date(2025, 10, 2)).rows
    assert [spaced(row[0].text) for row in rows] == ["Sep 2025", "Sep 2025"] and all(len(row) == 7 for row in rows)
    begun = [spaced(cell.text).split("\n")[0] for row in rows for cell in row[1:6] if cell.text]
    assert begun == [f"from {day} Sep" for day in (1, 8, 15, 22, 29, 30)]


def test_a_week_that_begins_before_the_period_shows_its_tests_of_the_days_before():
    """The period begins on a Wednesday; the week's one test ran on the Monday."""
    rows = shown(*full.clinic(), from_on=date(2025, 10, 8), to_on=date(2025, 10, 14)).rows
    assert [spaced(cell.text) for cell in rows[0][1:3]] == ["from 6 Oct\npassed 6 Oct", "from 13 Oct\npassed 13 Oct"]
    tests = [t for t in full.clinic()[0].units[0].bio_tests if t.row.happened_on == date(2025, 10, 13)]
    assert rows[0][6].page == str(tests[0].row.number)
