"""What is to be recalled after a failure, and from when to when.

Implants in the failed cycle are recalled whatever the rules ask of other packs: CDC 2008 recommendation 16 leaves no
recall after a single positive test to objects other than implants. Where the rules ask no recall if the cause is
known at once and confined to one load (ST79:2006, recall), a follow-up "confine" says so; a repeat that fails shows
that it was not confined.
"""

from __future__ import annotations

from bisect import bisect_left
from datetime import date

from audit.facts import FollowUpFact, UnitFacts, in_order

from .replay import Replay
from .trials import BIOLOGICAL, MECHANICAL, Trial, last_pass

IMPLANTS = "implants in the failed cycle are always recalled"
_TESTS = {"biological": "negative spore test", "air removal": "passing air-removal test"}


def recall_words(unit: UnitFacts, replay: Replay, verdicts) -> str:
    """What is to be recalled, in words, with its window where packs are recalled."""
    path = replay.path
    if _asked(replay):
        return f"recall: {_scope(unit, replay, verdicts)}"
    if has_implant(unit, replay):
        return f"recall implants: {path.implant_words or IMPLANTS}"
    if path.recall == "repeat failed":
        words = "none needed: the repeat passed" if replay.resolved_on else "none needed: unless the repeat fails too"
        if replay.path.kind == BIOLOGICAL and not replay.resolved_on:
            words = "none needed: unless the repeat is positive too"
        return f"{words}; {path.implant_words}" if path.implant_words else words
    return f"no recall is asked; {path.recall_words}" if path.recall_words else "no recall is asked by these rules"


def recall_needed(unit: UnitFacts, replay: Replay) -> bool:
    """Whether packs must be recalled under the path as far as it was walked."""
    return _asked(replay) or has_implant(unit, replay)


def has_implant(unit: UnitFacts, replay: Replay) -> bool:
    """Whether a failed cycle of the case held an implant, by its test or by the load of the same day and cycle."""
    if replay.path.kind not in (BIOLOGICAL, MECHANICAL):
        return False
    return any(t.implant or _implant_load(unit, t) for t in (replay.failed, *replay.also_failed))


def confined(replay: Replay) -> FollowUpFact | None:
    """The follow-up that says the cause was known at once and confined to one load, where it still stands."""
    if not replay.path.unless_confined or replay.failed_again is not None:
        return None
    said = [f for f in in_order(replay.followups) if f.action == "confine" and f.done_on is not None]
    return said[0] if said else None


def _asked(replay: Replay) -> bool:
    recall = replay.path.recall
    return recall == "at once" or (recall == "repeat failed" and replay.failed_again is not None)


def _scope(unit: UnitFacts, replay: Replay, verdicts) -> str:
    path, failed = replay.path, replay.failed
    own = f"only the load of the failed test ({_cycle(failed)})"
    said = confined(replay)
    if said is not None:
        words = f"{own}: cause known at once and confined to it, {said.done_on.isoformat()}"
        words += f" ({said.outcome or said.text})" if said.outcome or said.text else ""
    elif path.recall_scope == "the load":
        words = f"{own}: {path.recall_words}" if path.recall_words else own
    else:
        words = (
            f"{path.recall_words or 'everything since the last good test'}; {window_words(unit, replay, verdicts)}"
        )
    return f"{words}; {path.implant_words or IMPLANTS}" if has_implant(unit, replay) else words


def window_words(unit: UnitFacts, replay: Replay, verdicts) -> str:
    """From which good test (exclusive) to which day (inclusive) packs are in doubt."""
    good = last_pass(unit, verdicts, (replay.failed, *replay.also_failed))
    to = replay.failed.known_on
    name = _TESTS.get(replay.path.kind, "passing result")
    if good is None:
        return f"all on record up to {to.isoformat()}, as no {name} is on record before it"
    return f"after the last {name} of {good.day.isoformat()}, up to {to.isoformat()}"


def _cycle(failed: Trial) -> str:
    cycle = f"cycle {failed.cycle_number} of " if failed.cycle_number else ""
    return f"{cycle}{failed.day.isoformat()}"


def _implant_load(unit: UnitFacts, trial: Trial) -> bool:
    if not trial.cycle_number:
        return False
    return any(load.implant and load.cycle_number == trial.cycle_number for load in _of_day(unit, trial.day))


def _of_day(unit: UnitFacts, day: date):
    loads = in_order(unit.loads)
    n = bisect_left(loads, day, key=lambda x: x.row.happened_on)
    while n < len(loads) and loads[n].row.happened_on == day:
        yield loads[n]
        n += 1
