"""A part that should be there and is missing."""

from __future__ import annotations

from collections.abc import Iterator

from audit.judge.judgement import Finding, Severity

from .tools import COMPANY, PRACTICE, Judged, day, row_evidence


def check(judged: Judged) -> Iterator[Finding]:
    """One for each position whose newest fit says that the part is missing."""
    newest = {}
    for fit in sorted(judged.unit.fits, key=lambda f: (f.effective_on, f.row.number, f.row.line)):
        if fit.effective_on <= judged.now.as_of:
            newest[fit.position] = fit
    for fit in newest.values():
        if fit.state == "missing":
            name = judged.position_name(fit.position)
            yield Finding(
                rule="missing-part",
                severity=Severity.PUT_RIGHT,
                since=fit.effective_on,
                message=f"{name}: should be fitted and is missing since {day(fit.effective_on)}",
                way_out="fit the part and record it",
                evidence=row_evidence(fit, fit.note or f"{name}: missing"),
                source=PRACTICE,
                owner=COMPANY,
            )
