"""Facts of work that is owed: a fault reported, a visit agreed with the clinic."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from .row import Row


@dataclass(frozen=True, slots=True)
class FaultSettledFact:
    """A reported fault that needs no visit any more."""

    row: Row
    outcome: str  # what it was, and why nobody needs to come
    settled_by: str  # the name as recorded


@dataclass(frozen=True, slots=True)
class FaultFact:
    """Somebody reported that something is wrong with the unit; `row` has the day and, if known, the time."""

    row: Row
    reported_by: str  # the name as recorded
    how: str  # on site, telephone, message
    what: str  # in their words
    withdrawal: str  # origin of the withdrawal entered with it, "" where the unit stayed in use
    kept_because: str  # why it stays in use and who decided, "" where it was taken out of service
    settled: FaultSettledFact | None = None  # None: no such entry


@dataclass(frozen=True, slots=True)
class VisitCalledOffFact:
    """An agreed visit was called off: why, and who told whom."""

    row: Row
    reason: str
    told_by: str  # the name as recorded
    told_to: str  # the name as recorded
    how: str  # on site, telephone, message


@dataclass(frozen=True, slots=True)
class VisitAgreedFact:
    """A company and the clinic agreed on a day for a visit; `row` has the day on which they did."""

    row: Row
    company: str  # its name
    visit_on: date
    hour: str  # at what time, in words; "" where none was agreed
    agreed_with: str  # the name as recorded
    agreed_by: str  # the name as recorded
    how: str  # on site, telephone, message
    about: str  # the work that it is about, in words
    instead_of: str  # origin of the agreement that it moves, "" for none
    reason: str  # why it was moved, "" for a first one
    called_off: VisitCalledOffFact | None = None  # None: it was not
