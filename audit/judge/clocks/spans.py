"""How a duty was kept: everything done for it, and every stretch of it with what became of it."""

from __future__ import annotations

from datetime import date

from audit.regimes.model import PERIODS, Duty

from . import periods
from .duty import DutyFacts
from .frequency import duty_spans
from .rows import rows_of
from .values import Kept, Span

__all__ = ["Kept", "Span", "kept", "spans", "unmet_spans"]


def kept(facts: DutyFacts, duty: Duty, first: date = date.min, last: date = date.max) -> tuple[Kept, ...]:
    """What was done for the duty's subject from `first` to `last`, both inclusive, in order; what does not count too.

    A duty for loads with an implant is given every spore test.
    """
    return tuple(rows_of(facts, duty).kept(first, min(last, facts.as_of)))


def spans(facts: DutyFacts, duty: Duty, first: date, last: date) -> list[Span]:
    """The stretches of the duty that overlap `first` to `last`, both inclusive, oldest first; none after `as_of`.

    Periods; the time from one test to the next; days of use (one for each cycle type where the rules ask that); loads
    with an implant; the time from an event to the tests asked after it. A stretch is given whole where it begins
    before `first`.
    """
    key = ("spans", duty.id, first, last, facts.as_of)
    return list(facts.once(key, lambda: duty_spans(facts, duty, first, last)))


def unmet_spans(facts: DutyFacts, duty: Duty, first: date, last: date) -> list[Span]:
    """As `spans`, without the periods that were met: where most are, that is much less to make."""
    if duty.every in PERIODS:
        return periods.spans(facts, duty, first, last, unmet=True)
    return spans(facts, duty, first, last)
