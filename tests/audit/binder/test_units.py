"""The chapter of a unit: its page with the calendar, what is due and fitted, what happened; failures, look-backs."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit import facts as f
from audit.binder.contents import binder_contents
from audit.binder.sections import CaseTimeline, KeyValues, MonthCalendar, Paragraph, StandingBox, Table
from audit.judge import judgement as j
from audit.judge.evaluate import coverage_over, evaluate
from tests.audit.binder import full, sample
from tests.audit.binder.test_contents import column, headed, section, table, words
from tests.bench import histories


def made(facts, judgement, **more):
    return binder_contents(facts, judgement, **{"from_on": sample.FROM, "to_on": sample.TO, **more})


@pytest.fixture(scope="module")
def judged():
    return full.clinic()


@pytest.fixture(scope="module")
def binder(judged):
    return made(*judged)


def spaced(text: str) -> str:
    return text.replace("\u00a0", " ")


def of(binder, id: str, kind):
    (block,) = [block for block in section(binder, id).blocks if isinstance(block, kind)]
    return block


def changed(**changes):
    """The full clinic with its first unit changed."""
    facts, judgement = full.clinic()
    return replace(facts, units=(replace(facts.units[0], **changes), facts.units[1])), judgement


def judged_as(**changes):
    """The full clinic with what is said of its first unit changed."""
    facts, judgement = full.clinic()
    said = replace(judgement.units[0], **changes)
    return facts, replace(judgement, units=(said, judgement.units[1]))


# ------------------------------------------------------------------------------------------------ the page of a unit


def test_the_page_says_what_it_is_where_it_stands_and_why(binder):
    page = section(binder, "unit-1")
    assert page.aside == "Nordlys (invented) Kassett 6 (invented), cassette, 5.1 litres, serial SN-ÆØÅ-0091".replace(
        "5.1 litres", "5.1\u00a0litres"
    )
    box = of(binder, "unit-1", StandingBox)
    assert spaced(box.word) == "■ Out of service\nsince 26 May 2026"
    reason = "A positive spore test is not resolved. Proof: growth after 24 h. Lifted by a repeat that passes."
    assert spaced(box.reason) == reason


@pytest.mark.parametrize(
    ("word", "sign"),
    [(j.Word.IN_SERVICE, "□"), (j.Word.OVERDUE, "□"), (j.Word.LIMITED, "□"), (j.Word.WAITING, "◩"), (j.Word.OUT, "■"),
     (j.Word.NOT_IN_USE, "■")],
)  # fmt: skip
def test_the_sign_before_the_word_is_that_of_the_first_page(word, sign):
    facts, judgement = full.clinic()
    standing = replace(judgement.units[0].standing, word=word)
    box = of(made(*judged_as(standing=standing)), "unit-1", StandingBox)
    assert box.word.startswith(f"{sign} {word.value}")


def test_an_answer_that_permits_without_any_proof_is_not_yet():
    standing = replace(full.clinic()[1].units[0].standing, word=j.Word.IN_SERVICE, proof=())
    box = of(made(*judged_as(standing=standing)), "unit-1", StandingBox)
    assert box.word.startswith("◩") and box.reason.endswith("No proof is on record that it may be used: not yet.")


def test_the_page_says_the_next_day_on_which_the_answer_is_another():
    standing = replace(
        full.clinic()[1].units[0].standing, holds_until=date(2026, 6, 21), becomes="Out of service: overdue"
    )
    box = of(made(*judged_as(standing=standing)), "unit-1", StandingBox)
    assert "From 21 Jun 2026 on, with nothing new logged: Out of service: overdue." in spaced(box.reason)


def test_a_unit_that_was_moved_tells_where_it_stood_before():
    row = full.rows().row(date(2026, 1, 12))
    facts, judgement = full.clinic()
    moved = f.PlacementFact(row, date(2026, 1, 12), "Store", "stored as spare")
    binder = made(*changed(placements=(moved, *facts.units[0].placements)))
    (left,) = [b for b in section(binder, "unit-1").blocks if hasattr(b, "left")]
    told = {key: spaced(cell.text) for block in left.left for key, cell in block.pairs}
    assert told["Place"] == "Store, stored as spare, on record since 12 Jan 2026"
    assert told["Before that"].startswith("Room 2, in use from 4 Mar 2024 [")


def test_counters_are_a_line_and_each_reading_stands_in_the_extent_of_everything():
    made_rows = full.rows()
    read = tuple(f.CounterFact(made_rows.row(date(2026, 1, 1 + n)), "cycles", 100 + 4 * n, 0, "") for n in range(11))
    binder = made(*changed(counters=read))
    (facts,) = [b for b in section(binder, "unit-1").blocks if hasattr(b, "left")]
    told = {key: spaced(cell.text) for block in facts.right for key, cell in block.pairs}
    assert told["Cycles"] == "140 on 11 Jan 2026; 11 readings since 1 Jan 2026, about 4.0 a day"
    every = made(*changed(counters=read), extent="everything")
    (counters,) = [b for b in section(every, "unit-1-readings").blocks if isinstance(b, Table)]
    assert column_of(counters, "Shown") == [str(100 + 4 * n) for n in range(11)]


def column_of(block: Table, title: str) -> list[str]:
    """A column of a list by date without the lines of its years."""
    at = [each.title for each in block.columns].index(title)
    return [row[at].text for row in block.rows if len(row) > 1]


# ------------------------------------------------------------------------------------------------ due, fitted, open


def due(binder) -> dict[str, list[str]]:
    block = table(section(binder, "unit-1"), "What is due, and what is fitted")
    return {row[0].text: [spaced(cell.text) for cell in row[1:]] for row in block.rows}


def test_overdue_says_by_how_much(binder):
    """Overdue from 20 May to 31 May, both inclusive, is twelve days."""
    told = due(binder)
    assert told["Replace the cassette seal"][3] == "4 Mar 2026\noverdue by 12 days"
    assert told["Replace the check valve"][3] == "12 Jan 2028"
    assert told["Replace the intake filter"][1:4] == ["no record found", "", "no evidence"]


def test_each_position_says_what_is_fitted_with_its_lot(binder):
    told = due(binder)
    assert told["cassette seal"][1:3] == ["4 Mar 2026, on plan", "B25-118 (R-0931), recalled"]
    assert told["check valve"][2] == "not known whether fitted"
    assert told["compressor intake filter"][2] == "not fitted: none on this version"


def test_a_due_item_and_the_part_at_its_position_are_one_row():
    facts, judgement = full.clinic()
    seal = facts.units[0].positions[0]
    clocks = judgement.units[0].clocks
    clock = replace(clocks[0], position=seal.row.origin, action="replace")
    told = due(made(*judged_as(clocks=(clock, *clocks[1:]))))
    assert told["Replace the cassette seal"][2] == "B25-118 (R-0931), recalled" and "cassette seal" not in told


def test_what_is_open_stands_worst_first_and_notes_are_counted_with_their_page():
    note = j.Finding("odd", j.Severity.NOTE, date(2026, 5, 1), "a note", "nothing", (), None, "clinic")
    facts, judgement = full.clinic()
    binder = made(*judged_as(findings=(note, *judgement.units[0].findings)))
    block = table(section(binder, "unit-1"), "Open for this unit")
    told = [spaced(text) for text in column(block, "What is open")]
    assert [text.split(".")[0] for text in told] == [
        "Forbids use", "Put right", "1 further note to be known",
    ]  # fmt: skip
    assert "a note" not in " ".join(told)
    chapter = table(section(binder, "open-items"), "Open items, worst first")
    rows = dict(zip(chapter.known_as, chapter.rows, strict=True))
    (ask,) = block.rows[-1][2].pages
    assert ask[0] == "open-items" and rows[ask[1]][2].text.startswith("A note")


def test_nothing_open_prints_nothing():
    page = section(made(*judged_as(findings=())), "unit-1")
    assert not any(isinstance(b, Table) and b.caption == "Open for this unit" for b in page.blocks)


# ------------------------------------------------------------------------------------------------ what happened


def test_what_happened_is_dated_lines_with_their_pages(binder):
    block = section(binder, "unit-1-happened").blocks[0]
    told = [(spaced(row[0].text), spaced(row[1].text), row[2].to) for row in block.rows]
    assert ("2 Feb 2026", "Growth in a spore test: returned on 5 Feb 2026", "indicators-1-failure-1") in told
    assert ("4 Mar 2026", "Planned; 2 parts; released", "unit-1-job-1") in told
    assert told[0][1].startswith("Known gap, 1 Jun 2025 to 8 Jun 2025: log lost.")
    days = [row[0].text for row in block.rows]
    assert days.count("2\u00a0Feb\u00a02026") == 1, "the withdrawal is told with the failure"


def test_a_withdrawal_of_its_own_stands_out():
    row = full.rows().row(date(2026, 4, 2))
    out = f.UnitEventFact(row, "withdrawn", "door squeaks", "Ilse Brandt")
    block = section(made(*changed(events=(out,))), "unit-1-happened").blocks[0]
    (line,) = [cells for cells in block.rows if "door squeaks" in cells[1].text]
    assert line[1].text == "Withdrawn: door squeaks; by Ilse Brandt" and line[1].strong and line[3].text == "9001"


# ------------------------------------------------------------------------------------------------ failures


def steps(binder) -> list[tuple[str, str, str]]:
    line = of(binder, "indicators-1-failure-1", CaseTimeline)
    return [(spaced(step.when), step.state, step.title) for step in line.steps]


def test_a_failure_runs_from_the_last_good_proof_to_where_it_stands(binder):
    assert steps(binder) == [
        ("26 Jan 2026", "done", "Last good proof"),
        ("2 Feb 2026", "failed", "Growth in a spore test"),
        ("2 Feb 2026", "done", "Withdraw"),
        ("5 Feb 2026", "done", "Retest"),
        ("open", "late", "Find cause"),
        ("by 4 Feb 2026", "late", "Notify"),
        ("", "not needed", "Not needed"),
    ]


def test_each_step_stands_beside_what_the_rules_ask_and_names_its_rows(binder):
    line = of(binder, "indicators-1-failure-1", CaseTimeline)
    assert [step.asks for step in line.steps] == [
        "", "", "Take the unit out of service", "Repeat with a control of the same lot", "Find the cause",
        "Tell the health department", "Tell the authority",
    ]  # fmt: skip
    assert [step.record for step in line.steps[1:4]] == ["175, 176", "217", "209, 210, 215"]


def test_the_failed_test_is_told_in_full_here_and_by_a_line_elsewhere(binder):
    line = of(binder, "indicators-1-failure-1", CaseTimeline)
    assert "Read on 3 Feb 2026 after 24 h at 57 °C by Ida Lund: growth in the test" in spaced(line.steps[1].lines[0])
    rows = headed(section(binder, "indicators-1"), "Told in full").rows
    (failed,) = [row for row in rows if row[1].text.startswith("Failed")]
    assert spaced(failed[1].text) == "Failed: run on 2 Feb 2026, cycle 4471; told with the failure."
    assert failed[2].to == "indicators-1-failure-1"
    everywhere = words([each for each in binder.sections if each.id != "indicators-1-failure-1"])
    assert "growth in the test, growth in the control" not in everywhere


def test_a_failure_says_what_is_missing_and_what_was_done_in_another_order(binder):
    told = spaced(words(section(binder, "indicators-1-failure-1")))
    for text in (
        "Still missing: a return signed by the responsible person",
        "the repeat was run before the cause was found on 9 Feb 2026",
        "In doubt: 3 loads, after 26 Jan 2026, up to and with 2 Feb 2026.",
        "2 cycles on the counter are in no log",
    ):
        assert text in told
    loads = headed(section(binder, "indicators-1-failure-1"), "Cycle")
    assert column(loads, "Cycle") == ["4463", "4462", "4461"]


def test_a_failure_that_is_open_says_so_in_its_frame():
    facts, judgement = full.clinic()
    case = replace(judgement.units[0].cases[0], resolved_on=None, phase="retest needed", passes=0)
    box = of(made(*judged_as(cases=(case,))), "indicators-1-failure-1", StandingBox)
    assert spaced(box.word) == "■ Open\nsince 3 Feb 2026" and box.reason.startswith("Retest needed; ")


def test_an_open_follow_up_says_what_was_asked_of_whom_by_when():
    facts, judgement = full.clinic()
    case = facts.units[0].cases[0]
    row, by = full.rows().row(date(2026, 2, 4)), date(2026, 3, 1)
    asked = f.FollowUpFact(row, "find cause", "look at the pump", "Fjord", by, None, None, "", "")
    cases = (replace(case, followups=(*case.followups, asked)),)
    line = of(made(*changed(cases=cases)), "indicators-1-failure-1", CaseTimeline)
    (cause,) = [step for step in line.steps if step.title == "Find cause"]
    assert "Asked: look at the pump; by whom: Fjord; by: 1 Mar 2026." in spaced(cause.lines[0])
    assert cause.record == "9001"


def test_nothing_failed_prints_no_failure():
    binder = made(*judged_as(cases=(), look_backs=()))
    assert not any("failure" in each.id or "look-back" in each.id for each in binder.sections)


# ------------------------------------------------------------------------------------------------ look-backs


def look_backs(binder) -> list:
    return [each for each in binder.sections if "-look-back-" in each.id]


def said(part) -> str:
    return spaced(next(block.text for block in part.blocks if isinstance(block, Paragraph)))


def test_look_backs_of_all_triggers_are_told_each_once(binder, judged):
    titles = [spaced(each.title).split(" ")[2] for each in look_backs(binder)]
    assert titles == ["mechanical", "holding", "logger", "part"]
    assert len(judged[1].units[0].look_backs) == len(titles) + 1  # the other one stands with its failure


def test_a_look_back_says_its_decision_what_the_rules_ask_and_what_is_outside(binder):
    mechanical, _, instrument, _ = look_backs(binder)
    assert "Still open: no decision is on record." in said(mechanical)
    assert "Decided on 2 May 2026." in said(instrument) and "Asked: judge each reading taken with it" in said(
        instrument
    )
    left = headed(mechanical, "Cycle").rows[-1]
    assert left[3].text == "rejected; left out: its mechanical result passed" and left[0].text == "3118"


def test_many_loads_in_a_look_back_are_counted_by_month(binder):
    block = headed(look_backs(binder)[-1], "Cycle")
    assert [spaced(row[0].text) for row in block.rows] == ["trigger", "32 loads", "48 loads", "part"]
    assert spaced(block.rows[1][2].text).startswith("from cycle 3080 of 21 Feb 2026")
    assert block.rows[1][3].text == "9141, 9172"


@pytest.mark.parametrize(
    ("from_on", "to_on", "told"),
    [
        (date(2026, 5, 3), sample.TO, ["holding", "mechanical", "part", "positive"]),
        (date(2026, 5, 2), sample.TO, ["holding", "logger", "mechanical", "part", "positive"]),
        (date(2025, 1, 1), date(2025, 1, 8), ["holding"]),
    ],
)
def test_a_look_back_belongs_to_a_period_it_touches_or_in_which_it_is_open(judged, from_on, to_on, told):
    """The instrument's was decided on 2 May 2026; the one without any good proof reaches back to the first record.

    That of the positive spore test is told with its case where the case belongs to the period, else by itself.
    """
    found = look_backs(made(*judged, from_on=from_on, to_on=to_on))
    assert sorted(spaced(each.title).split(" ")[2] for each in found) == told


# ------------------------------------------------------------------------------------------------ duties


def test_lapses_of_which_the_same_is_known_share_a_row(binder):
    """Those of the spore tests at regular times stand among the tests."""
    block = headed(section(binder, "unit-1-coverage"), "Duty")
    assert column(block, "Result") == ["missed"]
    assert spaced(column(block, "From, to")[0]) == "2 Jun 2025 to 18 Dec 2025\n200 times in a row"


def test_a_lapse_of_another_kind_between_ends_the_run():
    unit = full.clinic()[1].units[0]
    days = [date(2026, 1, n) for n in (1, 2, 3)]
    lapses = tuple(j.Lapse(day, day, "exempt" if n == 1 else "missed", "") for n, day in enumerate(days))
    binder = made(*judged_as(coverage=(unit.coverage[0], replace(unit.coverage[1], lapses=lapses))))
    assert column(headed(section(binder, "unit-1-coverage"), "Duty"), "Result") == ["missed", "exempt", "missed"]


def test_how_a_duty_was_kept_is_said_in_numbers_below_the_calendar(binder):
    told = of(binder, "unit-1", MonthCalendar).note
    assert (
        "Spore test: due 51 times, 48 met, 1 missed, 1 with nothing that counts, 1 awaited. Not asked 1 time (closed "
        "for the holidays 1). Longest time between two: 14 days, 15 to 29 Dec 2025." in spaced(told)
    )
    assert "Automatic control test: due 260 times, 60 met, 200 missed." in spaced(told)


def test_coverage_counted_for_the_period_goes_before_that_of_the_judgement(judged):
    first = date(2026, 1, 1)
    own = tuple(replace(each, due=7) for each in full.coverage(judged[0].units[0], first, sample.TO))
    binder = made(*judged, from_on=first, coverage={judged[0].units[0].ref: own})
    told = of(binder, "unit-1", MonthCalendar).note
    assert "due 7 times" in spaced(told) and "not the period" not in words(section(binder, "unit-1-coverage"))


# ------------------------------------------------------------------------------------------------ the calendar


def calendar(binder, id: str = "unit-1") -> dict[str, dict[str, tuple[str, str]]]:
    """(text, frame) of each cell that says something, by row and month."""
    block = of(binder, id, MonthCalendar)
    return {
        label: {
            spaced(month): (spaced(cell.text), cell.frame)
            for month, cell in zip(block.months, cells, strict=True) if cell.text
        }
        for label, cells in block.rows
    }  # fmt: skip


def test_a_cell_is_the_day_of_the_test_and_what_stands_out_is_framed(binder):
    rows = calendar(binder)
    assert rows["1st week"]["Jun 2025"] == ("2", "") and rows["5th"]["Dec 2025"] == ("29", "")
    assert rows["3rd"]["Sep 2025"] == ("M", "framed")
    assert rows["2nd"]["Nov 2025"] == ("10 x", "framed")
    assert rows["4th"]["Dec 2025"] == ("·", "")
    assert rows["1st week"]["Feb 2026"] == ("2 F, 5 ?", "black")


def test_the_key_names_the_signs_that_are_used_and_no_others(binder):
    assert of(binder, "unit-1", MonthCalendar).key == (
        ("F", "failed"), ("x", "did not count"), ("M", "missed"), ("?", "not judged"), ("·", "not asked"),
    )  # fmt: skip


def test_other_tests_are_counted_by_the_month(binder):
    rows = calendar(binder)
    assert rows["air removal"] == {"Apr 2026": ("8/9\nF 1", "black")}
    assert rows["automatic control"]["Feb 2026"] == ("27/28\nF 1", "black")
    assert rows["automatic control"]["Mar 2026"] == ("30/31", "")


def test_days_of_use_without_a_check_are_counted_as_missed():
    unit = full.clinic()[1].units[0]
    days = tuple(j.Lapse(date(2026, 3, n), date(2026, 3, n), "missed", "") for n in (2, 3, 4))
    daily = replace(unit.coverage[1], subject="automatic control", lapses=days)
    rows = calendar(made(*judged_as(coverage=(unit.coverage[0], daily))))
    assert rows["automatic control"]["Mar 2026"] == ("30/31\nM 3", "framed")


def test_a_unit_without_any_test_has_no_calendar(binder):
    assert not any(isinstance(block, MonthCalendar) for block in section(binder, "unit-2").blocks)
    said_ = next(b.text for b in section(binder, "indicators-2").blocks if isinstance(b, Paragraph))
    assert said_ == "Spore tests in the period: no record found. The clinic supplies what was run."
    assert section(binder, "indicators-2").title == "Spore tests (biological indicator): none on record"


# ------------------------------------------------------------------------------------------------ judged for real


@pytest.fixture(scope="module")
def long():
    """Four years of a weekly tested unit, one failure, judged by rules on file; no test in the last weeks of 2024."""
    unit = histories.unit(years=4, visits=6, loads=400, daily=False, seed=3)
    kept = [t for t in unit.bio_tests if not date(2024, 11, 4) <= t.row.happened_on <= date(2024, 12, 1)]
    facts = histories.clinic(replace(unit, bio_tests=tuple(kept)))
    first = date(2022, 7, 1)
    kept_ = coverage_over(facts, histories.LAST, first, histories.LAST)
    return made(facts, evaluate(facts, histories.LAST), from_on=first, to_on=histories.LAST, coverage=kept_)


def test_a_long_period_has_its_last_months_on_the_page_and_the_others_with_the_tests(long):
    page, before = of(long, "unit-1", MonthCalendar), of(long, "indicators-1", MonthCalendar)
    assert len(page.months) == 19 and spaced(page.months[-1]) == "Jun 2026"
    assert (spaced(before.months[0]), spaced(before.months[-1])) == ("Jun 2022", "Nov 2024")
    assert len(before.months) + len(page.months) == 49


def test_weeks_without_a_test_are_missed_also_beyond_the_80_weeks_of_the_judgement(long):
    """The rules ask a test each week: four weeks from 4 November 2024 have none."""
    rows = calendar(long, "indicators-1")
    november = [rows[nth].get("Nov 2024") for nth in ("1st week", "2nd", "3rd", "4th")]
    assert november == [("M", "framed")] * 4


def test_the_calendar_agrees_with_the_weeks_of_the_judgement():
    """Two ways to the same weeks: from coverage of the period, and from the judgement."""
    facts = histories.clinic(histories.unit(years=1, visits=1, loads=50, daily=False, seed=5))
    judgement = evaluate(facts, histories.LAST)
    first = date(2025, 9, 1)
    kept = coverage_over(facts, histories.LAST, first, histories.LAST)
    binder = made(facts, judgement, from_on=first, to_on=histories.LAST, coverage=kept)
    shown = [cell for row in calendar(binder).items() if row[0][0].isdigit() for cell in row[1].values()]
    weeks = [w for w in judgement.units[0].weeks if w.end >= first]
    signs = {"missed": "M", "invalid": "x", "failed": "F", "open": "–", "passed": "", "exempt": "·", "awaited": "○"}
    for result, sign in signs.items():
        if result in ("missed", "invalid", "failed", "open"):
            assert sum(sign in text for text, _ in shown) == sum(w.result == result for w in weeks), result
    assert len(shown) == len([w for w in weeks if w.result != "before"])


def test_a_change_of_the_first_day_of_the_week_gives_each_week_a_cell():
    """From Monday to Sunday on 1 April 2026: the weeks from Monday 30 March and from Sunday 5 April share a day."""
    facts = histories.clinic(histories.unit(years=1, visits=1, loads=50, daily=False, seed=5))
    (old,) = facts.terms
    changed_ = replace(facts, terms=(old, replace(old, effective_on=date(2026, 4, 1), week_start=6)))
    first = date(2026, 3, 2)
    judgement = evaluate(changed_, histories.LAST)
    kept = coverage_over(changed_, histories.LAST, first, histories.LAST)
    rows = calendar(made(changed_, judgement, from_on=first, to_on=histories.LAST, coverage=kept))
    weeks = [w for w in judgement.units[0].weeks if w.end >= first]
    assert sum(len(months) for label, months in rows.items() if label[0].isdigit()) == len(weeks)


def test_tests_asked_by_the_month_are_one_row_of_months():
    """A body art place under rules that ask a test each month."""
    facts = histories.clinic(histories.unit(years=1, visits=1, loads=50, daily=False, seed=5))
    judgement = evaluate(facts, histories.LAST)
    first = date(2025, 9, 1)
    (unit,) = facts.units
    kept = coverage_over(facts, histories.LAST, first, histories.LAST)[unit.ref]
    monthly = tuple(replace(each, every="calendar-month") for each in kept if each.subject == "biological")
    binder = made(facts, judgement, from_on=first, to_on=histories.LAST, coverage={unit.ref: monthly})
    rows = calendar(binder)
    assert "spore test" in rows and not any(label[0].isdigit() for label in rows)
    tests = [t.row.happened_on for t in unit.bio_tests if t.row.happened_on.isoformat()[:7] == "2025-10"]
    days = [part.split(" ")[0] for part in rows["spore test"]["Oct 2025"][0].split(", ")]
    assert days == [str(each.day) for each in sorted(tests)]


def test_pairs_of_facts_are_in_two_columns(binder):
    (beside,) = [block for block in section(binder, "unit-1").blocks if hasattr(block, "left")]
    assert all(isinstance(block, KeyValues) for block in (*beside.left, *beside.right))
