"""Answers about service: the plan, the log, servicing, contamination."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from audit.facts import JobFact, OutcomeFact, ReadingFact, in_order, unit_by_day
from audit.facts.dates import ONE_DAY
from audit.judge.clocks.plan import plan_clocks, plan_lines
from audit.judge.judgement import Clock, DueKind, State

from .asked import (
    IN_PART,
    MOST,
    NO,
    RECENT_MONTHS,
    YES,
    AskedPlace,
    AskedQuestion,
    Reply,
    View,
    day_of,
    how_many_good,
    joined,
    none_found,
    number,
    share,
)
from .worked import in_calibration, instruments_by_name, told

_JOB = "service job"
_BAD = (State.OVERDUE, State.NO_EVIDENCE)


def maintained_to_plan(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether every line of the maintenance plan is in time on the day."""
    clocks = [c for c in view.clocks(DueKind.PLAN) if c.state is not State.NOT_APPLICABLE]
    if not clocks:
        return none_found(question, "No line of a maintenance plan is on record.")
    bad = [c for c in clocks if c.state in _BAD or c.due_on is None]  # what cannot be computed is not in time
    jobs = _worked(view.facts.jobs)
    words = f"{len(clocks) - len(bad)} of {number(len(clocks), 'line')} of the plan in time; "
    words += f"{_jobs(jobs, 'service job with work done', 'service jobs with work done')}."
    late = [f"{c.title}: {_how_late(c)}" for c in bad]
    proof = [c.counts_from for c in (bad or clocks) if c.counts_from is not None]
    gap = f"{joined(late)}; {question.gap}" if bad else ""
    return Reply(share(len(clocks) - len(bad), len(clocks)), words, tuple(dict.fromkeys(proof))[:MOST], gap)


def _how_late(clock: Clock) -> str:
    if clock.state not in _BAD:
        return "when it is due is not known"
    return f"{clock.state} since {clock.overdue_on.isoformat()}" if clock.overdue_on else str(clock.state)


