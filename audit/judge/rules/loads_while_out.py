"""Loads run while a failed test kept the unit out of service, or while it was withdrawn by hand."""

from __future__ import annotations

from collections.abc import Iterator

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


def check(judged: Judged) -> Iterator[Finding]:
    """One for each case, and one for each withdrawal by hand, in which loads were run; a load counts once.

    Loads of a day on which it began or ended, whose order is not known, are an item of their own.
    """
    counted: set[str] = set()
    for replay in judged.settled.replays:
        if replay.withdraws:
            yield from _in_case(judged, replay, counted)
    yield from _by_hand(judged, counted)


def _new(loads: list[LoadFact], counted: set[str]) -> list[LoadFact]:
    """Those not counted yet, which they are from now on."""
    found = [x for x in loads if x.row.ref not in counted]
    counted |= {x.row.ref for x in found}
    return found


def _in_case(judged: Judged, replay, counted: set[str]) -> Iterator[Finding]:
    found = loads_while_out(judged.unit, replay)
    loads, unsure = _new(found.shown, counted), _new(found.unsure, counted)
    if loads:
        yield Finding(
            rule="loads-while-out",
            severity=Severity.FORBIDS if replay.resolved_on is None else Severity.PUT_RIGHT,
            since=loads[0].row.happened_on,
            message=f"{_words(loads)}: failure known {day(replay.out_from)}",
            way_out=_WAY_OUT,
            evidence=_evidence(loads),
            source=replay.path.source,
            owner=CLINIC,
        )
    if unsure:
        decided = first_decision(replay.followups) is not None
        until = f", proven {day(replay.resolved_on)}" if replay.resolved_on else ""
        yield Finding(
            rule="loads-order-not-known",
            severity=Severity.NOTE if decided else Severity.PUT_RIGHT,
            since=unsure[0].row.happened_on,
            message=f"{_unsure(unsure)} out of service after a failed test: known {day(replay.out_from)}{until}",
            way_out=_TIMES,
            evidence=_evidence(unsure),
            source=replay.path.source,
            owner=CLINIC,
        )


def _by_hand(judged: Judged, counted: set[str]) -> Iterator[Finding]:
    for one in withdrawals(judged.now):
        out, since = one.event, day(one.event.row.happened_on)
        orders = [(x, _while_out(judged, one, x)) for x in _between(judged, one)]
        loads = _new([x for x, order in orders if order], counted)
        unsure = _new([x for x, order in orders if order is None], counted)
        proof = Evidence(out.row.ref, f"withdrawn on {since}")
        if loads:
            yield Finding(
                rule="loads-while-withdrawn",
                severity=Severity.FORBIDS if one.ended_on is None else Severity.PUT_RIGHT,
                since=loads[0].row.happened_on,
                message=f"{_words(loads)}: withdrawn by hand on {since} ({out.reason or 'no reason recorded'})",
                way_out=f"{_WAY_OUT}; or record the return to use that is missing",
                evidence=(proof, *_evidence(loads)),
                source=PRACTICE,
                owner=CLINIC,
            )
        if unsure:
            until = f", returned {day(one.ended_on)}" if one.ended_on else ""
            yield Finding(
                rule="loads-order-not-known",
                severity=Severity.NOTE,
                since=unsure[0].row.happened_on,
                message=f"{_unsure(unsure)} withdrawn by hand: withdrawn {since}{until}",
                way_out=_TIMES,
                evidence=(proof, *_evidence(unsure)),
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
