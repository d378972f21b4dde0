"""The steps of a case for the reader: what the rules ask, and what was done about each."""

from __future__ import annotations

from datetime import date

from .facts import FollowUpFact, UnitFacts, in_order
from .judgement import Evidence, Step

TITLES = {
    "biological": "Positive spore test",
    "air removal": "Failed air-removal test",
    "air leak": "Failed air-leak test",
    "chemical": "Failed chemical indicator",
    "mechanical": "Failed mechanical result",
}
DONE, OPEN, LATE, NOT_NEEDED = "done", "open", "late", "not needed"


def recall_words(unit: UnitFacts, replay) -> str:
    """What is to be recalled, in words."""
    path = replay.path
    if path.recall == "at once" or (path.recall == "repeat failed" and replay.repeat_failed):
        return f"recall: {path.recall_words}"
    words = "none needed: "
    if path.recall == "repeat failed":
        words += "the repeat passed" if replay.resolved_on else "unless the repeat is positive too"
        if path.implant_words:
            words += f"; {path.implant_words}"
        if _implants(unit, replay):
            words = f"recall implants: {path.implant_words}"
        return words
    return f"no recall is asked; {path.recall_words}" if path.recall_words else "no recall is asked by these rules"


def recall_needed(unit: UnitFacts, replay) -> bool:
    """Whether packs must be recalled under the path as far as it was walked."""
    path = replay.path
    if path.recall == "at once":
        return True
    return path.recall == "repeat failed" and (replay.repeat_failed is not None or _implants(unit, replay))


def _implants(unit: UnitFacts, replay) -> bool:
    """Whether the failed cycle held an implant."""
    failed = replay.failed
    if failed.implant:
        return True
    cycles = {t.cycle_number for t in unit.bio_tests if t.row.origin == failed.origin and t.cycle_number}
    return any(load.implant and load.cycle_number in cycles for load in unit.loads)


def steps_of(unit: UnitFacts, replay, as_of: date) -> tuple[Step, ...]:
    """Each step the rules name, in their order, with follow-ups of other actions at the end."""
    asked = [_step(unit, replay, s, as_of) for s in replay.path.steps]
    named = {s.action for s in replay.path.steps}
    others = [f for f in in_order(replay.followups) if f.action not in named]
    asked += [_own_step(f, replay, as_of) for f in others]
    return tuple(asked)


def _step(unit: UnitFacts, replay, step, as_of: date) -> Step:
    mine = [f for f in in_order(replay.followups) if f.action == step.action]
    done_on, proof, note, needed = _by_proof(unit, replay, step)
    if step.when == "repeat failed" and replay.repeat_failed is None and step.action != "recall packs":
        needed = False
    finished = [f for f in mine if f.done_on is not None]
    if finished:
        last = finished[-1]
        proof = (*proof, *(_evidence(f) for f in finished))
        done_on = done_on or last.done_on
    if step.action in ("retest", "requalify", "return") and finished and replay.resolved_on is None:
        done_on, note = None, note or "signed, but the tests that prove it are missing"
    if done_on is None and not needed:
        return Step(step.action, step.title, NOT_NEEDED, None, proof, step.source, note)
    due = [f.due_on for f in mine if f.due_on is not None]
    late = bool(due) and (done_on or as_of) > max(due)
    if late:
        note = f"{note}; " if note else ""
        note += f"was due {max(due).isoformat()}"
    state = LATE if late else (DONE if done_on else OPEN)
    return Step(step.action, step.title, state, done_on, proof, step.source, note)


def _by_proof(unit: UnitFacts, replay, step):
    """(done on, evidence, note, needed) as far as facts other than follow-ups tell."""
    action = step.action
    if action == "withdraw":
        return _withdrawn(unit, replay)
    if action == "retest":
        return _retest(replay)
    if action == "recall packs":
        return None, (), recall_words(unit, replay), recall_needed(unit, replay)
    if action == "find cause" and replay.cause:
        return replay.cause[0], (replay.cause[1],), "", True
    if action == "requalify":
        proof = tuple(t.evidence for t in replay.return_passes)
        if replay.repeat_failed is None:
            return None, (), "", False
        return replay.resolved_on, proof, replay.needs, True
    if action == "return":
        return _returned(unit, replay)
    return None, (), "", True


def _withdrawn(unit: UnitFacts, replay):
    known, end = replay.failed.known_on, replay.resolved_on
    for event in in_order(unit.events):
        day = event.row.happened_on
        if event.kind == "withdrawn" and known <= day and (end is None or day <= end):
            return (
                day,
                (Evidence(event.row.ref, f"withdrawn on {day.isoformat()}: {event.reason}"),),
                "",
                True,
            )
    return None, (), f"by the rules out of service from {known.isoformat()}", True


def _retest(replay):
    if replay.repeat_failed is not None:
        failed = replay.repeat_failed
        return failed.known_on, (failed.evidence,), "the repeat failed too", True
    proof = tuple(t.evidence for t in replay.repeat_passes)
    return replay.resolved_on, proof, "" if replay.resolved_on else replay.needs, True


def _returned(unit: UnitFacts, replay):
    if replay.resolved_on is None:
        return None, (), replay.needs, True
    for event in in_order(unit.events):
        if event.kind == "returned" and event.row.happened_on >= replay.resolved_on:
            day = event.row.happened_on
            return day, (Evidence(event.row.ref, f"returned on {day.isoformat()}: {event.reason}"),), "", True
    signed = any(f.action == "return" and f.done_on for f in replay.followups)
    note = "" if signed else "proven by the tests; no return is signed"
    return replay.resolved_on, (), note, True


def _own_step(followup: FollowUpFact, replay, as_of: date) -> Step:
    due = followup.due_on
    late = due is not None and (followup.done_on or as_of) > due
    state = LATE if late else (DONE if followup.done_on else OPEN)
    note = f"was due {due.isoformat()}" if late else ""
    proof = (_evidence(followup),)
    return Step(followup.action, followup.text, state, followup.done_on, proof, replay.path.source, note)


def _evidence(followup: FollowUpFact) -> Evidence:
    row = followup.done_row or followup.row
    day = f" on {followup.done_on.isoformat()}" if followup.done_on else ""
    by = f" by {followup.done_by}" if followup.done_by else ""
    outcome = followup.outcome or followup.text
    return Evidence(row.ref, f"{followup.action}{day}{by}: {outcome}")
