"""Cases as values: those replayed from facts, and case rows whose opening fact fails no more."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from audit.facts import CaseFact, UnitFacts
from audit.judge.biological import AWAITED
from audit.judge.judgement import Case, Evidence

from .recall import recall_words
from .replay import Replay, opener_of
from .steps import steps_of
from .trials import Trial

RETEST, REQUALIFY = "retest needed", "requalification needed"
RETURNED, ERROR = "returned", "entered in error"
TITLES = {
    "biological": "Positive spore test",
    "air removal": "Failed air-removal test",
    "air leak": "Failed air-leak test",
    "chemical": "Failed chemical indicator",
    "mechanical": "Failed mechanical result",
    "automatic control": "Failed automatic control test",
    "safety check": "Failed check of the safety devices",
    "air detector": "Failed check of the air detector",
    "wet packs": "Wet packs",
}
_SETS = {
    "biological first": ("spore tests", "air-removal tests"),
    "air removal first": ("air-removal tests", "spore tests"),
}


def cases_of(unit: UnitFacts, replays: Iterable[Replay], verdicts, as_of: date) -> tuple[Case, ...]:
    """Every case as a value, newest first: those replayed, and case rows whose opening fact fails no more."""
    replays = tuple(replays)
    if not replays and not unit.cases:
        return ()
    covered = {c.row.origin for r in replays for c in r.rows}
    loose = [c for c in unit.cases if c.row.origin not in covered]
    out = [_as_case(unit, r, verdicts, as_of) for r in replays]
    out += [_loose_case(c) for c in loose if not _opener_awaited(unit, c, verdicts)]
    return tuple(sorted(out, key=lambda c: (c.known_on, c.failed_on), reverse=True))


def order_warnings(order: str, biological: tuple[date, ...], air_removal: tuple[date, ...]) -> tuple[str, ...]:
    """Where both sets of tests were run in another order than the rules name; days of the runs that proved it.

    `order`: "", "biological first" or "air removal first". Nothing is said of runs on one and the same day.
    """
    if not order or not biological or not air_removal:
        return ()
    first, second = (biological, air_removal) if order == "biological first" else (air_removal, biological)
    if min(second) >= max(first):
        return ()
    early, late = _SETS[order]  # the set to come first, the set to come second
    return (
        f"{late} from {min(second).isoformat()} on, before the {early} were complete "
        f"({max(first).isoformat()}): these rules name the {early} first",
    )


def _opener_awaited(unit: UnitFacts, case: CaseFact, verdicts) -> bool:
    verdict = verdicts.get(opener_of(unit, case))
    return verdict is not None and verdict.verdict == AWAITED


def title_of_case(replay: Replay) -> str:
    """What failed, with the day of its run in ISO text: "Positive spore test, 2025-03-10"."""
    return f"{TITLES[replay.path.kind]}, {replay.failed.day.isoformat()}"


def _as_case(unit: UnitFacts, replay: Replay, verdicts, as_of: date) -> Case:
    path, failed = replay.path, replay.failed
    second = replay.repeat_failed is not None
    recall = recall_words(unit, replay, verdicts)
    return Case(
        ref=replay.rows[0].row.origin if replay.rows else "",
        kind=path.kind,
        title=title_of_case(replay),
        failed_on=failed.day,
        known_on=failed.known_on,
        phase=RETURNED if replay.resolved_on else (REQUALIFY if second else RETEST),
        resolved_on=replay.resolved_on,
        passes=replay.passes,
        passes_needed=path.return_passes if second else path.repeats,
        recall=recall,
        steps=steps_of(unit, replay, verdicts, as_of, recall),
        evidence=tuple(t.evidence for t in replay.failures),
        needs=replay.needs,
        warnings=order_warnings(path.return_order, _days(replay.return_passes), _days(replay.air_passes))
        if replay.resolved_on
        else (),
    )


def _days(trials: tuple[Trial, ...]) -> tuple[date, ...]:
    return tuple(t.day for t in trials)


def _loose_case(case: CaseFact) -> Case:
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
