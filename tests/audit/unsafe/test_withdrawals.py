"""A withdrawal by hand keeps its reason: only a return that is about it ends it. Common practice, no source."""

from dataclasses import replace

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import BEGUN, PERMITS, TESTED, history, holds
from tests.fact_builders import bio, case, event, row, step, user_check


def told(day, kind, reason="", *, at="", ends="", ref=""):
    return replace(event(day, kind, reason), row=row(day, at=at, ref=ref), ends=ends)


def out(day="2025-06-10", reason="door sticks", **more):
    return told(day, "withdrawn", reason, **({"ref": f"out-{day}"} | more))


def back(day, **more):
    return told(day, "returned", "mended", **more)


def events(*made):
    return {"events": (BEGUN, *made)}


FAILED = bio("2025-06-16", result="growth", known="2025-06-17", ref="bad")
PASSED = bio("2025-06-18", result="pass", known="2025-06-19", purpose="repeat")
PROVEN = (*TESTED[:-2], FAILED, PASSED, TESTED[-1])
TITLE = "Positive spore test, 2025-06-16"


def in_case(*steps):
    return {"bio_tests": PROVEN, "cases": (case("bad", "2025-06-17", *steps),)}


SIGNED = step("2025-06-20", "return", done="2025-06-20")
EARLY = step("2025-06-17", "return", done="2025-06-18")

ROWS = [
    history(
        "withdrawn and never returned",
        never=PERMITS,
        word=Word.OUT,
        not_says=("more time",),
        **events(out()),
    ),
    history("withdrawn and returned on a later day", word=Word.IN_SERVICE, **events(out(), back("2025-06-12"))),
    history("returned by name", word=Word.IN_SERVICE, **events(out(), back("2025-06-12", ends="out-2025-06-10"))),
    history("a return that names another row", never=PERMITS, **events(out(), back("2025-06-12", ends="other"))),
    history("a return before the withdrawal", never=PERMITS, **events(back("2025-06-09"), out())),
    history(
        "a return before it that names it all the same",
        never=PERMITS,
        **events(back("2025-06-09", ends="out-2025-06-10"), out()),
    ),
    history("a return of the same day, no times", never=PERMITS, **events(out(), back("2025-06-10"))),
    history("the time of the return alone", never=PERMITS, **events(out(), back("2025-06-10", at="15:00"))),
    history(
        "both times, the return later",
        word=Word.IN_SERVICE,
        **events(out(at="09:00"), back("2025-06-10", at="15:00")),
    ),
    history(
        "both times, the return earlier", never=PERMITS, **events(out(at="15:00"), back("2025-06-10", at="09:00"))
    ),
    history(
        "a return of the same day by name, no times",
        word=Word.IN_SERVICE,
        **events(out(), back("2025-06-10", ends="out-2025-06-10")),
    ),
    history(
        "withdrawn twice, one return that names neither",
        never=PERMITS,
        says=("1 more time(s)",),
        **events(out(), out("2025-06-12", "leaks"), back("2025-06-20")),
    ),
    history(
        "withdrawn twice, the second returned by name",
        never=PERMITS,
        says=("door sticks",),
        not_says=("leaks",),
        **events(out(), out("2025-06-12", "leaks"), back("2025-06-20", ends="out-2025-06-12")),
    ),
    history(
        "withdrawn twice, one by name, then one that names none: exactly one was open",
        word=Word.IN_SERVICE,
        **events(out(), out("2025-06-12", "leaks"), back("2025-06-20", ends="out-2025-06-12"), back("2025-06-21")),
    ),
    history(
        "withdrawn twice, both returns of one day without times, one by name",
        never=PERMITS,
        **events(out(), out("2025-06-12", "leaks"), back("2025-06-20", ends="out-2025-06-12"), back("2025-06-20")),
    ),
    history(
        "withdrawn twice, each returned by name",
        word=Word.IN_SERVICE,
        **events(
            out(),
            out("2025-06-12", "leaks"),
            back("2025-06-20", ends="out-2025-06-12"),
            back("2025-06-20", ends="out-2025-06-10"),
        ),
    ),
    history(
        "a second withdrawal on the day of the return, order not known",
        never=PERMITS,
        **events(out(), out("2025-06-20", "leaks"), back("2025-06-20")),
    ),
    history("an installation ends no withdrawal", never=PERMITS, **events(out(), told("2025-06-12", "installed"))),
    history("nor does a loaner coming in", never=PERMITS, **events(out(), told("2025-06-12", "loaner in"))),
    history(
        "a failure proven and its return signed end no withdrawal for another reason",
        never=PERMITS,
        says=("door sticks",),
        **events(out("2025-06-17")),
        **in_case(SIGNED),
    ),
    history(
        "the withdrawal that is the step of the case ends with it",
        word=Word.IN_SERVICE,
        **events(out("2025-06-17", "positive")),
        **in_case(step("2025-06-17", "withdraw", done="2025-06-17"), SIGNED),
    ),
    history(
        "the withdrawal with the title of the case in its reason ends with it",
        word=Word.IN_SERVICE,
        **events(out("2025-06-17", TITLE)),
        **in_case(SIGNED),
    ),
    history(
        "two withdrawals of that day: nobody knows which was the step",
        never=PERMITS,
        **events(out("2025-06-17", "positive"), out("2025-06-17", "door sticks", ref="second")),
        **in_case(step("2025-06-17", "withdraw", done="2025-06-17"), SIGNED),
    ),
    history(
        "a withdrawal before the failure was known is no step of its case",
        never=PERMITS,
        **events(out("2025-06-16", TITLE)),
        **in_case(SIGNED),
    ),
    history(
        "a return before the proof ends it neither then nor later",
        never=PERMITS,
        **events(out("2025-06-17", TITLE), back("2025-06-18")),
        **in_case(),
    ),
    history(
        "a return before the proof, by name",
        never=PERMITS,
        **events(out("2025-06-17", TITLE), back("2025-06-18", ends="out-2025-06-17")),
        **in_case(),
    ),
    history(
        "the return of the case signed before the proof",
        never=PERMITS,
        opens=("return-without-proof",),
        **events(out("2025-06-17", TITLE)),
        **in_case(EARLY),
    ),
    history(
        "a return on the day of the proof",
        word=Word.IN_SERVICE,
        **events(out("2025-06-17", TITLE), back("2025-06-19")),
        **in_case(),
    ),
    history(
        "a return while a control test has failed",
        never=PERMITS,
        checks=(user_check("2025-06-11", result="fail"), user_check("2025-06-14")),
        **events(out(), back("2025-06-12")),
    ),
    history(
        "the same return once the control test had passed",
        word=Word.IN_SERVICE,
        checks=(user_check("2025-06-11", result="fail"), user_check("2025-06-14")),
        **events(out(), back("2025-06-14")),
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


@pytest.mark.parametrize("signed", [EARLY, None])
def test_a_return_before_the_proof_says_what_was_missing_then(signed):
    made = events(out("2025-06-17", TITLE), *([] if signed else [back("2025-06-18")]))
    one = history("early", opens=("return-without-proof",), **made, **in_case(*([signed] if signed else []))).values[
        0
    ]
    (found,) = [f for f in one.judged().findings if f.rule == "return-without-proof"]
    assert found.message == (
        "return signed on 2025-06-18 without its proof: 1 more passing repeat(s); proven only on 2025-06-19"
    )
    (said,) = one.judged().cases
    last = next(s for s in said.steps if s.action == "return")
    assert (last.state, last.done_on) == (("open", None) if signed else ("done", last.done_on))
    assert not [e for e in last.evidence if "2025-06-18" in e.text], "it is no proof of the return"
