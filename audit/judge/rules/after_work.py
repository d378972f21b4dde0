"""Work whose tests, conclusion or signatures are not complete; pending results; safety findings still open."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from audit.facts import SignatureFact
from audit.facts.dates import ONE_DAY
from audit.facts.names import titles
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.proof_after_work import (
    LIMITED,
    NOT_RELEASED,
    NOT_WORKED,
    PENDING,
    RELEASED,
    Work,
    evidence_of_job,
)
from audit.judge.standing import (
    TAKEN_BACK,
    SafetyFinding,
    open_safety,
    refusal_words,
    refused_return,
    still_to_replace,
    waits_for_spores,
    way_back,
    why_waiting,
)
from audit.judge.work.order import came_after

from .tools import CLINIC, COMPANY, PRACTICE, SIGNED, Judged, day

_SHOWN = 20
_ANSWERED = ("returned to use", "refused", "nobody present")


def check(judged: Judged) -> Iterator[Finding]:
    """Open safety findings, work not proven, and released work that nobody returned to use."""
    for found in open_safety(judged.now):
        yield Finding(
            rule="safety-finding-open",
            severity=Severity.FORBIDS,
            since=found.day,
            message=f"do not use: {found.words} (found {day(found.day)})",
            way_out=found.way_out,
            evidence=(found.evidence,),
            source=PRACTICE,
            owner=COMPANY,
        )
    for found in still_to_replace(judged.now):
        yield _not_replaced(found)
    yield from _unshown([w for w in judged.settled.works if w.unshown])
    yield from _told([w for w in judged.settled.works if _returned_in_words(w)])
    works = judged.settled.works
    yield from _left_pending([w for w in works if _all_known(w) and not _released_since(works, w)])
    for work in judged.settled.works:
        if work.biological_missing:
            yield from _pending(judged, work)
        if work.warnings:
            yield from _order(judged, work)
        if work.unknown:
            yield from _unknown(work)
        if work.job.signatures and (refused := refused_return(judged.now, work)) is not None:
            yield _refused(work, refused)
        if why_waiting(judged.now, work):
            yield from _not_proven(judged, work)
        elif _nobody_returned(work):
            yield Finding(
                rule="not-returned-to-use",
                severity=Severity.PUT_RIGHT,
                since=work.job.row.happened_on,
                message=f"work of {day(work.job.row.happened_on)} was released, but nobody at the clinic signed "
                "the return to use",
                way_out="the clinic signs the return to use, or records why not",
                evidence=(evidence_of_job(work),),
                source=PRACTICE,
                owner=CLINIC,
            )


def _returned_in_words(work: Work) -> list[SignatureFact]:
    """The returns to use after the work, where each was told by somebody else; [] where one was not, or none is."""
    back = [x for x in work.job.signatures if x.meaning == TAKEN_BACK]
    return back if work.done and all(x.told for x in back) else []


def _told(works: list[Work]) -> Iterator[Finding]:
    """One item for all returns that nobody but the person who entered them vouches for."""
    told = [x for work in works for x in _returned_in_words(work)]
    if told:
        last = told[-1]
        many = f"{len(told)} returns to use were told, not signed, the last" if len(told) > 1 else "the return to use"
        yield Finding(
            rule="return-only-told",
            severity=Severity.PUT_RIGHT,
            since=told[0].row.happened_on,
            message=f"{many} of {day(last.row.happened_on)}: {last.name or 'no name'}, {last.given_words}",
            way_out="the person named signs it, with an own account and pass phrase",
            evidence=tuple(Evidence(x.row.ref, f"{x.meaning}: {x.name}, {x.given_words}") for x in told[-_SHOWN:]),
            source=SIGNED,
            owner=CLINIC,
        )


def _refused(work: Work, refused: SignatureFact) -> Finding:
    """The clinic refused to sign that it goes back into use: said until it is."""
    return Finding(
        rule="return-refused",
        severity=Severity.FORBIDS,
        since=refused.row.happened_on,
        message=refusal_words(work, refused),
        way_out="settle why, and do not use the unit until it is; then the clinic signs the return to use",
        evidence=(Evidence(refused.row.ref, "the return to use was refused"),),
        source=PRACTICE,
        owner=CLINIC,
    )


def _pending(judged: Judged, work: Work) -> Iterator[Finding]:
    """A result accepted as pending whose deadline (inclusive) has passed."""
    own = work.concluded_by.conclusion if work.concluded_by else None
    if own is None or work.conclusion != PENDING or own.deadline is None or not work.biological_missing:
        return
    if judged.now.as_of > own.deadline:
        yield Finding(
            rule="pending-past-deadline",
            severity=Severity.FORBIDS,
            since=own.deadline + ONE_DAY,
            message=f"work of {day(work.job.row.happened_on)}: the spore test was to be known by {day(own.deadline)}"
            f" ({'accepted by ' + own.acceptor if own.acceptor else 'accepted by nobody'}): "
            f"{work.biological_words}",
            way_out="enter the result, or test again; until then the unit is not used",
            evidence=(evidence_of_job(work),),
            source=PRACTICE,
            owner=CLINIC,
        )


def _all_known(work: Work) -> bool:
    """Whether its own conclusion still calls a result pending, and every test that it waited for has passed."""
    own = work.job.conclusion
    left = own is not None and own.conclusion == PENDING
    return left and not (work.biological_missing or work.missing or work.failed)


def _released_since(works: Iterable[Work], work: Work) -> bool:
    """Whether a later visit released the unit: with it the one before is concluded too."""
    later = (w.job for w in works if w.job.conclusion is not None)
    back = (job for job in later if job.conclusion.conclusion in (RELEASED, LIMITED))
    return any(came_after(job, work.job) for job in back)


def _left_pending(works: list[Work]) -> Iterator[Finding]:
    """One item for all of them: the answer rests on the tests, and the report of the work says otherwise."""
    if works:
        days = ", ".join(day(w.job.row.happened_on) for w in works)
        yield Finding(
            rule="left-pending",
            severity=Severity.NOTE,
            since=works[0].job.row.happened_on,
            message=f"work of {days}: still concluded as pending, although the spore tests it awaited are negative",
            way_out="correct the conclusion to how it ended, and name the test in the reason",
            evidence=tuple(evidence_of_job(w) for w in works[-_SHOWN:]),
            source=PRACTICE,
            owner=COMPANY,
        )


def _not_replaced(found: SafetyFinding) -> Finding:
    """A failed part that was to be replaced, and no other one is on record as fitted."""
    return Finding(
        rule="failed-part-not-replaced",
        severity=Severity.PUT_RIGHT,
        since=found.day,
        message=f"{found.words}: failed (grade 3) and to be replaced, found {day(found.day)}; no other is on record "
        "as fitted",
        way_out="replace it and record the part with its lot; if that was done in the visit, add the part to it",
        evidence=(Evidence(found.row_ref, f"finding of {day(found.day)}: {found.words}"),),
        source=PRACTICE,
        owner=COMPANY,
    )


def _unknown(work: Work) -> Iterator[Finding]:
    """What was changed and nobody knows what it is: major work until somebody decides."""
    if work.unknown and work.done:
        on = work.job.row.happened_on
        yield Finding(
            rule="component-not-known",
            severity=Severity.PUT_RIGHT,
            since=on,
            message=f"work of {day(on)}: not known what kind of component this is: {', '.join(work.unknown)}; "
            "it counts as major work until somebody decides",
            way_out="say by an amendment what it is (door, seal, valve, sensor …), or state the class of the work "
            "with its reason",
            evidence=(evidence_of_job(work),),
            source=PRACTICE,
            owner=COMPANY,
        )


def _unshown(works: list[Work]) -> Iterator[Finding]:
    """Function cycles that were ticked as passed without a value: they count, and show nothing."""
    if works:
        days = ", ".join(day(w.job.row.happened_on) for w in works)
        yield Finding(
            rule="value-not-shown",
            severity=Severity.NOTE,
            since=works[0].job.row.happened_on,
            message=f"V1 stated, not shown: no temperature, pressure or time was recorded with it ({days})",
            way_out="record least and greatest temperature, pressure and time with the next function cycle",
            evidence=tuple(evidence_of_job(w) for w in works),
            source=PRACTICE,
            owner=COMPANY,
        )


def _order(judged: Judged, work: Work) -> Iterator[Finding]:
    """Tests after work in another order than the rules name: a warning, no more."""
    for words in work.warnings:
        yield Finding(
            rule="requalification-order",
            severity=Severity.NOTE,
            since=work.job.row.happened_on,
            message=f"work of {day(work.job.row.happened_on)}: {words}",
            way_out="nothing to make good: the tests passed; keep to the order next time",
            evidence=(evidence_of_job(work),),
            source=judged.now.regime.requalification.source,
            owner=COMPANY,
        )


def _not_proven(judged: Judged, work: Work) -> Iterator[Finding]:
    """The conclusion, the tests and the tests in a row, each an item of its own: none of them hides another."""
    if not work.conclusion:
        yield _lacking(work, "conclusion-missing", "work started, not concluded")
    elif work.conclusion in (NOT_RELEASED, NOT_WORKED):
        yield _lacking(work, "not-released", why_waiting(judged.now, replace(work, failed=())))
    tests = [f"verification failed: {titles(work.failed)}"] if work.failed else []
    tests += [f"verification not complete: {titles(work.missing)}"] if work.missing else []
    spores = work.biological_words if waits_for_spores(judged.now, work) else ""
    if spores and work.by_cycle_type:
        yield _lacking(work, "requalification-incomplete", spores)
    elif spores:
        tests.append(spores)
    if tests:
        yield _lacking(work, "verification-missing", "; ".join(tests))


def _lacking(work: Work, rule: str, lack: str) -> Finding:
    return Finding(
        rule=rule,
        severity=Severity.FORBIDS,
        since=work.job.row.happened_on,
        message=f"work of {day(work.job.row.happened_on)} ({work.class_words}): {lack}",
        way_out=way_back(work),
        evidence=(evidence_of_job(work),),
        source=work.asked.source,
        owner=COMPANY,
    )


def _nobody_returned(work) -> bool:
    """A refusal, or nobody being present, is a record of its own and answers the question."""
    own = work.job.conclusion
    if not work.done or own is None or own.conclusion != RELEASED:
        return False
    return not any([s.meaning in _ANSWERED for s in work.job.signatures])
