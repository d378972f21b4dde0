"""Parts of a recalled lot that are still in the unit, and those fitted after the notice.

A notice that asks to inspect is closed by the inspection of that position after the notice and after the part was
fitted: a finding, or a task of inspecting done there. Of the day of either both times say what came first. What the
inspection saw is an open item of its own where something was wrong. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from audit.facts import OutcomeFact, UnitFacts, in_order
from audit.judge.biological import ran_after, run_of, shown_before
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.lookback.inside import part_words
from audit.judge.lookback.recalled_parts import FOUND, Recalled, recalled_parts
from audit.regimes.source import Source

from .tools import COMPANY, Judged, day

STOP, INSPECT = "stop use", "inspect"
SOURCE = Source("the notice itself; 21 CFR 806.2 for what a correction and a removal are", "2026-11-25", "quoted")
_WAY_OUT = {
    "replace": "replace the part, record its lot and the new one, and the tests of that work",
    INSPECT: "inspect the part as the notice says, and record what was seen",
    "use until": "replace the part by the day the notice allows, and record it",
    STOP: "do not use the unit; replace the part, record its lot and the new one, and the tests of that work",
}


def check(judged: Judged) -> Iterator[Finding]:
    """One for each part that a notice means, or may mean, and that nothing on record took out."""
    for found in recalled_parts(judged.unit, judged.settled.clinic.part_recalls, judged.now.as_of):
        if _fitted_after(found):
            yield _fitted_again(judged, found)
        if found.out_on is None and not inspected(judged.unit, found):
            yield _still_in(judged, found)


def _fitted_after(found: Recalled) -> bool:
    """Whether it was fitted on the day of the notice or later; of that day unless both times show it came before."""
    notice, part = found.notice.row, found.part.row
    if found.part.action == FOUND or part.happened_on < notice.happened_on:
        return False
    return ran_after(part.happened_on, part.happened_at, notice.happened_on, notice.happened_at) is not False


def _fitted_again(judged: Judged, found: Recalled) -> Finding:
    notice, part = found.notice, found.part
    out = f"; taken out on {day(found.out_on)}" if found.out_on else ", and is still in"
    maybe = f", which may be one of those recalled ({found.unsure})" if found.unsure else ""
    return Finding(
        rule="recalled-part-fitted",
        severity=Severity.NOTE if found.out_on else Severity.PUT_RIGHT,
        since=part.row.happened_on,
        message=f"{found.where}{maybe} at {judged.position_name(part.position)} was {_fitted(found)}, after the part "
        f"recall of {day(notice.row.happened_on)} by {notice.issued_by} ({notice.reason}){out}",
        way_out="take the rest of that lot out of stock; " + ("nothing more" if found.out_on else "replace the part"),
        evidence=(
            Evidence(notice.row.ref, f"notice of {day(notice.row.happened_on)}: {notice.action or 'no action'}"),
            Evidence(part.row.ref, part_words(part)),
        ),
        source=SOURCE,
        owner=COMPANY,
    )


def inspected(unit: UnitFacts, found: Recalled) -> bool:
    """Whether the inspection that the notice asks for is on record."""
    place = found.part.position
    if found.notice.action != INSPECT or not place:
        return False
    after = (run_of(found.notice), run_of(found.part))
    seen = [f for j in unit.jobs for f in j.findings if f.position == place]
    seen += [o for j in unit.jobs for o in j.outcomes if o.position == place and _looked(o)]
    return any(all(shown_before(run, run_of(row)) for run in after) for row in seen)


def _looked(outcome: OutcomeFact) -> bool:
    return outcome.outcome == "done" and outcome.action in ("inspect", "replace")


def _still_in(judged: Judged, found: Recalled) -> Finding:
    notice, part = found.notice, found.part
    stops = notice.action == STOP
    maybe = f"may be one of those recalled ({found.unsure})" if found.unsure else "is one of those recalled"
    since = f"found in place on {day(part.row.happened_on)}" if part.action == FOUND else _fitted(found)
    way_out = _WAY_OUT.get(notice.action, f"do what the notice asks: {notice.action or 'nothing is stated'}")
    if found.unsure:
        way_out = f"look at the part and record its lot; if it cannot be read: {way_out}"
    return Finding(
        rule="recalled-part-in-use",
        severity=Severity.FORBIDS if stops else Severity.PUT_RIGHT,
        since=max(notice.row.happened_on, part.row.happened_on),
        message=f"part recall of {day(notice.row.happened_on)} by {notice.issued_by} ({notice.reason}): "
        f"{found.where}, at the position {judged.position_name(part.position)}, {maybe}; "
        f"{since}{_cycles(judged.unit, found)}, still in",
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
