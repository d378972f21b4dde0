"""What is to be recalled after a failure, and from when to when.

Where the rules ask no recall once a repeat passed, that rests on the mechanical and chemical results of the failed
cycle: "if the mechanical and chemical indicators demonstrate that the sterilizer is functioning correctly" a single
positive probably shows no malfunction (CDC 2003, MMWR 52 RR-17, narrative). Not recorded is not demonstrated: then
packs are recalled back to the last negative test.

Implants are recalled whatever the rules ask of other packs: CDC 2008 recommendation 16 leaves no recall after a
single positive test to objects other than implants. Loads with implants are named: after a positive spore test all
since the last negative one, after another failure of a cycle those of the failed cycle. Where the rules ask no recall
if the cause is known at once and confined to one load (ST79:2006, recall), a follow-up "confine" says so; a repeat
that fails shows that it was not confined. It is a decision, as a release is: what somebody else entered in the name
of who decided limits nothing (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from audit.facts import FollowUpFact, LoadFact, Ordered, UnitFacts, in_order
from audit.judge.biological import cycle_key

from .cycle_results import FAIL, PASS
from .replay import Replay
from .trials import BIOLOGICAL, CHEMICAL, MECHANICAL, WET_PACKS, Results, Trial
from .window import loads_after, loads_of_day, loads_up_to

IMPLANTS = "implants are always recalled"
_OF_CYCLES = (BIOLOGICAL, MECHANICAL, CHEMICAL, WET_PACKS)
_TESTS = {"biological": "negative spore test", "air removal": "passing air-removal test"}


def recall_words(unit: UnitFacts, replay: Replay, verdicts) -> str:
    """What is to be recalled, in words, with its window where packs are recalled; begins with "recall" or "none"."""
    path = replay.path
    implants = _implant_words(unit, replay, verdicts)
    if _asked(replay):
        return "; ".join(w for w in (f"recall: {_scope(unit, replay, verdicts)}", implants) if w)
    if implants:
        return f"recall implants: {path.implant_words or IMPLANTS}; {implants}"
    if path.recall == "repeat failed":
        words = "none needed: the repeat passed" if replay.resolved_on else "none needed: unless the repeat fails too"
        if replay.path.kind == BIOLOGICAL and not replay.resolved_on:
            words = "none needed: unless the repeat is positive too"
        return f"{words}; {path.implant_words}" if path.implant_words else words
    none = "none to recall under these rules"
    return f"{none}; {path.recall_words}" if path.recall_words else none


def recall_needed(unit: UnitFacts, replay: Replay, verdicts) -> bool:
    """Whether packs must be recalled under the path as far as it was walked."""
    return _asked(replay) or bool(_implant_words(unit, replay, verdicts))


def _implant_words(unit: UnitFacts, replay: Replay, verdicts) -> str:
    """The loads with implants, each named by cycle and day; "" for none."""
    if replay.path.kind not in _OF_CYCLES:
        return ""
    named = {_cycle(t.cycle_number, t.day): None for t in replay.failures if t.implant}
    named |= {
        _cycle(load.cycle_number, load.row.happened_on): None for load in _implant_loads(unit, replay, verdicts)
    }
    return f"implant loads: {', '.join(named)}" if named else ""


def _implant_loads(unit: UnitFacts, replay: Replay, verdicts) -> Iterable[LoadFact]:
    """Those of the failed cycles; after a positive spore test all since the last negative one."""
    if replay.path.kind != BIOLOGICAL:
        return [x for t in replay.failures for x in loads_of_day(unit, t.day) if x.implant and _of_cycle(x, t)]
    implants = Ordered([x for x in loads_up_to(unit, _known(replay)) if x.implant])
    if not implants:
        return []
    good = Results(unit, verdicts, BIOLOGICAL).last_pass(replay.failures)
    return list(loads_after(implants, good))


def _of_cycle(load: LoadFact, trial: Trial) -> bool:
    return trial.run[2] != "" and cycle_key(load) == trial.run[2]


def confined(replay: Replay) -> FollowUpFact | None:
    """The follow-up that says the cause was known at once and confined to one load, where it still stands."""
    if not replay.path.unless_confined or replay.failed_again is not None:
        return None
    said = [f for f in in_order(replay.followups) if f.action == "confine" and f.done_on is not None and not f.told]
    return said[0] if said else None


def not_shown_right(replay: Replay) -> str:
    """Why the other results of the failed cycle do not show that the unit worked, in words; "" where they do."""
    for name, told in (("mechanical", "mechanical"), ("chemical", "chemical")):
        results = {getattr(t, told) for t in replay.failures}
        if FAIL in results:
            return f"the {name} result of the failed cycle failed too"
        if results != {PASS}:
            return f"the {name} result of the failed cycle is not recorded"
    return ""


def _asked(replay: Replay) -> bool:
    recall = replay.path.recall
    if recall == "at once":
        return True
    return recall == "repeat failed" and (replay.failed_again is not None or bool(not_shown_right(replay)))


def _scope(unit: UnitFacts, replay: Replay, verdicts) -> str:
    path, failed = replay.path, replay.failed
    own = f"only the load of the failed test ({_cycle(failed.cycle_number, failed.day)})"
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
        why = not_shown_right(replay) if path.recall == "repeat failed" and replay.failed_again is None else ""
        words += f"; {why}" if why else ""
    implant = any(t.implant or _implant_of(unit, t) for t in replay.failures) and path.kind in _OF_CYCLES
    return f"{words}; {path.implant_words or IMPLANTS}" if implant else words


def _implant_of(unit: UnitFacts, trial: Trial) -> bool:
    return any(x.implant and _of_cycle(x, trial) for x in loads_of_day(unit, trial.day))


def window_words(unit: UnitFacts, replay: Replay, verdicts) -> str:
    """From which good test (exclusive) to which day (inclusive) packs are in doubt."""
    good = Results(unit, verdicts, replay.path.kind, replay.signed).last_pass(replay.failures)
    to = _known(replay)
    name = _TESTS.get(replay.path.kind, "passing result")
    if good is None:
        return f"all on record up to {to.isoformat()}, as no {name} is on record before it"
    return f"after the last {name} of {good.day.isoformat()}, up to {to.isoformat()}"


def _known(replay: Replay) -> date:
    """The day the failure was known, with which loads end to be run in good faith."""
    return replay.failed.known_on


def _cycle(number: str, day: date) -> str:
    cycle = f"cycle {number} of " if number else ""
    return f"{cycle}{day.isoformat()}"
