"""Answers about who worked on the unit, and with which instruments."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from audit.facts import CalibrationFact, CredentialFact, InstrumentFact, JobFact, ReadingFact, in_order
from audit.judge.judgement import Evidence
from audit.judge.lookback.matching import name_key
from audit.judge.lookback.measurements import GOOD, OUT

from .asked import (
    MOST,
    AskedPlace,
    AskedQuestion,
    Reply,
    View,
    cited,
    day_of,
    how_many_good,
    joined,
    none_found,
    number,
)

_QUALIFIES = ("training", "licence", "competence")
COMPANY = "service company"


def worker_qualified(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether a credential of the person who worked held on the day of each job; what it is for stands in its title.

    Of a servicer's person it must be one of a service company: somebody of the clinic may bear the same name.
    """
    jobs = place.recent(view.facts.jobs)
    held: dict[str, list[CredentialFact]] = {}
    for one in place.clinic.credentials:
        if one.kind in _QUALIFIES and name_key(one.person):
            held.setdefault(name_key(one.person), []).append(one)
    found = [(j, _credential(place, j, held.get(name_key(j.worked_by), ()))) for j in jobs]
    good = [(j, c) for j, c in found if c is not None]
    bad = [j for j, c in found if c is None]
    if jobs and not held:
        return none_found(question, f"No credential of anybody is on record, for {number(len(jobs), 'job')}.")
    proof = dict.fromkeys(Evidence(c.row.ref, f"{c.kind}: {c.title}, {c.person}") for _, c in good)
    proof = (*list(proof)[-(MOST // 2) :], *told(bad)[-(MOST // 2) :])
    gap = joined(f"a credential of {j.worked_by or 'nobody named'} for {day_of(j)}" for j in bad)
    gap = gap and f"{gap}; {question.gap}"
    words = "For {} a credential on record held."
    return how_many_good(question, jobs, bad, "job", words, proof, gap, kind="service job")


def _credential(place: AskedPlace, job: JobFact, held: Iterable[CredentialFact]) -> CredentialFact | None:
    day = job.row.happened_on
    fits = (c for c in held if c.holder == COMPANY or _own_work(place, job))
    return next((c for c in fits if c.valid_from <= day and (c.valid_to is None or day <= c.valid_to)), None)


def _own_work(place: AskedPlace, job: JobFact) -> bool:
    """Whether the clinic's own people worked: no servicer is named, or the clinic is."""
    terms = place.clinic.terms_on(job.row.happened_on)
    return not job.servicer or (terms is not None and name_key(job.servicer) == name_key(terms.name))


def instruments_in_calibration(place: AskedPlace, view: View, question: AskedQuestion) -> Reply:
    """Whether the instrument of each measurement was in calibration on that day, by the day copied and on record."""
    readings = [r for j in place.recent(view.facts.jobs) for r in in_order(j.readings)]
    known = instruments_by_name(place)
    judged = [(r, name, in_calibration(r, name, due, known)) for r in readings for name, due in r.instruments]
    judged = [(r, name or "no instrument named", ok) for r, name, ok in judged if ok is not None]
    if not judged:
        return none_found(question, "No measurement by an instrument with a calibration is on record for 24 months.")
    wrong = [(r, name) for r, name, ok in judged if not ok]
    shown = wrong or [judged[-1][:2]]
    proof = cited((r, f"{r.quantity} of {day_of(r)} with {name}") for r, name in shown)
    named = dict.fromkeys(f"{name}, {day_of(r)}" for r, name in wrong)
    gap = f"{joined(named)}; {question.gap}" if wrong else ""
    judged, bad = ({r.row.ref for r, *_ in some} for some in (judged, wrong))
    words = "{} with an instrument in calibration."
    return how_many_good(question, judged, bad, "measurement", words, proof, gap)


def instruments_by_name(place: AskedPlace) -> dict[str, list[InstrumentFact]]:
    """The instruments on record by the name that readings give them; several may bear one name."""
    known: dict[str, list[InstrumentFact]] = {}
    for one in in_order(place.clinic.instruments):
        known.setdefault(name_key(one.name), []).append(one)
    return known


def in_calibration(
    reading: ReadingFact, name: str, copied: date | None, known: dict[str, list[InstrumentFact]]
) -> bool | None:
    """Whether the calibration of an instrument of the measurement held that day, by the last day of it that was
    copied; None where no instrument was used (a display, a counter).

    Both the day copied and every instrument of that name on record must show it: the newest calibration by then in
    tolerance and not run out, and none found out of tolerance next. An instrument that only has a name shows nothing.
    """
    day, key = reading.row.happened_on, name_key(name)
    own = known.get(key, ()) if key else ()
    if copied is None and not own:
        return False if key else None
    held = copied is None or copied >= day
    return held and bool(key) and all(_held(in_order(i.calibrations), day) for i in own)


def _held(calibrations: Sequence[CalibrationFact], day) -> bool:
    made = [c for c in calibrations if c.row.happened_on <= day]
    later = [c for c in calibrations if c.row.happened_on > day and c.result != "no result"]
    if not made or made[-1].result not in GOOD or made[-1].valid_to < day:
        return False
    return not (later and later[0].result == OUT)


def told(jobs: Sequence[JobFact]) -> tuple[Evidence, ...]:
    """Jobs in a line each."""
    return cited((j, f"work of {day_of(j)} ({j.reason}) by {j.worked_by or 'nobody named'}") for j in jobs)
