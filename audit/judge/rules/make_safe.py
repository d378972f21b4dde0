"""Work for which nobody recorded that the unit was unplugged before it was opened."""

from __future__ import annotations

from collections.abc import Iterator

from audit.judge.judgement import Finding, Severity
from audit.regimes.source import Source

from .tools import COMPANY, Judged, day, row_evidence

# The exemption from lockout holds only while unplugging controls the hazard and the plug stays in one's own hands.
UNPLUG = Source("29 CFR 1910.147(a)(2)(iii)(A), cord and plug; elsewhere common practice", "2026-11-25", "quoted")


def check(judged: Judged) -> Iterator[Finding]:
    """Each job with work done to the unit and no step "unplugged … done". Paper history is taken as it is.

    Setting a unit up asks for no opening.
    """
    for job in judged.unit.jobs:
        worked = job.reason != "installation" and (job.parts or any(o.outcome == "done" for o in job.outcomes))
        if worked and not job.row.paper and not _unplugged(job.make_safe):
            work = f"work of {day(job.row.happened_on)}"
            yield Finding(
                rule="make-safe-not-recorded",
                severity=Severity.NOTE,
                since=job.row.happened_on,
                message=f"{work}: no record that the unit was unplugged before it was opened",
                way_out="cannot be made good; record each step of making safe as it is done",
                evidence=row_evidence(job, work),
                source=UNPLUG,
                owner=COMPANY,
            )


def _unplugged(steps: tuple[str, ...]) -> bool:
    return any(s.casefold().startswith("unplugged") and s.casefold().endswith(": done") for s in steps)
