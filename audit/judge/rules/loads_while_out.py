"""Loads run while a failed test kept the unit out of service, or while it was withdrawn by hand."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from datetime import date

from audit.facts import LoadFact, UnitEventFact, in_order
from audit.judge.biological import ran_after
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.lookback import is_test_cycle, loads_while_out
from audit.judge.standing import withdrawn_by_hand

from .tools import CLINIC, PRACTICE, Judged, day

_BACK = ("returned", "installed", "loaner in")
_WAY_OUT = "hold these packs, decide about them and record it"


def check(judged: Judged) -> Iterator[Finding]:
    """One for each case, and one for each withdrawal by hand, in which loads were run; a load counts once."""
    counted: set[str] = set()
    for replay in judged.settled.replays:
        loads = loads_while_out(judged.unit, replay) if replay.path.withdraws else []
        loads = [x for x in loads if x.row.ref not in counted]
        counted |= {x.row.ref for x in loads}
        if loads:
            yield Finding(
                rule="loads-while-out",
                severity=Severity.FORBIDS if replay.resolved_on is None else Severity.PUT_RIGHT,
                since=loads[0].row.happened_on,
                message=f"{_words(loads)}: failure known {day(replay.failed.known_on)}",
                way_out=_WAY_OUT,
                evidence=_evidence(loads),
                source=replay.path.source,
                owner=CLINIC,
            )
    yield from _by_hand(judged, counted)


def _by_hand(judged: Judged, counted: set[str]) -> Iterator[Finding]:
    held = withdrawn_by_hand(judged.now)
    for out, back in _withdrawals(judged):
        loads = [x for x in _between(judged, out, back) if x.row.ref not in counted]
        if loads:
            since = day(out.row.happened_on)
            yield Finding(
                rule="loads-while-withdrawn",
                severity=Severity.FORBIDS if held is out else Severity.PUT_RIGHT,
                since=loads[0].row.happened_on,
                message=f"{_words(loads)}: withdrawn by hand on {since} ({out.reason or 'no reason recorded'})",
                way_out=f"{_WAY_OUT}; or record the return to use that is missing",
                evidence=(Evidence(out.row.ref, f"withdrawn on {since}"), *_evidence(loads)),
                source=PRACTICE,
                owner=CLINIC,
            )


def _withdrawals(judged: Judged) -> Iterator[tuple[UnitEventFact, date | None]]:
    """(withdrawal, day of the return or None) of each time it was withdrawn by hand.

    A return signed in a case that was proven ends the withdrawal too.
    """
    signed = sorted(
        f.done_on
        for r in judged.settled.replays
        for f in r.followups
        if f.action == "return" and f.done_on and r.resolved_on and f.done_on >= r.resolved_on
    )
    out = None
    for event in in_order(judged.unit.events):
        if event.kind == "withdrawn" and out is None:
            out = event
        elif event.kind in _BACK and out is not None:
            yield out, _first(event.row.happened_on, signed, out)
            out = None
    if out is not None:
        yield out, _first(None, signed, out)


def _first(back: date | None, signed: list[date], out: UnitEventFact) -> date | None:
    days = [d for d in signed if d >= out.row.happened_on]
    return min([*days, *([back] if back else [])], default=None)


def _between(judged: Judged, out: UnitEventFact, back: date | None) -> Iterator[LoadFact]:
    """Loads after a withdrawal and before the day of the return; of the same day only with both times."""
    rows = in_order(judged.unit.loads)
    first = bisect_left(rows, out.row.happened_on, key=_day)
    last = len(rows) if back is None else bisect_right(rows, back, key=_day)
    for load in rows[first:last]:
        after = ran_after(_day(load), load.row.happened_at, out.row.happened_on, out.row.happened_at)
        if after and _day(load) != back and not is_test_cycle(judged.unit, load):
            yield load


def _day(fact) -> date:
    return fact.row.happened_on


def _words(loads: list[LoadFact]) -> str:
    first, last = (day(loads[n].row.happened_on) for n in (0, -1))
    return f"{len(loads)} load(s) run while out of service, {first} to {last}"


def _evidence(loads: list[LoadFact]) -> tuple[Evidence, ...]:
    return tuple(Evidence(x.row.ref, f"cycle {x.cycle_number or '?'} of {day(x.row.happened_on)}") for x in loads)
