"""The cause of a failure: what was found, or mended, after the last failure of the walk.

A cause that a later failure refutes is none: it comes after the last failure was known. Of that day both times
decide; what has no time of its own was done by the time it was recorded, which may show that it came first, never
that it came later. Where the times show nothing, what the case itself tells counts for the failure that opened it,
and for spore tests, whose readings are of a day. For a further failure of another kind, known as soon as it ran,
nobody knows which came first, and a repair told by a visit alone is not shown to have been for it: record the times.

That a failure was confined to one load is a cause until a repeat fails. Where the text of the rules asks that the
unit be repaired and the reason found, both are needed.

That a repair was done or a reason found is something that happened: who enters it vouches for it, also where another
did it, as a technician from outside does; the tests after it prove the unit. That it was confined is a decision of
whoever answers for the recall, and entered by another in that name it is none. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from audit.facts import FollowUpFact
from audit.judge.judgement import Evidence
from audit.regimes.model import FailurePath

from .trials import BIOLOGICAL, Trial

REPAIR, REASON, CONFINED = "repair", "reason", "confined"
_ACTIONS = {"find cause": REASON, "repair": REPAIR, "confine": CONFINED}


@dataclass(frozen=True, slots=True)
class Cause:
    """A cause found or a repair done. `at`: the moment, None where it is not known.

    `by`: the latest moment that it can have been, where that is all that is known; `told`: in the case itself.
    """

    day: date
    at: datetime | None
    kind: str  # repair, reason, confined
    evidence: Evidence
    by: datetime | None = None
    told: bool = False

    @property
    def done_by(self) -> datetime | None:
        """The moment by which it was done: what ran after this ran after the cause."""
        return self.at or self.by


def causes_told(followups: Iterable[FollowUpFact], day_of: Callable[[datetime], date]) -> list[Cause]:
    """Those that follow-ups of the case tell of; `day_of` gives the clinic's own day at a moment."""
    return [
        Cause(
            f.done_on,
            f.done_at,
            _ACTIONS[f.action],
            Evidence(_ref(f), f"{f.action}: {f.outcome or f.text}"),
            by=_recorded(f, day_of),
            told=True,
        )
        for f in followups
        if f.action in _ACTIONS and f.done_on is not None and not (f.told and _ACTIONS[f.action] == CONFINED)
    ]


def _recorded(followup: FollowUpFact, day_of: Callable[[datetime], date]) -> datetime | None:
    """When it was recorded as done; None where the row was written before its day, as something to do."""
    at = (followup.done_row or followup.row).logged_at
    return at if day_of(at) >= followup.done_on else None


def _ref(followup: FollowUpFact) -> str:
    return (followup.done_row or followup.row).ref


def cause_after(path: FailurePath, causes: Iterable[Cause], failures: Sequence[Trial], refuted: bool) -> Cause | None:
    """The first that is as much as the path asks, after each of the failures; `refuted`: a repeat has failed.

    Where both a repair and the reason are asked it is the later of the two.
    """
    held = [c for c in causes if not (refuted and c.kind == CONFINED) and _after_each(c, failures)]
    held.sort(key=_when)
    if path.cause_asks != "both":
        return held[0] if held else None
    repair = next((c for c in held if c.kind == REPAIR), None)
    reason = next((c for c in held if c.kind != REPAIR), None)
    return None if repair is None or reason is None else max(repair, reason, key=_latest)


def _after_each(cause: Cause, failures: Sequence[Trial]) -> bool:
    return all(_after(cause, failed, first=n == 0) for n, failed in enumerate(failures))


def _after(cause: Cause, failed: Trial, first: bool) -> bool:
    """Whether a cause came after a failure was known; `first`: the failure that opened the case."""
    if cause.day != failed.known_on:
        return cause.day > failed.known_on
    at, known_at = cause.at, failed.known_at
    if at is not None and known_at is not None:
        return at > known_at
    if at is None and known_at is not None and cause.by is not None and cause.by <= known_at:
        return False
    return cause.told and (first or failed.kind == BIOLOGICAL)


def _when(cause: Cause) -> tuple:
    at = cause.done_by
    return cause.day, at is None, at and at.timestamp(), cause.evidence.ref


def _latest(cause: Cause) -> tuple:
    """Of two of one day the one without a time comes last: what ran after it is shown by no time."""
    at = cause.done_by
    return cause.day, at is None, at and at.timestamp()


def cause_words(path: FailurePath) -> str:
    """What is asked, as what is still missing."""
    return "the repair and the cause found" if path.cause_asks == "both" else "the cause found or repaired"
