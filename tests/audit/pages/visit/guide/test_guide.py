"""What the answers of a visit amount to before anything is recorded: class, tests asked, how it may end, which page.

The classes and their tests are data of the rules; that a class is never lowered and that nothing unproven is released
is common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from audit.pages.visit.guide import proof, steps
from audit.pages.visit.guide.job import UnitOnRecord, job_of, reading_key
from audit.regimes import all_regimes
from tests import fact_builders as f

NOW = datetime(2026, 3, 16, 15, tzinfo=UTC)
DAY = f.on("2026-03-16")
REGIME = all_regimes()["us-dental-cdc-2003"].on(DAY)


def line(code, repair_class="A", action="replace", position="p1"):
    from audit.facts import PlanLineFact

    return PlanLineFact(
        f.row("2024-01-01"), code, position, f"Task {code}", action, 24, None, None, 60, 0, "Invented booklet", "",
        "", repair_class, f.on("2024-01-01"), False,
    )  # fmt: skip


def judged(answers, *lines, type="gravity", stated=""):
    unit = f.unit(type=type, plan=tuple(lines))
    ground = UnitOnRecord({each.code: each for each in lines}, {})
    made = job_of(answers, ground, technician="A. Person")
    fact = replace(proof.job_fact(made.job, DAY, NOW), class_stated=stated)
    return proof.proof(unit, REGIME, fact), made


DONE = {"outcome": "done", "lot": "lot-1", "old_part": "scrapped"}


def test_the_class_follows_from_the_work_and_asks_its_tests():
    work, _ = judged({"task-seal": DONE}, line("seal"))
    assert (work.repair_class, work.missing) == ("A", ("V1",))
    work, _ = judged({"task-seal": DONE, "prove": {"V1": "pass"}}, line("seal"))
    assert work.missing == () and proof.endings(work, True)[0] == "released"


@pytest.mark.parametrize("derived", ["B", "C"])
def test_a_class_is_never_lowered(derived):
    work, _ = judged({"task-valve": DONE}, line("valve", derived), stated="A")
    assert work.repair_class == derived
    assert "A" not in proof.classes_from(derived)
    _, made = judged(
        {"task-valve": DONE, "end": {"class_stated": "A", "conclusion": "released"}}, line("valve", derived)
    )
    assert (
        job_of({"end": {"class_stated": "A"}}, UnitOnRecord({}, {}), technician="", derived=derived).job[
            "class_stated"
        ]
        == derived
    )
    assert made.job["conclusion"] == {"conclusion": "released"}


def test_a_raised_class_asks_more():
    unit_line = line("seal")
    plain, _ = judged({"task-seal": DONE}, unit_line)
    raised, _ = judged({"task-seal": DONE}, unit_line, stated="C")
    assert raised.repair_class == "C" and set(plain.missing) <= set(raised.missing)
    assert raised.biological_missing > 0


def test_with_a_test_missing_it_is_pending_or_not_released():
    work, _ = judged({"task-seal": DONE}, line("seal"))
    assert proof.endings(work, True) == ("pending", "not released")
    assert "V1" in proof.why_not_released(work, proof.still_missing(work))


def test_with_spore_tests_missing_after_major_work_it_is_not_released_either():
    tests = {f"V{n}": "pass" for n in range(1, 11)} | {"V4_value": "134.2 to 135.1 °C, 3.5 minutes"}
    work, _ = judged({"task-pump": DONE, "prove": tests}, line("pump", "C"))
    assert work.missing == () and work.biological_missing > 0
    assert proof.endings(work, True) == ("pending", "not released")


def test_with_a_failed_test_it_is_not_released():
    work, _ = judged({"task-seal": DONE, "prove": {"V1": "fail"}}, line("seal"))
    assert proof.endings(work, True) == ("not released",)


def test_only_a_unit_that_nothing_was_done_to_is_left_as_not_worked_on():
    work, made = judged({"task-seal": {"outcome": "not possible", "reason": "in use"}}, line("seal"))
    assert not proof.was_worked_on(made.job) and proof.endings(work, False)[-1] == "not worked on"
    _, made = judged({"task-seal": DONE}, line("seal"))
    assert proof.was_worked_on(made.job)


def test_a_decision_on_condition_becomes_a_finding_and_a_part():
    said = {"outcome": "done", "grade": 2, "decision": "replace", "found": "torn", "part_name": "Seal",
            "lot_printed": "S1", "old_part": "kept"}  # fmt: skip
    _, made = judged({"task-look": said}, line("look", "B", action="inspect"))
    finding, part = made.job["findings"][0], made.job["parts"][0]
    assert (finding["decision"], finding["seen"], finding["repair_class"]) == ("replace", "torn", "B")
    assert (part["action"], part["lot"], part["lot_state"]) == ("replaced on condition", "S1", "printed")
    assert made.places["parts", 0] == "task-look"


def test_as_found_and_as_left_of_two_pages_are_one_reading():
    from audit.facts import ReadingFact

    known = ReadingFact(f.row("2024-01-01"), "temperature", "°C", "", None, None, None, None, "", "", None)
    key = reading_key(known)
    answers = {"found": {key: 134, "instrument": "L1"}, "prove": {key: 135}}
    made = job_of(answers, UnitOnRecord({}, {}, [known]), technician="")
    row = made.job["readings"][0]
    assert (row["as_found"], row["as_left"], row["instrument"]) == (134, 135, "L1")


def test_the_pages_follow_each_other_and_come_back_to_a_task_passed_over():
    due = ["a", "b", "c"]
    assert steps.after("identify", due, set()) == "safe"
    assert steps.after("found", due, set()) == "task-a"
    assert steps.after("task-a", due, set()) == "task-b"
    assert steps.after("task-c", due, {"task-b"}) == "task-a"
    assert steps.after("task-c", due, {"task-a", "task-b"}) == "prove"
    assert steps.after("end", due, set()) == ""
    assert steps.is_step("task-a", due) and not steps.is_step("task-z", due) and not steps.is_step("extra-0", due)


def test_without_a_server_the_pages_lead_straight_on_to_the_end():
    due, step, seen = ["a", "b"], "identify", []
    while step:
        seen.append(step)
        step = steps.straight_on(step, due)
    assert seen == ["identify", "safe", "found", "task-a", "task-b", "prove", "end"]
    assert steps.straight_on("tasks", due) == "prove"


def test_a_draft_is_idle_from_a_whole_day_on():
    assert steps.is_idle(NOW - timedelta(hours=24), NOW)
    assert not steps.is_idle(NOW - timedelta(hours=23, minutes=59), NOW)


@pytest.mark.parametrize(("said", "recorded"), [(None, 1), (0, 0), (2, 2)])
def test_of_a_kit_part_that_was_not_fitted_none_is_recorded(said, recorded):
    _, made = judged({"task-seal": DONE | {"quantity": said}}, line("seal"))
    assert [part["quantity"] for part in made.job["parts"]] == [recorded]


def test_a_pump_is_major_whatever_the_plan_says_and_what_nobody_knows_is_to_be_decided():
    work, _ = judged({"task-pump": DONE}, line("pump", "A"))
    assert work.repair_class == "C" and work.unknown == ()
    unknown, made = judged({"task-thing": DONE}, line("thing", "A"))
    assert (
        unknown.repair_class == "C" and unknown.unknown and "State the class" in proof.why_not_released(unknown, ())
    )
    fact = proof.job_fact(made.job, DAY, NOW)
    assert proof.derived_class(f.unit(plan=(line("thing"),)), fact) == "A"
    decided = replace(fact, class_stated="B", class_reason="a bracket of the heater")
    assert proof.proof(f.unit(plan=(line("thing"),)), REGIME, decided).unknown == ()


def test_a_part_named_by_its_lot_alone_is_known_by_the_name_of_its_part():
    made = judged({"task-thing": DONE}, line("thing"))[1].job
    fact = proof.job_fact(made, DAY, NOW, {"lot-1": "Vacuum pump"})
    assert proof.derived_class(f.unit(), fact) == "C"
