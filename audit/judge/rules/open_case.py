"""Failures not yet resolved, steps that are open or late, and people told too late or not at all."""

from __future__ import annotations

from collections.abc import Iterator

from audit.facts.dates import ONE_DAY
from audit.judge.judgement import Case, Finding, Severity, Step
from audit.judge.response import ERROR, RETURNED, title_of

from .tools import CLINIC, Judged, day


def check(judged: Judged) -> Iterator[Finding]:
    """Each open case, its notices out of time, and each resolved case that has steps not done."""
    for case in judged.cases:
        if case.phase == ERROR:
            continue
        if case.phase != RETURNED:
            yield _open(judged, case)
        notices = {title_of(n) for n in judged.now.regime.path(case.kind).notices}
        for step in case.steps:
            if step.action == "notify" and step.title in notices and step.state == "late":
                yield _notice(case, step)
            elif step.state in ("open", "late") and step.done_on is None:
                if case.phase == RETURNED or step.state == "late":
                    yield _step(case, step)


def _step(case: Case, step: Step) -> Finding:
    return Finding(
        rule="step-open",
        severity=Severity.PUT_RIGHT,
        since=case.known_on,
        message=f"{case.title}: step not done: {step.title}" + (f" ({step.note})" if step.note else ""),
        way_out="do it and record it",
        evidence=case.evidence,
        source=step.source,
        owner=CLINIC,
    )


def _notice(case: Case, step: Step) -> Finding:
    """A notice out of time: not given yet can be put right, given late can only be known."""
    given = step.done_on is not None
    words = f"done {day(step.done_on)}, too late" if given else "not on record"
    return Finding(
        rule="notice-late" if given else "notice-not-given",
        severity=Severity.NOTE if given else Severity.PUT_RIGHT,
        since=step.due_on + ONE_DAY if step.done_on is None or step.done_on > step.due_on else step.done_on,
        message=f"{case.title}: {step.title}: {words} ({step.note})",
        way_out="cannot be made good; record why it was late" if given else "tell them now and record it",
        evidence=(*case.evidence, *step.evidence),
        source=step.source,
        owner=CLINIC,
    )


def _stops(judged: Judged, case: Case) -> bool:
    """Whether the case keeps the unit out of service: by its path, or as several failed in a row."""
    refs = {e.ref for e in case.evidence}
    return any(r.withdraws and r.path.kind == case.kind and r.failed.ref in refs for r in judged.settled.replays)


def _packs(recall: str) -> str:
    """What is said of packs, so that the sentence before it may be of something else."""
    return recall if recall.startswith("recall") else f"packs: {recall}"


def _open(judged: Judged, case: Case) -> Finding:
    path = judged.now.regime.path(case.kind)
    kind = {
        "biological": "positive-test-open",
        "air removal": "air-removal-open",
        "air leak": "air-leak-open",
        "automatic control": "automatic-control-open",
        "safety check": "safety-check-open",
        "air detector": "air-detector-open",
        "wet packs": "wet-packs-open",
    }
    return Finding(
        rule=kind.get(case.kind, "case-open"),
        severity=Severity.FORBIDS if _stops(judged, case) else Severity.PUT_RIGHT,
        since=case.known_on,
        message=f"{case.title}, known {day(case.known_on)}: {case.phase}, "
        f"{case.passes} of {case.passes_needed} passes in a row; {_packs(case.recall)}",
        way_out=case.needs or "the tests these rules ask",
        evidence=case.evidence,
        source=path.source,
        owner=CLINIC,
    )
