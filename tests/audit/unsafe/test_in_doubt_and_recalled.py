"""What was in doubt stays so, whatever was withdrawn since; and what a recall of parts asks is closed by doing it."""

from dataclasses import replace
from datetime import datetime

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import BEGUN, PERMITS, TESTED, history, holds
from tests.fact_builders import bio, case, event, job, load, outcome, part, part_recall, seen, step

RECALL = "the notice itself; 21 CFR 806.2"
POSITIVE = bio("2025-06-16", result="growth", known="2025-06-18", ref="bad")
OLD = TESTED[:-2]
DAYS = ("2025-06-12", "2025-06-13", "2025-06-17", "2025-06-18")
LOADS = tuple(load(day, str(n), n == 32) for n, day in enumerate(DAYS, start=30))


def timed(fact, at):
    moment = datetime.fromisoformat(f"{fact.row.happened_on}T{at}+00:00") if at else None
    return replace(fact, row=replace(fact.row, happened_at=moment))


# ------------------------------------------------------------------------------------------------ in doubt


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"events": (BEGUN, event("2025-06-13", "withdrawn", "smells"))},
        {"events": (BEGUN, event("2025-06-16", "withdrawn", "smells"))},
        {"events": (BEGUN, event("2025-06-18", "withdrawn", "positive"))},
        {"events": (BEGUN, event("2025-06-13", "withdrawn"), event("2025-06-14", "returned"))},
        {"events": (BEGUN, event("2025-06-14", "loaner out"))},
        {"jobs": (job("2025-06-14", end="not released", parts=(part("2025-06-14"),)),)},
    ],
    ids=["nothing", "before the run", "on the day of the run", "when known", "and returned", "lent", "not released"],
)
def test_nothing_that_took_it_out_of_use_drops_a_load_that_is_in_doubt(more):
    """Common practice, no source: a load on record after a withdrawal contradicts it, and is in doubt too."""
    facts = {"bio_tests": (*OLD, POSITIVE), "loads": LOADS} | more
    judged = history("as said", opens=("implant-in-window",), **facts).values[0].judged()
    (back,) = [b for b in judged.look_backs if b.kind == "positive spore test"]
    assert (str(back.after), str(back.to)) == ("2025-06-11", "2025-06-18")
    assert [e.text.split(":")[0] for e in back.loads] == [f"cycle {n} of {d}" for n, d in enumerate(DAYS, start=30)]
    assert any(f.rule == "implant-in-window" for f in judged.findings)


ORDER = [
    # load at, known at, open item
    ("", "", "loads-order-not-known"),
    ("15:00", "", "loads-order-not-known"),
    ("", "09:00", "loads-order-not-known"),
    ("15:00", "09:00", "loads-while-out"),
    ("08:00", "09:00", ""),
]


@pytest.mark.parametrize(("ran", "known", "rule"), ORDER)
def test_a_load_of_the_day_the_failure_was_known(ran, known, rule):
    moment = datetime.fromisoformat(f"2025-06-18T{known}+00:00") if known else None
    reading = replace(POSITIVE.readings[0], known_at=moment)
    failed = replace(POSITIVE, readings=(reading,))
    one = history("as said", opens=("positive-test-open",), bio_tests=(*OLD, failed), loads=(timed(LOADS[3], ran),))
    rules = {f.rule for f in one.values[0].judged().findings}
    assert {r for r in rules if r.startswith("loads-")} == ({rule} if rule else set())


@pytest.mark.parametrize(("ran", "known", "rule"), ORDER)
def test_a_load_of_the_day_of_a_withdrawal(ran, known, rule):
    out = timed(event("2025-06-20", "withdrawn", "smells"), known)
    held = {"events": (BEGUN, out), "loads": (timed(load("2025-06-20", "50"), ran),)}
    judged = history("out", word=Word.OUT, **held).values[0].judged()
    found = [f for f in judged.findings if f.rule.startswith("loads-")]
    expected = "loads-while-withdrawn" if rule == "loads-while-out" else rule
    assert [f.rule for f in found] == ([expected] if expected else [])


def test_a_load_whose_order_is_not_known_is_a_note_once_its_packs_were_decided_about():
    decided = case("bad", "2025-06-18", step("2025-06-18", "recall packs", done="2025-06-19"))
    for cases, severity in (((), "put right"), ((decided,), "note")):
        facts = {"bio_tests": (*OLD, POSITIVE), "loads": LOADS[3:], "cases": cases}
        judged = history("out", word=Word.OUT, **facts).values[0].judged()
        (found,) = [f for f in judged.findings if f.rule == "loads-order-not-known"]
        assert found.severity == severity and "it is not known whether they were run while" in found.message


