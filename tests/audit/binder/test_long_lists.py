"""Long lists: told one by one while they are short, counted where they are long, and nothing left out either way."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit import facts as f
from audit.binder.calendar import weeks_of
from audit.binder.contents import binder_contents
from audit.binder.scope import scope
from audit.binder.sections import MonthCalendar, Table
from audit.judge import judgement as j
from audit.judge.evaluate import coverage_over, evaluate
from tests.audit.binder import full, sample
from tests.audit.binder.test_contents import cells, column, headed, section, table
from tests.bench import histories
from tests.examples import examples


def made(facts, judgement, **more):
    return binder_contents(facts, judgement, **{"from_on": sample.FROM, "to_on": sample.TO, **more})


def with_unit(**changes):
    facts, judgement = sample.clinic()
    return replace(facts, units=(replace(facts.units[0], **changes), facts.units[1])), judgement


def spaced(texts: list[str]) -> list[str]:
    """With plain spaces in place of those that do not break."""
    return [text.replace("\u00a0", " ") for text in texts]


def numbers(texts: list[str]) -> int:
    """The sum of the counts at the start of a line: "12 entries", "3 times"."""
    return sum(int(n) for text in texts for n in re.findall(r"^(\d+) ", text, re.MULTILINE))


# ------------------------------------------------------------------------------------------------ late, copied


def late_checks(count: int) -> tuple[f.UserCheckFact, ...]:
    """One a day, from 1 September 2025 on, each written late."""
    made = full.rows()
    days = (date(2025, 9, 1) + timedelta(days=n) for n in range(count))
    return tuple(
        f.UserCheckFact(made.row(on, late=True), "safety check", "pass", None, "", "", "", "Ida Lund", "")
        for on in days
    )


@pytest.mark.parametrize(("count", "rows"), [(57, 59), (58, 60), (59, 5)])
def test_up_to_sixty_late_entries_are_told_one_by_one_and_more_by_month(count, rows):
    """The sample has two late parts. 59 days from 1 September reach into October."""
    binder = made(*with_unit(checks=late_checks(count)))
    block = table(section(binder, "changes"), "Late entries")
    assert len(block.rows) == (3 if count == 59 else rows)
    if count == 59:
        happened = spaced(column(block, "Happened"))
        assert happened[:2] == ["1 Sep 2025 to 30 Sep 2025\n30 entries", "1 Oct 2025 to 29 Oct 2025\n29 entries"]
        assert happened[2] == "4 Mar 2026\n2 entries"


def test_what_was_copied_from_one_page_is_one_row():
    made_rows = full.rows()
    loads = tuple(
        f.LoadFact(
            made_rows.row(date(2025, 8, 1 + n), paper=f"log book, page {1 + n // 5}"), str(n), "", "", False, ""
        )
        for n in range(10)
    )
    block = table(section(made(*with_unit(loads=loads)), "changes"), "Transcribed from paper")
    pages = dict(zip(column(block, "Page it was copied from"), spaced(column(block, "Happened")), strict=True))
    assert pages["log book, page 1"] == "1 Aug 2025 to 5 Aug 2025\n5 entries"
    assert pages["log book, page 2"] == "6 Aug 2025 to 10 Aug 2025\n5 entries"


# ------------------------------------------------------------------------------------------------ checks, tests


DAILY = histories.clinic(histories.unit(years=3, visits=2, loads=20, daily=True, seed=5))
BEGUN = histories.LAST.replace(year=histories.LAST.year - 4)


@cache
def of_three_years(extent="inspector"):
    """The binder of a unit that is tested each working day, one of its tests of long ago failed and one corrected."""
    unit = DAILY.units[0]
    tests = list(unit.air_removal)
    tests[100] = replace(tests[100], result="fail")
    tests[110] = replace(tests[110], row=replace(tests[110].row, corrected=True))
    facts = replace(DAILY, units=(replace(unit, air_removal=tuple(tests)),))
    judged = evaluate(facts, histories.LAST)
    return tests, binder_contents(facts, judged, from_on=BEGUN, to_on=histories.LAST, extent=extent)


def rows_listed(binder) -> list[list[str]]:
    block = headed(section(binder, "indicators-1-checks-1"), "Day")
    return [spaced([cell.text for cell in row]) for row in block.rows if len(row) > 1]


def test_passes_of_long_ago_are_told_by_the_month_and_each_counts_once():
    tests, binder = of_three_years()
    rows = rows_listed(binder)
    months = [row for row in rows if "passed, " in row[1]]
    ones = [row for row in rows if row not in months]
    assert 20 < len(months) <= 25 and numbers([row[1] for row in months]) + len(ones) == len(tests)
    assert [row[-2] for row in ones].count("F") == 1, "what failed keeps its line"
    named = {row[-1] for row in ones}
    assert str(tests[110].row.number) in named, "and so does what was corrected"
    year = histories.LAST.replace(year=histories.LAST.year - 1)
    assert {str(t.row.number) for t in tests if t.row.happened_on >= year} <= named, "the last year is told by day"
    words = spaced([section(binder, "indicators-1-checks-1").blocks[-1].text])
    assert "with the first and the last of its entries" in words[0]


def test_everything_on_record_prints_a_line_for_each():
    tests, binder = of_three_years("everything")
    assert len(rows_listed(binder)) == len(tests)


def test_the_index_of_many_entries_tells_those_that_no_page_names_by_the_month():
    rows = [row for row in table(section(of_three_years()[1], "index"), "Entries").rows if len(row) > 1]
    every = [row for row in table(section(of_three_years("everything")[1], "index"), "Entries").rows if len(row) > 1]
    shared = [row for row in rows if " up to " in row[1].text]
    assert shared and not any(" up to " in row[1].text for row in every)
    told = sum(int(re.search(r", (\d+) up to ", text)[1]) for text in spaced([row[1].text for row in shared]))
    assert told + len(rows) - len(shared) == len(every), "each entry counts once"
    named = {name.split(".")[0] for name, _ in of_three_years()[1].named}
    assert not {row[0].text for row in shared} & named, "what a page names has a row of its own"


# ------------------------------------------------------------------------------------------------ lapses


def lapses(count: int) -> tuple[j.Lapse, ...]:
    """Every second day from 1 September 2025 missed, the day between exempt."""
    days = [date(2025, 9, 1) + timedelta(days=n) for n in range(count)]
    return tuple(
        j.Lapse(day, day, "exempt" if n % 2 else "missed", "closed" if n % 2 else "no check")
        for n, day in enumerate(days)
    )


@pytest.mark.parametrize("count", [80, 81])
def test_more_than_eighty_lapses_are_counted_by_month(count):
    facts, judgement = full.clinic()
    unit = judgement.units[0]
    one = replace(unit.coverage[1], lapses=lapses(count))
    binder = made(facts, replace(judgement, units=(replace(unit, coverage=(one,)), judgement.units[1])))
    block = headed(section(binder, "unit-1-coverage"), "Duty")
    if count == 80:
        assert len(block.rows) == 80
        return
    assert len(block.rows) == 6
    told = zip(*(spaced(column(block, name)) for name in ("From, to", "Result", "What is known of it")), strict=True)
    assert list(told)[:2] == [
        ("Sep 2025\n15 times", "missed", "15: no check"),
        ("Sep 2025\n15 times", "exempt", "15: closed"),
    ]
    times = [text.split("\n")[1] for text in column(block, "From, to")]
    assert numbers(times) + times.count("once") == 81


# ------------------------------------------------------------------------------------------------ any period

FACTS = histories.clinic(
    histories.unit(years=1.5, visits=3, loads=300, daily=True, seed=11),
    histories.unit(years=1, visits=2, loads=100, daily=False, type="gravity", seed=12),
)
BEGIN = date(2024, 11, 1)


@given(
    start=st.integers(0, 560), length=st.integers(0, 500), back=st.integers(0, 400),
)  # fmt: skip
@settings(max_examples=examples(25), deadline=None)
def test_whatever_the_period_every_link_leads_somewhere_and_every_week_stands_once(start, length, back):
    """Also a period that begins after the day of the answer, and one before everything."""
    first, as_of = BEGIN + timedelta(days=start), histories.LAST - timedelta(days=back)
    last = first + timedelta(days=length)
    binder = binder_contents(
        FACTS, evaluate(FACTS, as_of), from_on=first, to_on=last, coverage=coverage_over(FACTS, as_of, first, last)
    )
    ids = [each.id for each in binder.sections]
    assert len(set(ids)) == len(ids)
    assert {cell.to for cell in cells(binder.sections) if cell.to} <= set(ids)
    assert all(
        sum(cell.span for cell in r) == len(b.columns)
        for s in binder.sections for b in s.blocks if isinstance(b, Table) for r in b.rows
    )  # fmt: skip
    cut = scope(FACTS, evaluate(FACTS, as_of), first, last, coverage_over(FACTS, as_of, first, last))
    end = min(last, as_of)
    monday = first - timedelta(days=first.weekday())
    expected = (end - monday).days // 7 + 1 if end >= first else 0
    weeks = [week for unit in cut.units[:1] for week in weeks_of(cut, unit)]
    assert len(weeks) == len({week.start for week in weeks}) == expected
    shown = [row for each in binder.sections if each.id in ("unit-1", "indicators-1") for b in each.blocks
             if isinstance(b, MonthCalendar) for row in b.rows if row[0][0].isdigit()]  # fmt: skip
    tested = sum(bool(week.tests or week.sign) for week in weeks)
    assert sum(bool(cell.text) for _, row in shown for cell in row) == tested
