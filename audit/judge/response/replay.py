"""From failure to return, replayed from facts, whether or not anybody opened a case.

A failing fact opens a case on the day it was known. The unit is proven again by what the rules ask: repeats in a row
run after the failure was known; after a failed repeat, the cause and then tests in a row, for each cycle type in use
where the rules say so. The unit is proven on the day the last needed result was known. A test already incubating
when the failure became known is evidence, not the repeat.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date
from heapq import merge

from audit.facts import CaseFact, FollowUpFact, UnitFacts
from audit.judge.biological import FAILED, PASSED
from audit.judge.judgement import Evidence, TestVerdict
from audit.regimes.model import WITHOUT_VACUUM, FailurePath, Regime

from .cycle_types import named, types_in_use
from .in_a_row import ANY, PassRows
from .trials import AIR_LEAK, AIR_REMOVAL, Results, Trial, failed_kinds

DYNAMIC = "dynamic air removal"
_CAUSES = ("find cause", "repair", "confine")


@dataclass(slots=True)
class Replay:
    """The state of one case while it is replayed."""

    path: FailurePath
    failed: Trial
    rows: list[CaseFact] = field(default_factory=list)
    followups: tuple[FollowUpFact, ...] = ()
    failed_again: Trial | None = None  # the first failure among the repeats
    repeat_failed: Trial | None = None  # the same, where the rules then ask a cause and tests in a row
    repeat_passes: tuple[Trial, ...] = ()  # in a row so far, or those that proved it
    cause: tuple[date, Evidence] | None = None
    return_passes: tuple[Trial, ...] = ()
    air_passes: tuple[Trial, ...] = ()  # air-removal tests in a row beside the biological ones
    cycle_types: tuple[str, ...] = ()  # those to be proven one by one; () where types are not told apart
    passes: int = 0  # in a row so far; of several cycle types that with the fewest
    resolved_on: date | None = None
    also_failed: list[Trial] = field(default_factory=list)
    needs: str = ""  # what is missing, in words


@dataclass(frozen=True, slots=True)
class _Known:
    """What all cases of a unit are replayed from."""

    unit: UnitFacts
    verdicts: dict[str, TestVerdict]
    causes: list[tuple[date, Evidence]]
    cases: dict[str, list[CaseFact]]  # by the origin of the test that opened them


def replay_all(unit: UnitFacts, regime: Regime, verdicts: dict[str, TestVerdict], causes) -> list[Replay]:
    """Each case of the unit, in the order the failures became known. `causes`: (day, Evidence) of repairs done.

    Where nothing failed nothing is replayed: the cost is one look at each result.
    """
    failed = failed_kinds(unit, verdicts)
    if unit.equipment_type in WITHOUT_VACUUM:
        failed -= {AIR_REMOVAL, AIR_LEAK}
    if not failed:
        return []
    known = _Known(unit, verdicts, list(causes), _cases_by_opener(unit))
    out = [r for path in regime.failure if path.kind in failed for r in _replay_kind(known, path)]
    return sorted(out, key=lambda r: (r.failed.known_on, r.failed.day))


def opener_of(unit: UnitFacts, case: CaseFact) -> str:
    """The origin of the test that opened the case; a case may name the test or the reading that failed."""
    return _reading_owners(unit).get(case.opened_by, case.opened_by)


def _reading_owners(unit: UnitFacts) -> dict[str, str]:
    return {r.row.origin: t.row.origin for t in unit.bio_tests for r in t.readings}


def _cases_by_opener(unit: UnitFacts) -> dict[str, list[CaseFact]]:
    owners = _reading_owners(unit) if unit.cases else {}
    out: dict[str, list[CaseFact]] = {}
    for case in unit.cases:
        out.setdefault(owners.get(case.opened_by, case.opened_by), []).append(case)
    return out


def _replay_kind(known: _Known, path: FailurePath) -> Iterator[Replay]:
    own = Results(known.unit, known.verdicts, path.kind)
    waiting = sorted(own.failed(), key=_when)
    while waiting:
        failed, *waiting = waiting
        replay = Replay(path, failed)
        # Follow-ups may stand on the case row of a failed repeat; until the end is known all are looked at.
        replay.followups = _followups(_rows_of(known, path.kind, [failed, *waiting]))
        _walk(known, replay, own)
        replay.also_failed = [t for t in waiting if _belongs(replay, t)]
        waiting = [t for t in waiting if not _belongs(replay, t)]
        replay.rows = _rows_of(known, path.kind, [failed, *replay.also_failed])
        replay.followups = _followups(replay.rows)
        yield replay


def _rows_of(known: _Known, kind: str, failures: list[Trial]) -> list[CaseFact]:
    """The case rows of the failures; a cycle may have opened one of each kind."""
    if not known.cases:
        return []
    return [case for t in failures for case in known.cases.get(t.origin, ()) if case.kind == kind]


def _followups(rows: list[CaseFact]) -> tuple[FollowUpFact, ...]:
    return tuple(f for c in rows for f in c.followups)


def _belongs(replay: Replay, other: Trial) -> bool:
    """A further failure belongs to the case unless it became known after the unit was proven."""
    if replay.resolved_on is None or other.known_on < replay.resolved_on:
        return True
    proof = replay.return_passes or replay.repeat_passes
    return other.known_on == replay.resolved_on and bool(proof) and other.day < max(t.day for t in proof)


# ------------------------------------------------------------------------------------------------ the walk


def _walk(known: _Known, replay: Replay, own: Results) -> None:
    """Fill in how far the path was walked."""
    path, failed = replay.path, replay.failed
    start = failed.known_on
    if path.cause_before_repeat:
        replay.cause = _cause(known, replay, failed.known_on)
        if replay.cause is None:
            replay.needs = "an inspection, a repair or the cause"
            return
        start = replay.cause[0]
    rows = PassRows(path.repeats)
    worst = _repeat(rows, replay, _after(own, failed, start))
    replay.repeat_passes, replay.passes = rows.row(), rows.least()
    proven_on = rows.proven_on
    if proven_on is not None and (worst is None or proven_on < worst.known_on or not path.return_passes):
        replay.resolved_on = proven_on
        replay.failed_again = worst if worst is not None and _belongs(replay, worst) else None
        return
    replay.failed_again = worst
    if worst is None or not path.return_passes:
        chamber = f", chamber {path.repeat_chamber}" if path.repeat_chamber != "any" else ""
        replay.needs = f"{path.repeats - rows.least()} more passing repeat(s){chamber}"
        return
    replay.repeat_failed, replay.repeat_passes, replay.passes = worst, (), 0
    _walk_return(known, replay, own)


def _repeat(rows: PassRows, replay: Replay, trials: Iterator[Trial]) -> Trial | None:
    """Grow the row of repeats until it is proven beyond doubt; the failure known first on the way, or None."""
    path, failed = replay.path, replay.failed
    worst: Trial | None = None
    for trial in trials:
        if rows.proven_on is not None and trial.day > rows.proven_on:
            break
        if trial.result == FAILED:
            worst = trial if worst is None or _when(trial) < _when(worst) else worst
            _fail(rows, trial, rows.proven_on)
        elif not path.same_cycle_type or _same_type(trial, failed):
            _count(rows, trial, path.needs_normal, path.repeat_chamber, ANY)
    return worst


def _same_type(trial: Trial, failed: Trial) -> bool:
    return named(trial.cycle_type) == named(failed.cycle_type)


def _when(trial: Trial) -> tuple[date, date]:
    return trial.known_on, trial.day


def _after(own: Results, failed: Trial, start: date) -> Iterator[Trial]:
    """The runs after a failure was known, from the day `start` on, in order."""
    return (t for t in own.since(max(start, failed.known_on)) if t.after(failed))


def _fail(rows: PassRows, trial: Trial, proven_on: date | None) -> None:
    """Start again, unless the failure became known once the unit was proven: that opens a case of its own."""
    if proven_on is None or trial.known_on < proven_on:
        rows.failed()


def _count(rows: PassRows, trial: Trial, normal: bool, chamber: str, group: str) -> None:
    """Let one run that did not fail count, or break the row."""
    if trial.result != PASSED or trial.abnormal:
        rows.broken(group)
    elif (trial.normal or not normal) and chamber in ("any", trial.chamber):
        rows.passed(group, trial.known_on, trial)


def _walk_return(known: _Known, replay: Replay, own: Results) -> None:
    """After a failed repeat: the cause, then the tests in a row."""
    path, worst = replay.path, replay.repeat_failed
    replay.cause = _cause(known, replay, worst.known_on)
    if path.return_each_cycle_type:
        used = types_in_use(known.unit, replay.failed.day, replay.failed.known_on)
        replay.cycle_types = tuple(sorted({*used, named(replay.failed.cycle_type)}))
    if replay.cause is None:
        replay.needs = "the cause found or repaired"
        return
    rows = PassRows(path.return_passes, replay.cycle_types or (ANY,))
    air = PassRows(path.return_air_removal) if _asks_air(known.unit, path) else None
    replay.resolved_on = _both(known, replay, rows, air, _after(own, worst, replay.cause[0]))
    replay.return_passes, replay.passes = rows.row(), rows.least()
    needs = _needs(rows, path)
    if air is not None:
        replay.air_passes = air.row()
        needs += [f"{n} more passing air-removal test(s) in a row" for _, n in air.missing()]
    replay.needs = " and ".join(needs)


def _asks_air(unit: UnitFacts, path: FailurePath) -> bool:
    return bool(path.return_air_removal) and unit.equipment_type == DYNAMIC


def _both(known: _Known, replay: Replay, rows: PassRows, air: PassRows | None, own: Iterator[Trial]) -> date | None:
    """Grow both rows side by side; the day on which both were proven, no failure between, or None.

    An air-removal test that fails on that very day opens no case under these steps, and may have come before the last
    result: its row starts again.
    """
    beside = [] if air is None else Results(known.unit, known.verdicts, AIR_REMOVAL).since(replay.cause[0])
    proven_on: date | None = None
    for trial in merge(own, beside, key=lambda t: t.day):
        if proven_on is not None and trial.day > proven_on:
            break
        row = air if trial.kind == AIR_REMOVAL and air is not None else rows
        if trial.result == FAILED and row is air:
            air.failed()
        elif trial.result == FAILED:
            _fail(rows, trial, proven_on)
        elif row is air:
            _count(air, trial, False, "any", ANY)
        else:
            _count_return(rows, replay, trial)
        days = [r.proven_on for r in (rows, air) if r is not None]
        proven_on = None if None in days else max(days)
    return proven_on


def _count_return(rows: PassRows, replay: Replay, trial: Trial) -> None:
    path = replay.path
    if replay.cycle_types:
        _count(rows, trial, path.needs_normal, path.return_chamber, named(trial.cycle_type))
    elif not path.same_cycle_type or _same_type(trial, replay.failed):
        _count(rows, trial, path.needs_normal, path.return_chamber, ANY)


def _needs(rows: PassRows, path: FailurePath) -> list[str]:
    chamber = f", chamber {path.return_chamber}" if path.return_chamber != "any" else ""
    return [
        f"{n} more negative test(s) in a row{chamber}" + (f" in cycle type {cycle_type!r}" if cycle_type else "")
        for cycle_type, n in rows.missing()
    ]


def _cause(known: _Known, replay: Replay, since: date) -> tuple[date, Evidence] | None:
    """The first cause found or repair done since a day, inclusive, with its evidence."""
    found = [
        (f.done_on, Evidence((f.done_row or f.row).ref, f"{f.action}: {f.outcome or f.text}"))
        for f in replay.followups
        if f.action in _CAUSES and f.done_on is not None and f.done_on >= since
    ]
    found += [c for c in known.causes if c[0] >= since]
    return min(found, key=lambda c: c[0], default=None)
