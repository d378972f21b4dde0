"""From failure to return, replayed from facts, whether or not anybody opened a case.

A failing fact opens a case on the day it was known. The unit is proven again by what the rules ask: repeats in a row
run after the failure was known; after a failed repeat, the cause and then tests in a row, for each cycle type in use
where the rules say so. The unit is proven on the day the last needed result was known. A test already incubating
when the failure became known is evidence, not the repeat.

Where one failure does not stop the unit, several before it is proven again may, and one whose own reading lies below
what is needed: see `FailurePath.withdraws_from` and `withdraws_outside`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime

from audit.facts import CaseFact, FollowUpFact, LoadFact, UnitFacts
from audit.judge.judgement import TestVerdict
from audit.regimes.model import FailurePath, Regime

from .causes import Cause
from .in_a_row import cycles_possible
from .trials import AFTER_FAILURE, Results, Trial, failed_kinds
from .walk import Known, proven_by, walk


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
    cause: Cause | None = None
    return_passes: tuple[Trial, ...] = ()
    air_passes: tuple[Trial, ...] = ()  # air-removal tests in a row beside the biological ones
    cycle_types: tuple[str, ...] = ()  # those to be proven one by one; () where types are not told apart
    passes: int = 0  # in a row so far; of several cycle types that with the fewest
    resolved_on: date | None = None
    respected: list[Trial] = field(default_factory=list)  # further failures after which the proof was run
    also_failed: list[Trial] = field(default_factory=list)  # those of them that open no case of their own
    needs: str = ""  # what is missing, in words
    signed: bool = False  # of this kind the rules count only what is signed
    stopped: Trial | None = None  # the failure that stopped the unit: the first one, or the one that was too many

    @property
    def withdraws(self) -> bool:
        """Whether the case keeps the unit out of service, or did, until it was resolved."""
        return self.stopped is not None

    @property
    def out_from(self) -> date | None:
        """The day from which it does; None where it does not."""
        return self.stopped.known_on if self.stopped else None

    @property
    def failures(self) -> tuple[Trial, ...]:
        """Every failure of the case, the one known first before the others."""
        return (self.failed, *self.also_failed)

    @property
    def proof(self) -> tuple[Trial, ...]:
        """The tests that proved the unit; () while it is not proven."""
        return (*self.return_passes, *self.air_passes) or self.repeat_passes if self.resolved_on else ()

    @property
    def proven_at(self) -> datetime | None:
        """The moment the last result of the proof was known; None where it is not proven or a time is not known."""
        times = [t.known_at for t in self.proof]
        return max(times) if times and None not in times else None

    def before_proof(self, day: date, at: datetime | None) -> bool:
        """Whether a day and time lie before the proof: what is signed then returns nothing."""
        if self.resolved_on is None or day < self.resolved_on:
            return True
        last = self.proven_at
        return day == self.resolved_on and at is not None and last is not None and at < last

    def early_sign(self, followup: FollowUpFact) -> bool:
        """Whether a follow-up that was done was done before the proof."""
        return self.before_proof(followup.done_on, followup.done_at)


def replay_all(
    unit: UnitFacts,
    regime: Regime,
    verdicts: dict[str, TestVerdict],
    repairs: Iterable[Cause],
    loads: Iterable[LoadFact] | None = None,
    day_of: Callable[[datetime], date] = datetime.date,
    short: frozenset[str] = frozenset(),
) -> list[Replay]:
    """Each case of the unit, in the order the failures became known. `repairs`: those done by concluded work.

    Where nothing failed nothing is replayed: the cost is one look at each result. `loads`: those among which the
    failed ones are, where somebody has told them apart already. `day_of`: the clinic's own day at a moment. `short`:
    origins of the loads whose own readings show that they fell short.
    """
    failed = failed_kinds(unit, verdicts, unit.loads if loads is None else loads)
    if not failed:
        return []
    known, cases = Known(unit, verdicts, list(repairs), day_of, short), _cases_by_opener(unit)
    signed = frozenset(d.subject for d in regime.duties if d.signed)
    out = [r for path in regime.failure if path.kind in failed for r in _replay_kind(known, cases, path, signed)]
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


def _replay_kind(known: Known, cases, path: FailurePath, signed: frozenset[str]) -> Iterator[Replay]:
    own = Results(known.unit, known.verdicts, path.kind, path.kind in signed)
    failures, held = sorted(own.failed(), key=_when), set()
    for n, failed in enumerate(failures):
        if failed.origin in held:
            continue
        replay, later = Replay(path, failed, signed=path.kind in signed), failures[n + 1 :]
        # Follow-ups may stand on the case row of a failed repeat; until the end is known all are looked at.
        replay.followups = _followups(_rows_of(cases, path.kind, failures[n:]))
        walk(known, replay, own, later)
        replay.also_failed = [t for t in replay.respected if t.origin not in held and proven_by(replay, t)]
        held |= {t.origin for t in replay.also_failed}
        replay.rows = _rows_of(cases, path.kind, [failed, *replay.also_failed])
        replay.followups = _followups(replay.rows)
        replay.stopped = _stopped_by(replay, known.short)
        yield replay


def _when(trial: Trial) -> tuple:
    """By the day it was known; of one day a test that was called a repeat is one of another failure."""
    return trial.known_on, trial.day, trial.purpose in AFTER_FAILURE


def _stopped_by(replay: Replay, short: frozenset[str]) -> Trial | None:
    path = replay.path
    if path.withdraws:
        return replay.failed
    failures = sorted(replay.failures, key=_when)
    for n, trial in enumerate(failures, start=1):
        if path.withdraws_outside and trial.origin in short:
            return trial
        if path.withdraws_from and cycles_possible(t.run for t in failures[:n]) >= path.withdraws_from:
            return trial
    return None


def _rows_of(cases: dict[str, list[CaseFact]], kind: str, failures: list[Trial]) -> list[CaseFact]:
    """The case rows of the failures; a cycle may have opened one of each kind."""
    if not cases:
        return []
    return [case for t in failures for case in cases.get(t.origin, ()) if case.kind == kind]


def _followups(rows: list[CaseFact]) -> tuple[FollowUpFact, ...]:
    return tuple(f for c in rows for f in c.followups)
