"""The line under each folded heading: a table, and that it counts what its chapter holds, for any history."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings

from audit.facts import unit_by_day
from audit.judge import headings as h
from audit.judge.evaluate import evaluate
from audit.judge.judgement import (
    Case,
    ClinicJudgement,
    Clock,
    Coverage,
    DueKind,
    Evidence,
    Finding,
    LookBack,
    Severity,
    State,
    UnitJudgement,
    UnitStanding,
    WeekCell,
    Word,
)
from audit.judge.year import COUNTED, ROWS, WEEKS, year_of
from audit.regimes.source import Source
from tests.audit.unsafe import histories
from tests.examples import examples
from tests.fact_builders import air, bio, clinic, counter, event, job, measured, on, placed, unit

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
    ("a reading of a visit", {"jobs": (job("2025-06-20", readings=(measured("2025-06-20"),)),)},
     {"readings": "1 reading at visits; no counter reading"}),
    ("counter", {"counters": (counter("2025-06-02", 5155),)},
     {"readings": "0 readings at visits; 5155 cycles on 2025-06-02"}),
]  # fmt: skip


@pytest.mark.parametrize(("facts", "lines"), [row[1:] for row in TABLE], ids=[row[0] for row in TABLE])
def test_the_table_of_lines(facts, lines):
    found = said(**facts)
    assert {chapter: found[chapter] for chapter in lines} == lines


PRACTICE = Source("common practice, no source")


def case(phase, failed="2025-06-01", known="2025-06-02", resolved=None):
    end = resolved and on(resolved)
    return Case("c", "positive-bi", "Positive spore test", on(failed), on(known), phase, end, 0, 3, "", (), ())


def back(after, *loads, settled=None, unlogged=""):
    held = tuple(Evidence(ref, "a load") for ref in loads)
    return LookBack("t", "", after and on(after), "", DAY, held, unlogged, (), (), settled_on=settled and on(settled))


def kept(due, met, late=0, missed=0, invalid=0):
    counted = (due, met, late, missed, invalid, 0, 0, (), None, None, 0, 0, None, "")
    return Coverage("d", "Duty", DAY, DAY, "weekly", PRACTICE, *counted)


def clock(state):
    return Clock(DueKind.DUTY, "c", "Test", state, None, None, None, "weekly", PRACTICE)


def finding(severity):
    return Finding("r", severity, None, "m", "w")


FAILED = [
    ((), h.NONE),
    ((case("entered in error"),), h.NONE),
    (
        (case("requalification needed"), case("entered in error", failed="2025-06-20")),
        "1 open; the newest 2025-06-01",
    ),
    ((case("returned"), case("returned", failed="2025-05-01")), "2 resolved; the newest 2025-06-01"),
    ((case("returned", failed="2025-06-05"), case("retest needed")), "1 open, 1 resolved; the newest 2025-06-05"),
]
LOADS = [
    ((), "none known"),
    ((back("2025-06-01", "a", "b"), back("2025-05-01", "b")), "2 known, after 2025-05-01; 2 without a decision"),
    ((back("2025-06-01", "a", settled="2025-06-03"),), "1 known, after 2025-06-01; all decided"),
    ((back(None, "a", settled="2025-06-03"), back("2025-06-01", unlogged="3 cycles")),
     "1 known, after 2025-06-01; 1 without a decision; some cycles are not logged"),
    ((back(None),), "0 known; 1 without a decision"),
]  # fmt: skip
KEPT = [
    ((), "no duty was counted"),
    ((kept(9, 9), kept(3, 1, 1, 0, 1)), "12 due, 10 met in time, 1 late, 1 invalid"),
    ((kept(2, 0, 0, 2),), "2 due, 0 met in time, 2 missed"),
]
OK, SOON, LATE, NONE_KNOWN, NOT_ASKED = map(
    clock, (State.OK, State.DUE_SOON, State.OVERDUE, State.NO_EVIDENCE, State.NOT_APPLICABLE)
)
DUE = [
    ((), "0 asked, none overdue", "none asked"),
    ((OK, OK, SOON, NOT_ASKED), "3 asked, none overdue; 1 not asked of this unit", "1 due, 2 in order"),
    ((LATE, NONE_KNOWN, OK), "3 asked, 2 overdue or without evidence", "2 overdue or without evidence, 1 in order"),
    ((NOT_ASKED,), "0 asked, none overdue; 1 not asked of this unit", "none asked"),
]
FORBIDS, RIGHT, NOTE = map(finding, (Severity.FORBIDS, Severity.PUT_RIGHT, Severity.NOTE))
ITEMS = [
    ((), (), "none open"),
    ((), (FORBIDS,), "1 forbids use"),
    ((FORBIDS, NOTE), (FORBIDS, RIGHT), "2 forbid use, 1 to put right, 1 to be known"),
]


@pytest.mark.parametrize(("cases", "line"), FAILED)
def test_the_line_of_failures(cases, line):
    assert h.failures(judged(cases=cases)) == line


@pytest.mark.parametrize(("backs", "line"), LOADS)
def test_the_line_of_loads(backs, line):
    assert h.loads_affected(backs) == line


@pytest.mark.parametrize(("coverage", "line"), KEPT)
def test_the_line_of_what_was_kept(coverage, line):
    assert h.kept(coverage) == line


@pytest.mark.parametrize(("clocks", "line", "of_place"), DUE)
def test_the_lines_of_what_is_due(clocks, line, of_place):
    assert (h.due(clocks), h.place_line(clocks)) == (line, of_place)


@pytest.mark.parametrize(("own", "of_unit", "line"), ITEMS)
def test_the_line_of_open_items(own, of_unit, line):
    one = judged(findings=of_unit)
    assert h.items_line(ClinicJudgement("c", "C", DAY, "base", "Base", "1", (), (one,), own)) == line


def judged(**said) -> UnitJudgement:
    held = UnitStanding(Word.IN_SERVICE, "R11", "a reason", None, (), "", None)
    made = UnitJudgement("u", "Unit", DAY, held, (), (), (), (), (), ())
    return replace(made, **said)


def weeks(*results):
    """Weeks in a row, the last of which begins on the Monday of the day judged."""
    first = DAY - timedelta(days=7 * (len(results) - 1))
    starts = [first + timedelta(days=7 * n) for n in range(len(results))]
    return tuple(WeekCell(start, start + timedelta(days=6), r) for start, r in zip(starts, results, strict=True))


def test_a_year_has_four_rows_of_thirteen_weeks_and_names_twelve_that_lapsed():
    assert year_of(unit(), judged()) is None
    year = year_of(unit(), judged(weeks=weeks(*["passed"] * 3, *["missed"] * 14, *["passed"] * 40, "exempt", "open")))
    assert [len(row) for row in year.rows] == [13, 13, 13, 13]
    assert year.counts == ((40, "passed"), (1, "not asked"), (1, "not over yet"))
    assert (len(year.named), year.more, year.results) == (10, 0, ("missed", "passed", "exempt", "open"))
    assert year.counted == "40 weeks passed, 1 week not asked, 1 week not over yet."
    assert (year.rest, year.visits, year.was_out) == ("", (), False)
    many = year_of(unit(), judged(weeks=weeks(*["missed"] * 14, "passed")))
    assert (len(many.named), many.more, many.rest) == (12, 2, "And 2 more before.")
    assert many.lapses[-1] == "2025-06-23 to 2025-06-29: missed." and len(many.rows) == 2


def test_visits_and_times_out_stand_in_the_weeks_that_they_touch():
    days = ("2025-06-08", "2025-06-09", "2025-06-15", "2025-06-16")
    cases = case("returned", known="2025-06-15", resolved="2025-06-16"), case("entered in error", known="2025-06-30")
    held = judged(weeks=weeks(*["passed"] * 4), cases=cases)
    year = year_of(unit(jobs=tuple(map(job, days))), held)
    assert [(w.visit, w.out) for w in year.rows[0]] == [(True, True), (True, True), (False, False), (False, False)]
    assert year.visits == tuple(on(day) for day in reversed(days[1:])) and year.was_out
    assert year.rest == "3 visits, the last 2025-06-16."
    last = year_of(unit(jobs=(job("2025-06-15"),)), held).rows[0]
    assert [w.visit for w in last] == [True, False, False, False]
    one = year_of(unit(jobs=(job("2025-06-09"),)), replace(held, cases=(case("retest needed", known="2025-06-22"),)))
    assert [w.out for w in one.rows[0]] == [False, True, True, True] and one.rest == "1 visit, the last 2025-06-09."
    by_hand = replace(
        held, cases=(), withdrawn=((on("2025-06-16"), on("2025-06-16")), (on("2025-06-22"), on("2025-06-30")))
    )
    assert [w.out for w in year_of(unit(), by_hand).rows[0]] == [False, True, True, False]


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
