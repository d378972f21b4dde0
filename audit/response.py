"""From failure to return, replayed from facts, whether or not anybody opened a case.

A failing fact opens a case on the day it was known. The unit is proven again by what the rules ask: repeats in a row
run after the failure was known; after a failed repeat, the cause and then tests in a row. In a row means: any
failure starts again at nought; another cycle type does not count; a test that counts for nothing (invalid) neither
counts nor breaks the row; a test still awaited breaks it until its result is known. The unit is proven on the day
the last needed result was known. A test already incubating when the failure became known is evidence, not the repeat.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime

from .biological import AWAITED, FAILED, PASSED, evidence_of, known_day, ran_after
from .facts import CaseFact, FollowUpFact, UnitFacts, in_order
from .judgement import Case, Evidence, TestVerdict
from .regimes.model import FailurePath, Regime
from .response_steps import TITLES, recall_words, steps_of

RETEST, REQUALIFY = "retest needed", "requalification needed"
RETURNED, ERROR = "returned", "entered in error"
_AFTER_FAILURE = ("repeat", "requalification", "after repair")


@dataclass(frozen=True, slots=True)
class Trial:
    """One result of one kind of test, as the replay sees it."""

    kind: str
    origin: str
    ref: str
    day: date
    at: datetime | None
    known_on: date | None  # None: not known yet
    known_at: datetime | None
    result: str  # passed, failed, awaited
    cycle_type: str
    chamber: str
    purpose: str
    normal: bool  # mechanical and chemical recorded as passing
    abnormal: bool  # one of them recorded as failing
    implant: bool
    evidence: Evidence


@dataclass(slots=True)
class Replay:
    """The state of one case while it is replayed."""

    path: FailurePath
    failed: Trial
    rows: list[CaseFact]
    followups: tuple[FollowUpFact, ...] = ()
    repeat_failed: Trial | None = None
    repeat_passes: tuple[Trial, ...] = ()  # in a row so far, or those that proved it
    cause: tuple[date, Evidence] | None = None
    return_passes: tuple[Trial, ...] = ()
    resolved_on: date | None = None
    also_failed: list[Trial] = field(default_factory=list)
    needs: str = ""  # what is missing, in words


def replay_all(unit: UnitFacts, regime: Regime, verdicts: dict[str, TestVerdict], causes) -> list[Replay]:
    """Each case of the unit, in the order the failures became known. `causes`: (day, Evidence) of repairs done."""
    trials = trials_of(unit, verdicts)
    out = []
    for path in regime.failure:
        own = [t for t in trials if t.kind == path.kind]
        if path.kind == "air removal" and unit.equipment_type == "gravity":
            continue
        if path.kind == "air leak" and unit.equipment_type == "gravity":
            continue
        out += _replay_kind(unit, path, own, trials, causes)
    return sorted(out, key=lambda r: (r.failed.known_on, r.failed.day))


def _replay_kind(unit, path, own, trials, causes) -> list[Replay]:
    waiting = sorted((t for t in own if t.result == FAILED), key=lambda t: (t.known_on, t.day))
    out = []
    while waiting:
        failed = waiting.pop(0)
        replay = Replay(path, failed, [])
        _join_later(unit, replay, waiting)
        _walk(unit, replay, own, trials, causes)
        for other in list(waiting):
            if _belongs(replay, other):
                waiting.remove(other)
                replay.also_failed.append(other)
        replay.rows = _rows_of(unit, replay)
        replay.followups = tuple(f for c in replay.rows for f in c.followups)
        out.append(replay)
    return out


def _join_later(unit: UnitFacts, replay: Replay, waiting: list[Trial]) -> None:
    """Follow-ups may be written on the case row of a failed repeat; until the end is known all are looked at."""
    origins = {replay.failed.origin, *(t.origin for t in waiting)}
    rows = [c for c in unit.cases if opener_of(unit, c) in origins]
    replay.followups = tuple(f for c in rows for f in c.followups)


def _rows_of(unit: UnitFacts, replay: Replay) -> list[CaseFact]:
    origins = [replay.failed.origin, *(t.origin for t in replay.also_failed)]
    return [c for origin in origins for c in unit.cases if opener_of(unit, c) == origin]


def opener_of(unit: UnitFacts, case: CaseFact) -> str:
    """The origin of the test that opened the case; a case may name the test or the reading that failed."""
    for test in unit.bio_tests:
        if any(r.row.origin == case.opened_by for r in test.readings):
            return test.row.origin
    return case.opened_by


def _belongs(replay: Replay, other: Trial) -> bool:
    """A further failure belongs to the case unless it became known after the unit was proven."""
    if replay.resolved_on is None or other.known_on < replay.resolved_on:
        return True
    proof = replay.return_passes or replay.repeat_passes
    return other.known_on == replay.resolved_on and bool(proof) and other.day < proof[-1].day


def _walk(unit: UnitFacts, replay: Replay, own: list[Trial], trials: list[Trial], causes) -> None:
    """Fill in how far the path was walked."""
    path, failed = replay.path, replay.failed
    after = [t for t in own if _is_after(t, failed)]
    start = failed.known_on
    if path.cause_before_repeat:
        replay.cause = _cause(replay.followups, causes, failed.known_on)
        if replay.cause is None:
            replay.needs = "an inspection, a repair or the cause"
            return
        start = replay.cause[0]
        after = [t for t in after if t.day >= start]
    row, proven_on = _row([t for t in after if _counts(t, failed, path)], path.repeats, path.needs_normal, "any")
    replay.repeat_passes = row
    worse = [t for t in after if t.result == FAILED and path.return_passes]
    worst = min(worse, key=lambda t: (t.known_on, t.day), default=None)
    if proven_on is not None and (worst is None or proven_on < worst.known_on):
        replay.resolved_on = proven_on
        return
    if worst is None:
        replay.needs = f"{path.repeats - len(row)} more passing repeat(s)"
        return
    replay.repeat_failed, replay.repeat_passes = worst, ()
    _walk_return(unit, replay, own, trials, causes)


def _walk_return(unit: UnitFacts, replay: Replay, own, trials, causes) -> None:
    """After a failed repeat: the cause, then the tests in a row."""
    path, worst = replay.path, replay.repeat_failed
    replay.cause = _cause(replay.followups, causes, worst.known_on)
    if replay.cause is None:
        replay.needs = "the cause found or repaired"
        return
    after = [t for t in own if _is_after(t, worst) and t.day >= replay.cause[0]]
    counted = [t for t in after if _counts(t, replay.failed, path)]
    row, proven_on = _row(counted, path.return_passes, path.needs_normal, path.return_chamber)
    replay.return_passes = row
    needs = [f"{path.return_passes - len(row)} more negative test(s) in a row"] if proven_on is None else []
    if path.return_air_removal and unit.equipment_type == "dynamic air removal":
        air = [t for t in trials if t.kind == "air removal" and t.day >= replay.cause[0]]
        air_row, air_on = _row(air, path.return_air_removal, False, "any")
        if air_on is None:
            needs.append(f"{path.return_air_removal - len(air_row)} more passing air-removal test(s) in a row")
        proven_on = max(proven_on, air_on) if proven_on and air_on else None
    replay.needs = " and ".join(needs)
    replay.resolved_on = proven_on


def _row(trials: list[Trial], need: int, normal: bool, chamber: str) -> tuple[tuple[Trial, ...], date | None]:
    """The passes in a row that proved it and the day they were all known; else the row as it stands, and None.

    Of several rows that would do, the one known first.
    """
    run: list[Trial] = []
    best: tuple[date, tuple[Trial, ...]] | None = None
    for trial in trials:
        if trial.result != PASSED or trial.abnormal:
            run = []
            continue
        if (normal and not trial.normal) or (chamber == "empty" and trial.chamber != "empty"):
            continue
        run.append(trial)
        if len(run) >= need:
            window = tuple(run[-need:])
            known = max(t.known_on for t in window)
            if best is None or known < best[0]:
                best = (known, window)
    return (best[1], best[0]) if best else (tuple(run), None)


def _counts(trial: Trial, failed: Trial, path: FailurePath) -> bool:
    """Passes of another cycle type do not count; failures always do."""
    same = not path.same_cycle_type or trial.cycle_type == failed.cycle_type
    return same or trial.result == FAILED


def _is_after(trial: Trial, failed: Trial) -> bool:
    after = ran_after(trial.day, trial.at, failed.known_on, failed.known_at)
    if after is None:
        return trial.purpose in _AFTER_FAILURE and trial.origin != failed.origin
    return after


def _cause(followups, causes, since: date) -> tuple[date, Evidence] | None:
    found = [
        (f.done_on, Evidence((f.done_row or f.row).ref, f"{f.action}: {f.outcome or f.text}"))
        for f in followups
        if f.action in ("find cause", "repair") and f.done_on is not None and f.done_on >= since
    ]
    found += [c for c in causes if c[0] >= since]
    return min(found, key=lambda c: c[0], default=None)


# ------------------------------------------------------------------------------------------------ trials


def trials_of(unit: UnitFacts, verdicts: dict[str, TestVerdict]) -> list[Trial]:
    """Every result that can open or prove a case, in order of the run; invalid biological tests are left out."""
    out = [_bio_trial(t, verdicts[t.row.origin]) for t in in_order(unit.bio_tests)]
    out = [t for t in out if t.result in (PASSED, FAILED, AWAITED)]
    for fact in in_order(unit.air_removal):
        out.append(_plain(fact, "air removal", fact.result, fact.chamber, "air-removal test"))
    for fact in in_order(unit.leaks):
        out.append(_plain(fact, "air leak", fact.result, "", f"air-leak test ({fact.as_read or fact.rate})"))
    for fact in in_order(unit.chemical):
        if fact.result in ("pass", "fail"):
            out.append(_plain(fact, "chemical", fact.result, "", f"chemical indicator type {fact.type}"))
    out += [_mechanical(t) for t in in_order(unit.bio_tests) if t.mechanical in ("pass", "fail")]
    return out


def _bio_trial(test, verdict: TestVerdict) -> Trial:
    decisive = [r for r in test.readings if known_day(r) == verdict.known_on]
    times = [r.known_at for r in decisive]
    return Trial(
        kind="biological",
        origin=test.row.origin,
        ref=test.row.ref,
        day=test.row.happened_on,
        at=test.row.happened_at,
        known_on=verdict.known_on,
        known_at=min(times) if times and None not in times else None,
        result=verdict.verdict,
        cycle_type=test.cycle_type,
        chamber=test.chamber,
        purpose=test.purpose,
        normal=test.mechanical == "pass" and test.chemical == "pass",
        abnormal="fail" in (test.mechanical, test.chemical),
        implant=test.implant,
        evidence=evidence_of(test, verdict),
    )


def _plain(fact, kind: str, result: str, chamber: str, words: str) -> Trial:
    row = fact.row
    word = PASSED if result == "pass" else FAILED
    text = f"{words} of {row.happened_on.isoformat()}: {word}"
    at = row.happened_at
    flags = {"normal": True, "abnormal": False, "implant": False, "evidence": Evidence(row.ref, text)}
    return Trial(kind, row.origin, row.ref, row.happened_on, at, row.happened_on, at, word, "", chamber, "", **flags)


def _mechanical(test) -> Trial:
    return _plain(test, "mechanical", test.mechanical, test.chamber, "mechanical result of the spore-test cycle")


# ------------------------------------------------------------------------------------------------ as values


def cases_of(unit: UnitFacts, replays: list[Replay], verdicts, as_of: date) -> tuple[Case, ...]:
    """Every case as a value, newest first: those replayed, and case rows whose opening fact fails no more."""
    covered = {c.row.origin for r in replays for c in r.rows}
    loose = [c for c in unit.cases if c.row.origin not in covered]
    out = [_as_case(unit, r, as_of) for r in replays]
    out += [_loose_case(unit, c) for c in loose if not _opener_awaited(unit, c, verdicts)]
    return tuple(sorted(out, key=lambda c: (c.known_on, c.failed_on), reverse=True))


def _opener_awaited(unit: UnitFacts, case: CaseFact, verdicts) -> bool:
    verdict = verdicts.get(opener_of(unit, case))
    return verdict is not None and verdict.verdict == AWAITED


def _as_case(unit: UnitFacts, replay: Replay, as_of: date) -> Case:
    path, failed = replay.path, replay.failed
    phase = RETURNED if replay.resolved_on else (REQUALIFY if replay.repeat_failed else RETEST)
    second = replay.repeat_failed is not None
    return Case(
        ref=replay.rows[0].row.origin if replay.rows else "",
        kind=path.kind,
        title=f"{TITLES[path.kind]}, {failed.day.isoformat()}",
        failed_on=failed.day,
        known_on=failed.known_on,
        phase=phase,
        resolved_on=replay.resolved_on,
        passes=len(replay.return_passes if second else replay.repeat_passes),
        passes_needed=path.return_passes if second else path.repeats,
        recall=recall_words(unit, replay),
        steps=steps_of(unit, replay, as_of),
        evidence=tuple(t.evidence for t in (failed, *replay.also_failed)),
    )


def _loose_case(unit: UnitFacts, case: CaseFact) -> Case:
    """A case row whose opening fact is gone or fails no more: corrected, so entered in error."""
    day = case.row.happened_on
    text = f"case of {day.isoformat()}: the result that opened it no longer stands as a failure"
    return Case(
        ref=case.row.origin,
        kind=case.kind,
        title=f"{TITLES.get(case.kind, case.kind)}, {day.isoformat()}",
        failed_on=day,
        known_on=day,
        phase=ERROR,
        resolved_on=day,
        passes=0,
        passes_needed=0,
        recall="none needed: entered in error",
        steps=(),
        evidence=(Evidence(case.row.ref, text),),
    )
