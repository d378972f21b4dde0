"""R10 and R11: in service."""

from __future__ import annotations

from datetime import date

from audit.facts import GapFact
from audit.facts.dates import add_months
from audit.judge.biological import PASSED, evidence_of
from audit.judge.judgement import Evidence, UnitStanding, Word
from audit.judge.proof_after_work import evidence_of_job
from audit.judge.situation import Situation
from audit.judge.usage import placement_on

from .tools import say

GAP_MONTHS = 24


def known_gaps(s: Situation) -> list[GapFact]:
    """Known gaps of the unit or the whole place that touch the 24 months up to the day, oldest first."""
    from_clinic = [g for g in s.settled.clinic.gaps if g.unit in ("", s.unit.ref)]
    gaps = [g for g in (*s.unit.gaps, *from_clinic) if g.from_on <= s.as_of]
    start = add_months(s.as_of, -GAP_MONTHS)
    return sorted((g for g in gaps if g.to_on > start), key=lambda g: (g.from_on, g.row.number, g.row.line))


def r10(s: Situation) -> UnitStanding | None:
    """R10, in service with a gap noted: the oldest known gap of the last 24 months is named, each is evidence.

    Since its last day, or the day it was put on record where that came first. Source: common practice, no source.
    """
    gaps = known_gaps(s)
    if not gaps:
        return None
    first = gaps[0]
    words = f"gap noted: {first.what}, {first.from_on.isoformat()} to {first.to_on.isoformat()} ({first.why})"
    proof = [Evidence(g.row.ref, f"{g.what}: accepted by {g.accepted_by}") for g in gaps]
    return say(Word.IN_SERVICE, "R10", words, first.row.happened_on, proof, "nobody: it can only be explained")


def r11(s: Situation) -> UnitStanding:
    """R11, in service, as nothing else holds: with the last proof, and what will be overdue first if nothing is done.

    Since the newest day on which something that had stopped the unit ended, else the begin of use; None where that is
    not known. Source: common practice, no source.
    """
    proof = [e for e in (_last_good_test(s), _last_release(s)) if e is not None]
    stop = min((c for c in s.clocks if c.overdue_on), key=lambda c: (c.overdue_on, c.id), default=None)
    words = "no open failure, nothing overdue"
    words += f"; last proof: {proof[0].text}" if proof else "; no proof on record"
    if stop is not None:
        words += f"; next stop: {stop.title}, due {stop.due_on.isoformat()}"
    return say(Word.IN_SERVICE, "R11", words, _in_service_since(s), proof, "nothing to lift")


def _last_good_test(s: Situation) -> Evidence | None:
    for test in reversed(s.unit.bio_tests):
        verdict = s.settled.verdicts[test.row.origin]
        if verdict.verdict == PASSED:
            return evidence_of(test, verdict)
    return None


def _last_release(s: Situation) -> Evidence | None:
    released = [w for w in s.settled.works if w.done and w.job.conclusion]
    return evidence_of_job(released[-1]) if released else None


def _in_service_since(s: Situation) -> date | None:
    """The newest day on which something that had stopped the unit ended; the begin of use when nothing had."""
    days = [r.resolved_on for r in s.settled.replays if r.resolved_on and r.withdraws]
    days += [e.row.happened_on for e in s.unit.events if e.kind in ("installed", "returned", "loaner in")]
    days += [w.concluded_by.conclusion.row.happened_on for w in s.settled.works if w.done and w.concluded_by]
    placed = placement_on(s.unit, s.as_of)
    if placed is not None and len(s.unit.placements) > 1:
        days.append(placed.effective_on)
    if not days:
        return s.settled.usage.begin if s.settled.usage.begin_known else None
    return max(days)
