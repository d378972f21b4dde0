"""The sheet of a visit: what to confirm, what is due, what is fitted, which tests the class of work asks."""

from __future__ import annotations

import pytest

from audit.binder.pdf.blank_forms import render_forms
from audit.binder.pdf.page import SIZES
from audit.judge.work.asked import asked_of, class_of
from audit.judge.work.touched import NamesOnUnit
from audit.regimes import all_regimes
from audit.regimes.components import components
from records.models import ConditionFinding, FittedPart, Job, JobConclusion, Signature, VerificationTest
from records.models.units import REPAIR_CLASSES
from records.models.visits import OUTCOMES as OF_TASKS
from records.wording import MAKE_SAFE, MAKE_SAFE_IF_FITTED, MAKE_SAFE_STEPS, NOT_ON_THIS_UNIT
from tests import fact_builders as b
from tests.audit.binder.blank_forms.told import TODAY, boxes, entries, first_lines, form, forms, table, tables, text
from tests.audit.binder.paper import even, reader, spaced


def unit(type="dynamic air removal", **more):
    more.setdefault("events", (b.installed("2024-01-01"),))
    return b.unit("2024-01-01", type=type, **more)


def sealed(**more):
    """A unit with a seal that is due, and a filter that is not."""
    positions = (b.position("seal"), b.position("filter"))
    lines = (
        b.line("replace-seal", "seal", months=24),
        b.line("replace-filter", "filter", months=12, cycles=2000),
    )
    counters = (b.counter("2025-01-01", 0), b.counter("2026-03-01", 300))
    fits = (b.fit("seal"), b.fit("filter"))
    return unit(positions=positions, plan=lines, fits=fits, counters=counters, **more)


def _choices(model, field) -> tuple[str, ...]:
    return tuple(value for value, _ in model._meta.get_field(field).flatchoices)


# ------------------------------------------------------------------------------------------------ words


def test_what_is_ticked_is_what_the_entry_forms_ask():
    """A sheet is copied into the records: each word to tick is one of theirs, and none of theirs is missing."""
    from audit.binder.blank_forms import work

    assert work.DECISIONS == _choices(ConditionFinding, "decision")
    assert work.OUTCOMES == OF_TASKS
    ticked = {e.label: e.ticks for e in entries(form("visit", sealed()))}
    assert ticked["Reason"] == _choices(Job, "reason")
    assert ticked["Contamination, stated by the clinic"] == _choices(Job, "contamination")
    assert ticked["Conclusion"] == _choices(JobConclusion, "conclusion")
    assert ticked["Repair class"] == tuple(word for _, word in REPAIR_CLASSES)
    (tests,) = {row[2].ticks for row in table(form("visit", sealed()), "Test").rows}
    assert tests == _choices(VerificationTest, "result")
    refusals = set(_choices(Signature, "meaning")) - {"released", "returned to use"}
    assert {word.removesuffix(": why") for word in ticked["Clinic returns to use: name, role"]} == refusals
    old = {row[-1].ticks for row in table(form("visit", sealed()), "Position, part on it now").rows}
    fates = [word.replace("none fitted", "none was fitted") for word in next(iter(old))]
    assert set(fates) <= set(_choices(FittedPart, "old_part"))


# ------------------------------------------------------------------------------------------------ make safe


def test_one_step_of_making_safe_stands_on_a_line_in_order():
    safe = table(form("visit", sealed()), "Make safe, in this order")
    assert [row[0].printed for row in safe.rows] == [f"{n}. {step}" for n, step in enumerate(MAKE_SAFE, start=1)]
    assert all(len(row) == 3 and row[1].ticks[0] == "done" and row[2].writable for row in safe.rows)
    absent = [key for row, (key, _, _) in zip(safe.rows, MAKE_SAFE_STEPS, strict=True) if row[1].ticks[1:]]
    assert tuple(absent) == MAKE_SAFE_IF_FITTED, "the others every unit has"
    assert {row[1].ticks[1:] for row in safe.rows} == {(), (NOT_ON_THIS_UNIT,)}


@pytest.mark.parametrize("page", SIZES)
def test_read_downwards_from_the_file_no_step_stands_beside_another(page):
    """From the text of the file, in its order and by its lines: read downwards, the first column is the order."""
    content, _ = render_forms(forms("visit", sealed()), TODAY, page_size=page)
    pages = reader(content).pages
    (drawn,) = [each for each in pages if "Make safe" in each.extract_text()]
    whole = even(drawn.extract_text())
    found = [whole.index(f"{n}. {step}") for n, step in enumerate(MAKE_SAFE, start=1)]
    assert found == sorted(found), "read aloud in order"
    lines = [even(line) for line in drawn.extract_text(extraction_mode="layout").splitlines()]
    held = [[n for n, step in enumerate(MAKE_SAFE, start=1) if step in line] for line in lines]
    assert [each for each in held if each] == [[n] for n in range(1, len(MAKE_SAFE) + 1)], "one to a line, downwards"


