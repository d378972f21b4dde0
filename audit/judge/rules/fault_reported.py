"""A fault that was reported and that nobody has looked at yet. Common practice, no source.

| what came later | ends the report |
| --- | --- |
| an entry that settles it, saying what it was and who decided | yes |
| a return that names the withdrawal entered with it | yes, unless it was told in the name of somebody else |
| a job of the reason breakdown, begun after the report and not "not worked on" | yes: its conclusion speaks |
| such a job of the same day without both times | no: nothing shows that it came after |
| any other job: whoever came for planned work need not have known of it | no |

Whether the unit may be used is said by its withdrawal (R4), never by this: the end of a report returns no unit.
"""

from __future__ import annotations

from collections.abc import Iterator

from audit.facts import FaultFact, UnitFacts
from audit.judge.biological import ran_after
from audit.judge.judgement import Finding, Severity

from .tools import COMPANY, PRACTICE, Judged, day, row_evidence

RULE = "fault-reported"
NOT_WORKED_ON = "not worked on"


def check(judged: Judged) -> Iterator[Finding]:
    """One for each open report; a unit that stays in use says on whose word."""
    for fault in judged.unit.faults:
        if _is_open(judged.unit, fault):
            reported = day(fault.row.happened_on)
            yield Finding(
                rule=RULE,
                severity=Severity.PUT_RIGHT,
                since=fault.row.happened_on,
                message=f"fault reported on {reported} by {fault.reported_by}: {fault.what}; nobody has looked at it "
                f"yet; {_meanwhile(fault)}",
                way_out="look at it and log the visit with the reason breakdown and its times, or enter what it was "
                "and who decided that nobody needs to come",
                evidence=row_evidence(fault, f"fault reported on {reported}: {fault.what}"),
                source=PRACTICE,
                owner=COMPANY,
            )


def _meanwhile(fault: FaultFact) -> str:
    if fault.withdrawal:
        return "taken out of service when it was reported"
    return f"the unit stays in use: {fault.kept_because}"


def _is_open(unit: UnitFacts, fault: FaultFact) -> bool:
    if fault.settled is not None:
        return False
    back = (e for e in unit.events if e.kind == "returned" and not e.told_return)
    if fault.withdrawal and any(e.ends == fault.withdrawal for e in back):
        return False
    return not any(_looked_at(job, fault) for job in unit.jobs)


def _looked_at(job, fault: FaultFact) -> bool:
    if job.reason != "breakdown" or job.conclusion is None or job.conclusion.conclusion == NOT_WORKED_ON:
        return False
    begun, reported = job.arrived_at or job.row.happened_at, fault.row.happened_at
    return ran_after(job.row.happened_on, begun, fault.row.happened_on, reported) is True
