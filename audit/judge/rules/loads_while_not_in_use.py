"""Loads logged on days on which the unit is said not to be in use, or not installed yet: one record is wrong.

While a failed test or a withdrawal by hand kept it out: see `loads_while_out`.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from audit.facts.dates import ONE_DAY
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.usage import STORED, loads_within

from .tools import CLINIC, PRACTICE, Judged, day

_SHOWN = 20  # loads named at most
_SAID = {
    STORED: "it is said to be stored as a spare",
    "decommissioned": "it is said to be decommissioned",
    "loaner out": "it is said to be on loan elsewhere",
    "not released after work": "it was not released after work",
}


def check(judged: Judged) -> Iterator[Finding]:
    """One for the time before the installation, each span without use and each closure in which loads are logged."""
    for first, last, said, proof in _spans(judged):
        loads = loads_within(judged.unit, first, last)
        if loads:
            days = f"{day(loads[0].row.happened_on)} to {day(loads[-1].row.happened_on)}"
            yield Finding(
                rule="load-while-not-in-use",
                severity=Severity.PUT_RIGHT,
                since=loads[0].row.happened_on,
                message=f"{len(loads)} load(s) logged, {days}, while {said}",
                way_out="correct the record that is wrong: the day of the loads, or that it was out of use; these "
                "days count as days of use",
                evidence=(
                    *proof,
                    *(Evidence(x.row.ref, _words(x)) for x in loads[-_SHOWN:]),
                ),
                source=PRACTICE,
                owner=CLINIC,
            )


def _spans(judged: Judged) -> Iterator[tuple[date, date | None, str, tuple[Evidence, ...]]]:
    """(first day, last day or None, what is said of it, the row that says so)."""
    usage = judged.settled.usage
    if usage.begin_known:
        yield date.min, usage.begin - ONE_DAY, f"it was not installed before {day(usage.begin)}", ()
    for first, last, why in usage.idle:
        if why in _SAID:
            yield first, last, _SAID[why], ()
    for closed in judged.settled.clinic.closures:
        if closed.unit in ("", judged.unit.ref):
            said = f"the place is said to be closed ({closed.why})"
            yield closed.from_on, closed.to_on, said, (Evidence(closed.row.ref, f"closed: {closed.why}"),)


def _words(load) -> str:
    return f"cycle {load.cycle_number or '?'} of {day(load.row.happened_on)}"
