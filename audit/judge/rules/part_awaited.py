"""Something must be replaced and its part was not at hand: an open item until another is fitted.

| use meanwhile | severity |
| --- | --- |
| nobody allowed any | forbids use |
| limited, with what is allowed and who accepts it | to put right |
"""

from __future__ import annotations

from collections.abc import Iterator

from audit.judge.judgement import Finding, Severity
from audit.judge.standing import awaited_parts

from .tools import COMPANY, PRACTICE, Judged, day


def check(judged: Judged) -> Iterator[Finding]:
    """One for each part that is awaited; what is a safety finding is told as one."""
    for held in awaited_parts(judged.now):
        own = held.allowed.conclusion if held.allowed is not None else None
        use = "do not use it until then"
        if own is not None:
            use = f"until then allowed: {own.limitation}, accepted by {own.acceptor}"
        found_on = held.finding.row.happened_on
        yield Finding(
            rule="part-awaited",
            severity=Severity.PUT_RIGHT if own is not None else Severity.FORBIDS,
            since=found_on,
            message=f"{held.words}: must be replaced, found {day(found_on)}, and no other part was fitted; {use}",
            way_out=f"bring {held.part}, fit it and record it with its lot, then the tests and the release",
            evidence=(held.evidence,),
            source=PRACTICE,
            owner=COMPANY,
        )
