"""The steps the rules name after a failure, each with what was done about it."""

from __future__ import annotations

from datetime import date

from audit.facts import FollowUpFact, UnitFacts, in_order
from audit.judge.judgement import Evidence, Step
from audit.regimes.model import PathStep
from audit.regimes.source import Source

from .notices import notice_steps
from .recall import recall_needed
from .replay import Replay
from .said import DONE, LATE, NOT_NEEDED, OPEN, followup_evidence

_PRACTICE = Source("common practice, no source")
_STOPPED = "Take the unit out of service: several failed in a row, or one fell short by its own reading"
_OUT = PathStep("withdraw", _STOPPED, "always", _PRACTICE)
_BACK = PathStep("return", "Return to use once one has passed", "always", _PRACTICE)


def steps_of(unit: UnitFacts, replay: Replay, verdicts, as_of: date, recall: str) -> tuple[Step, ...]:
    """Each step the rules name, in their order; then the notices; then follow-ups of other actions.

    `recall` is the recall in words (see `recall_words`).
    """
    needed = recall_needed(unit, replay, verdicts)
    path_steps = _path_steps(replay)
    asked = [_step(unit, replay, s, as_of, recall, needed) for s in path_steps]
    notices, used = notice_steps(replay, as_of)
    named = {s.action for s in path_steps}
    others = [f for f in in_order(replay.followups) if f.action not in named and f.row.ref not in used]
    return (*asked, *notices, *(_own_step(f, replay, as_of) for f in others))


def _path_steps(replay: Replay) -> tuple[PathStep, ...]:
    """The steps of the path; where only several failures stopped the unit, with its withdrawal and its return."""
    steps = replay.path.steps
    if replay.withdraws and not replay.path.withdraws and not any(s.action == "withdraw" for s in steps):
        return (_OUT, *steps, _BACK)
    return steps


def _step(unit: UnitFacts, replay: Replay, step: PathStep, as_of: date, recall: str, recalls: bool) -> Step:
    mine = [f for f in in_order(replay.followups) if f.action == step.action]
    back = [f for f in mine if f.done_on is not None and step.action == "return"]
    early = [f for f in back if replay.early_sign(f)]
    told = [f for f in back if f.told and f not in early]
    mine = [f for f in mine if f not in early and f not in told]
    done_on, proof, note, needed = _by_proof(unit, replay, step, recall, recalls)
    if step.when == "repeat failed" and replay.failed_again is None and step.action != "recall packs":
        needed = False
    finished = [f for f in mine if f.done_on is not None]
    if finished:
        proof = (*proof, *(followup_evidence(f) for f in finished))
        done_on = done_on or finished[-1].done_on
    if step.action in ("retest", "requalify") and finished and replay.resolved_on is None:
        done_on, note = None, note or "signed, but the tests that prove it are missing"
    due = max((f.due_on for f in mine if f.due_on is not None), default=None)
    if early and not proof and replay.resolved_on is not None:
        done_on, note = None, f"signed on {early[0].done_on.isoformat()}, before the proof: that is no return"
    if told and not proof and replay.resolved_on is not None:
        done_on, note = None, f"{followup_evidence(told[-1]).text}: that is no return"
    if done_on is None and not needed:
        return Step(step.action, step.title, NOT_NEEDED, None, proof, step.source, note)
    state, note = _state(done_on, due, as_of, note)
    return Step(step.action, step.title, state, done_on, proof, step.source, note, due)


def _state(done_on: date | None, due: date | None, as_of: date, note: str = "") -> tuple[str, str]:
    """(state, note) of a step with a deadline, inclusive, or none."""
    if due is not None and (done_on or as_of) > due:
        return LATE, (f"{note}; " if note else "") + f"was due {due.isoformat()}"
    return (DONE if done_on else OPEN), note


def _by_proof(unit: UnitFacts, replay: Replay, step: PathStep, recall: str, recalls: bool):
    """(done on, evidence, note, needed) as far as facts other than follow-ups tell."""
    action = step.action
    if action == "withdraw":
        return _withdrawn(unit, replay)
    if action == "retest":
        return _retest(replay)
    if action == "recall packs":
        return None, (), recall, recalls
    if action == "find cause" and replay.cause:
        return replay.cause.day, (replay.cause.evidence,), "", True
    if action == "requalify":
        return _requalified(replay)
    if action == "return":
        return _returned(unit, replay)
    return None, (), "", True


def _withdrawn(unit: UnitFacts, replay: Replay):
    known, end = replay.out_from or replay.failed.known_on, replay.resolved_on
    for event in in_order(unit.events):
        day = event.row.happened_on
        if event.kind == "withdrawn" and known <= day and (end is None or day <= end):
            words = f"withdrawn on {day.isoformat()}: {event.reason}"
            return day, (Evidence(event.row.ref, words),), "", True
    return None, (), f"by the rules out of service from {known.isoformat()}", True


def _retest(replay: Replay):
    if replay.repeat_failed is not None:
        failed = replay.repeat_failed
        return failed.known_on, (failed.evidence,), "the repeat failed too", True
    proof = tuple(t.evidence for t in replay.repeat_passes)
    return replay.resolved_on, proof, "" if replay.resolved_on else replay.needs, True


def _requalified(replay: Replay):
    if replay.repeat_failed is None:
        return None, (), "", False
    proof = tuple(t.evidence for t in (*replay.return_passes, *replay.air_passes))
    return replay.resolved_on, proof, replay.needs, True


def _returned(unit: UnitFacts, replay: Replay):
    """What was signed before the proof was there is no return, see `Replay.before_proof`."""
    if replay.resolved_on is None:
        return None, (), replay.needs, True
    for event in in_order(unit.events):
        day = event.row.happened_on
        if event.kind != "returned" or event.told_return:
            continue
        if not replay.before_proof(day, event.row.happened_at):
            return day, (Evidence(event.row.ref, f"returned on {day.isoformat()}: {event.reason}"),), "", True
    back = [f for f in replay.followups if f.action == "return" and f.done_on and not f.told]
    signed = any(not replay.early_sign(f) for f in back)
    note = "" if signed else "proven by the tests; no return is signed"
    return replay.resolved_on, (), note, True


def _own_step(followup: FollowUpFact, replay: Replay, as_of: date) -> Step:
    told = followup.action == "confine" and followup.told
    done_on = None if told else followup.done_on
    note = "told by somebody else: that limits no recall" if told else ""
    state, note = _state(done_on, followup.due_on, as_of, note)
    proof = (followup_evidence(followup),)
    source = replay.path.source
    return Step(followup.action, followup.text, state, done_on, proof, source, note, followup.due_on)
