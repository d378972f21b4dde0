"""The line under each folded heading: a table, and that it counts what its chapter holds, for any history."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given, settings

from audit.facts import unit_by_day
from audit.judge import headings as h
from audit.judge.evaluate import evaluate
from audit.judge.judgement import Severity
from audit.judge.year import COUNTED, ROWS, WEEKS, year_of
from tests.audit.unsafe import histories
from tests.examples import examples
from tests.fact_builders import air, bio, clinic, counter, event, job, on, placed, unit

DAY = date(2025, 6, 30)


def said(*, as_of=DAY, **facts) -> dict[str, str]:
    """The lines of a gravity unit in use since January under weekly rules."""
    made = unit("2025-01-06", placements=(placed("2025-01-06"),), **facts)
    judged = evaluate(clinic(made), as_of).units[0]
    return h.headings_of(unit_by_day(made, as_of), judged)


PASSED = bio("2025-06-02", result="pass")
TABLE = [
    ("nothing on record", {}, {
        "failures": h.NONE, "tests": h.NONE, "checks": h.NONE, "service": h.NONE,
        "loads": "none known", "readings": "0 readings at visits; no counter reading"}),
    ("tests by result, the worst first", {"bio_tests": (PASSED, bio("2025-06-09", result="growth"))},
     {"tests": "2 on record: 1 failed, 1 passed; the newest 2025-06-09"}),
    ("what lies ahead of the day is not counted", {"bio_tests": (PASSED, bio("2025-07-07"))},
     {"tests": "1 on record: 1 passed; the newest 2025-06-02"}),
    ("other tests", {"air_removal": (air("2025-06-02"), air("2025-06-03", "fail"))},
     {"checks": "2 on record: 1 fail, 1 pass; the newest 2025-06-03"}),
    ("a visit that was not concluded says so", {"jobs": (job("2025-06-20", end=""),)},
     {"service": "1 visit; the last 2025-06-20, planned: not concluded"}),
    ("counter", {"counters": (counter("2025-06-02", 5155),)},
     {"readings": "0 readings at visits; 5155 cycles on 2025-06-02"}),
]  # fmt: skip


@pytest.mark.parametrize(("facts", "lines"), [row[1:] for row in TABLE], ids=[row[0] for row in TABLE])
def test_the_table_of_lines(facts, lines):
    found = said(**facts)
    assert {chapter: found[chapter] for chapter in lines} == lines


@settings(max_examples=examples(40))
@given(histories.clinics(), histories.days)
def test_of_any_history_the_lines_count_what_is_there(place, day):
    """Counted once more, plainly: tests, cases, visits, open items; and the year names every bad week."""
    judgement = evaluate(place, day)
    for facts, judged in zip(place.units, judgement.units, strict=True):
        known = unit_by_day(facts, day)
        lines = h.headings_of(known, judged)
        assert lines["tests"].startswith(f"{len(known.bio_tests)} on record: ") or not known.bio_tests
        assert lines["service"].startswith(f"{len(known.jobs)} visit") or not known.jobs
        open_cases = [c for c in judged.cases if c.phase not in ("returned", "entered in error")]
        assert lines["failures"].startswith(f"{len(open_cases)} open") is bool(open_cases)
        year = year_of(known, judged)
        if year is not None:
            cells = [week.cell for row in year.rows for week in row]
            assert cells == list(judged.weeks[-ROWS * WEEKS :])
            bad = [c for c in cells if c.result not in COUNTED]
            assert len(year.named) + year.more == len(bad)
            assert sum(count for count, _ in year.counts) + len(bad) == len(cells)
            assert {(c.start, c.end, c.result) for c in bad} >= set(year.named)
            assert all(c.result in said for c, said in zip(bad[-len(year.lapses) :], year.lapses, strict=False))
    every = [*judgement.findings, *(f for u in judgement.units for f in u.findings)]
    forbid = sum(f.severity is Severity.FORBIDS for f in every)
    assert h.items_line(judgement).startswith(f"{forbid} forbid") is bool(forbid)


WEEKS_OUT = [
    # (what, facts, weeks that are marked as out of service, by their first day)
    ("never out", {}, []),
    ("withdrawn and returned in one week", {"events": [("2025-06-10", "withdrawn"), ("2025-06-12", "returned")]},
     ["2025-06-09"]),
    ("withdrawn, and a return told by another", {"events": [("2025-06-17", "withdrawn"), ("2025-06-18", "told")]},
     ["2025-06-16", "2025-06-23", "2025-06-30"]),
    ("withdrawn twice, one return that names neither", {"events": [
        ("2025-06-17", "withdrawn"), ("2025-06-17", "withdrawn"), ("2025-06-24", "returned")]},
     ["2025-06-16", "2025-06-23", "2025-06-30"]),
    ("out to this day", {"events": [("2025-06-17", "withdrawn")]}, ["2025-06-16", "2025-06-23", "2025-06-30"]),
]  # fmt: skip


@pytest.mark.parametrize(("facts", "weeks"), [row[1:] for row in WEEKS_OUT], ids=[row[0] for row in WEEKS_OUT])
def test_the_year_marks_the_weeks_in_which_it_was_out(facts, weeks):
    events = tuple(
        replace(event(day, "returned"), given="told") if kind == "told" else event(day, kind)
        for day, kind in facts.get("events", ())
    )
    made = unit("2025-01-06", placements=(placed("2025-01-06"),), events=events, bio_tests=(bio("2025-06-02"),))
    judged = evaluate(clinic(made), DAY).units[0]
    found = [week.cell.start for row in year_of(made, judged).rows for week in row if week.out]
    assert found == [on(day) for day in weeks]


def test_a_visit_is_marked_in_its_week_and_told_with_its_day():
    made = unit("2025-01-06", placements=(placed("2025-01-06"),), jobs=(job("2025-06-20"),))
    year = year_of(made, evaluate(clinic(made), DAY).units[0])
    assert [week.cell.start for row in year.rows for week in row if week.visit] == [on("2025-06-16")]
    assert year.visits == (on("2025-06-20"),)
