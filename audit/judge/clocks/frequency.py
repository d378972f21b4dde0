"""Which module judges which frequency: the due item of one duty, and the stretches of it."""

from __future__ import annotations

from datetime import date

from audit.judge.judgement import Clock
from audit.regimes.model import PERIODS, Duty

from . import events, periods, rolling, used_days
from .duties import EVENT, IMPLANT
from .duty import DutyFacts
from .values import Span

_CLOCKS = {
    **dict.fromkeys(PERIODS, periods.clock),
    "day-of-use": used_days.clock,
    used_days.BY_TYPE: used_days.clock,
    IMPLANT: used_days.implant_clock,
    EVENT: events.clock,
}
_SPANS = {
    **dict.fromkeys(PERIODS, periods.spans),
    "day-of-use": used_days.spans,
    used_days.BY_TYPE: used_days.spans,
    IMPLANT: used_days.implant_spans,
    EVENT: events.spans,
}


def duty_clock(facts: DutyFacts, duty: Duty) -> Clock | None:
    """The due item of one duty; None for a duty after an event that has not happened."""
    return _CLOCKS.get(duty.every, rolling.clock)(facts, duty)


def duty_spans(facts: DutyFacts, duty: Duty, first: date, last: date) -> list[Span]:
    """The stretches of the duty that overlap `first` to `last`, both inclusive, oldest first; none after `as_of`."""
    return _SPANS.get(duty.every, rolling.spans)(facts, duty, first, last)
