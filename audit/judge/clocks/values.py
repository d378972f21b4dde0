"""What was done for a duty, and how each stretch of it was kept: the values that the frequencies share.

There may be thousands: none is changed once it is made, but freezing them would double what making one takes.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime

from audit.judge.judgement import Evidence

PASSED, FAILED, INVALID, AWAITED, NOT_DONE = "passed", "failed", "invalid", "awaited", "not done"

MET, MET_LATE, MISSED, EXEMPT, OPEN, BEFORE = "met", "met late", "missed", "exempt", "open", "before"


@dataclass(slots=True, unsafe_hash=True)
class Kept:
    """One thing done for a duty's subject. `day`: of the cycle, the check, the work; a paper's first valid day.

    `result`: passed, failed, invalid (does not count), awaited (no result yet), not done.
    """

    day: date
    at: datetime | None  # None: the time of day is not known
    result: str
    fact: object
    cycle_type: str  # "" where none is recorded
    chamber: str  # "" where none is recorded
    told: Callable[[object], Evidence]

    @property
    def evidence(self) -> Evidence:
        """The row it rests on, put into words only when asked for."""
        return self.told(self.fact)


@dataclass(slots=True, unsafe_hash=True)
class Span:
    """One stretch of a duty, both ends inclusive: a period, the time from one test to the next, a day of use.

    `result`: met, met late, missed, invalid (only what does not count), exempt, awaited, open (not over yet), before
    (the duty had not begun).
    """

    start: date
    end: date
    result: str
    note: str = ""  # the reason in words
    due_on: date | None = None  # the last day in time; None: nothing was due
    facts: tuple = ()  # what was done in it
    told: Callable[[object], Evidence] | None = field(default=None, compare=False, repr=False)

    @property
    def proof(self) -> tuple[Evidence, ...]:
        """The rows it rests on, put into words only when asked for."""
        return tuple(self.told(f) for f in self.facts) if self.told is not None else ()
