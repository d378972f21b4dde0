"""Parts of a kit that were not fitted with it: their due day stands, and "replaced" is not true of them.

A part of a kit recorded with a quantity of 0 was not fitted: the old one was kept, it was left out on purpose, or it
was not in the bag.
"""

from __future__ import annotations

from collections.abc import Iterator

from audit.facts import JobFact, PartFact, in_order
from audit.judge.judgement import Finding, Severity

from .tools import COMPANY, PRACTICE, Judged, day, row_evidence


def check(judged: Judged) -> Iterator[Finding]:
    """One for each part of a kit that was not fitted and that no later visit fitted."""
    last_fitted = {}
    for job in in_order(judged.unit.jobs):
        for part in job.parts:
            if part.quantity > 0 and part.position:
                last_fitted[part.position] = part.row.happened_on
    for job in judged.unit.jobs:
        for part in job.parts:
            later = last_fitted.get(part.position)
            if part.kit and part.quantity == 0 and (later is None or later < part.row.happened_on):
                yield _left_out(judged, job, part)


def _left_out(judged: Judged, job: JobFact, part: PartFact) -> Finding:
    claimed = _claimed(judged, job, part)
    where = judged.position_name(part.position)
    text = f"{part.name} of kit {part.kit} at {where}"
    contrary = "; the same visit records the replacement as done" if claimed else ""
    old = f"; {part.kit_fate}" if part.kit_fate else f"; old part: {part.old_part}" if part.old_part else ""
    return Finding(
        rule="kit-part-not-fitted",
        severity=Severity.PUT_RIGHT if claimed else Severity.NOTE,
        since=part.row.happened_on,
        message=f"{text}: none fitted on {day(part.row.happened_on)}{old}{contrary}",
        way_out="correct the task (it was not replaced), or fit the part and record its lot"
        if claimed
        else "nothing, if it was left out on purpose; its own due day stands",
        evidence=row_evidence(part, f"{text}: quantity 0"),
        source=PRACTICE,
        owner=COMPANY,
    )


def _claimed(judged: Judged, job: JobFact, part: PartFact) -> bool:
    """Whether the visit says that the part at that position was replaced."""
    codes = {p.code for p in judged.unit.plan if p.action == "replace" and p.position == part.position}
    done = (o for o in job.outcomes if o.outcome == "done" and part.position)
    return any((o.action == "replace" and o.position == part.position) or o.plan_line in codes for o in done)
