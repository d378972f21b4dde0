"""The class of a job and what it touched: by the part, the finding, the task and what a person stated.

Common practice, no source; see the table of components.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.judge.work.asked import asked_of, class_of, required_class, shown_class
from audit.judge.work.classes import class_letter, highest
from audit.judge.work.touched import NamesOnUnit, known_of, touched_by, was_replaced
from audit.regimes import load_regime
from audit.regimes.components import components
from audit.regimes.model import ComponentTests
from tests.fact_builders import job, line, outcome, part, position, seen, unit

DAY = "2025-03-10"
CDC = load_regime("us-dental-cdc-2003")
PLACES = tuple(position(code) for code in ("seal", "vacuum-pump", "latch", "temperature-sensor", "thing"))


def held(*plan):
    return unit(positions=PLACES, plan=plan)


def judged(*plan, **facts):
    return class_of(job(DAY, **({"end": "released"} | facts)), NamesOnUnit(held(*plan)))


def new(code, action="replaced on condition", **more):
    return part(DAY, code, action, more.pop("name", code.replace("-", " ")), **more)


LETTERS = [
    ({}, "", ""),
    ({}, "B", "B"),
    ({"end": "not worked on"}, "", ""),
    ({"end": "not worked on"}, "B", ""),
    ({"end": "not worked on", "parts": (new("seal"),)}, "", "A"),
    ({"end": "not worked on", "findings": (seen(DAY, "seal", 1, "leave"),)}, "", ""),
    ({"end": "not worked on", "findings": (seen(DAY, "seal", 1, ""),)}, "", ""),
    ({"end": "not worked on", "findings": (seen(DAY, "seal", 1, "condemn"),)}, "", "B"),
    ({"end": "not worked on", "findings": (seen(DAY, "seal", 1, "clean"),)}, "", "A"),
    ({"end": "not worked on", "outcomes": (outcome(DAY, what="not due"),)}, "", ""),
    ({"end": "not worked on", "outcomes": (outcome(DAY, "", "", "inspect"),)}, "", "A"),
    ({"end": "not worked on", "parts": (new("seal", "found in place"),)}, "", ""),
    ({"end": "not worked on", "parts": (new("seal", quantity=0),)}, "", "A"),
    ({"end": "", "outcomes": (outcome(DAY, what="not due"),)}, "", ""),
    ({"parts": (new("vacuum-pump"),)}, "", "C"),
    ({"parts": (new("vacuum-pump"),)}, "A", "C"),
    ({"parts": (new("seal"),)}, "C", "C"),
    ({"parts": (new("seal"), new("vacuum-pump"))}, "", "C"),
    ({"parts": (new("temperature-sensor"),)}, "", "B"),
    ({"findings": (seen(DAY, "vacuum-pump", 1, "adjust"),)}, "", "B"),
    ({"findings": (seen(DAY, "seal", 1, "adjust"),)}, "", "A"),
    ({"findings": (seen(DAY, "vacuum-pump", 1, "clean"),)}, "", "A"),
    ({"findings": (seen(DAY, "vacuum-pump", 1, "repair kit"),)}, "", "C"),
    ({"findings": (seen(DAY, "seal", 1, "replace", "B"),)}, "", "B"),
    ({"findings": (seen(DAY, "seal", 1, "condemn", "C"),)}, "", "B"),
    ({"findings": (seen(DAY, "seal", 1, "leave", "C"),)}, "", ""),
    ({"findings": (seen(DAY, "seal", 1, "replace", "X"),)}, "", "B"),
    ({"class_stated": "X"}, "X", "B"),
    ({"reason": "installation"}, "", "C"),
    ({"reason": "relocation"}, "", "C"),
    ({"reason": "loaner"}, "", "C"),
    ({"reason": "breakdown"}, "", ""),
    ({"parts": (new("thing", name="flux thing"),)}, "", "C"),
    ({"parts": (new("thing", name="flux thing"),), "class_reason": "a plate"}, "A", "A"),
    ({"parts": (new("thing", name="flux thing"),), "class_reason": "a plate"}, "", "C"),
    ({"parts": (new("thing", name="flux thing"),), "class_reason": "a plate"}, "X", "C"),
    ({"parts": (new("thing", name="flux thing"),), "class_reason": " "}, "A", "C"),
]


@pytest.mark.parametrize(("facts", "stated", "letter"), LETTERS)
def test_the_class_of_a_job(facts, stated, letter):
    facts = {"class_stated": stated} | facts
    found, made = judged(**facts), job(DAY, **({"end": "released"} | facts))
    assert found.letter == letter
    assert required_class(made, held()) == letter
    assert shown_class(made, held()) == ("X" if found.do_not_use else letter)


@pytest.mark.parametrize(
    ("facts", "forbids"),
    [
        ({"class_stated": "X"}, True),
        ({"class_stated": "do not use"}, True),
        ({"class_stated": "C"}, False),
        ({"findings": (seen(DAY, "seal", 1, "condemn"),)}, True),
        ({"findings": (seen(DAY, "seal", 1, "leave", "X"),)}, True),
        ({"findings": (seen(DAY, "seal", 1, "leave"), seen(DAY, "seal", 1, "leave", "X"))}, True),
        ({"findings": (seen(DAY, "seal", 3, "replace", "C"),)}, False),
    ],
)
def test_what_forbids_use(facts, forbids):
    assert judged(**facts).do_not_use is forbids


def test_what_is_not_known_is_named_once_until_somebody_decides():
    twice = {
        "parts": (new("thing", name="flux thing"),),
        "findings": (seen(DAY, "", 1, "replace", "A", "flux thing"),),
    }
    assert judged(**twice).unknown == ("flux thing",)
    assert judged(class_stated="B", class_reason="a plate", **twice).unknown == ()
    cleaned = {"findings": (seen(DAY, "thing", 1, "clean", "A", "flux thing"),)}
    assert judged(**cleaned).unknown == ()


def test_a_line_of_the_plan_and_the_place_of_a_part_say_their_class():
    plan = (line("renew", "seal", repair_class="B"),)
    assert judged(*plan, outcomes=(outcome(DAY, "renew"),)).letter == "B"
    assert judged(*plan, outcomes=(outcome(DAY, "renew", what="not due"),)).letter == ""
    assert judged(*plan, parts=(new("seal"),)).letter == "B"
    other = line("inspect", "seal", "inspect", repair_class="B")
    assert judged(other, parts=(new("seal"),)).letter == "A"
    assert judged(line("renew", "seal", repair_class=""), parts=(new("seal"),)).letter == "A"


# ------------------------------------------------------------------------------------------------ what is asked


def asked(facts, plan=(), regime=CDC, dynamic=False):
    return asked_of(judged(*plan, **facts), regime, dynamic).tests


def test_the_tests_of_the_class_and_of_each_component_in_the_order_of_their_numbers():
    assert asked({"parts": (new("seal"),)}) == ("V1",)
    assert asked({"parts": (new("latch"),)}) == ("V1", "V6")
    assert asked({"parts": (new("temperature-sensor"),)}) == ("V1", "V4")
    assert asked({"parts": (new("latch"), new("temperature-sensor"))}) == ("V1", "V4", "V6")
    assert asked({"parts": (new("seal"),)}, dynamic=True) == ("V1", "V2")
    assert asked({"findings": (seen(DAY, "latch", 1, "clean"),)}) == ("V1", "V6")
    assert asked({"findings": (seen(DAY, "temperature-sensor", 1, "clean"),)}) == ("V1",)


def test_rules_may_ask_more_of_a_component():
    more = ComponentTests("latch", ("V5",), ("V3",), CDC.verification_set("A").source)
    rules = replace(CDC, components=(more,))
    assert asked({"parts": (new("latch"),)}, regime=rules) == ("V1", "V5", "V6")
    assert asked({"parts": (new("latch"),)}, regime=rules, dynamic=True) == ("V1", "V3", "V5", "V6")
    assert asked({"parts": (new("seal"),)}, regime=rules) == ("V1",)


def test_a_calibration_asks_that_values_are_checked():
    assert asked({"outcomes": (outcome(DAY, "", "", "calibrate"),)}) == ("V1", "V4")
    assert asked({"outcomes": (outcome(DAY, "", "latch", "calibrate"),)}) == ("V1", "V4", "V6")


# ------------------------------------------------------------------------------------------------ what was touched


def touched(*plan, **facts):
    names = NamesOnUnit(held(*plan))
    return [(t.how, t.name, [c.name for c in t.known]) for t in touched_by(job(DAY, **facts), names)]


def test_how_a_thing_was_touched_and_what_it_is():
    assert touched(parts=(new("vacuum-pump"),)) == [("changed", "vacuum pump", ["vacuum pump"])]
    assert touched(parts=(new("seal", name=""),)) == [("changed", "seal", ["seal"])]
    assert touched(parts=(part(DAY, "", "replaced on plan", ""),)) == [("changed", "a part without a name", [])]
    for decision, how in (
        ("replace", "changed"),
        ("adjust", "adjusted"),
        ("clean", "cleaned"),
        ("repair kit", "changed"),
    ):
        assert touched(findings=(seen(DAY, "latch", 1, decision),)) == [(how, "latch", ["latch"])]
    for decision in ("leave", "", "condemn"):
        assert touched(findings=(seen(DAY, "latch", 1, decision),)) == []
    assert touched(findings=(seen(DAY, "", 1, "replace", component=""),))[0][1] == "a component without a name"
    assert touched(findings=(seen(DAY, "latch", 1, "replace", component=""),))[0][1] == "latch"


def test_a_task_is_its_place_or_else_the_title_of_its_line_or_its_code():
    renew = line("renew-pump", "", "replace")
    assert touched(outcomes=(outcome(DAY, "", "latch", "lubricate"),)) == [("cleaned", "latch", ["latch"])]
    assert touched(renew, outcomes=(outcome(DAY, "renew-pump", ""),))[0][2] == ["vacuum pump"]
    coded = replace(renew, title="yearly task")
    assert touched(coded, outcomes=(outcome(DAY, "renew-pump", ""),)) == [("changed", "yearly task", ["vacuum pump"])]
    assert touched(outcomes=(outcome(DAY, "", "", "replace"),)) == [("changed", "something to replace", [])]
    for action in ("inspect", "test"):
        assert touched(outcomes=(outcome(DAY, "", "latch", action),)) == []
    assert touched(outcomes=(outcome(DAY, "", "latch", "lubricate", what="not done"),)) == []


def test_a_task_without_a_name_is_what_the_parts_of_the_job_say():
    task = outcome(DAY, "", "", "replace")
    assert touched(outcomes=(task,), parts=(new("latch"),)) == [("changed", "latch", ["latch"])]
    assert len(touched(outcomes=(task,), parts=(new("latch", "found in place"),))) == 1
    named = outcome(DAY, "", "seal", "replace")
    assert len(touched(outcomes=(named,), parts=(new("latch"),))) == 2


def test_a_calibration_is_one_of_what_it_names():
    assert touched(outcomes=(outcome(DAY, "", "", "calibrate"),)) == [("adjusted", "calibration", ["calibration"])]
    own = line("yearly", "", "calibrate")
    assert touched(own, outcomes=(outcome(DAY, "yearly", "latch", "calibrate"),)) == [
        ("adjusted", "yearly", ["calibration", "latch"])
    ]


def test_the_place_names_a_part_that_says_nothing():
    plan = (replace(line("renew", "thing"), title="replace door latch"),)
    assert touched(*plan, parts=(new("thing", name="spare"),))[0][2] == ["latch"]
    inspected = replace(plan[0], action="inspect")
    assert touched(inspected, parts=(new("thing", name="spare"),))[0][2] == []
    unplaced = replace(plan[0], position="")
    assert touched(unplaced, parts=(part(DAY, "", "replaced on plan", "spare"),))[0][2] == []


def test_what_has_no_name_of_its_own_is_called_as_its_place():
    assert touched(parts=(new("vacuum-pump", name=""),))[0][1] == "vacuum pump"
    assert touched(findings=(seen(DAY, "vacuum-pump", 1, "replace", component=""),))[0][1] == "vacuum pump"
    assert touched(outcomes=(outcome(DAY, "", "vacuum-pump", "lubricate"),))[0][1] == "vacuum pump"


@pytest.mark.parametrize(
    ("action", "quantity", "replaced"),
    [("replaced on plan", 1, True), ("replaced on condition", 2, True), ("replaced on plan", 0, False),
     ("found in place", 1, False)],
)  # fmt: skip
def test_what_is_a_part_that_was_replaced(action, quantity, replaced):
    assert was_replaced(new("seal", action, quantity=quantity)) is replaced


def test_each_component_is_known_once():
    assert [c.name for c in known_of(("latch", "door latch"), "latch")] == ["latch"]
    assert [c.name for c in known_of((), "seal, vacuum pump")] == ["seal"], "a comma ends what a part is"
    assert known_of(("flux thing",)) == () == known_of((), "")
    assert set(components()) >= {"latch", "seal", "vacuum pump", "calibration"}


# ------------------------------------------------------------------------------------------------ letters


@pytest.mark.parametrize(
    ("text", "letter"),
    [("A", "A"), (" b ", "B"), ("x", "X"), ("routine", "A"), ("Significant", "B"), ("major", "C"),
     ("do not use", "X"), ("", ""), ("D", ""), ("AB", "")],
)  # fmt: skip
def test_a_class_as_it_is_written(text, letter):
    assert class_letter(text) == letter


def test_the_highest_of_classes_and_none_of_none():
    assert highest(["B", "C"]) == "C" and highest(["A", "B"]) == "B" and highest(["A", "C", "B"]) == "C"
    assert highest(["", "A"]) == "A" and highest(["X", "A"]) == "A"
    assert highest([]) == highest(["X"]) == highest([""]) == ""
