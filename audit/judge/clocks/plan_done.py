"""What a line of the maintenance plan counts from: what was done to the unit, and what was postponed.

Which outcomes and parts reset a line, and which never do, stands in `plan`. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence, Set
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from itertools import accumulate

from audit.facts import LoadFact, OutcomeFact, PartFact, PlanLineFact, UnitEventFact, UnitFacts, happened_on, in_order
from audit.judge.judgement import Evidence
from audit.judge.usage import installation

from .counters import Counter, counter_of

_MINUTES = 60
_RENEWED_WITH_PART = ("replace", "inspect", "clean", "lubricate", "test")


@dataclass(slots=True)
class DoneIndex:
    """What was done to a unit, gathered once for all lines of its plan; each in order."""

    installed: tuple[date, Evidence] | None  # what a line that was never done counts from
    done: tuple[OutcomeFact, ...]
    deferred: tuple[OutcomeFact, ...]  # decided: who, why and until when
    parts: tuple[PartFact, ...]  # replaced
    counters: dict[str, Counter | None]
    renewing: dict[str, set[str]]  # by position, the codes of the lines that replace what sits there
    loads: Sequence[LoadFact] = ()
    last_of: dict[str, OutcomeFact] = field(init=False)  # by code of the line, the last one done
    _minutes: list[Decimal] | None = field(init=False, default=None, repr=False)

    def __post_init__(self) -> None:
        self.last_of = {o.plan_line: o for o in self.done if o.plan_line}

    @classmethod
    def of(cls, unit: UnitFacts) -> DoneIndex:
        """What the jobs of the unit did, and its counters with all their readings."""
        start = installation(unit)
        outcomes = in_order([o for j in unit.jobs for o in j.outcomes])
        parts = in_order([p for j in unit.jobs for p in j.parts])
        renewing: dict[str, set[str]] = {}
        for line in unit.plan:
            if line.action == "replace":
                renewing.setdefault(line.position, set()).add(line.code)
        return cls(
            None if start is None else (start.row.happened_on, _never_done(start)),
            tuple([o for o in outcomes if o.outcome == "done"]),
            tuple(
                [o for o in outcomes if o.outcome == "deferred" and o.deferred_until and o.decided_by and o.reason]
            ),
            tuple([p for p in parts if p.action.startswith("replaced") and p.quantity > 0]),
            {name: counter_of(unit, name) for name in ("cycles", "hours")},
            renewing,
            in_order(unit.loads),
        )

    def until(self, day: date) -> DoneIndex:
        """What had been done before `day`, with all that the counters have shown since."""
        done, deferred, parts = (
            tuple(f for f in facts if f.row.happened_on < day) for facts in (self.done, self.deferred, self.parts)
        )
        return DoneIndex(self.installed, done, deferred, parts, self.counters, self.renewing, self.loads)

    def logged_on(self, name: str, base: date, limit: int) -> date | None:
        """The day by whose end the loads after the day `base` alone make up so many cycles or hours; None for never.

        What is logged is the least that ran: a load without minutes adds none.
        """
        first = bisect_right(self.loads, base, key=happened_on)
        n = first + limit - 1
        if name == "hours":
            sums = self._minutes_run()
            n = bisect_left(sums, (sums[first - 1] if first else 0) + limit * _MINUTES, lo=first)
        return happened_on(self.loads[n]) if first <= n < len(self.loads) else None

    def _minutes_run(self) -> list[Decimal]:
        """The minutes of all loads up to and with each of them."""
        if self._minutes is None:
            self._minutes = list(accumulate([x.minutes or Decimal(0) for x in self.loads]))
        return self._minutes


def _never_done(installed: UnitEventFact) -> Evidence:
    return Evidence(installed.row.ref, f"never done since installation on {installed.row.happened_on.isoformat()}")


def counts_from(index: DoneIndex, line: PlanLineFact) -> tuple[date, Evidence] | None:
    """The day and the row the line counts from, or None when there is no evidence at all."""
    last, part = _last_done(index, line), _last_part(index, line)
    if last is None or part is None:
        last = last or part
    else:
        last = in_order([last, part])[-1]
    return index.installed if last is None else (last.row.happened_on, Evidence(last.row.ref, _done_words(last)))


def _last_done(index: DoneIndex, line: PlanLineFact) -> OutcomeFact | None:
    if not line.position:  # only what is of the very line resets it
        return index.last_of.get(line.code)
    renewing = index.renewing.get(line.position, frozenset())
    for outcome in reversed(index.done):
        if _does(outcome, line, renewing):
            return outcome
    return None


def _last_part(index: DoneIndex, line: PlanLineFact) -> PartFact | None:
    if not line.position or line.action not in _RENEWED_WITH_PART:
        return None
    return next((p for p in reversed(index.parts) if p.position == line.position), None)


def _done_words(fact: OutcomeFact | PartFact) -> str:
    day = fact.row.happened_on.isoformat()
    if isinstance(fact, OutcomeFact):
        return f"{fact.action} done on {day}"
    return f"{fact.name} {fact.action} on {day}" + (f", lot {fact.lot}" if fact.lot else "")


def _does(outcome: OutcomeFact, line: PlanLineFact, renewing: Set[str]) -> bool:
    """Whether a done outcome resets the line: its own, the same action there, or a renewal there."""
    if outcome.plan_line and outcome.plan_line == line.code:
        return True
    here = bool(line.position) and outcome.position == line.position
    if here and outcome.action == line.action:
        return True
    renewed = (here and outcome.action == "replace") or (line.position and outcome.plan_line in renewing)
    return bool(renewed) and line.action in _RENEWED_WITH_PART


def deferral_of(index: DoneIndex, line: PlanLineFact, base: date) -> OutcomeFact | None:
    """The newest decided postponement of the line since `base`, the day it counts from, or None.

    A postponement is a decision: without who decided, why and until when it moves nothing.
    """
    if not index.deferred:
        return None
    mine = (o for o in reversed(index.deferred) if o.row.happened_on >= base)
    return next((o for o in mine if _is_of(o, line)), None)


def _is_of(outcome: OutcomeFact, line: PlanLineFact) -> bool:
    if outcome.plan_line:
        return outcome.plan_line == line.code
    return bool(line.position) and outcome.position == line.position and outcome.action == line.action


def deferral_words(outcome: OutcomeFact) -> str:
    """A postponement in one line: when, until when, by whom and why."""
    agreed = f", agreed by {outcome.agreed_by}" if outcome.agreed_by else ""
    day, until = outcome.row.happened_on.isoformat(), outcome.deferred_until.isoformat()
    return f"postponed on {day} until {until} by {outcome.decided_by}{agreed}: {outcome.reason}"
