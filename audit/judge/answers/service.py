"""Answers about service: the plan, the log, servicing, contamination, who worked, instruments used."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from audit.facts import CredentialFact, InstrumentFact, JobFact, ReadingFact, in_order
from audit.judge.judgement import DueKind, Evidence, State
from audit.judge.lookback.matching import name_key

from .asked import (
    IN_PART,
    MOST,
    NO,
    RECENT_MONTHS,
    YES,
    AskedPlace,
    Question,
    Reply,
    View,
    cited,
    day_of,
    how_many_good,
    joined,
    none_found,
    number,
    share,
)

_JOB = "service job"
_BAD = (State.OVERDUE, State.NO_EVIDENCE)


def maintained_to_plan(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether every line of the maintenance plan is in time on the day."""
    clocks = [c for c in view.clocks(DueKind.PLAN) if c.state is not State.NOT_APPLICABLE]
    if not clocks:
        return none_found(question, "No line of a maintenance plan is on record.")
    bad = [c for c in clocks if c.state in _BAD]
    jobs = _worked(view.facts.jobs)
    words = f"{len(clocks) - len(bad)} of {number(len(clocks), 'line')} of the plan in time; {_jobs(jobs)}."
    told = [f"{c.title}: {c.state}" + (f" since {c.overdue_on.isoformat()}" if c.overdue_on else "") for c in bad]
    proof = [c.counts_from for c in (bad or clocks) if c.counts_from is not None]
    gap = f"{joined(told)}; {question.gap}" if bad else ""
    return Reply(share(len(clocks) - len(bad), len(clocks)), words, tuple(dict.fromkeys(proof))[:MOST], gap)


def service_log(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether repairs and maintenance are on record, each with its conclusion and a signature."""
    jobs = in_order(view.facts.jobs)
    if not jobs:
        return none_found(question, "No service job is on record.")
    bad = [j for j in jobs if j.conclusion is None or not j.signatures]
    words = f"{_jobs(jobs)}; {len(jobs) - len(bad)} concluded and signed."
    gap = f"conclusion or signature of the work of {joined(day_of(j) for j in bad)}" if bad else ""
    return Reply(share(len(jobs) - len(bad), len(jobs)), words, _told(bad or jobs), gap and f"{gap}; {question.gap}")


def serviced_yearly(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether the unit was serviced, and its measurements taken, within a year (or the months the question names)."""
    months = question.months or RECENT_MONTHS
    jobs = _worked(view.facts.jobs)
    if not jobs:
        return none_found(question, "No servicing is on record.")
    first = place.since(months)
    recent = [j for j in jobs if j.row.happened_on >= first]
    if not recent:
        words = f"Last serviced on {day_of(jobs[-1])}, more than {months} months ago."
        return Reply(NO, words, _told(jobs[-1:]), "a servicing; the service company does it")
    measured = [j for j in recent if _instrumented(j)]
    words = f"{number(len(recent), 'servicing', 'servicings')} in the last {months} months, the last on "
    words += f"{day_of(recent[-1])}; {len(measured)} with measurements by a calibrated instrument."
    gap = "" if measured else "measurements by a calibrated instrument; the service company holds them"
    return Reply(YES if measured else IN_PART, words, _told(measured or recent), gap)


def _instrumented(job: JobFact) -> list[ReadingFact]:
    """Measurements by a calibrated instrument."""
    return [r for r in job.readings if r.calibration_due is not None]


def contamination_declared(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether the clinic declared before each job whether the unit is clean."""
    jobs = place.recent(view.facts.jobs)
    bad = [j for j in jobs if not j.contamination.startswith("declared")]
    gap = f"a declaration for {joined(day_of(j) for j in bad)}; {question.gap}" if bad else ""
    return how_many_good(question, jobs, bad, "job", "Declared before {}.", _told(bad or jobs), gap, kind=_JOB)


# ------------------------------------------------------------------------------------------------ who and with what


def worker_qualified(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether a credential of the person who worked held on the day of each job."""
    jobs = place.recent(view.facts.jobs)
    held: dict[str, list[CredentialFact]] = {}
    for one in place.clinic.credentials:
        held.setdefault(name_key(one.person), []).append(one)
    found = [(j, _credential(held.get(name_key(j.worked_by), ()), j.row.happened_on)) for j in jobs]
    good = [(j, c) for j, c in found if c is not None]
    bad = [j for j, c in found if c is None]
    if jobs and not held:
        return none_found(question, f"No credential of anybody is on record, for {number(len(jobs), 'job')}.")
    proof = dict.fromkeys(Evidence(c.row.ref, f"{c.kind}: {c.title}, {c.person}") for _, c in good)
    proof = (*list(proof)[-(MOST // 2) :], *_told(bad)[-(MOST // 2) :])
    gap = joined(f"a credential of {j.worked_by or 'nobody named'} for {day_of(j)}" for j in bad)
    gap = gap and f"{gap}; {question.gap}"
    return how_many_good(question, jobs, bad, "job", "For {} a credential on record held.", proof, gap, kind=_JOB)


def _credential(held: Sequence[CredentialFact], day: date) -> CredentialFact | None:
    return next((c for c in held if c.valid_from <= day and (c.valid_to is None or day <= c.valid_to)), None)


def instruments_in_calibration(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether the instrument of each measurement was in calibration on that day, by the day copied and on record."""
    readings = [r for j in place.recent(view.facts.jobs) for r in in_order(j.readings)]
    known = {name_key(i.name): i for i in in_order(place.clinic.instruments)}
    judged = [(r, _holds(r, known.get(name_key(r.instrument)))) for r in readings]
    judged = [(r, ok) for r, ok in judged if ok is not None]
    if not judged:
        return none_found(question, "No measurement by an instrument with a calibration is on record for 24 months.")
    bad = [r for r, ok in judged if not ok]
    shown = bad or [judged[-1][0]]
    proof = cited((r, f"{r.quantity} of {day_of(r)} with {r.instrument or 'no instrument named'}") for r in shown)
    gap = f"{joined(dict.fromkeys(f'{r.instrument}, {day_of(r)}' for r in bad))}; {question.gap}" if bad else ""
    told = "{} with an instrument in calibration."
    return how_many_good(question, judged, bad, "measurement", told, proof, gap)


def _holds(reading: ReadingFact, instrument: InstrumentFact | None) -> bool | None:
    """Whether a calibration held that day; None where no calibrated instrument was used (a display, a counter)."""
    day = reading.row.happened_on
    ends = [] if reading.calibration_due is None else [reading.calibration_due]
    if instrument is not None:
        made = [c for c in in_order(instrument.calibrations) if c.row.happened_on <= day and c.result != "no result"]
        if not made:
            return False
        ends.append(made[-1].valid_to)
    return min(ends) >= day if ends else None


# ------------------------------------------------------------------------------------------------ shared


def _worked(jobs) -> list[JobFact]:
    """Concluded jobs in which something was done, in order."""
    return [j for j in in_order(jobs) if j.conclusion is not None and _did(j)]


def _did(job: JobFact) -> bool:
    done = any(o.outcome == "done" for o in job.outcomes) or any(p.action.startswith("replaced") for p in job.parts)
    return done and job.conclusion.conclusion != "not worked on"


def _jobs(jobs: Sequence[JobFact]) -> str:
    last = f", the last on {day_of(jobs[-1])}" if jobs else ""
    return f"{number(len(jobs), 'service job')} on record{last}"


def _told(jobs: Sequence[JobFact]) -> tuple[Evidence, ...]:
    return cited((j, f"work of {day_of(j)} ({j.reason}) by {j.worked_by or 'nobody named'}") for j in jobs)
