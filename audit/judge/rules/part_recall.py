"""Parts of a recalled lot that are still in the unit."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from audit.facts import UnitFacts, in_order
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.lookback.inside import part_words
from audit.judge.lookback.recalled_parts import FOUND, Recalled, recalled_parts
from audit.regimes.source import Source

from .tools import COMPANY, Judged, day

STOP = "stop use"
SOURCE = Source("the notice itself; 21 CFR 806.2 for what a correction and a removal are", "2026-11-25", "quoted")
_WAY_OUT = {
    "replace": "replace the part, record its lot and the new one, and the tests of that work",
    "inspect": "inspect the part as the notice says, and record what was seen",
    "use until": "replace the part by the day the notice allows, and record it",
    STOP: "do not use the unit; replace the part, record its lot and the new one, and the tests of that work",
}


def check(judged: Judged) -> Iterator[Finding]:
    """One for each part that a notice means, or may mean, and that nothing on record took out."""
    for found in recalled_parts(judged.unit, judged.settled.clinic.part_recalls, judged.now.as_of):
        if found.out_on is None:
            yield _still_in(judged, found)


def _still_in(judged: Judged, found: Recalled) -> Finding:
    notice, part = found.notice, found.part
    stops = notice.action == STOP
    maybe = f"may be one of them ({found.unsure})" if found.unsure else "is one of them"
    since = f"found in place on {day(part.row.happened_on)}" if part.action == FOUND else _fitted(found)
    way_out = _WAY_OUT.get(notice.action, f"do what the notice asks: {notice.action or 'nothing is stated'}")
    if found.unsure:
        way_out = f"look at the part and record its lot; if it cannot be read: {way_out}"
    return Finding(
        rule="recalled-part-in-use",
        severity=Severity.FORBIDS if stops else Severity.PUT_RIGHT,
        since=max(notice.row.happened_on, part.row.happened_on),
        message=f"part recall of {day(notice.row.happened_on)} by {notice.issued_by} ({notice.reason}): "
        f"{found.where} at {judged.position_name(part.position)} {maybe}; {since}{_cycles(judged.unit, found)}, "
        "still in",
        way_out=way_out,
        evidence=(
            Evidence(notice.row.ref, f"notice of {day(notice.row.happened_on)}: {notice.action or 'no action'}"),
            Evidence(part.row.ref, part_words(part)),
        ),
        source=SOURCE,
        owner=COMPANY,
    )


def _fitted(found: Recalled) -> str:
    who = " of ".join(w for w in (found.job.worked_by, found.job.servicer) if w)
    return f"fitted on {day(found.part.row.happened_on)} by {who or 'nobody named'}"


def _cycles(unit: UnitFacts, found: Recalled) -> str:
    """Cycles since it was fitted, as far as the counter tells."""
    if found.part.action == FOUND:
        return ""
    fitted = found.part.row.happened_on
    readings = [c for c in in_order(unit.counters) if c.counter == "cycles"]
    before = [c for c in readings if c.row.happened_on <= fitted]
    if not before or readings[-1].row.happened_on <= fitted:
        return ""
    ran: Decimal = readings[-1].total - before[-1].total
    exact = before[-1].row.happened_on == fitted
    words = f"{ran:f} cycles from then" if exact else f"{ran:f} cycles from {day(before[-1].row.happened_on)}"
    return f", {words} to {day(readings[-1].row.happened_on)} by the counter" if ran >= 0 else ""