# ------------------------------------------------------------------------------------------------ which unit


def test_plate_and_counters_are_to_be_confirmed_against_the_record():
    counters = (b.counter("2025-12-01", "812"), b.counter("2026-02-01", "15", offset="830"))
    sheet = form("visit", unit(counters=counters))
    rows = {row[0].printed: row for row in table(sheet, "Read the plate").rows}
    assert rows["Serial number"][1].printed == "S-1"
    assert rows["Maker, model"][1].printed == "Invented Maker, Model One"
    assert "dynamic air removal, 18.0 litres" in rows["Type, chamber; UDI"][1].printed
    assert all(row[2].ticks == ("the same",) and row[3].writable for row in rows.values())
    hints = {e.label: spaced(e.hint) for e in entries(sheet)}
    assert hints["Cycle counter now"] == "on record: 15 on 1 Feb 2026, life total 845"
    assert hints["Hour counter now"] == "on record: no record found"


# ------------------------------------------------------------------------------------------------ tasks


def test_a_due_task_brings_its_rule_its_last_time_and_its_boxes():
    sheet = form("visit", sealed(jobs=(b.job("2025-06-01", parts=(b.part("2025-06-01", "filter", lot="F-9"),)),)))
    due = table(sheet, "Task")
    assert first_lines(due) == ["replace seal", ""], "one is due, and a blank line for what is not on the plan"
    printed = spaced(due.rows[0][0].printed)
    assert "never done since installation on 1 Jan 2024; due 1 Jan 2026, overdue by 76 days" in printed
    assert "invented maintenance plan, 1" in printed and "24 months" in printed
    assert due.rows[0][1].ticks == ("0", "1", "2", "3")
    assert "Not due within 60 days: replace filter (1 Jun 2026)" in text(sheet)


def test_what_falls_due_within_sixty_days_is_brought_along():
    """A filter of 12 months, renewed on 17 May 2025, is due on 17 May 2026: 60 days after 18 March."""
    for renewed, brought in (("2025-05-17", True), ("2025-05-18", False)):
        jobs = (b.job(renewed, parts=(b.part(renewed, "filter"),)),)
        assert ("replace filter" in first_lines(table(form("visit", sealed(jobs=jobs)), "Task"))) is brought


def test_a_condition_rule_stands_in_its_words():
    from dataclasses import replace

    line = replace(b.line("inspect-valve", "valve", "inspect"), rule="clean when it sticks; replace when worn")
    sheet = form("visit", unit(positions=(b.position("valve"),), plan=(line,), fits=(b.fit("valve"),)))
    assert "Condition: clean when it sticks; replace when worn" in table(sheet, "Task").rows[0][0].printed


def test_a_postponed_task_shows_who_decided_and_until_when():
    put_off = b.outcome("2025-12-20", what="deferred", until="2026-04-01", by="A. Chief", why="part still young")
    sheet = form("visit", sealed(jobs=(b.job("2025-12-20", outcomes=(put_off,)),)))
    assert "postponed on 20 Dec 2025 until 1 Apr 2026 by A. Chief: part still young" in text(sheet)


def test_a_position_nobody_knows_of_is_to_be_settled():
    positions = (b.position("seal"), b.position("filter"), b.position("valve"))
    fits = (b.fit("seal", "yes"), b.fit("filter", "unknown"), b.fit("valve", "missing"))
    sheet = form("visit", unit(positions=positions, fits=fits))
    settle = table(sheet, "To be settled: is it fitted?")
    assert [(row[0].printed, row[1].printed) for row in settle.rows] == [("filter", "unknown"), ("valve", "missing")]
    assert not tables(form("visit", sealed()), "To be settled: is it fitted?")


def test_open_items_stand_on_it_with_their_way_out():
    failed = form("visit", unit(bio_tests=(b.bio("2026-03-10", result="growth"),)))
    told = table(failed, "Open item on record").rows
    assert told and all("To put right: " in row[0].printed and row[1].writable for row in told)


# ------------------------------------------------------------------------------------------------ readings, parts


