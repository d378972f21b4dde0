"""R1: not in use."""

from __future__ import annotations

from audit.judge.judgement import Evidence, UnitStanding, Word
from audit.judge.situation import Situation
from audit.judge.usage import STORED, placement_on

from .tools import event_evidence, event_words, last_event, say


def r1(s: Situation) -> UnitStanding | None:
    """R1, not in use: decommissioned or lent out, in store as a spare, or the day lies before the begin of use.

    Since the day of that event or placement, None before the begin. Source: common practice, no source.
    """
    lifted = "the clinic: install it or place it in use again"
    event = last_event(s, ("decommissioned", "loaner out"), ("installed", "loaner in", "returned"))
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
