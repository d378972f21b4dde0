"""A return signed although the tests that prove it were not complete, or told in the name of somebody who did not
sign it: it is no return, then or later.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from audit.facts import FollowUpFact
from audit.judge.biological import ran_after
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.response import Replay, title_of_case
from audit.judge.response.said import followup_evidence
from audit.judge.situation import settle

from .tools import CLINIC, SIGNED, Judged, day


def check(judged: Judged) -> Iterator[Finding]:
    """One for each case with a return signed before the unit was proven, with what was missing then; one for each
    with returns that were only told."""
    for replay in judged.settled.replays:
        told = [f for f in replay.followups if f.action == "return" and f.told]
        if told and not _returned_since(judged, replay, told[-1]):
            yield _only_told(replay, told)
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


def _returned_since(judged: Judged, replay: Replay, told: FollowUpFact) -> bool:
    """Whether its own person entered a return after the proof, of the day of the one that was told or later."""
    steps = [s for s in replay.followups if s.action == "return" and s.done_on is not None and not s.told]
    found = [(s.done_on, s.done_at) for s in steps]
    found += [(e.row.happened_on, e.row.happened_at) for e in judged.unit.events
              if e.kind == "returned" and not e.told_return]  # fmt: skip
    return any(on >= told.done_on and not replay.before_proof(on, at) for on, at in found)


def _only_told(replay: Replay, told: list[FollowUpFact]) -> Finding:
    last = told[-1]
    who = last.done_by or "the person who returned it"
    return Finding(
        rule="return-only-told",
        severity=Severity.PUT_RIGHT,
        since=told[0].done_on,
        message=f"{title_of_case(replay)}: {followup_evidence(last).text}: that ends no withdrawal",
        way_out=f"{who} enters the return to use with an own account, and names the withdrawal that it ends; until "
        "then it stays out where it was taken out",
        evidence=tuple(followup_evidence(f) for f in told),
        source=SIGNED,
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
