"""Due items of papers: documents with a last valid day, credentials of people, calibrations of instruments.

A paper is due on its last valid day and overdue from the day after. One that follows without a gap carries it on.
Shown as due soon from 60 days before. Common practice, no source, but for what a paper itself states.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from audit.facts import ClinicFacts, InstrumentFact, UnitFacts, in_order
from audit.facts.dates import ONE_DAY
from audit.judge.judgement import Clock, DueKind, Evidence, State
from audit.judge.usage import Usage
from audit.regimes.model import SUBJECTS, Duty, Regime
from audit.regimes.source import Source

from .build import state_on
from .duties import duties_on
from .duty import DutyFacts
from .frequency import duty_clock

LEAD_DAYS = 60
STATED = Source("the last valid day it states itself")
_NO_RESULT = "no result"


def paper_clocks(
    unit: UnitFacts, as_of: date, duties: tuple[Duty, ...] = (), clinic: ClinicFacts | None = None
) -> tuple[Clock, ...]:
    """The papers of the unit that state a last valid day, without those that `duties` ask for anyway."""
    of_clinic = clinic.documents if clinic is not None else ()
    papers = [*unit.documents, *[d for d in of_clinic if d.unit == unit.ref]]
    if not papers:
        return ()
    asked = {d.subject for d in duties}
    return tuple(_documents([d for d in papers if d.kind not in asked], as_of))


def clinic_clocks(clinic: ClinicFacts, regime: Regime, as_of: date) -> tuple[Clock, ...]:
    """The due items of the whole place: duties for papers, papers on file, credentials, instruments.

    `clinic` is cut to what had happened by `as_of`.
    """
    duties = duties_on(regime, clinic, None, as_of)
    facts = _whole_place(clinic, regime, as_of)
    asked = {d.subject for d in duties}
    papers = [d for d in clinic.documents if d.unit == "" and d.kind not in asked]
    found = [duty_clock(facts, duty) for duty in duties]
    return (
        *(c for c in found if c is not None),
        *_documents(papers, as_of),
        *_credentials(clinic, as_of),
        *(_instrument(i, as_of) for i in in_order(clinic.instruments)),
    )


def _whole_place(clinic: ClinicFacts, regime: Regime, as_of: date) -> DutyFacts:
    """The facts of duties of the whole place, which begin with its first terms."""
    begin = min((t.effective_on for t in clinic.terms), default=as_of)
    return DutyFacts(
        unit=None,
        clinic=clinic,
        regime=regime,
        as_of=as_of,
        usage=Usage(begin, False, ()),
        verdicts={},
        works=(),
    )


def _documents(papers, as_of: date) -> Iterator[Clock]:
    for paper in _in_force(papers, lambda d: (d.kind, d.title), as_of):
        told = f"{paper.title}, valid from {paper.valid_from.isoformat()} to {paper.valid_to.isoformat()}"
        words = f"{paper.kind}: to be renewed by its last valid day"
        subject = paper.kind if paper.kind in SUBJECTS else ""
        key, proof = (DueKind.PAPER, paper.row.origin), Evidence(paper.row.ref, told)
        yield _dated(key, paper.title, paper.valid_to, as_of, proof, words, subject)


def _credentials(clinic: ClinicFacts, as_of: date) -> Iterator[Clock]:
    for held in _in_force(clinic.credentials, lambda c: (c.person, c.kind, c.title), as_of):
        told = (
            f"{held.title} of {held.person}, valid from {held.valid_from.isoformat()} to {held.valid_to.isoformat()}"
        )
        title, words = f"{held.title}: {held.person}", f"{held.kind}: to be renewed by its last valid day"
        key = (DueKind.CREDENTIAL, held.row.origin)
        yield _dated(key, title, held.valid_to, as_of, Evidence(held.row.ref, told), words)


def _in_force(papers: Iterable, group, as_of: date) -> Iterator:
    """Of each group the newest that has begun, or one that follows it without a gap; none without a last day."""
    groups: dict = {}
    for paper in sorted(papers, key=lambda p: (p.valid_from, p.row.number, p.row.line)):
        groups.setdefault(group(paper), []).append(paper)
    for key in sorted(groups):
        held = None
        for paper in groups[key]:
            if paper.valid_from <= as_of or (held is not None and _follows(held, paper)):
                held = paper
        if held is not None and held.valid_to is not None:
            yield held


def _follows(held, paper) -> bool:
    return held.valid_to is not None and paper.valid_from <= held.valid_to + ONE_DAY


def _instrument(instrument: InstrumentFact, as_of: date) -> Clock:
    key, title = (DueKind.INSTRUMENT, instrument.row.origin), f"Calibration of {instrument.name}"
    words = "to be calibrated by the last day its certificate holds"
    made = [c for c in in_order(instrument.calibrations) if c.result != _NO_RESULT]
    if not made:
        note = "no calibration with a result is on record"
        return Clock(*key, title, State.NO_EVIDENCE, None, None, None, words, STATED, note, action="calibrate")
    last = made[-1]
    told = f"certificate {last.certificate} of {last.row.happened_on.isoformat()}: {last.result}"
    return _dated(key, title, last.valid_to, as_of, Evidence(last.row.ref, told), words, action="calibrate")


def _dated(
    key: tuple[DueKind, str],  # kind and code
    title: str,
    last: date,
    as_of: date,
    proof: Evidence,
    words: str,
    subject: str = "",
    action: str = "renew",
) -> Clock:
    overdue_on = last + ONE_DAY
    kind, code = key
    return Clock(
        kind=kind,
        code=code,
        title=title,
        state=state_on(as_of, last, last, overdue_on, LEAD_DAYS),
        due_on=last,
        overdue_on=overdue_on,
        counts_from=proof,
        rule=words,
        source=STATED,
        action=action,
        subject=subject,
    )
