"""What is said of a failure, its steps and what it puts in doubt: example tables, and the same words everywhere."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.judge import failures_said as said
from audit.judge.explain import explain
from audit.judge.judgement import Case, Evidence, LookBack, Step, UnitJudgement, UnitStanding, Word
from audit.regimes.source import Source
from tests.fact_builders import on
from tests.fact_builders import step as follow_up

KNOWN, DAY = on("2026-06-10"), on("2026-06-15")
PRACTICE = Source("common practice, no source")


def step(state="open", done=None, by=None, note="", action="withdraw"):
    return Step(action, "Take it out", state, done and on(done), (), PRACTICE, note, by and on(by))


CASE = Case("c", "biological", "Positive spore test", KNOWN, KNOWN, "retest needed", None, 0, 3,
            "recall: everything since 2026-06-01", (step(),), (), "the cause found")  # fmt: skip
PACKS_ONLY = replace(CASE, steps=(step(action="recall packs"),), recall="none needed: all were held", passes_needed=0)
RETURNED = replace(CASE, phase="returned", resolved_on=DAY, needs="")

CASES = [
    # (what, case, what is missing, how it ended, where it stands)
    ("a unit out of service", CASE, "Still missing before it may return: the cause found", "",
     ("known 2026-06-10", "0 of 3 passing tests in a row", "recall: everything since 2026-06-01")),
    ("packs alone", PACKS_ONLY, "Still missing before this is closed: the cause found", "",
     ("known 2026-06-10", "packs: none needed: all were held")),
    ("nothing that the rules name", replace(CASE, needs=""),
     "Still missing before it may return: nothing that these rules name", "", ()),
    ("returned", RETURNED, "", "returned on 2026-06-15", ()),
    ("packs that passed", replace(PACKS_ONLY, phase="returned", resolved_on=DAY), "", "passed on 2026-06-15", ()),
    ("entered in error", replace(CASE, phase="entered in error"), "", "entered in error", ()),
]  # fmt: skip


@pytest.mark.parametrize(("case", "missing", "ended", "stands"), [r[1:] for r in CASES], ids=[r[0] for r in CASES])
def test_a_failure_says_what_is_missing_and_how_it_ended(case, missing, ended, stands):
    assert (said.missing(case), said.ended(case)) == (missing, ended)
    told = said.told(case)
    assert told[: len(stands)] == stands
    assert [missing] == [line for line in told if line.startswith("Still missing")] or missing == ""


STEPS = [
    (step("done", "2026-06-11", "2026-06-12", "the repeat failed too"),
     " on 2026-06-11, due by 2026-06-12 (the repeat failed too)"),
    (step("open", by="2026-06-17"), ", due by 2026-06-17"),
    (step("open", note="the cause found"), " (the cause found)"),
    (step("not needed"), ""),
]  # fmt: skip


@pytest.mark.parametrize(("held", "words"), STEPS)
def test_a_step_says_its_day_its_last_day_and_its_note(held, words):
    assert said.step_told(held) == words


def test_a_follow_up_says_what_by_whom_and_by_when():
    set_ = replace(follow_up("2026-06-11", "find cause", due="2026-06-17"), text="look at the seal", owner="A. Berg")
    assert said.follow_up_told(set_) == "look at the seal, A. Berg, by 2026-06-17: not done yet"
    assert said.follow_up_told(replace(set_, text="", owner="", due_on=None)) == "find cause: not done yet"


def _rows(*names):
    return tuple(Evidence(name, name) for name in names)


BACK = LookBack("a positive test of 2026-06-09", "c", on("2026-06-01"), "negative spore test of 2026-06-01", KNOWN,
                _rows("a", "b"), "", (), _rows("p"))  # fmt: skip
BACKS = [
    ("loads and a part", BACK, (
        "In doubt: 2 loads, 1 part, after 2026-06-01, up to and with 2026-06-10",
        "Last good proof: negative spore test of 2026-06-01", "Still open: no decision is on record")),
    ("nothing good before it, and some cycles not logged",
     replace(BACK, after=None, after_text="", loads=(), parts=(), unlogged="9 cycles", settled_on=DAY), (
        "In doubt: nothing logged in the window, from the first record, with no good proof before it, up to and with "
        "2026-06-10", "Not known: 9 cycles", "Decided on 2026-06-15")),
]  # fmt: skip


@pytest.mark.parametrize(("back", "lines"), [r[1:] for r in BACKS], ids=[r[0] for r in BACKS])
def test_what_is_in_doubt_says_its_days_its_proof_and_the_decision(back, lines):
    assert said.look_back_told(back) == lines


def test_the_explanation_of_an_answer_has_the_same_words():
    held = UnitStanding(Word.OUT, "R4", "a reason", None, (), "tests: the cause found", None)
    judged = UnitJudgement("u", "Unit", DAY, held, (), (), (), (CASE,), (BACK,), ())
    texts = [line.text for line in explain(judged, "rules")]
    assert set(said.look_back_told(BACK)) <= set(texts)
    assert any(text.endswith("; ".join(said.told(CASE))) for text in texts)
    assert f"Take it out: open{said.step_told(CASE.steps[0])}" in texts
