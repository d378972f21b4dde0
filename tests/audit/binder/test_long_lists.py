"""Long lists: told one by one while they are short, counted where they are long, and nothing left out either way."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit import facts as f
from audit.binder.contents import binder_contents
from audit.binder.sections import Table
from audit.judge import judgement as j
from audit.judge.evaluate import coverage_over, evaluate
from tests.audit.binder import full, sample
from tests.audit.binder.test_contents import cells, column, section, table, words
from tests.bench import histories
from tests.examples import examples


def made(facts, judgement, **more):
    return binder_contents(facts, judgement, **{"from_on": sample.FROM, "to_on": sample.TO, **more})


def with_unit(**changes):
    facts, judgement = sample.clinic()
    return replace(facts, units=(replace(facts.units[0], **changes), facts.units[1])), judgement


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
        happened = column(block, "Happened")
        assert happened[:2] == ["1 Sep 2025 to 30 Sep 2025\n30 entries", "1 Oct 2025 to 29 Oct 2025\n29 entries"]
        assert happened[2] == "4 Mar 2026\n2 entries"
    assert f"{count + 2} late entries" in words(section(binder, "cover"))


def test_what_was_copied_from_one_page_is_one_row():
    made_rows = full.rows()
    loads = tuple(
        f.LoadFact(
            made_rows.row(date(2025, 8, 1 + n), paper=f"log book, page {1 + n // 5}"), str(n), "", "", False, ""
        )
        for n in range(10)
    )
    block = table(section(made(*with_unit(loads=loads)), "changes"), "Transcribed from paper")
    pages = dict(zip(column(block, "Page it was copied from"), column(block, "Happened"), strict=True))
    assert pages["log book, page 1"] == "1 Aug 2025 to 5 Aug 2025\n5 entries"
    assert pages["log book, page 2"] == "6 Aug 2025 to 10 Aug 2025\n5 entries"


# ------------------------------------------------------------------------------------------------ checks, tests


def test_many_checks_that_were_not_done_are_counted_and_each_failure_still_stands():
    made_rows = full.rows()
    checks = tuple(
        f.UserCheckFact(made_rows.row(date(2025, 7, 1) + timedelta(days=n)), "automatic control",
                        "fail" if n in (3, 70) else "not done", None, "", "", "", "", "")
        for n in range(100)
    )  # fmt: skip
    part = section(made(*with_unit(checks=checks)), "indicators-1-checks")
    block = table(part, "User checks that failed or were not done")
    assert column(block, "Day") == ["4 Jul 2025", "9 Sep 2025"]
    assert part.blocks[-1].text == "98 checks were not done in the period; the months above count them."
    assert sum(map(int, column(table(part, "User checks by month"), "Not done"))) == 98


def test_indicators_nobody_read_are_counted_by_month_and_failures_stand_alone():
    made_rows = full.rows()
    results = ["not read"] * 20 + ["fail"] + ["pass"] * 9
    chemical = tuple(
        f.ChemicalFact(made_rows.row(date(2025, 7, 1 + n)), 5, result, str(n), "inside", "CI-3")
        for n, result in enumerate(results)
    )
    binder = made(*with_unit(chemical=chemical, air_removal=(), leaks=()))
    block = next(b for b in section(binder, "indicators-1").blocks if isinstance(b, Table) and "leakage" in b.caption)
    told = sorted((row[0].text, row[2].text, row[3].text.split("\n")[0]) for row in block.rows)
    assert told == [("21 Jul 2025", "fail", "cycle 20"), ("Jul 2025", "not read", "20 results"),
                    ("Jul 2025", "pass", "9 results")]  # fmt: skip


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
    block = table(section(binder, "unit-1-coverage"), "Lapses, and what was exempt")
    if count == 80:
        assert len(block.rows) == 80
        return
    assert len(block.rows) == 6
    told = zip(*(column(block, name) for name in ("From, to", "Result", "What is known of it")), strict=True)
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
        len(r) == len(b.columns) for s in binder.sections for b in s.blocks if isinstance(b, Table) for r in b.rows
    )
    end = min(last, as_of)
    monday = first - timedelta(days=first.weekday())
    expected = (end - monday).days // 7 + 1 if end >= first else 0
    tables = [b for each in binder.sections if each.id in ("indicators-1-weeks", "glance-1") for b in each.blocks
              if isinstance(b, Table)]  # fmt: skip
    if tables:
        found = [cell.text for row in tables[-1].rows for cell in row[1:6] if cell.text]
        assert len(found) == expected
        assert (
            len(
                {(row[0].text, cell.text.split("\n")[0]) for row in tables[-1].rows for cell in row[1:6] if cell.text}
            )
            == expected
        )
