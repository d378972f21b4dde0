"""Recorded cycles that prove nothing, and typed results that the recorder contradicts.

What a recorder showed is held against its profile by the program; a file that shows too little asks for another one,
or for what the printout says. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator

from audit.facts import CycleRecordingFact, LoadFact
from audit.facts.recordings import MET, UNREADABLE
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.recorded import contradicted, failed, recordings_by_load
from audit.judge.situation import AS_TYPED

from .tools import CLINIC, PRACTICE, Judged, day

_SHOWN = 20
_Told = tuple[LoadFact, CycleRecordingFact, str]


def check(judged: Judged) -> Iterator[Finding]:
    """One item for each kind, with the newest loads."""
    if not judged.unit.recordings:
        return
    of, unit = recordings_by_load(judged.unit), judged.unit
    typed = judged.settled.memo[AS_TYPED]
    useless: list[_Told] = []
    against: list[_Told] = []
    for load in unit.loads:
        for each in of.get(load.row.origin, ()):
            if why := failed(unit, load, each):
                against += [(load, each, why)] if typed.get(load.row.origin) == "pass" else []
            elif why := _nothing(unit, load, each):
                useless.append((load, each, why))
    if against:
        yield _contradiction(against)
    if useless:
        yield _proves_nothing(useless)


def _nothing(unit, load: LoadFact, recording: CycleRecordingFact) -> str:
    if other := contradicted(unit, load, recording):
        return other
    if recording.verdict == MET:
        return ""
    return f"{recording.verdict}{f': {recording.words}' if recording.words else ''}"


def _contradiction(found: list[_Told]) -> Finding:
    return Finding(
        rule="recorded-against-typed",
        severity=Severity.PUT_RIGHT,
        since=found[0][0].row.happened_on,
        message=f"{len(found)} load(s) typed as passed whose recorded cycle failed, {_days(found)}: they count as "
        "failed",
        way_out="look at printout and recorded cycle together; keep the packs back, and correct what was typed wrong",
        evidence=_evidence(found),
        source=PRACTICE,
        owner=CLINIC,
    )


def _proves_nothing(found: list[_Told]) -> Finding:
    lost = any(each.verdict == UNREADABLE for _, each, _ in found)
    return Finding(
        rule="recorded-proves-nothing",
        severity=Severity.PUT_RIGHT,
        since=found[0][0].row.happened_on,
        message=f"{len(found)} recorded cycle(s) prove nothing, {_days(found)}",
        way_out="bring in the whole file of the cycle, or type what the printout shows with the load; correct what "
        "file and load say otherwise, and have the recorder name its profile or enter what the program needs"
        + ("; a file that is lost is put back from the last backup" if lost else ""),
        evidence=_evidence(found),
        source=PRACTICE,
        owner=CLINIC,
    )


def _evidence(found: list[_Told]) -> tuple[Evidence, ...]:
    return tuple(
        Evidence(each.row.ref, f"cycle {load.cycle_number or '?'} of {day(load.row.happened_on)}: {why}")
        for load, each, why in found[-_SHOWN:]
    )


def _days(found: list[_Told]) -> str:
    first, last = (day(found[n][0].row.happened_on) for n in (0, -1))
    return f"on {first}" if first == last else f"{first} to {last}"
