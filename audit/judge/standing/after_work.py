"""R5 to R7: work or an event not proven yet, a pending result accepted, a release with a limitation."""

from __future__ import annotations

from datetime import date

from audit.facts import SignatureFact, in_order
from audit.facts.names import titles
from audit.judge.biological import ran_after
from audit.judge.judgement import Evidence, State, UnitStanding, Word
from audit.judge.proof_after_work import (
    LIMITED,
    NOT_RELEASED,
    NOT_WORKED,
    PENDING,
    RELEASED,
    STATED_WORDS,
    Work,
    evidence_of_job,
)
from audit.judge.situation import Situation
from audit.judge.work.classes import BACK_IN_USE
from audit.judge.work.order import came_after
from audit.judge.work.readings import reading_words

from .awaited import awaited_parts
from .by_hand import returns_that_count
from .late import before_first_load, open_failure
from .tools import LATE, say, taken_back


def _accepted(s: Situation, work: Work) -> bool:
    """Whether somebody at the clinic accepted a pending result, and the deadline (inclusive) has not passed."""
    own = work.concluded_by.conclusion if work.concluded_by else None
    if own is None or work.conclusion != PENDING or not own.acceptor or own.deadline is None:
        return False
    return s.as_of <= own.deadline and not only_told(work)


def only_told(work: Work) -> bool:
    """Whether that a pending result is accepted was entered by another in the name of who accepts, and no more.

    It is the clinic's own once somebody of the clinic has signed that it takes the unit back from that visit
    (21 CFR 11.100(a), 11.200(a)(2); that taking it back accepts what is pending is common practice, no source).
    """
    return work.concluded_by.conclusion.told and not taken_back(work.concluded_by)


def why_waiting(s: Situation, work: Work) -> str:
    """What the work still lacks before the unit may be used, or ""; a pending result accepted is no lack.

    What was measured outside its limits is said apart, see `left_outside`.
    """
    if not work.done:
        return ""
    if work.failed:
        return f"verification failed: {titles(work.failed)}"
    if not work.conclusion:
        return "work started, not concluded"
    if work.conclusion == NOT_RELEASED:
        return "not released after work"
    if work.conclusion == NOT_WORKED:
        return "closed as not worked on, although the record says what was changed"
    if work.missing:
        return f"verification not complete: {titles(work.missing)}"
    if _limit_not_stated(s, work):
        return "released with a limitation that nobody stated"
    return work.biological_words if waits_for_spores(s, work) else ""


def _limit_not_stated(s: Situation, work: Work) -> bool:
    """Whether nobody can know what it is limited to, and no later release without a limitation ended that."""
    own = work.job.conclusion
    if own is None or own.conclusion != LIMITED or own.limitation.strip() or own.reason.strip():
        return False
    free = [w.job for w in s.settled.works if w.done and w.job.conclusion]
    return not any(j.conclusion.conclusion == RELEASED and came_after(j, work.job) for j in free)


def waits_for_spores(s: Situation, work: Work) -> bool:
    """Whether negative spore tests are still to come and nobody has accepted that they are pending."""
    return work.biological_missing > 0 and not _accepted(s, work)


REFUSED = "refused"
LEFT_OUT = "left out of use"  # beside a release it says no to it
_NO = (REFUSED, LEFT_OUT)
_NOT_TAKEN = "works that somebody did not take back"  # kept under this name for all days that are looked at


def refused_return(s: Situation, work: Work) -> SignatureFact | None:
    """The signature by which the clinic refused to take the unit back after the work, or left it out of use; None
    where it has taken it back since.

    It takes it back by a signature shown to be later: in the same visit, where of one day and without both times the
    order of the rows decides, or in a later one; or by a return by hand that is about no withdrawal. That a later
    visit was released takes nothing back, nor what somebody else told in the name of who takes it back (21 CFR
    11.100, 11.200). Common practice, no source.
    """
    if not work.done or work.job.conclusion is None:
        return None
    refused = [x for x in in_order(work.job.signatures) if x.meaning in _NO]
    if not refused or work.job.conclusion.conclusion not in BACK_IN_USE:
        return None
    last, own = refused[-1], taken_back(work.job)
    if any(_signed_after(x, last) for x in own):
        return None
    later = (w.job for w in s.settled.works if came_after(w.job, work.job))
    if any(taken_back(job) for job in later):
        return None
    return None if any(not e.ends and _after(e, last) for e in returns_that_count(s)) else last


def refusal_words(work: Work, refused: SignatureFact) -> str:
    """That it was refused, with the day of the work in ISO text and the reason where one is stated."""
    words = f"work of {work.job.row.happened_on.isoformat()} was released, and the return to use was refused"
    return f"{words}: {refused.reason}" if refused.reason else words


def _after(one, other) -> bool | None:
    row, last = one.row, other.row
    return ran_after(row.happened_on, row.happened_at, last.happened_on, last.happened_at)


def _signed_after(one: SignatureFact, other: SignatureFact) -> bool:
    shown = _after(one, other)
    return (one.row.number, one.row.line) > (other.row.number, other.row.line) if shown is None else shown


def left_outside(work: Work) -> str:
    """What was left outside its limits at that visit and not shown within them since, in words; "" for nothing."""
    return "; ".join(reading_words(r) for r in work.outside)


