"""Postponements without a decision."""

from __future__ import annotations

from collections.abc import Iterator

from audit.judge.judgement import Finding, Severity

from .tools import COMPANY, PRACTICE, Judged, day, row_evidence


def check(judged: Judged) -> Iterator[Finding]:
    """Each postponement that lacks who decided, why or until when: it moves no due day."""
    for job in judged.unit.jobs:
        for outcome in job.outcomes:
            if outcome.outcome != "deferred":
                continue
            named = (
                ("who decided", outcome.decided_by),
                ("why", outcome.reason),
                ("until", outcome.deferred_until),
            )
            lacking = [word for word, value in named if not value]
            if lacking:
                what = outcome.plan_line or f"{outcome.action} {judged.position_name(outcome.position)}"
                yield Finding(
                    rule="postponed-without-decision",
                    severity=Severity.PUT_RIGHT,
                    since=outcome.row.happened_on,
                    message=f"{what} was postponed on {day(outcome.row.happened_on)} without: {', '.join(lacking)}",
                    way_out="record who decided, why and until when; until then the due day stands",
                    evidence=row_evidence(outcome, f"postponed: {what}"),
                    source=PRACTICE,
                    owner=COMPANY,
                )
