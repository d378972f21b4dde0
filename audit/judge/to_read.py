"""Spore tests without a result, and when their incubation is complete."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from audit.facts import BioTestFact, in_order

from .biological import AWAITED
from .judgement import UnitJudgement


@dataclass(frozen=True, slots=True)
class ReadLine:
    """A spore test without a result. `ready_at` is None where the hour of the run is not known."""

    unit: UnitJudgement
    test: BioTestFact
    ready_at: datetime | None
    ready_on: date
    ready: bool

    @property
    def sent_away(self) -> bool:
        """Whether a laboratory incubates and reads it, so that nobody at the clinic has it to read."""
        return self.test.site == "laboratory"


def read_lines(pairs, as_of: date, now: datetime | None) -> tuple[ReadLine, ...]:
    """Spore tests awaiting a result, those ready first. `now` is None when a past day is asked about."""
    lines = []
    for facts, unit in pairs:
        awaited = {v.test for v in unit.verdicts if v.verdict == AWAITED}
        for test in in_order(facts.bio_tests):
            if test.row.origin in awaited and test.row.happened_on <= as_of:
                lines.append(_read_line(unit, test, as_of, now))
    return tuple(sorted(lines, key=lambda r: (not r.ready, r.test.row.happened_on, r.unit.label)))


def _read_line(unit: UnitJudgement, test: BioTestFact, as_of: date, now: datetime | None) -> ReadLine:
    """Ready when the label's hours have passed; by whole days where the hour of the run is not known."""
    hours = test.lot.incubation_hours
    ready_on = test.row.happened_on + timedelta(days=-(-hours // 24))
    ready_at = test.row.happened_at + timedelta(hours=hours) if test.row.happened_at else None
    ready = now >= ready_at if ready_at is not None and now is not None else as_of >= ready_on
    return ReadLine(unit, test, ready_at, ready_on, ready)