def way_back(work: Work) -> str:
    """What ends the wait: pass what failed, complete what is missing, release, return to use."""
    steps = []
    if work.unknown:
        steps.append(f"state a class with its reason for what is not known ({', '.join(work.unknown)})")
    if work.failed:
        steps.append(f"pass {titles(work.failed)}")
    stated = [m for m in work.missing if m.endswith(STATED_WORDS)]
    missing = [m for m in work.missing if m not in stated]
    if stated:
        steps.append(f"record values with {titles(m.split()[0] for m in stated)}")
    if missing:
        steps.append(f"complete {titles(missing)}")
    if work.biological_missing:
        steps.append(work.biological_words)
    return "; then ".join([*steps, "release the unit, and the clinic returns it to use"])


def r5(s: Situation) -> UnitStanding | None:
    """R5, waiting for proof: the first job in order that still lacks a test, its conclusion or its release.

    Since the day of that job. A pending spore test that somebody accepted is no lack, see `r6`. Source: that of the
    tests which the rules ask after work of its repair class. Else a measurement that was left outside its limits and
    not shown within them since: since the day of it; else work after which the clinic refused to take the unit back:
    since the day of the refusal; both common practice, no source.
    """
    for work in s.settled.works:
        lack = why_waiting(s, work)
        if lack:
            day, outside = work.job.row.happened_on, left_outside(work)
            words = f"work of {day.isoformat()} ({work.class_words}): {lack}" + (f"; {outside}" if outside else "")
            lifted = f"the technician: {way_back(work)}"
            return say(Word.WAITING, "R5", words, day, [evidence_of_job(work)], lifted, work.asked.source)
    for work in s.settled.works:
        if work.outside:
            day = work.outside[0].row.happened_on
            proof = [Evidence(r.row.ref, reading_words(r)) for r in work.outside]
            lifted = "the technician: adjust or repair, and measure again within the limits"
            return say(Word.WAITING, "R5", f"{left_outside(work)} ({day.isoformat()})", day, proof, lifted)
    return _refused(s)


def _refused(s: Situation) -> UnitStanding | None:
    memo = s.settled.memo
    if _NOT_TAKEN not in memo:
        memo[_NOT_TAKEN] = [w for w in s.settled.works if any([x.meaning in _NO for x in w.job.signatures])]
    for work in memo[_NOT_TAKEN]:
        refused = refused_return(s, work)
        if refused is not None:
            words = refusal_words(work, refused)
            proof = [evidence_of_job(work), Evidence(refused.row.ref, "the return to use was refused")]
            lifted = "the clinic: settle why, then sign the return to use"
            return say(Word.WAITING, "R5", words, refused.row.happened_on, proof, lifted)
    return None


def r5_event(s: Situation) -> UnitStanding | None:
    """Tests that the rules ask after an event before the unit may be used."""
    waiting = [c for c in s.clocks if c.forbids and s.follows_event(c) and c.state in (State.DUE, *LATE)]
    if not waiting:
        return None
    first = min(waiting, key=lambda c: (c.due_on or date.min, c.id))
    event = f" after {first.counts_from.text}" if first.counts_from else ""
    words = f"{first.title}{event}: {first.note or 'not done'}"
    proof = [c.counts_from for c in waiting if c.counts_from is not None]
    lifted = "the clinic or its service company: these tests, passed"
    return say(Word.WAITING, "R5", words, first.due_on, proof, lifted, first.source)


def r6(s: Situation) -> UnitStanding | None:
    """R6, limited: a spore test is pending after work, and somebody accepted that up to a deadline, inclusive.

    Since the day of the conclusion that names the acceptor. Source: common practice, no source.
    """
    for work in s.settled.works:
        if work.done and work.biological_missing and _accepted(s, work):
            own = work.concluded_by.conclusion
            last = own.deadline.isoformat()
            words = f"spore test pending after work, accepted by {own.acceptor} until {last}"
            if own.limitation:
                words += f"; {own.limitation}"
            lifted = "a negative result; a positive one takes the unit out of service"
            proof = [evidence_of_job(work), Evidence(own.row.ref, words)]
            words += open_failure(s) + before_first_load(s)
            return say(Word.LIMITED, "R6", words, own.row.happened_on, proof, lifted)
    return None


def r7(s: Situation) -> UnitStanding | None:
    """R7, limited: a job was released with a limitation, and no job shown to be later without one.

    The newest such job is named. Since the day of its conclusion; a pending result accepted after a later visit lifts
    no limitation. Source: common practice, no source.
    """
    done = [w for w in s.settled.works if w.done and w.job.conclusion]
    limited = [w for w in done if w.job.conclusion.conclusion == LIMITED]
    if not limited:
        return None
    free = [w.job for w in done if w.job.conclusion.conclusion == RELEASED]
    held = [w for w in limited if not any(came_after(job, w.job) for job in free)]
    if not held:
        return None
    own = held[-1].job.conclusion
    words = f"released with a limitation: {own.limitation or own.reason}"
    words += "".join(f"; awaited: {each.part}, accepted by {own.acceptor}" for each in awaited_parts(s)[:1])
    proof = [evidence_of_job(held[-1]), Evidence(own.row.ref, words)]
    words += open_failure(s) + before_first_load(s)
    return say(Word.LIMITED, "R7", words, own.row.happened_on, proof, "a later job released without limitation")
