"""One walk along a failure path: how far it was walked, and which further failures belong to the same walk.

A failure counts from the day it was known. One that became known before the unit was proven starts the row again:
what proves the unit was run after each of them was known. On the day of the proof itself, one that is not shown to
have been run after it counts too. One that became known later opens a case of its own.

Results of one day are taken in the order that permits least, unless both times show another: a result that is no pass
(yet) parts all other results of its day.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from itertools import groupby

from audit.facts import UnitFacts
from audit.judge.biological import FAILED, PASSED, ran_after
from audit.judge.judgement import TestVerdict
from audit.regimes.model import FailurePath

from ..cycle_types import named, types_in_use
from .causes import Cause, cause_after, cause_words, causes_told
from .in_a_row import ANY, PassRows
from .trials import AIR_REMOVAL, BIOLOGICAL, Results, Trial

DYNAMIC = "dynamic air removal"


@dataclass(frozen=True, slots=True)
class Known:
    """What all cases of a unit are replayed from."""

    unit: UnitFacts
    verdicts: dict[str, TestVerdict]
    repairs: list[Cause]
    day_of: Callable[[datetime], date] = datetime.date  # the clinic's own day at a moment; UTC's where none is given


def walk(known: Known, replay, own: Results, waiting: Iterable[Trial]) -> None:
    """Fill in how far the path of `replay` was walked. `waiting`: further failures, by the day they were known."""
    others = [t for t in waiting if _of_this_walk(replay, t)]
    causes = [*causes_told(replay.followups, known.day_of), *known.repairs]
    _repeats(known, replay, own, others, causes)


def _of_this_walk(replay, other: Trial) -> bool:
    """A result of another cycle type is no repeat where the rules ask the same one, but may show that it failed."""
    return _same_type(replay, other) or other.after(replay.failed, first=True)


def _same_type(replay, trial: Trial) -> bool:
    return not replay.path.same_cycle_type or named(trial.cycle_type) == named(replay.failed.cycle_type)


def proven_by(replay, trial: Trial) -> bool:
    """Whether what proves the unit in this case proves it of the cycle type of a further failure too."""
    return _same_type(replay, trial) or named(trial.cycle_type) in replay.cycle_types


# ------------------------------------------------------------------------------------------------ the repeats


def _repeats(known: Known, replay, own: Results, others: list[Trial], causes: list[Cause]) -> None:
    path = replay.path
    while True:
        failures = [replay.failed, *replay.respected]
        asks = path.cause_before_repeat or malfunction(failures)
        replay.cause = cause_after(path, causes, failures, replay.failed_again is not None) if asks else None
        rows = PassRows(path.repeats)
        if not asks or replay.cause is not None:
            count = _Counting(failures, replay.cause, path.needs_normal, path.repeat_chamber)
            _grow(rows, own, count, lambda t: ANY if _same_type(replay, t) else None)
        further = _next(others, failures, rows.proven_on, rows.row())
        if further is None:
            break
        replay.respected.append(further)
        if _is_repeat(replay, further, asks):
            replay.failed_again = replay.failed_again or further
            if path.return_passes:
                replay.repeat_failed = further
                _return(known, replay, own, others, causes)
                return
    replay.repeat_passes, replay.passes, replay.resolved_on = rows.row(), rows.least(), rows.proven_on
    if replay.resolved_on is None:
        replay.needs = _repeat_needs(path, rows, asks and replay.cause is None, path.cause_before_repeat)


def malfunction(failures: Iterable[Trial]) -> bool:
    """Whether gauges or indicators of a positive cycle failed too: then it is no false alarm, and repeats alone do
    not answer it (the reverse of CDC 2003, MMWR 52 RR-17, narrative)."""
    return any(t.kind == BIOLOGICAL and t.abnormal for t in failures)


def _is_repeat(replay, trial: Trial, asks: bool) -> bool:
    """Whether a failure is one among the repeats: after the failure, and not shown to lie before the cause."""
    if not trial.after(replay.failed, first=True):
        return False
    if not asks:
        return True
    cause = replay.cause
    return cause is not None and ran_after(trial.day, trial.at, cause.day, cause.at) is not False


def _repeat_needs(path: FailurePath, rows: PassRows, no_cause: bool, inspected: bool) -> str:
    if no_cause:
        if path.cause_asks == "both":
            return cause_words(path)
        why = "" if inspected else ": gauges or indicators of the failed cycle failed too"
        return f"an inspection, a repair or the cause{why}"
    chamber = f", chamber {path.repeat_chamber}" if path.repeat_chamber != "any" else ""
    return f"{path.repeats - rows.least()} more passing repeat(s){chamber}"


# ------------------------------------------------------------------------------------------------ the return


def _return(known: Known, replay, own: Results, others: list[Trial], causes: list[Cause]) -> None:
    """After a failed repeat: the cause, then the tests in a row; a failure among them asks a cause again."""
    path = replay.path
    asks_air = bool(path.return_air_removal) and known.unit.equipment_type == DYNAMIC
    replay.repeat_passes, refuted = (), False
    while True:
        failures = [replay.failed, *replay.respected]
        replay.cause = cause_after(path, causes, failures, refuted=True)
        replay.cycle_types = _types(known, replay, failures)
        rows = PassRows(path.return_passes, replay.cycle_types or (ANY,))
        air = PassRows(path.return_air_removal) if asks_air else None
        proven_on = _proven(known, replay, own, rows, air) if replay.cause is not None else None
        further = _next(others, failures, proven_on, (*rows.row(), *(air.row() if air else ())))
        if further is None:
            break
        refuted = refuted or replay.cause is not None
        replay.respected.append(further)
    replay.resolved_on, replay.return_passes, replay.passes = proven_on, rows.row(), rows.least()
    if replay.cause is None:
        replay.return_passes, replay.passes = (), 0
        last = max(t.known_on for t in failures).isoformat()
        replay.needs = cause_words(path) + (f" again, after the failure known {last}" if refuted else "")
        return
    needs = _return_needs(rows, path)
    if air is not None:
        replay.air_passes = air.row()
        needs += [f"{n} more passing air-removal test(s) in a row" for _, n in air.missing()]
    replay.needs = " and ".join(needs)


def _types(known: Known, replay, failures: list[Trial]) -> tuple[str, ...]:
    """The cycle types to be proven one by one: those in use and those that failed; () where not told apart."""
    if not replay.path.return_each_cycle_type:
        return ()
    used = types_in_use(known.unit, replay.failed.day, replay.failed.known_on)
    return tuple(sorted({*used, *(named(t.cycle_type) for t in failures)}))


def _proven(known: Known, replay, own: Results, rows: PassRows, air: PassRows | None) -> date | None:
    """Grow both rows; the day on which both were proven, or None."""
    path, failures = replay.path, [replay.failed, *replay.respected]
    count = _Counting(failures, replay.cause, path.needs_normal, path.return_chamber)

    def group(trial: Trial) -> str | None:
        if replay.cycle_types:
            return named(trial.cycle_type)
        return ANY if _same_type(replay, trial) else None

    _grow(rows, own, count, group)
    if air is None:
        return rows.proven_on
    return _beside(air, Results(known.unit, known.verdicts, AIR_REMOVAL), replay.cause, rows.proven_on)


def _beside(air: PassRows, trials: Results, cause: Cause, other_on: date | None) -> date | None:
    """Grow the row of air-removal tests; the first day by whose end it is proven and the other row is too, or None.

    An air-removal test that fails by the end of that day starts its row again.
    """
    for day, same in groupby(trials.since(cause.day), key=lambda t: t.day):
        if other_on is not None and air.proven_on is not None and day > max(other_on, air.proven_on):
            break
        for trial in sorted(same, key=_failures_last):
            if trial.result == FAILED:
                air.failed()
            elif trial.after_cause(cause.day, cause.done_by):
                air.passed(ANY, day, trial)
    return None if other_on is None or air.proven_on is None else max(other_on, air.proven_on)


def _failures_last(trial: Trial) -> tuple:
    """Passes without a time first, then by time, failures without a time last."""
    failed = trial.result == FAILED
    rank = 1 if trial.at is not None else 2 if failed else 0
    return rank, trial.at.timestamp() if trial.at is not None else 0, failed


def _return_needs(rows: PassRows, path: FailurePath) -> list[str]:
    chamber = f", chamber {path.return_chamber}" if path.return_chamber != "any" else ""
    return [
        f"{n} more negative test(s) in a row{chamber}" + (f" in cycle type {cycle_type!r}" if cycle_type else "")
        for cycle_type, n in rows.missing()
    ]


# ------------------------------------------------------------------------------------------------ counting


@dataclass(frozen=True, slots=True)
class _Counting:
    """Which results count in a row: after each of the failures and the cause, and as the path asks."""

    failures: list[Trial]
    cause: Cause | None
    normal: bool
    chamber: str

    @property
    def start(self) -> date:
        """The first day that can count."""
        known = max(t.known_on for t in self.failures)
        return known if self.cause is None else max(known, self.cause.day)

    def counts(self, trial: Trial) -> bool:
        """Whether a result is a pass that counts."""
        if trial.result != PASSED or not (trial.normal or not self.normal) or trial.abnormal:
            return False
        cause = self.cause
        if not (cause is None or trial.after_cause(cause.day, cause.done_by)):
            return False
        after = all(trial.after(failed, first=n == 0) for n, failed in enumerate(self.failures))
        return after and self.chamber in ("any", trial.chamber)

    def breaks(self, trial: Trial) -> bool:
        """Whether a result is no pass (yet): awaited, not normal, or failed but not known so when the row stood."""
        return (trial.result != PASSED or trial.abnormal) and all(trial.origin != f.origin for f in self.failures)


def _grow(rows: PassRows, own: Results, count: _Counting, group: Callable[[Trial], str | None]) -> None:
    """Let the results from the first day on count, day by day, until the row is proven beyond doubt."""
    for day, same in groupby(own.since(count.start), key=lambda t: t.day):
        if rows.proven_on is not None and day > rows.proven_on:
            return
        named_rows: dict[str, list[Trial]] = {}
        for trial in same:
            name = group(trial)
            if name is not None and (count.counts(trial) or count.breaks(trial)):
                named_rows.setdefault(name, []).append(trial)
        for name, trials in named_rows.items():
            for trial in _least(trials, count):
                if trial is None:
                    rows.broken(name)
                else:
                    rows.passed(name, trial.known_on, trial)


def _least(trials: list[Trial], count: _Counting) -> Iterator[Trial | None]:
    """The results of one day and row in the order that permits least: a pass, or None where the row breaks."""
    breakers = sum(1 for t in trials if count.breaks(t))
    if not breakers:
        yield from trials
    elif None not in (times := [t.at for t in trials]) and len(set(times)) == len(times):
        for trial in sorted(trials, key=lambda t: t.at):
            yield None if count.breaks(trial) else trial
    else:
        yield None
        for trial in trials:
            if not count.breaks(trial):
                yield trial
                yield None


def _next(others: list[Trial], failures: list[Trial], proven_on: date | None, proof: tuple) -> Trial | None:
    """The first further failure, by the day it was known, that counts before the unit was proven; None for none."""
    held = {t.origin for t in failures}
    for trial in others:
        if proven_on is not None and trial.known_on > proven_on:
            return None
        if trial.origin not in held and not shown_later(trial, proven_on, proof):
            return trial
    return None


def shown_later(failed: Trial, proven_on: date | None, proof: tuple) -> bool:
    """Whether a failure known by the day of the proof is shown to come after it: of that day, run after its tests."""
    if proven_on is None or failed.known_on < proven_on:
        return False
    last = max((t.day for t in proof), default=proven_on)
    if failed.day != last:
        return failed.day > last
    return all(ran_after(failed.day, failed.at, t.day, t.at) for t in proof if t.day == last)
