"""The cause of a failure: what was found, or mended, after the last failure of the walk.

A cause that a later failure refutes is none: it comes on or after the day the last failure was known, and of that day
not before it where both times are known. What has no time of its own was done by the time it was recorded. That a
failure was confined to one load is a cause until a repeat fails. Where the text of the rules asks that the unit be
repaired and the reason found, both are needed.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from audit.facts import FollowUpFact
from audit.judge.biological import ran_after
from audit.judge.judgement import Evidence
from audit.regimes.model import FailurePath

from .trials import Trial

REPAIR, REASON, CONFINED = "repair", "reason", "confined"
_ACTIONS = {"find cause": REASON, "repair": REPAIR, "confine": CONFINED}


@dataclass(frozen=True, slots=True)
class Cause:
    """A cause found or a repair done. `at`: by when, None where that is not known."""

    day: date
    at: datetime | None
    kind: str  # repair, reason, confined
    evidence: Evidence


def causes_told(followups: Iterable[FollowUpFact]) -> list[Cause]:
    """Those that follow-ups of the case tell of."""
    return [
        Cause(
            f.done_on,
            f.done_at or _recorded(f),
            _ACTIONS[f.action],
            Evidence(_ref(f), f"{f.action}: {f.outcome or f.text}"),
        )
        for f in followups
        if f.action in _ACTIONS and f.done_on is not None
    ]


def _recorded(followup: FollowUpFact) -> datetime | None:
    """When it was recorded as done; None where the row was written before its day, as something to do."""
    at = (followup.done_row or followup.row).logged_at
    return at if at.date() >= followup.done_on else None


def _ref(followup: FollowUpFact) -> str:
    return (followup.done_row or followup.row).ref


def cause_after(path: FailurePath, causes: Iterable[Cause], failures: Sequence[Trial], refuted: bool) -> Cause | None:
    """The first that is as much as the path asks, after each of the failures; `refuted`: a repeat has failed.

    Where both a repair and the reason are asked it is the later of the two.
    """
    held = [c for c in causes if not (refuted and c.kind == CONFINED) and all(_not_before(c, f) for f in failures)]
    held.sort(key=_when)
    if path.cause_asks != "both":
        return held[0] if held else None
    repair = next((c for c in held if c.kind == REPAIR), None)
    reason = next((c for c in held if c.kind != REPAIR), None)
    return None if repair is None or reason is None else max(repair, reason, key=_latest)


def _not_before(cause: Cause, failed: Trial) -> bool:
    return ran_after(cause.day, cause.at, failed.known_on, failed.known_at) is not False


def _when(cause: Cause) -> tuple:
    return cause.day, cause.at is None, cause.at and cause.at.timestamp(), cause.evidence.ref


def _latest(cause: Cause) -> tuple:
    """Of two of one day the one without a time comes last: what ran after it is shown by no time."""
    return cause.day, cause.at is None, cause.at and cause.at.timestamp()


def cause_words(path: FailurePath) -> str:
    """What is asked, as what is still missing."""
    return "the repair and the cause found" if path.cause_asks == "both" else "the cause found or repaired"