def service_log(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether repairs and maintenance are on record, each with its conclusion by somebody named."""
    jobs = in_order(view.facts.jobs)
    if not jobs:
        return none_found(question, "No service job is on record.")
    bad = [j for j in jobs if j.conclusion is None or not _signed(j)]
    good = [j for j in jobs if j not in bad]
    words = f"{_jobs(jobs)}; {len(good)} concluded by a named person{_with_pass_phrase(good)}."
    gap = f"conclusion, or who released it, of the work of {joined(day_of(j) for j in bad)}" if bad else ""
    return Reply(share(len(jobs) - len(bad), len(jobs)), words, told(bad or jobs), gap and f"{gap}; {question.gap}")


def preventive_log(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether planned servicing is on record within a year, each time with what was done and who concluded it.

    Repairs are no preventive maintenance. That every line of the plan is in time is another question, see
    `maintained_to_plan`. Common practice, no source.
    """
    jobs = [j for j in in_order(view.facts.jobs) if j.reason == "planned"]
    if not jobs:
        others = len(view.facts.jobs)
        more = f" {number(others, 'service job')} for other reasons." if others else ""
        return none_found(question, f"No planned servicing is on record.{more}")
    bad = [j for j in jobs if j.conclusion is None or not _signed(j) or not _did(j)]
    words = f"{number(len(jobs), 'planned service job')} on record, the last on {day_of(jobs[-1])}; "
    good = [j for j in jobs if j not in bad]
    words += f"{len(good)} with work done and concluded by a named person{_with_pass_phrase(good)}."
    gap = [f"work done, conclusion, or who released it, of {joined(day_of(j) for j in bad)}"] if bad else []
    if good and good[-1].row.happened_on < place.since(RECENT_MONTHS):
        gap.append(f"planned servicing since {day_of(good[-1])}: more than {RECENT_MONTHS} months ago")
    answer = IN_PART if gap and good else share(len(good), len(jobs))
    return Reply(answer, words, told(bad or jobs), f"{joined(gap)}; {question.gap}" if gap else "")


def _with_pass_phrase(jobs: Sequence[JobFact]) -> str:
    """How many of them somebody signed with a pass phrase; the others were entered while signed in, or on paper."""
    count = sum(any(s.given == "signed" for s in j.signatures) for j in jobs)
    return f", {count} of them signed with a pass phrase" if jobs else ""


def _signed(job: JobFact) -> bool:
    """Whether somebody put a name to it; that nobody was there, or refused, is none, nor a name that another told."""
    signed = (s for s in job.signatures if s.meaning in ("released", "returned to use") and not s.told)
    return any(s.name.strip() for s in signed)


def serviced_yearly(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether the unit was fully serviced, with calibration, within a year (or the months the question names).

    A servicing is a planned job in which every line of the plan due by then was done or decided about, and some work
    was done; without a plan none is shown to be full. Calibration: a measurement left inside its limits, by an
    instrument in calibration that day. Other work is work, not a servicing. Common practice, no source.
    """
    months = question.months or RECENT_MONTHS
    jobs = _worked(view.facts.jobs)
    if not jobs:
        return none_found(question, "No servicing is on record.")
    first = place.since(months)
    recent = [j for j in jobs if j.row.happened_on >= first]
    if not recent:
        words = f"Last worked on on {day_of(jobs[-1])}, more than {months} months ago."
        return Reply(NO, words, told(jobs[-1:]), "a servicing; the service company does it")
    left = [(j, _left_out(view, j)) for j in recent]
    full = [j for j, missing in left if not missing]
    known = instruments_by_name(place)
    measured = [j for j in full if any(_calibrated(r, known) for r in j.readings)]
    words = (
        f"{number(len(recent), 'job')} with work done in the last {months} months, the last on {day_of(recent[-1])}: "
    )
    words += (
        f"{len(full)} a servicing to the plan, {len(measured)} of them with measurements inside their limits by an "
    )
    words += "instrument in calibration."
    gap = "measurements inside their limits by an instrument in calibration; the service company holds them"
    gap = "" if measured else gap
    if not full:
        gap = f"a full servicing: {left[-1][1]}; the service company does it"
    return Reply(YES if measured else IN_PART, words, told(measured or full or recent), gap)


def _left_out(view: View, job: JobFact) -> str:
    """What keeps a job from being a full servicing, in words; "" for nothing."""
    day = job.row.happened_on
    if job.reason != "planned":
        return f"the work of {day_of(job)} was not planned servicing ({job.reason or 'no reason recorded'})"
    lines = plan_lines(view.facts, day)
    if not lines:
        return "no maintenance plan was on record then, so a full servicing cannot be shown"
    decided = {o.plan_line for o in job.outcomes if _decided(o)}
    undecided = {o.plan_line for o in job.outcomes if o.plan_line} - decided
    due = {line.code: line.title for line in lines if line.code in undecided or line.code in _due_then(view, day)}
    missing = [title or code for code, title in due.items() if code not in decided]
    return f"nothing done or decided on {day_of(job)} about {joined(missing)}" if missing else ""


def _decided(outcome: OutcomeFact) -> bool:
    """Done, or left with a decision: a deferral, or what could not be done, only where somebody decided it."""
    if outcome.outcome in ("deferred", "not possible"):
        return bool(outcome.decided_by.strip())
    return outcome.outcome in ("done", "not due", "not applicable")


def _due_then(view: View, day: date) -> set[str]:
    """The codes of the lines due by that day as the record stood before it; one that cannot be computed is due."""

    def make() -> set[str]:
        before = replace(unit_by_day(view.facts, day - ONE_DAY), plan=view.facts.plan)
        clocks = [c for c in plan_clocks(before, day) if c.state is not State.NOT_APPLICABLE]
        return {c.code for c in clocks if c.due_on is None or c.due_on <= day}

    return view.once(("due", day), make)


def _calibrated(reading: ReadingFact, known) -> bool:
    """Whether a measurement was left inside its limits, as left taken with an instrument in calibration."""
    left, low, high = reading.as_left, reading.lower, reading.upper
    if left is None or (low is None and high is None):
        return False
    inside = (low is None or low <= left) and (high is None or left <= high)
    return inside and in_calibration(reading, *reading.left_with, known) is True


def contamination_declared(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether the clinic declared before each job whether the unit is clean."""
    jobs = place.recent(view.facts.jobs)
    bad = [j for j in jobs if not j.contamination.startswith("declared")]
    gap = f"a declaration for {joined(day_of(j) for j in bad)}; {question.gap}" if bad else ""
    return how_many_good(question, jobs, bad, "job", "Declared before {}.", told(bad or jobs), gap, kind=_JOB)


# ------------------------------------------------------------------------------------------------ shared


def _worked(jobs) -> list[JobFact]:
    """Concluded jobs in which something was done, in order."""
    return [j for j in in_order(jobs) if j.conclusion is not None and _did(j)]


def _did(job: JobFact) -> bool:
    done = any(o.outcome == "done" for o in job.outcomes) or any(p.action.startswith("replaced") for p in job.parts)
    return done and job.conclusion.conclusion != "not worked on"


def _jobs(jobs: Sequence[JobFact], one: str = _JOB, many: str = "") -> str:
    last = f", the last on {day_of(jobs[-1])}" if jobs else ""
    return f"{number(len(jobs), one, many)} on record{last}"
