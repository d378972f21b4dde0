"""What the rules of the standing share."""

from __future__ import annotations

from datetime import date

from audit.facts import JobFact, SignatureFact, UnitEventFact
from audit.facts.dates import days_words
from audit.judge.judgement import Clock, Evidence, State, UnitStanding
from audit.regimes.source import Source

PRACTICE = Source("common practice, no source")
LATE = (State.OVERDUE, State.NO_EVIDENCE)


def say(word, rule, reason, since, proof, lifted_by, source=PRACTICE) -> UnitStanding:
    """An answer; how long it holds is added later."""
    return UnitStanding(word, rule, reason, since, tuple(proof), lifted_by, None, source)


def event_words(event: UnitEventFact) -> str:
    """An event with its day in ISO text, by whom and why if stated: "withdrawn on 2026-03-02 by A. Byrne: door"."""
    by = f" by {event.by}" if event.by else ""
    by += f", {event.given_words}" if event.told_return else ""
    reason = f": {event.reason}" if event.reason else ""
    return f"{event.kind} on {event.row.happened_on.isoformat()}{by}{reason}"


def event_evidence(event: UnitEventFact) -> Evidence:
    """The row of the event, in the version in force, as an answer cites it."""
    return Evidence(event.row.ref, event_words(event))


def late_words(clocks, day: date) -> tuple[str, date | None, Clock]:
    """What is late, the oldest named; since when, None for since before the first record; the due item named."""
    late = [c for c in clocks if c.state is State.OVERDUE]
    first = min(late, key=lambda c: (c.overdue_on, c.id)) if late else clocks[0]
    if late:
        days = days_words(first.days_overdue(day))
        words = f"overdue since {first.overdue_on.isoformat()} ({days}): {first.title}"
    else:
        words = f"no evidence: {first.title}"
    words += f" and {len(clocks) - 1} more" if len(clocks) > 1 else ""
    return words, None if len(late) < len(clocks) else first.overdue_on, first


TAKEN_BACK = "returned to use"


def taken_back(job: JobFact) -> list[SignatureFact]:
    """The signatures of somebody of the clinic that takes the unit back after a job; what was told signs nothing."""
    return [x for x in job.signatures if x.meaning == TAKEN_BACK and not x.told]
