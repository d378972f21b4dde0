"""A pressure examination out of date."""

from __future__ import annotations

from collections.abc import Iterator

from audit.facts.dates import ONE_DAY
from audit.judge.judgement import Finding, Severity
from audit.judge.standing import pressure_report

from .tools import CLINIC, PRACTICE, Judged, day, row_evidence


def check(judged: Judged) -> Iterator[Finding]:
    """The newest pressure examination, when its last valid day has passed."""
    report = pressure_report(judged.now)
    if report is None or report.valid_to is None or report.valid_to >= judged.now.as_of:
        return
    yield Finding(
        rule="pressure-examination-passed",
        severity=Severity.FORBIDS,
        since=report.valid_to + ONE_DAY,
        message=f"pressure examination was valid until {day(report.valid_to)}",
        way_out="an examination by the person the law names, with a report in date",
        evidence=row_evidence(report, report.title),
        source=PRACTICE,
        owner=CLINIC,
    )
