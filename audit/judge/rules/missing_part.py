"""A part that should be there and is missing."""

from __future__ import annotations

from collections.abc import Iterator

from audit.judge.judgement import Finding, Severity
from audit.judge.standing import missing_guards

from .tools import COMPANY, PRACTICE, Judged, day, row_evidence


def check(judged: Judged) -> Iterator[Finding]:
    """One for each position whose newest fit says that the part is missing; a safety part forbids use."""
    if not any([fit.state == "missing" for fit in judged.unit.fits]):
        return
    newest = {}
    for fit in sorted(judged.unit.fits, key=lambda f: (f.effective_on, f.row.number, f.row.line)):
        if fit.effective_on <= judged.now.as_of:
            newest[fit.position] = fit
    forbid = {fit.row.ref for fit in missing_guards(judged.now)}
    for fit in newest.values():
        if fit.state == "missing":
            name = judged.position_name(fit.position)
            yield Finding(
                rule="missing-part",
                severity=Severity.FORBIDS if fit.row.ref in forbid else Severity.PUT_RIGHT,
                since=fit.effective_on,
                message=f"{name}: should be fitted and is missing since {day(fit.effective_on)}",
                way_out="fit the part and record it",
                evidence=row_evidence(fit, fit.note or f"{name}: missing"),
                source=PRACTICE,
                owner=COMPANY,
            )
