"""Withdrawals by hand: which return ended which, and on what day. Common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest

from audit.judge.situation import at, settle
from audit.judge.standing import withdrawals
from audit.regimes import load_regime
from tests.fact_builders import bio, case, clinic, event, on, row, step, unit, weekly

START = event("2025-01-01")
TESTED = weekly("2025-01-01", "2025-06-04")
CDC = load_regime("us-dental-cdc-2003")


def out(day, time="", reason="door sticks", *, ref=""):
    return replace(event(day, "withdrawn", reason), row=row(day, at=time, ref=ref or day))


def back(day, time="", ends=""):
    return replace(event(day, "returned", "mended"), row=row(day, at=time), ends=ends)


def ended(*events, tests=TESTED, cases=()):
    """Each withdrawal by its ref, with the day that ended it and the time, "" for none."""
    held = unit(events=(START, *events), bio_tests=tests, cases=cases)
    day = on("2025-06-27")
    found = withdrawals(at(settle(held, clinic(held), CDC, day), day))
    return {w.event.row.ref: _told(w) for w in found}


def _told(one):
    time = f" {one.ended_at:%H:%M}" if one.ended_at else ""
    return f"{one.ended_on or ''}{time}"


W10, W12, W20 = "2025-06-10", "2025-06-12", "2025-06-20"
PLAIN = [
    ((out(W10),), {W10: ""}),
    ((out(W10), back("2025-06-11")), {W10: "2025-06-11"}),
    ((out(W10), back("2025-06-11", "09:00")), {W10: "2025-06-11 09:00"}),
    ((out(W10), out(W12, "10:00")), {W10: "", W12: ""}),  # the second is no return
    ((out(W10), back("2025-06-11"), out(W20)), {W10: "2025-06-11", W20: ""}),
    ((out(W10), back("2025-06-11"), back("2025-06-15")), {W10: "2025-06-11"}),
    ((out(W10), back("2025-06-11", ends=W10), back("2025-06-15", ends=W10)), {W10: "2025-06-11"}),
    ((out(W10), out(W12), back("2025-06-15", "08:00", W10)), {W10: "2025-06-15 08:00", W12: ""}),
    ((out(W10), out(W12), back(W20, "09:00", W12), back(W20)), {W10: "", W12: "2025-06-20 09:00"}),
    ((out(W10), out(W12), back(W20, "09:00", W12), back(W20, "10:00")), {W10: f"{W20} 10:00", W12: f"{W20} 09:00"}),
    ((out(W10), out(W12), back(W20, "10:00", W12), back(W20, "09:00")), {W10: "", W12: "2025-06-20 10:00"}),
    ((out(W10), back(W10, ends=W10)), {W10: W10}),
    ((out(W10), back("2025-06-09", ends=W10)), {W10: ""}),
    ((out(W10, "09:00"), back(W10, "09:00")), {W10: ""}),
    ((out(W10, "09:00"), back(W10, "09:01")), {W10: "2025-06-10 09:01"}),
]  # fmt: skip


@pytest.mark.parametrize(("events", "said"), PLAIN)
def test_which_return_ended_which(events, said):
    for order in (events, events[::-1]):
        assert ended(*order) == said


# ------------------------------------------------------------------------------------------------ beside a failure


def grown(time=""):
    """A positive test, known on 17 June, at the time where one is given."""
    made = bio("2025-06-16", result="growth", known="2025-06-17", ref="bad")
    known = datetime.fromisoformat(f"2025-06-17T{time}+00:00") if time else None
    return replace(made, readings=(replace(made.readings[0], known_at=known),))


PASSED = bio("2025-06-18", result="pass", known="2025-06-19", purpose="repeat")


@pytest.mark.parametrize(
    ("known", "returned", "ends"),
    [
        ("09:00", ("2025-06-17", "08:00"), True),  # before anybody knew of the failure
        ("09:00", ("2025-06-17", "10:00"), False),
        ("", ("2025-06-17", "08:00"), False),
        ("", ("2025-06-17", ""), False),
        ("", ("2025-06-16", ""), True),
        ("", ("2025-06-18", ""), False),
        ("", ("2025-06-19", ""), True),
    ],
)
def test_a_return_between_a_failure_and_its_proof_ends_nothing(known, returned, ends):
    said = ended(out(W10), back(*returned), tests=(*TESTED, grown(known), PASSED))
    assert bool(said[W10]) is ends


TITLE, REASON = "Positive spore test, 2025-06-16", "door sticks"
SIGNED = step("2025-06-20", "return", done="2025-06-20")


def in_case(*steps, reason=REASON, day="2025-06-17", events=()):
    kept = case("bad", "2025-06-17", *steps)
    return ended(out(day, reason=reason, ref="own"), *events, tests=(*TESTED, grown(), PASSED), cases=(kept,))["own"]


def did(day, action):
    return step(day, action, done=day)


TAKEN = did("2025-06-17", "withdraw")


@pytest.mark.parametrize(
    ("steps", "more", "said"),
    [
        ((SIGNED,), {"reason": TITLE}, "2025-06-20"),
        ((SIGNED,), {"reason": TITLE.upper()}, "2025-06-20"),
        ((SIGNED,), {}, ""),
        ((TAKEN, SIGNED), {}, "2025-06-20"),
        ((TAKEN,), {}, ""),
        ((did("2025-06-17", "review"), SIGNED), {}, ""),
        ((step("2025-06-17", "withdraw", due="2025-06-17"), SIGNED), {}, ""),
        ((TAKEN, did("2025-06-20", "review")), {}, ""),
        ((TAKEN, step("2025-06-20", "return", due="2025-06-20")), {}, ""),
        ((TAKEN, did("2025-06-18", "return")), {}, ""),  # before the proof
        ((TAKEN, did("2025-06-22", "return"), SIGNED), {}, "2025-06-20"),
        ((SIGNED,), {"reason": TITLE, "day": "2025-06-16"}, ""),
        ((SIGNED,), {"reason": TITLE, "day": "2025-06-19"}, "2025-06-20"),
        ((SIGNED,), {"reason": TITLE, "day": "2025-06-20"}, ""),
        ((TAKEN, SIGNED), {"events": (back("2025-06-19"),)}, "2025-06-19"),
        ((TAKEN, SIGNED), {"events": (out("2025-06-17", ref="other"),)}, ""),
        ((TAKEN, SIGNED), {"events": (out("2025-06-18", ref="other"),)}, "2025-06-20"),
    ],
)
def test_the_return_of_the_case_ends_the_withdrawal_that_was_its_own_step(steps, more, said):
    assert in_case(*steps, **more) == said
