"""R10 and R11: in service."""

from __future__ import annotations

from audit.facts import GapFact
from audit.facts.dates import add_months
from audit.judge.biological import PASSED, evidence_of
from audit.judge.clocks.duties import main_test
from audit.judge.judgement import Evidence, UnitStanding, Word
from audit.judge.proof_after_work import evidence_of_job
from audit.judge.situation import Situation
from audit.regimes.covers import not_covered

from .late import before_first_load, open_failure
from .since import in_service_since
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

    Since the day it was put on record, or the day since when the unit is in service where that is later. Source:
    common practice, no source.
    """
    gaps = known_gaps(s)
    if not gaps:
        return None
    first = gaps[0]
    words = f"gap noted: {first.what}, {first.from_on.isoformat()} to {first.to_on.isoformat()} ({first.why})"
    proof = [Evidence(g.row.ref, f"{g.what}: accepted by {g.accepted_by}") for g in gaps]
    known = in_service_since(s)
    since = first.row.happened_on if known is None else max(first.row.happened_on, known)
    words += open_failure(s) + before_first_load(s)
    return say(Word.IN_SERVICE, "R10", words, since, proof, "nobody: it can only be explained")


def r11(s: Situation) -> UnitStanding:
    """R11, in service, as nothing else holds: with the last proof, and what will be overdue first if nothing is done.

    Since the newest day on which something ended that had stopped the unit or was overdue, else the begin of use;
    None where that is not known. Source: common practice, no source.
    """
    proof = [e for e in (_last_good_test(s), _last_release(s)) if e is not None]
    stop = min((c for c in s.clocks if c.overdue_on), key=lambda c: (c.overdue_on, c.id), default=None)
    words = f"{_failure_words(s)}, {_due_words(s)}"
    words += f"; last proof: {proof[0].text}" if proof else "; no proof on record"
    if stop is not None:
        words += f"; next stop: {stop.title}, due {stop.due_on.isoformat()}"
    words += before_first_load(s)
    return say(Word.IN_SERVICE, "R11", words, in_service_since(s), proof, "nothing to lift")


def _failure_words(s: Situation) -> str:
    """What is open after a failure that by itself does not stop the unit; "no open failure" for nothing."""
    return open_failure(s).removeprefix("; ") or "no open failure"


def _due_words(s: Situation) -> str:
    """ "nothing overdue"; under rules that do not even ask a regular spore test, with all that they do not ask."""
    if main_test(s.duty.duties()) is not None:
        return "nothing overdue"
    left_open = ", ".join(not_covered(s.regime, s.unit.equipment_type))
    return f"nothing overdue of what is asked here (these rules name no frequency of {left_open})"


def _last_good_test(s: Situation) -> Evidence | None:
    for test in reversed(s.unit.bio_tests):
        verdict = s.settled.verdicts[test.row.origin]
        if verdict.verdict == PASSED:
            return evidence_of(test, verdict)
    return None


def _last_release(s: Situation) -> Evidence | None:
    released = [w for w in s.settled.works if w.done and w.job.conclusion]
    return evidence_of_job(released[-1]) if released else None
