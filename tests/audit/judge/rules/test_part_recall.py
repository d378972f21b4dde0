"""A recalled part still in, and what a kit left out. Common practice, no source, but for what a notice asks."""

from dataclasses import replace

import pytest

from audit.judge.judgement import Severity
from tests.audit.judge.lookback.said import seal
from tests.audit.judge.rules.judged import items, one
from tests.fact_builders import counter, job, line, outcome, part_recall

RULE = "recalled-part-in-use"


def worked(*parts, **more):
    return {"jobs": tuple(job(str(p.row.happened_on), parts=(p,)) for p in parts)} | more


def recalled(**more):
    return {"place": {"part_recalls": (part_recall("2025-05-01", **more),)}}


@pytest.mark.parametrize(
    ("action", "severity"),
    [
        ("stop use", Severity.FORBIDS),
        ("replace", Severity.PUT_RIGHT),
        ("inspect", Severity.PUT_RIGHT),
        ("", Severity.PUT_RIGHT),
    ],
)
def test_still_in(action, severity):
    said = one(rule=RULE, **worked(seal("2025-03-01")), **recalled(action=action))
    assert (said.severity, str(said.since), said.owner) == (severity, "2025-05-01", "service company")
    for words in (
        "lot P1",
        "at the position seal",
        "is one of those recalled",
        "fitted on 2025-03-01 by A. Technician of Invented Service",
    ):
        assert words in said.message


def test_may_be_one_of_them_weighs_the_same():
    """21 CFR 820.35(b) names what a service record holds; a lot nobody can read proves nothing either way."""
    said = one(rule=RULE, **worked(seal("2025-03-01", "", state="unreadable")), **recalled(action="stop use"))
    assert said.severity is Severity.FORBIDS and "may be one of those recalled (lot unreadable)" in said.message
    assert said.way_out.startswith("look at the part")


def test_taken_out_or_not_meant_is_no_item():
    assert items(rule=RULE, **worked(seal("2025-03-01"), seal("2025-05-10", "P2")), **recalled()) == []
    assert items(rule=RULE, **worked(seal("2025-03-01", "P2")), **recalled()) == []
    again = one(rule=RULE, **worked(seal("2025-03-01"), seal("2025-05-10")), **recalled())
    assert str(again.since) == "2025-05-10"  # the same lot fitted after the notice


@pytest.mark.parametrize(
    ("counts", "words"),
    [
        ((("2025-03-01", 100), ("2025-06-01", 350)), "250 cycles from then to 2025-06-01 by the counter"),
        ((("2025-02-01", 50), ("2025-06-01", 350)), "300 cycles from 2025-02-01 to 2025-06-01"),
        ((("2025-06-01", 350),), ""),
        ((("2025-02-01", 50),), ""),
        ((("2025-03-01", 100),), ""),
        ((("2025-02-01", 50), ("2025-03-01", 100), ("2025-06-01", 350)), "250 cycles from then"),
        ((("2025-03-01", 350), ("2025-06-01", 350)), "0 cycles from then"),
        ((("2025-03-01", 400), ("2025-06-01", 350)), ""),  # it ran backwards: not known
    ],
)
def test_cycles_since_as_far_as_the_counter_tells(counts, words):
    held = tuple(counter(*c) for c in counts)
    said = one(rule=RULE, **worked(seal("2025-03-01"), counters=held), **recalled())
    assert words in said.message and ("cycles" in said.message) is bool(words)


def test_found_in_place_names_nobody_as_the_fitter():
    said = one(rule=RULE, **worked(seal("2025-03-01", action="found in place")), **recalled())
    assert "found in place on 2025-03-01, still in" in said.message


# ------------------------------------------------------------------------------------------------ kits


def kit(done=None, **more):
    left = seal("2025-06-01", kit="K-1", quantity=0, **more)
    outcomes = (done,) if done else ()
    return {
        "jobs": (job("2025-06-01", parts=(left,), outcomes=outcomes),),
        "plan": (line(months=6), line("clean-seal", action="clean")),
    }


def test_a_part_of_a_kit_that_was_not_fitted():
    said = one(rule="kit-part-not-fitted", **kit())
    assert said.severity is Severity.NOTE and "its own due day stands" in said.way_out
    assert items(rule="kit-part-not-fitted", **worked(seal("2025-06-01", kit="K-1"))) == []
    later = replace_jobs(kit(), job("2025-06-10", parts=(seal("2025-06-10"),)))
    assert items(rule="kit-part-not-fitted", **later) == []
    same_day = replace_jobs(kit(), job("2025-06-01", parts=(seal("2025-06-01"),)))
    assert items(rule="kit-part-not-fitted", **same_day) == []
    sooner = replace_jobs(kit(), job("2025-05-10", parts=(seal("2025-05-10"),)))
    assert len(items(rule="kit-part-not-fitted", **sooner)) == 1


def replace_jobs(facts, *more):
    return facts | {"jobs": (*facts["jobs"], *more)}


@pytest.mark.parametrize(
    "done",
    [outcome("2025-06-01", plan_line=""), outcome("2025-06-01", action="service", position="door")],
)
def test_recorded_as_replaced_all_the_same_is_to_be_corrected(done):
    """Only what was fitted new renews a part. Common practice, no source."""
    said = one(rule="kit-part-not-fitted", **kit(done))
    assert said.severity is Severity.PUT_RIGHT and "records the replacement as done" in said.message


@pytest.mark.parametrize(
    "done",
    [
        outcome("2025-06-01", what="not done"),
        outcome("2025-06-01", plan_line="", action="clean"),
        outcome("2025-06-01", plan_line="", position="door"),
        outcome("2025-06-01", plan_line="clean-seal", action="clean"),
    ],
)
def test_another_task_does_not_contradict_it(done):
    assert one(rule="kit-part-not-fitted", **kit(done)).severity is Severity.NOTE


def test_a_part_left_out_of_a_kit_renews_no_due_item_and_has_no_expiry_or_lot():
    bare = replace(
        seal("2025-06-01", "", state="unreadable", kit="K-1", quantity=0), expiry=seal("2025-01-01").row.happened_on
    )
    facts = {"jobs": (job("2025-06-01", parts=(bare,)),), "plan": (line(months=5),)}
    rules = {f.rule for f in items(**facts)}
    assert {"plan-overdue", "kit-part-not-fitted"} <= rules and not {"lot-not-known", "part-beyond-expiry"} & rules
