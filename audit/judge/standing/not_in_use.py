"""R1: not in use; and what brings a unit back that was decommissioned or lent out.

It is installed, comes in as a loaner, or is returned to use by a return that is about nothing else: one that names a
withdrawal, or was signed while one stood open, is about that. Common practice, no source.
"""

from __future__ import annotations

from audit.facts import UnitEventFact
from audit.judge.judgement import Evidence, UnitStanding, Word
from audit.judge.situation import Situation
from audit.judge.usage import STORED, placement_on

from .by_hand import withdrawals
from .tools import event_evidence, event_words, say

_GONE, _BACK = ("decommissioned", "loaner out"), ("installed", "loaner in")


def r1(s: Situation) -> UnitStanding | None:
    """R1, not in use: decommissioned or lent out, in store as a spare, or the day lies before the begin of use.

    Since the day of that event or placement, None before the begin. Source: common practice, no source.
    """
    lifted = "the clinic: install it or place it in use again"
    event = _gone_and_back(s)[0]
    if event is not None:
        proof = [event_evidence(event)]
        return say(Word.NOT_IN_USE, "R1", event_words(event), event.row.happened_on, proof, lifted)
    placed = placement_on(s.unit, s.as_of)
    if placed is not None and placed.use == STORED:
        words = f"stored as a spare since {placed.effective_on.isoformat()}; tests come first when it returns to use"
        proof = [Evidence(placed.row.ref, f"placement: {placed.room}, {placed.use}")]
        return say(Word.NOT_IN_USE, "R1", words, placed.effective_on, proof, lifted)
    if s.as_of < s.settled.usage.begin:
        return say(Word.NOT_IN_USE, "R1", "not installed or placed in use yet", None, [], lifted)
    return None


def came_back(s: Situation) -> list[UnitEventFact]:
    """The returns to use that brought the unit back from elsewhere, oldest first."""
    return _gone_and_back(s)[1]


def _gone_and_back(s: Situation) -> tuple[UnitEventFact | None, list[UnitEventFact]]:
    """(since what it is gone, None where it is here; the returns that brought it back before)."""
    gone, back = None, []
    for event in s.unit.events:
        if event.kind in _GONE:
            gone = event
        elif event.kind in _BACK:
            gone = None
        elif gone is not None and _is_about_no_withdrawal(s, event):
            gone = None
            back.append(event)
    return gone, back


def _is_about_no_withdrawal(s: Situation, event: UnitEventFact) -> bool:
    if event.kind != "returned" or event.told_return:
        return False
    held = withdrawals(s)
    if any(w.event.row.origin == event.ends for w in held):
        return False
    day = event.row.happened_on
    return not any(w.before(event) is not False and (w.ended_on is None or w.ended_on >= day) for w in held)
