"""All due items of a unit, worst first."""

from __future__ import annotations

from datetime import date

from audit.judgement import Clock, State

from .duty import DutyFacts, duty_clocks
from .plan import plan_clocks

_WORST_FIRST = {state: -n for n, state in enumerate(State)}


def all_clocks(facts: DutyFacts) -> tuple[Clock, ...]:
    """Duties of the rules and lines of the plan, worst first, then by day due."""
    return worst_first((*duty_clocks(facts), *plan_clocks(facts.unit, facts.as_of)))


def worst_first(clocks) -> tuple[Clock, ...]:
    """Sorted by state from worst to calm, then by day due, then by id."""
    return tuple(sorted(clocks, key=lambda c: (_WORST_FIRST[c.state], c.due_on or date.max, c.id)))
