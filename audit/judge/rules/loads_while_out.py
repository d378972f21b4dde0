"""Loads run while a failed test kept the unit out of service, or while it was withdrawn by hand."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

from audit.facts import LoadFact, happened_on
from audit.judge.biological import ran_after
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.lookback import loads_while_out
from audit.judge.lookback.inside import first_decision
from audit.judge.standing import Withdrawal, withdrawals
from audit.judge.usage import loads_within

from .tools import CLINIC, PRACTICE, Judged, day

_WAY_OUT = "hold these packs, decide about them and record it"
_TIMES = "record the times of both, or hold these packs, decide about them and record it"


@dataclass(frozen=True, slots=True)
class _TimeOut:
    """A time out of service with the loads run in it; `unsure`: those of which the order is not known."""

    shown: list[LoadFact]
    unsure: list[LoadFact]
    stands: bool
    item_of: Callable[[list[LoadFact], bool], Finding]  # of loads, and whether they are shown


def check(judged: Judged) -> Iterator[Finding]:
    """One for each case, and one for each withdrawal by hand, in which loads were run; a load counts once.

    It counts where it weighs most: where it is shown to have been run, before where its order is not known; in a time
    out of service that stands, before one that ended. Loads of a day on which it began or ended, whose order is not
    known, are an item of their own.
    """
    times = [_of_case(judged, r) for r in judged.settled.replays if r.withdraws]
    times += [_by_hand(judged, one) for one in withdrawals(judged.now)]
    times.sort(key=lambda time: not time.stands)
    counted: set[str] = set()
    for shown in (True, False):
        for time in times:
            if loads := _new(time.shown if shown else time.unsure, counted):
                yield time.item_of(loads, shown)


def _new(loads: list[LoadFact], counted: set[str]) -> list[LoadFact]:
    """Those not counted yet, which they are from now on."""
    found = [x for x in loads if x.row.ref not in counted]
    counted |= {x.row.ref for x in found}
    return found


def _of_case(judged: Judged, replay) -> _TimeOut:
    found = loads_while_out(judged.unit, replay)
    return _TimeOut(found.shown, found.unsure, replay.resolved_on is None, partial(_item_of_case, replay))


def _item_of_case(replay, loads: list[LoadFact], shown: bool) -> Finding:
    decided = first_decision(replay.followups) is not None
    until = f", proven {day(replay.resolved_on)}" if replay.resolved_on else ""
    if shown:
        rule, message, way_out = "loads-while-out", f"{_words(loads)}: failure known {day(replay.out_from)}", _WAY_OUT
        severity = Severity.FORBIDS if replay.resolved_on is None else Severity.PUT_RIGHT
    else:
        known = f"known {day(replay.out_from)}{until}"
        rule, message = "loads-order-not-known", f"{_unsure(loads)} out of service after a failed test: {known}"
        way_out, severity = _TIMES, Severity.NOTE if decided else Severity.PUT_RIGHT
    return Finding(
        rule=rule,
        severity=severity,
        since=loads[0].row.happened_on,
        message=message,
        way_out=way_out,
        evidence=_evidence(loads),
        source=replay.path.source,
        owner=CLINIC,
    )


def _by_hand(judged: Judged, one: Withdrawal) -> _TimeOut:
    orders = [(x, _while_out(judged, one, x)) for x in _between(judged, one)]
    shown, unsure = [x for x, order in orders if order], [x for x, order in orders if order is None]
    return _TimeOut(shown, unsure, one.ended_on is None, partial(_item_by_hand, one))


def _item_by_hand(one: Withdrawal, loads: list[LoadFact], shown: bool) -> Finding:
    out, since = one.event, day(one.event.row.happened_on)
    until = f", returned {day(one.ended_on)}" if one.ended_on else ""
    if shown:
        rule, way_out = "loads-while-withdrawn", f"{_WAY_OUT}; or record the return to use that is missing"
        message = f"{_words(loads)}: withdrawn by hand on {since} ({out.reason or 'no reason recorded'})"
        severity = Severity.FORBIDS if one.ended_on is None else Severity.PUT_RIGHT
    else:
        rule, way_out, severity = "loads-order-not-known", _TIMES, Severity.NOTE
        message = f"{_unsure(loads)} withdrawn by hand: withdrawn {since}{until}"
    return Finding(
        rule=rule,
        severity=severity,
        since=loads[0].row.happened_on,
        message=message,
        way_out=way_out,
        evidence=(Evidence(out.row.ref, f"withdrawn on {since}"), *_evidence(loads)),
        source=PRACTICE,
        owner=CLINIC,
    )


def _between(judged: Judged, one: Withdrawal) -> list[LoadFact]:
    """Loads from the day of a withdrawal to the day of the return, both inclusive; test cycles are no loads."""
    return loads_within(judged.unit, one.event.row.happened_on, one.ended_on)


def _while_out(judged: Judged, one: Withdrawal, load: LoadFact) -> bool | None:
    """Whether a load was run while it was withdrawn; None where its order is not known."""
    at, out = load.row.happened_at, one.event.row
    after = ran_after(happened_on(load), at, out.happened_on, out.happened_at)
    if one.ended_on is None:
        return after
    back = ran_after(happened_on(load), at, one.ended_on, one.ended_at)
    before = None if back is None else not back
    return False if False in (after, before) else None if None in (after, before) else True


def _words(loads: list[LoadFact]) -> str:
    first, last = (day(loads[n].row.happened_on) for n in (0, -1))
    return f"{len(loads)} load(s) run while out of service, {first} to {last}"


def _unsure(loads: list[LoadFact]) -> str:
    days = sorted({day(x.row.happened_on) for x in loads})
    return f"{len(loads)} load(s) of {' and '.join(days)} of which it is not known whether they were run while"


def _evidence(loads: list[LoadFact]) -> tuple[Evidence, ...]:
    return tuple(Evidence(x.row.ref, f"cycle {x.cycle_number or '?'} of {day(x.row.happened_on)}") for x in loads)
