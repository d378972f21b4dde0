"""A unit that a visit did not work on: whether it may be used meanwhile is said, as of every fault that is reported.

| the visit came for | may it be used | what the entry holds beside the job |
| --- | --- | --- |
| a breakdown | no, or nobody knows | a fault reported on site, and the withdrawal with it |
| a breakdown | yes, as before | a fault reported on site, kept in use for the reason of the conclusion |
| a breakdown that is reported already and not looked into | no | the withdrawal alone |
| a breakdown that is reported already and not looked into | yes, as before | nothing: the report says it |
| anything else | no | the withdrawal |
| anything else | yes, as before | nothing |

Common practice, no source: work that nobody looked into stays owed, and a unit never stays in use unsaid.
"""

from __future__ import annotations

from collections.abc import Iterator

from records.models import FaultReport, FaultSettled, Job, JobConclusion, UnitEvent

from .errors import InputPlace, Problem
from .visit_job import VisitJob
from .work_rules import KEPT, OUT, REPORTED

NOT_WORKED, BREAKDOWN = "not worked on", "breakdown"


def problems(place: InputPlace, job: VisitJob) -> Iterator[Problem]:
    """Something is said of the meantime where there is none, or in words that are not known."""
    said, end = job.get("meanwhile", ""), (job.get("conclusion") or {}).get("conclusion")
    if said and end != NOT_WORKED:
        yield Problem(place / "meanwhile", "This unit was worked on: its conclusion says whether it may be used.")
    elif said not in ("", OUT, KEPT):
        yield Problem(
            place / "meanwhile", "May it be used meanwhile? Say no, or yes as before. When nobody knows: no."
        )


def add(s, place: InputPlace, job: VisitJob, row: Job, by) -> None:
    """What the answer records beside the job `row`; nothing where nothing was asked."""
    said = job.get("meanwhile", "")
    if not said:
        return
    common = {"clinic": row.clinic, "unit": row.unit, "happened_on": row.happened_on, "zone": row.zone}
    reason = job["conclusion"].get("reason", "")
    what = job.get("complaint", "").strip() or reason
    breakdown = job.get("reason") == BREAKDOWN
    withdrawal, at = None, place / "meanwhile"
    if said == OUT:
        words = f"{REPORTED}: {what}" if breakdown else f"{NOT_WORKED}: {reason}"
        longest = UnitEvent._meta.get_field("reason").max_length
        withdrawal = s.add(UnitEvent(kind="withdrawn", reason=words[:longest], by=by.signed(), **common), at=at)
    if breakdown and not _is_reported(row.unit, row.happened_on):
        fault = FaultReport(
            reported_by=by.signed(), how="on site", what=what[: FaultReport._meta.get_field("what").max_length],
            withdrawal=withdrawal, kept_because="" if withdrawal else reason, **common,
        )  # fmt: skip
        s.add(fault, at=at)


def _is_reported(unit, on) -> bool:
    """Whether a fault of the unit was reported by that day, is not settled, and no breakdown visit looked into it."""
    settled = FaultSettled.objects.in_force().filter(unit=unit).values("fault__origin")
    open_ = FaultReport.objects.in_force().filter(unit=unit, happened_on__lte=on).exclude(origin__in=settled)
    days = list(open_.values_list("happened_on", flat=True))
    if not days:
        return False
    looked = JobConclusion.objects.in_force().filter(job__unit=unit, job__reason=BREAKDOWN)
    newest = looked.exclude(conclusion=NOT_WORKED).order_by("-happened_on").values_list("happened_on", flat=True)[:1]
    return any(not newest or day >= newest[0] for day in days)
