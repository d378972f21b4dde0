"""Withdrawals by hand, each with what ended it. Common practice, no source.

A withdrawal keeps its reason: it ends by a return that is about it, and by nothing else.

| a return | ends |
| --- | --- |
| that names a withdrawal | that one, where it is of a later day or of the same day, time or no time |
| that names none | the one withdrawal that was open, where exactly one was; with two or more none |
| of the same day as the withdrawal, naming none | it, where both times show that the return came after |
| signed while a failed test kept the unit out | none: before the proof it is no return, now or later |
| that somebody else entered in the name of who returned it | none, until that person signs it or enters one |

Neither an installation nor a loaner that came in ends one. The return signed in the case of a failure, on the day the
unit was proven or later, ends the withdrawal that was a step of that very case: the only withdrawal of its day, of a
day on which the case has the step "withdraw" as done, or with the title of the case in its reason, as the guided
response enters it; and no other; there too what was told ends none (21 CFR 11.100(a), 11.200(a)(2)).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from audit.facts import FollowUpFact, UnitEventFact, in_order
from audit.judge.biological import ran_after
from audit.judge.response import Replay, title_of_case
from audit.judge.situation import Situation

OUT, BACK = "withdrawn", "returned"


@dataclass(slots=True)
class Withdrawal:
    """A withdrawal by hand, and the day it was ended; None: still in force."""

    event: UnitEventFact
    ended_on: date | None = None
    ended_at: datetime | None = None  # None: not ended, or the time of day is not known

    def before(self, other: UnitEventFact) -> bool | None:
        """Whether another event came after it; None on the same day without both times."""
        row, out = other.row, self.event.row
        return ran_after(row.happened_on, row.happened_at, out.happened_on, out.happened_at)


def withdrawals(s: Situation) -> list[Withdrawal]:
    """Every withdrawal by hand up to the day the facts were cut at, oldest first."""
    held = [Withdrawal(e) for e in in_order(s.unit.events) if e.kind == OUT]
    if not held:
        return []
    returns = returns_that_count(s)
    # Of one day a return that names nothing is looked at first: it then finds most withdrawals open, and ends least.
    for event in sorted(returns, key=_least_first):
        _end(held, event)
    for replay in s.settled.replays:
        _end_own_step(held, replay)
    return held


def returns_that_count(s: Situation) -> list[UnitEventFact]:
    """The returns by hand, oldest first, but for those told, and those signed while a failed test kept it out."""
    early = [r for r in s.settled.replays if r.withdraws]
    found = [e for e in in_order(s.unit.events) if e.kind == BACK and not e.told_return]
    return [e for e in found if not any(_too_early(r, e) for r in early)]


def _least_first(event: UnitEventFact) -> tuple:
    at = event.row.happened_at
    return event.row.happened_on, at is not None, at.timestamp() if at is not None else 0, bool(event.ends)


def _too_early(replay: Replay, event: UnitEventFact) -> bool:
    """Whether a return was signed while the case kept the unit out: after its failure, before its proof."""
    day, at = event.row.happened_on, event.row.happened_at
    after = ran_after(day, at, replay.stopped.known_on, replay.stopped.known_at)
    return after is not False and replay.before_proof(day, at)


def _end(held: list[Withdrawal], event: UnitEventFact) -> None:
    day = event.row.happened_on
    if event.ends:
        named = next((w for w in held if w.event.row.origin == event.ends), None)
        if named is not None and named.ended_on is None and named.event.row.happened_on <= day:
            named.ended_on, named.ended_at = day, event.row.happened_at
        return
    open_then = [w for w in held if w.ended_on is None and w.before(event) is not False]
    if len(open_then) == 1 and open_then[0].before(event):
        open_then[0].ended_on, open_then[0].ended_at = day, event.row.happened_at


def _end_own_step(held: list[Withdrawal], replay: Replay) -> None:
    signed = [f.done_on for f in replay.followups if _returns(replay, f)]
    if not signed:
        return
    taken = {f.done_on for f in replay.followups if f.action == "withdraw" and f.done_on is not None}
    for one in held:
        day = one.event.row.happened_on
        alone = sum(1 for w in held if w.event.row.happened_on == day) == 1
        own = day in taken or title_of_case(replay).casefold() in one.event.reason.casefold()
        within = replay.failed.known_on <= day <= replay.resolved_on
        if one.ended_on is None and alone and own and within:
            one.ended_on = min(signed)


def _returns(replay: Replay, followup: FollowUpFact) -> bool:
    """Whether it is a return that its own person entered, on the day of the proof or later."""
    back = followup.action == "return" and followup.done_on is not None and not followup.told
    return back and not replay.early_sign(followup)
