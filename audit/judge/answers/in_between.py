"""What ran between the day a failure was known and the day the unit was proven again, from the facts of the unit.

A load of one of the two days themselves counts where both times show that it lay between; without the times its order
is not known, and that is said. Test cycles are no loads.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from audit.facts import LoadFact, UnitFacts
from audit.facts.dates import ONE_DAY
from audit.judge.judgement import Case, Evidence
from audit.judge.usage import loads_within

from .asked import AskedPlace, View, number
from .cycles import unlogged_inside


@dataclass(frozen=True, slots=True)
class InBetween:
    """One failure: whether the rules take the unit out, the loads in between, and in words what is not known."""

    withdraws: bool
    loads: tuple[Evidence, ...]
    words: str
    gap: str


def between(place: AskedPlace, view: View, case: Case) -> InBetween:
    """What ran from the day the case was known to the day it was resolved, or to the day asked about."""
    path = place.regime.path(case.kind)
    # A kind that does not stop a unit by itself stops it when repeated: the case then has the step.
    withdraws = path is not None and (path.withdraws or any(s.action == "withdraw" for s in case.steps))
    sure, unsure = _loads(view.facts, case)
    last = case.resolved_on or place.as_of + ONE_DAY
    unlogged = unlogged_inside(view.facts, case.known_on, last)
    told = [f"{number(len(sure), 'load')} on record in between" if sure else "no load is on record in between"]
    gap = []
    if unsure:
        told = told if sure else []
        gap.append(f"the order of {number(len(unsure), 'load')} of the day it was known or proven is not recorded")
    if unlogged:
        gap.append(f"{number(unlogged, 'cycle')} in between not logged")
    if case.resolved_on is None and (view.said.standing.word.may_be_used or not withdraws):
        gap.append(f"{case.title}: not proven yet" + (f", {case.needs}" if case.needs else ""))
    elif case.resolved_on is None and case.needs:
        told.append(f"still asked: {case.needs}")
    asked = _span(case) if withdraws else f"{_span(case)}; the rules followed do not ask that it be kept out of use"
    words = ", ".join([asked, *told, *gap[: 2 if unsure and unlogged else 1 if unsure or unlogged else 0]])
    proof = tuple(
        Evidence(x.row.ref, f"cycle {x.cycle_number or '?'} of {x.row.happened_on.isoformat()}") for x in sure
    )
    if sure and not withdraws:
        gap.append(f"what became of {number(len(sure), 'load')} in between")
    return InBetween(withdraws, proof, words, "; ".join(gap))


def _span(case: Case) -> str:
    start = f"{case.title}: known {case.known_on.isoformat()}"
    return f"{start}, proven {case.resolved_on.isoformat()}" if case.resolved_on else f"{start}, not proven yet"


def _loads(unit: UnitFacts, case: Case) -> tuple[list[LoadFact], list[LoadFact]]:
    """(loads shown to lie in between, loads of which the order is not known)."""
    known, proven = case.known_on, case.resolved_on or date.max
    sure, unsure = [], []
    rows = loads_within(unit, known, proven)
    first = _known_at(unit, case) if rows else None
    end = _proven_at(unit, proven) if rows else None
    for load in rows:
        after = _after(load, known, first)
        before = None if _after(load, proven, end) is None else not _after(load, proven, end)
        if after and before:
            sure.append(load)
        elif after is not False and before is not False:
            unsure.append(load)
    return sure, unsure


def _after(load: LoadFact, day: date, at: datetime | None) -> bool | None:
    """Whether the load ran after that moment; None where a time is missing on the day itself."""
    if load.row.happened_on != day:
        return load.row.happened_on > day
    if at is None or load.row.happened_at is None:
        return None
    return load.row.happened_at > at


def _known_at(unit: UnitFacts, case: Case) -> datetime | None:
    """When the failure was known, on its day; None where no time is recorded."""
    refs = {e.ref for e in case.evidence}
    tests = [t for t in unit.bio_tests if t.row.ref in refs or any(r.row.ref in refs for r in t.readings)]
    looks = [r.known_at for t in tests for r in t.readings if r.known_on == case.known_on and r.test == "growth"]
    others = (unit.air_removal, unit.leaks, unit.checks, unit.chemical, unit.loads)
    times = looks or [f.row.happened_at for rows in others for f in rows if f.row.ref in refs]
    return None if not times or None in times else min(times)


def _proven_at(unit: UnitFacts, day: date) -> datetime | None:
    """The last moment of that day at which a passing result was known; None where one of them has no time."""
    looks = [r.known_at for t in unit.bio_tests for r in t.readings if r.known_on == day]
    rows = (*unit.air_removal, *unit.leaks, *unit.checks)
    times = [*looks, *(f.row.happened_at for f in rows if f.row.happened_on == day)]
    return None if not times or None in times else max(times)
