"""Loads or measurements put in doubt about which nobody recorded a decision."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from audit.facts.dates import ONE_DAY, add_days, days_words
from audit.judge.judgement import Finding, LookBack, Severity
from audit.judge.lookback.failed_tests import SPORE, asks_no_recall
from audit.judge.lookback.measurements import FOUND_OUT, INSTRUMENT
from audit.judge.response import RETURNED

from .tools import CLINIC, COMPANY, Judged, day

OPEN_DAYS = 7  # days in which a decision is expected; common practice, no source
_SHOWN = 5


def check(judged: Judged) -> Iterator[Finding]:
    """One for each look-back without a decision `OPEN_DAYS` days after its window ended or its failure was known.

    A unit found out of tolerance at a visit is an open item of its own (see `readings`): where the unit was put right
    then and there, there is no case in which a decision about its loads could stand.
    """
    for back in judged.look_backs:
        if back.kind == FOUND_OUT or back.settled_on is not None or not (back.loads or back.readings):
            continue
        known = _known(judged, back)
        last = add_days(known, OPEN_DAYS)
        if judged.now.as_of > last and not _excused(judged, back):
            yield _open(judged, back, last, known)


def _known(judged: Judged, back: LookBack) -> date:
    """The day from which a decision could be expected: further failures of a case do not put it off."""
    refs = {e.ref for e in back.evidence}
    return min([back.to, *(c.known_on for c in judged.cases if refs & {e.ref for e in c.evidence})])


def _excused(judged: Judged, back: LookBack) -> bool:
    """After a positive spore test the rules may ask no recall once the unit was proven again: they decided it."""
    refs = {e.ref for e in back.evidence} if back.kind == SPORE else set()
    proven = (c for c in judged.cases if c.kind == "biological" and c.phase == RETURNED)
    return any(asks_no_recall(c.recall) and refs & {e.ref for e in c.evidence} for c in proven)


def _open(judged: Judged, back: LookBack, last: date, known: date) -> Finding:
    of_instrument = back.kind == INSTRUMENT
    rows = back.readings if of_instrument else (back.loads or back.readings)
    name = "measurement(s)" if of_instrument or not back.loads else "load(s)"
    since = f"after {day(back.after)}" if back.after else "with no good proof before"
    open_for = days_words((judged.now.as_of - known).days)
    return Finding(
        rule="look-back-open",
        severity=Severity.PUT_RIGHT,
        since=last + ONE_DAY,
        message=f"{len(rows)} {name} affected by {back.trigger} ({since}, up to {day(back.to)}): "
        f"no decision on record for {open_for}",
        way_out=("measure again with an instrument in tolerance" if of_instrument else "decide about each load")
        + f" and record it: {back.asked}",
        evidence=(*back.evidence, *rows[-_SHOWN:]),
        source=back.source,
        owner=COMPANY if of_instrument else CLINIC,
    )
