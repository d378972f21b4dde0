"""Whether a test is shown to have run after the work, and one job after another.

A test of a later day ran after it. On the day of the work the times decide: from its end on is after, before its
begin is before. In between, or where a time is missing, only a person's statement that it was run because of the work
(its purpose) makes it count; it does not outweigh two times that show the test came first. Of a job whose arrival is
known and whose departure is not, nobody knows the end. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from audit.facts import JobFact, Row

# What a person states who runs a test because of what was done before.
STATED_AFTER = ("repeat", "requalification", "after repair", "installation")


@dataclass(slots=True, unsafe_hash=True)  # not frozen, nor ever changed
class WorkSpan:
    """When work was done. `begin`, `end`: None where that moment is not known."""

    day: date
    begin: datetime | None
    end: datetime | None

    def is_before(self, row: Row, purpose: str = "") -> bool | None:
        """Whether a test ran after the work: True shown or stated so, False shown to come first, None neither."""
        if row.happened_on != self.day:
            return row.happened_on > self.day
        at = row.happened_at
        if at is not None and self.end is not None and at >= self.end:
            return True
        if at is not None and self.begin is not None and at < self.begin:
            return False
        return True if purpose in STATED_AFTER else None


def span_of(job: JobFact) -> WorkSpan:
    """The span of a job: arrival to departure; where neither is known the one time of its row is both."""
    single = job.row.happened_at
    if job.arrived_at is None and job.departed_at is None:
        return WorkSpan(job.row.happened_on, single, single)
    return WorkSpan(job.row.happened_on, job.arrived_at or single, job.departed_at)


def came_after(job: JobFact, other: JobFact) -> bool:
    """Whether `job` is shown to have begun after `other` ended; what is not shown is not so."""
    if job.row.happened_on != other.row.happened_on:
        return job.row.happened_on > other.row.happened_on
    begin, end = span_of(job).begin, span_of(other).end
    return job is not other and begin is not None and end is not None and begin >= end