def test_the_newest_reading_of_each_quantity_is_there_with_its_limits_and_source():
    jobs = (
        b.job("2025-03-01", readings=(b.measured("2025-03-01", "134.8"),)),
        b.job("2025-09-01", readings=(b.measured("2025-09-01", "135.1"),)),
    )
    rows = table(form("visit", unit(jobs=jobs)), "Quantity, point").rows
    assert len(rows) == 2, "one quantity, one blank line"
    assert spaced(rows[0][1].printed) == "135.1 °C, 1 Sep 2025"
    assert spaced(rows[0][2].printed) == "134 to 137 °C\ninvented instructions"
    assert all(entry.writable for entry in rows[0][3:]), "as found, as left and instrument are to be written"


def test_the_part_on_a_position_is_named_where_a_new_one_is_due():
    jobs = (b.job("2024-02-01", parts=(b.part("2024-02-01", "seal", name="door seal", lot="S-9"),)),)
    rows = table(form("visit", sealed(jobs=jobs)), "Position, part on it now").rows
    seal = next(row for row in rows if row[0].printed.startswith("seal"))
    assert "door seal N-1" in seal[0].printed and "S-9" in seal[0].printed
    assert "replaced on plan 1 Feb 2024" in spaced(seal[0].printed)
    assert all(entry.writable for entry in seal[1:5])
    assert any(row[0].printed == "filter\nno part on record" for row in rows)


# ------------------------------------------------------------------------------------------------ tests, conclusion


def test_the_tests_asked_are_those_of_the_class_of_work():
    """The verification sets of the common rules (A: V1; B: V1, V4; C: V1, V4; V2 with vacuum): common practice, no
    source; the three tests in a row after major work: ST79:2006 Table 8."""
    sheet = form("visit", unit())
    asked = {row[0].printed.split(" ")[0]: row[1].printed.split("\n")[0] for row in table(sheet, "Test").rows}
    assert asked["V1"] == "routine, significant, major" and asked["V4"] == "significant, major"
    assert asked["V2"] == "routine, significant, major" and asked["V7"] == "recommended: significant"
    assert "3 spore tests in a row" in table(sheet, "Test").note
    assert "3 air-removal tests in a row" in table(sheet, "Test").note
    plain = form("visit", unit("gravity"))
    assert "V2" not in {row[0].printed.split(" ")[0] for row in table(plain, "Test").rows}
    assert "3 air-removal tests" not in table(plain, "Test").note


@pytest.mark.parametrize("type", ["dynamic air removal", "gravity"])
@pytest.mark.parametrize("regime", ["us-dental-cdc-2003", "gb-eng-dental-htm0105"])
def test_the_tests_of_each_component_are_those_that_a_job_on_it_is_asked(type, regime):
    """Read back from the sheet and held against what judgement asks of a job that replaces that component."""
    sheet = form("visit", unit(type), regime=regime)
    told = {}
    for row in table(sheet, "Worked on (least class of the work)").rows:
        codes = {line.split(" ")[0] for line in row[1].printed.split("\n")}
        for name in row[0].printed.split(", "):
            told[name.lower()] = codes if not row[1].printed.startswith("none") else set()
    rules = all_regimes()[regime].on(TODAY)
    assert len(told) == len(components())
    for component in components().values():
        word = {"A": "routine", "B": "significant", "C": "major"}[component.least]
        job = b.job("2026-03-18", parts=(b.part("2026-03-18", "p", name=component.words[0]),))
        names = NamesOnUnit(unit(type, positions=(b.position("p"),)))
        judged = class_of(job, names)
        if component.name not in {c.name for t in judged.touched for c in t.known}:
            continue  # a name that the constructor of the test gave the position says more
        asked = set(asked_of(judged, rules, type.startswith("dynamic")).tests)
        assert told[f"{component.name} ({word})".lower()] <= asked, component.name
        assert judged.letter >= component.least


def test_the_table_of_components_says_what_it_leaves_to_somebody():
    note = table(form("visit", unit()), "Worked on (least class of the work)").note
    assert "What is not named here counts as major" in note and "common practice, no source" in note
    assert "cassette V1, V6" in note and "V6 after latch" in note


def test_two_people_sign():
    (end,) = boxes(form("visit", unit()), "Class and conclusion")
    labels = [e.label for line in end.lines for e in line]
    assert labels.count("Signature") == 2
    assert "Technician releases: name, credential" in labels and "Clinic returns to use: name, role" in labels


def test_cautions_come_before_the_cover_comes_off():
    sheet = text(form("visit", unit()))
    for word in ("pressure", "scald", "mains", "infection"):
        assert word in sheet
    for words in ("zero pressure shown on the gauge", "locked out and tagged", "Not done: stop", "The maker's order"):
        assert words in sheet