# ------------------------------------------------------------------------------------------------ recalled parts

FITTED = job("2025-05-05", parts=(part("2025-05-05"),))


def notice(action, day="2025-06-01", at=""):
    return {"place": {"part_recalls": (timed(part_recall(day, action=action), at),)}}


def looked(day, at="", **more):
    return job(day, tests=(), end="not worked on", findings=(timed(seen(day, **more), at),))


def tasked(day, action="inspect", what="done"):
    tests, end = ((), "not worked on") if action == "inspect" else (("V1",), "released")
    return job(day, tests=tests, end=end, outcomes=(outcome(day, "look", action=action, what=what),))


def jobs(*made, action="inspect", at=""):
    return {"jobs": (FITTED, *made)} | notice(action, at=at)


STOP, STILL = "stop use", ("recalled-part-in-use",)
ROWS = [
    history("of the lot and in, stop use", RECALL, never=PERMITS, word=Word.OUT, opens=STILL, **jobs(action=STOP)),
    history(
        "stop use, inspected: it is still in",
        RECALL,
        never=PERMITS,
        opens=STILL,
        **jobs(looked("2025-06-05"), action=STOP),
    ),
    history(
        "stop use, taken out",
        RECALL,
        word=Word.IN_SERVICE,
        **jobs(job("2025-06-05", parts=(part("2025-06-05", lot="P2"),)), action=STOP),
    ),
    history("inspect, not inspected", RECALL, opens=STILL, **jobs()),
    history("inspect, another position was seen", RECALL, opens=STILL, **jobs(looked("2025-06-05", position="door"))),
    history("inspect, seen before the notice", RECALL, opens=STILL, **jobs(looked("2025-05-20"))),
    history("inspect, seen on the day of the notice, no times", RECALL, opens=STILL, **jobs(looked("2025-06-01"))),
    history("inspect, the task was not due", RECALL, opens=STILL, **jobs(tasked("2025-06-05", what="not due"))),
    history("inspect, cleaned there", RECALL, opens=STILL, **jobs(tasked("2025-06-05", "clean"))),
    history("replace, inspected only", RECALL, opens=STILL, **jobs(looked("2025-06-05"), action="replace")),
    history("use until, inspected only", RECALL, opens=STILL, **jobs(looked("2025-06-05"), action="use until")),
    history(
        "a part of the lot fitted after the notice",
        RECALL,
        opens=("recalled-part-fitted", *STILL),
        jobs=(job("2025-06-05", parts=(part("2025-06-05"),)),),
        **notice("replace"),
    ),
    history(
        "fitted again after it was inspected: that was another part",
        RECALL,
        opens=("recalled-part-fitted", *STILL),
        **jobs(looked("2025-06-05"), job("2025-06-10", parts=(part("2025-06-10"),))),
    ),
    history(
        "fitted on the day of the notice, no times",
        RECALL,
        opens=("recalled-part-fitted",),
        jobs=(job("2025-06-01", parts=(part("2025-06-01"),)),),
        **notice("replace"),
    ),
    history(
        "fitted after a notice to stop use",
        RECALL,
        never=PERMITS,
        opens=("recalled-part-fitted",),
        jobs=(job("2025-06-05", parts=(part("2025-06-05"),)),),
        **notice(STOP),
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


@pytest.mark.parametrize(
    ("made", "at"),
    [
        ((looked("2025-06-05"),), ""),
        ((tasked("2025-06-05"),), ""),
        ((tasked("2025-06-05", "replace"),), ""),
        ((looked("2025-06-01", "15:00"),), "09:00"),
    ],
    ids=["seen", "inspected", "replaced", "later on the day of the notice"],
)
def test_a_notice_to_inspect_is_closed_by_the_inspection(made, at):
    one = history("as said", word=Word.IN_SERVICE, **jobs(*made, at=at)).values[0]
    holds(one)
    assert not {f.rule for f in one.judged().findings} & {"recalled-part-in-use", "recalled-part-fitted"}


def test_a_part_fitted_before_the_notice_was_not_fitted_after_it():
    judged = history("as said", opens=STILL, **jobs(action="replace")).values[0].judged()
    assert "recalled-part-fitted" not in {f.rule for f in judged.findings}
