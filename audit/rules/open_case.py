"""Failures not yet resolved and steps that are open or late."""

from __future__ import annotations

from collections.abc import Iterator

from audit.judgement import Case, Finding, Severity
from audit.response import ERROR, RETURNED

from .tools import CLINIC, Judged, day


def check(judged: Judged) -> Iterator[Finding]:
    """Each open case, and each case that was resolved but has steps not done."""
    for case in judged.cases:
        if case.phase == ERROR:
            continue
        if case.phase != RETURNED:
            yield _open(judged, case)
        waiting = [s for s in case.steps if s.state in ("open", "late") and s.done_on is None]
        for step in waiting:
            if case.phase == RETURNED or step.state == "late":
                yield Finding(
                    rule="step-open",
                    severity=Severity.PUT_RIGHT,
                    since=case.known_on,
                    message=f"{case.title}: step not done: {step.title}" + (f" ({step.note})" if step.note else ""),
                    way_out="do it and record it",
                    evidence=case.evidence,
                    source=step.source,
                    owner=CLINIC,
                )


def _open(judged: Judged, case: Case) -> Finding:
    path = judged.now.regime.path(case.kind)
    kind = {
        "biological": "positive-test-open",
        "air removal": "air-removal-open",
        "air leak": "air-leak-open",
    }
    return Finding(
        rule=kind.get(case.kind, "case-open"),
        severity=Severity.FORBIDS if path.withdraws else Severity.PUT_RIGHT,
        since=case.known_on,
        message=f"{case.title}, known {day(case.known_on)}: {case.phase}, "
        f"{case.passes} of {case.passes_needed} passes in a row; {case.recall}",
        way_out=_way_out(judged, case),
        evidence=case.evidence,
        source=path.source,
        owner=CLINIC,
    )


def _way_out(judged: Judged, case: Case) -> str:
    needs = [
        r.needs for r in judged.settled.replays if r.failed.known_on == case.known_on and r.path.kind == case.kind
    ]
    return next((n for n in needs if n), "the tests these rules ask")
