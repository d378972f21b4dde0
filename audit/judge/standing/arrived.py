"""R5: a unit that came from elsewhere, or back from there, and that nothing has proved where it stands now.

The texts that speak of a new place agree on one thing: a test is passed there before use (one spore test: NEHA
body-art model code 8.11; three: ST79 clause 13, Toronto Public Health for a backup unit too). What rules ask more is
a duty of theirs, which is said first (`after_work.r5_event`). Where they are silent, that a loaner or a unit that was
moved is proved before use is common practice, no source.

It is proved by a spore test passed, shown to have run after it came (`work.order`: of its own day both times or what
it was run for decide; one that began at that very moment is not shown to); by a job for the new place of that day or
later that ended with the unit back in use, whose tests are asked by the rules after work; or by a validation report
that is valid from that day or a later one.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from audit.facts import JobFact, UnitEventFact
from audit.judge.biological import PASSED
from audit.judge.judgement import UnitStanding, Word
from audit.judge.situation import Situation
from audit.judge.work.classes import BACK_IN_USE, MAJOR_REASONS
from audit.judge.work.order import STATED_AFTER, WorkSpan

from .not_in_use import came_back
from .tools import event_evidence, event_words, say

ARRIVES = ("loaner in", "relocated")
VALIDATION = "validation report"


def r5_arrived(s: Situation) -> UnitStanding | None:
    """R5, waiting for proof: the newest arrival, where nothing on record proves the unit at its new place.

    Since the day of the arrival. Source: common practice, no source.
    """
    for came in last_arrivals(s):
        if proved_on(s, came) is None:
            words = f"{event_words(came)}: no test passed where it stands now"
            lifted = "the clinic or its service company: a spore test passed there, or an installation with its tests"
            return say(Word.WAITING, "R5", words, came.row.happened_on, [event_evidence(came)], lifted)
    return None


def last_arrivals(s: Situation) -> list[UnitEventFact]:
    """Those of the newest day with one."""
    back = came_back(s) if any(e.kind == "returned" for e in s.unit.events) else ()
    found = [e for e in s.unit.events if e.kind in ARRIVES or e in back]
    return [e for e in found if e.row.happened_on == found[-1].row.happened_on]


def arrivals_with_proof(s: Situation) -> list[tuple[UnitEventFact, date | None]]:
    """The newest arrivals, each with the day on which it was proved; None where it is not."""
    return [(came, proved_on(s, came)) for came in last_arrivals(s)]


def proved_on(s: Situation, came: UnitEventFact) -> date | None:
    """The day on which the first proof after it was known; None where there is none. Looked for once a day."""
    memo, key = s.settled.memo, ("proved where it came", came.row.origin, s.as_of)
    if key not in memo:
        memo[key] = min(_proofs(s, came), default=None)
    return memo[key]


def _proofs(s: Situation, came: UnitEventFact) -> Iterator[date]:
    day, at = came.row.happened_on, came.row.happened_at
    span = WorkSpan(day, at, at)
    for test in reversed(s.unit.bio_tests):
        if test.row.happened_on < day:
            break
        verdict = s.settled.verdicts[test.row.origin]
        at_once = at is not None and test.row.happened_at == at and test.purpose not in STATED_AFTER
        if verdict.verdict == PASSED and span.is_before(test.row, test.purpose) and not at_once:
            yield verdict.known_on
    for job in s.unit.jobs:
        row = job.row
        before = row.happened_on < day or (row.happened_on == day and None not in (row.happened_at, at)
                                           and row.happened_at < at)  # fmt: skip
        if _installs(job) and not before:
            yield job.conclusion.row.happened_on
    for paper in (*s.unit.documents, *(d for d in s.settled.clinic.documents if d.unit == s.unit.ref)):
        if paper.kind == VALIDATION and day <= paper.valid_from <= s.as_of:
            yield paper.valid_from


def _installs(job: JobFact) -> bool:
    return job.reason in MAJOR_REASONS and job.conclusion is not None and job.conclusion.conclusion in BACK_IN_USE
