"""What every rule of open items is given, and small helpers for writing one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date

from audit.facts import UnitFacts
from audit.judge.judgement import Case, Evidence, LookBack, UnitStanding
from audit.judge.next_step import CLINIC as CLINIC
from audit.judge.next_step import COMPANY as COMPANY
from audit.judge.situation import Settled, Situation
from audit.regimes.model import Duty
from audit.regimes.source import Source

PRACTICE = Source("common practice, no source")
SIGNED = Source(
    "21 CFR 11.100(a), 11.200(a)(2): a signature is one person’s own, used by nobody else", "2026-11-28", "quoted"
)


@dataclass(slots=True)
class Judged:
    """A unit on one day with all that was said of it before the open items. It is not changed once it is made."""

    now: Situation
    standing: UnitStanding
    cases: tuple[Case, ...]
    look_backs: tuple[LookBack, ...]
    asked_on: Callable[[date], tuple[Duty, ...]] | None = None  # the duties of a day; None: the same on all days
    unit: UnitFacts = field(init=False)  # the facts up to the end of the day judged, each kind in order
    settled: Settled = field(init=False)  # from facts alone: verdicts on spore tests, work done, failure cases, use

    def __post_init__(self) -> None:
        self.unit, self.settled = self.now.unit, self.now.settled

    def position_name(self, origin: str) -> str:
        """The name of a position, or "the unit" for none."""
        return next((p.name for p in self.unit.positions if p.row.origin == origin), "the unit")

    def recorded(self) -> set[str]:
        """Refs of every position on record."""
        return {p.row.origin for p in self.unit.positions}


def row_evidence(fact, text: str) -> tuple[Evidence, ...]:
    """One row as the only evidence."""
    return (Evidence(fact.row.ref, text),)


def day(value) -> str:
    """A day as it is written."""
    return value.isoformat()
