"""Everything on the unit between the last good proof and a trigger that puts it in doubt: one engine, five triggers.

| trigger | opened by | starts after | ends with |
| --- | --- | --- | --- |
| positive spore test | a spore test with growth | the last negative one | the day it was known |
| mechanical or penetration failure | a failed air-removal, air-leak or automatic control test, or check \
of the air detector; a failed mechanical result | see `failed_tests` | the day it was known |
| part recall | a notice that means a part fitted here | the fitting | the notice, or the part out |
| instrument out of tolerance | a calibration | its last good calibration | that calibration |
| found out of tolerance | a measurement as found outside limits | the last one within | that measurement |

A withdrawal ends no window: what was in doubt before stays so, and a load after it contradicts it. All triggers on
record are listed, however old: what was decided about them is part of the proof.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from audit.facts import ClinicFacts, LoadFact, UnitFacts, happened_on
from audit.judge.biological import cycle_key, ran_after
from audit.judge.judgement import Case, LookBack
from audit.judge.usage import loads_within
from audit.regimes.model import Regime

from .failed_tests import last_good, other_failures, positive_spore_tests
from .inside import History
from .measurements import found_out_of_tolerance, instruments_out_of_tolerance
from .recalled_parts import part_recalls

__all__ = ["LoadsWhileOut", "last_good", "loads_while_out", "look_backs"]


def look_backs(
    unit: UnitFacts,
    clinic: ClinicFacts,
    regime: Regime,
    verdicts,
    replays,
    cases: tuple[Case, ...],
    as_of: date,
    told: Sequence[LoadFact] | None = None,
) -> tuple[LookBack, ...]:
    """Every look-back of the unit, the one known last first.

    `unit` and `clinic` hold what had happened by `as_of`; `verdicts` by origin of the test, `replays` of the failure
    paths and `cases` are those of the same facts; `told`: loads among which the failed ones are, where somebody has
    told them apart already. Raises nothing.
    """
    history = History(unit, clinic, regime, as_of, cases, unit.loads if told is None else told)
    found = [
        *positive_spore_tests(history, verdicts, replays),
        *other_failures(history, verdicts, replays),
        *part_recalls(history),
        *instruments_out_of_tolerance(history),
        *found_out_of_tolerance(history),
    ]
    found.sort(key=lambda f: (f[0], f[1].to, f[1].kind, f[1].trigger, [e.ref for e in f[1].evidence]), reverse=True)
    return tuple(back for _, back in found)


@dataclass(frozen=True, slots=True)
class LoadsWhileOut:
    """Loads run while a case kept the unit out, oldest first; `unsure`: those of which the order is not known."""

    shown: list[LoadFact]
    unsure: list[LoadFact]


def loads_while_out(unit: UnitFacts, replay) -> LoadsWhileOut:
    """Loads run after the failure that stopped the unit was known and before the unit was proven.

    Test cycles are no loads, nor are the cycles that failed or proved the unit. Of the day it became known and of the
    day the unit was proven both times show the order; where one is missing it is not known.
    """
    stopped, end = replay.stopped, replay.resolved_on
    tests = (*replay.failures, *replay.proof)
    origins = {t.origin for t in tests}
    cycles = {(day, number) for day, _, number in [t.run for t in tests] if number}
    found = LoadsWhileOut([], [])
    for load in loads_within(unit, stopped.known_on, end):
        order = _while_out(replay, load)
        if order is not False and load.row.origin not in origins and not _is_one_of(cycles, load):
            (found.shown if order else found.unsure).append(load)
    return found


def _while_out(replay, load: LoadFact) -> bool | None:
    """Whether a load was run while the case kept the unit out; None where its order is not known."""
    day, at, stopped = happened_on(load), load.row.happened_at, replay.stopped
    after = ran_after(day, at, stopped.known_on, stopped.known_at)
    if replay.resolved_on is None:
        return after
    proven = ran_after(day, at, replay.resolved_on, replay.proven_at)
    before = None if proven is None else not proven
    return False if False in (after, before) else None if None in (after, before) else True


def _is_one_of(cycles: set[tuple[date, str]], load: LoadFact) -> bool:
    """Whether the load is one of the cycles, each by its day and number."""
    return (happened_on(load), cycle_key(load)) in cycles
