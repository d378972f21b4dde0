"""All due items of a unit, worst first."""

from __future__ import annotations

from datetime import date

from audit.judge.judgement import Clock, State

from .duty import DutyFacts
from .frequency import duty_clock
from .last_valid_days import paper_clocks
from .plan import plan_clocks

_WORST_FIRST = {state: -n for n, state in enumerate(State)}


def all_clocks(facts: DutyFacts) -> tuple[Clock, ...]:
    """Duties of the rules, papers of the unit and lines of the plan, worst first, then by day due."""
    papers = paper_clocks(facts.unit, facts.as_of, facts.duties(), facts.clinic)
    return worst_first((*duty_clocks(facts), *papers, *plan_clocks(facts.unit, facts.as_of, facts.once)))


def duty_clocks(facts: DutyFacts) -> tuple[Clock, ...]:
    """The due items of the rules for the unit, in the order of the rules; a duty after no event has none."""
    return tuple(c for c in (duty_clock(facts, duty) for duty in facts.duties()) if c is not None)


def worst_first(clocks) -> tuple[Clock, ...]:
    """Sorted by state from worst to calm, then by day due, then by id."""
    return tuple(sorted(clocks, key=lambda c: (_WORST_FIRST[c.state], c.due_on or date.max, c.id)))
