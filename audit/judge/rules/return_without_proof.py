"""A return signed although the tests that prove it were not complete: it is no return, then or later."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from audit.judge.biological import ran_after
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.response import Replay
from audit.judge.situation import settle

from .tools import CLINIC, Judged, day


def check(judged: Judged) -> Iterator[Finding]:
    """One for each case with a return signed before the unit was proven, with what was missing then."""
    for replay in judged.settled.replays:
        if not replay.withdraws:
            continue
        early = sorted((s for s in _signed(judged, replay) if replay.before_proof(s[1], s[2])), key=lambda s: s[1])
        if early:
            ref, on, _ = early[0]
            end = replay.resolved_on
            yield Finding(
                rule="return-without-proof",
                severity=Severity.FORBIDS if end is None else Severity.PUT_RIGHT,
                since=on,
                message=f"return signed on {day(on)} without its proof: {_missing(judged, replay, on)}"
                + (f"; proven only on {day(end)}" if end is not None else ""),
                way_out="keep it out of service until the tests are complete, then sign the return"
                if end is None
                else "sign the return now that it is proven, and explain the one before",
                evidence=(Evidence(ref, f"return signed on {day(on)}"), replay.failed.evidence),
                source=replay.path.source,
                owner=CLINIC,
            )


def _signed(judged: Judged, replay: Replay) -> Iterator[tuple[str, date, datetime | None]]:
    """(row, day, moment or None) of each return signed since the failure stopped the unit."""
    for step in replay.followups:
        if step.action == "return" and step.done_on is not None:
            yield (step.done_row or step.row).ref, step.done_on, step.done_at
    for event in judged.unit.events:
        row = event.row
        stopped = replay.stopped
        if event.kind == "returned" and ran_after(
            row.happened_on, row.happened_at, stopped.known_on, stopped.known_at
        ):
            yield row.ref, row.happened_on, row.happened_at


def _missing(judged: Judged, replay: Replay, on: date) -> str:
    """What was missing at the end of the day on which it was signed; judged again from the facts of that day."""
    if replay.resolved_on is None and on >= judged.now.as_of:
        return replay.needs
    then = settle(judged.unit, judged.settled.clinic, judged.now.regime, on)
    same = [r for r in then.replays if r.failed.origin == replay.failed.origin and r.path.kind == replay.path.kind]
    return (same[0].needs if same else "") or "a result that was not known then"
