"""Loads run while a failed test kept the unit out of service."""

from __future__ import annotations

from collections.abc import Iterator

from audit.judgement import Evidence, Finding, Severity
from audit.lookback import loads_while_out

from .tools import CLINIC, Judged, day


def check(judged: Judged) -> Iterator[Finding]:
    """One for each case with loads run after the failure was known and before the unit was proven."""
    for replay in judged.settled.replays:
        loads = loads_while_out(judged.unit, replay) if replay.path.withdraws else []
        if loads:
            days = f"{day(loads[0].row.happened_on)} to {day(loads[-1].row.happened_on)}"
            yield Finding(
                rule="loads-while-out",
                severity=Severity.FORBIDS if replay.resolved_on is None else Severity.PUT_RIGHT,
                since=loads[0].row.happened_on,
                message=f"{len(loads)} load(s) run while out of service, {days}: "
                f"failure known {day(replay.failed.known_on)}",
                way_out="hold these packs, decide about them and record it",
                evidence=tuple(
                    Evidence(x.row.ref, f"cycle {x.cycle_number or '?'} of {day(x.row.happened_on)}") for x in loads
                ),
                source=replay.path.source,
                owner=CLINIC,
            )
