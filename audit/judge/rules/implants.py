"""Loads with an implant: in an open look-back, released before the result was known, without the test asked."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from audit.facts import BioTestFact, LoadFact, in_order
from audit.judge.biological import PASSED, evidence_of, known_day
from audit.judge.clocks.used_days import implant_loads
from audit.judge.cycle_of_load import SPORE_TESTED, implant_duty, spore_tests_of
from audit.judge.judgement import Evidence, Finding, LookBack, Severity, TestVerdict
from audit.regimes.source import Source

from .tools import CLINIC, Judged, day

RECALLED = Source("CDC 2008 recommendation 16: objects other than implants", "2026-11-25", "quoted")
_SHOWN = 20


def check(judged: Judged) -> Iterator[Finding]:
    """One item for each look-back with implants, one for early releases, one for loads without the test asked."""
    implants = implant_loads(judged.now.duty)
    if not implants:
        return
    refs = {x.row.ref for x in implants}
    for back in judged.look_backs:
        if back.settled_on is None:
            yield from _in_window(back, refs)
    tests = in_order(judged.unit.bio_tests)
    matched = [(load, spore_tests_of(tests, load)) for load in implants]
    yield from _released_early(judged, matched)
    yield from _without_test(judged, matched)


def _in_window(back: LookBack, refs: set[str]) -> Iterator[Finding]:
    inside = [e for e in back.loads if e.ref in refs]
    if inside:
        yield Finding(
            rule="implant-in-window",
            severity=Severity.PUT_RIGHT,
            since=back.to,
            message=f"{len(inside)} load(s) with an implant among those affected by {back.trigger}: "
            "no decision on record",
            way_out="trace each implant, tell those who must decide, and record the decision",
            evidence=(*back.evidence, *inside[-_SHOWN:]),
            source=RECALLED,
            owner=CLINIC,
        )


def _released_early(judged: Judged, matched) -> Iterator[Finding]:
    verdicts = judged.settled.verdicts
    zone = _zone(judged)
    early = [
        (load, unknown)
        for load, tests in matched
        if load.released == "released"
        and not load.decided.paper
        and (unknown := [t for t in tests if _before_known(load, t, verdicts[t.row.origin], zone)])
    ]
    if not early:
        return
    waiting = any(verdicts[t.row.origin].verdict != PASSED for _, unknown in early for t in unknown)
    yield Finding(
        rule="implant-released-early",
        severity=Severity.PUT_RIGHT if waiting else Severity.NOTE,
        since=early[0][0].decided.happened_on,
        message=f"{len(early)} load(s) with an implant released before the result of the spore test was known, "
        f"{_days([x for x, _ in early])}",
        way_out="record the emergency that asked for it, and who decided; follow the implant up until the result "
        "is known",
        evidence=tuple(
            e
            for x, unknown in early[-_SHOWN:]
            for e in (_evidence(x), *(evidence_of(t, verdicts[t.row.origin]) for t in unknown))
        ),
        source=SPORE_TESTED,
        owner=CLINIC,
    )


def _without_test(judged: Judged, matched) -> Iterator[Finding]:
    duty = implant_duty(judged.now.regime.duties)
    without = [load for load, tests in matched if not tests] if duty else []
    if without:
        yield Finding(
            rule="implant-without-test",
            severity=Severity.PUT_RIGHT,
            since=without[0].row.happened_on,
            message=f"{len(without)} load(s) with an implant without a spore test of the same cycle, "
            f"{_days(without)}: {duty.words}",
            way_out="record the test of that cycle where one was run; else decide about the implant and record it",
            evidence=tuple(_evidence(x) for x in without[-_SHOWN:]),
            source=duty.source,
            owner=CLINIC,
        )


def _before_known(load: LoadFact, test: BioTestFact, verdict: TestVerdict, zone: ZoneInfo | None) -> bool:
    """Whether the release was on record before the result was known; on the same day only with both times."""
    if verdict.known_on is None:
        return True
    logged = load.decided.logged_at
    times = [r.known_at for r in test.readings if known_day(r) == verdict.known_on]
    if times and None not in times:
        return logged < min(times)
    return _local(logged, zone) < verdict.known_on


def _local(moment: datetime, zone: ZoneInfo | None) -> date:
    return (moment.astimezone(zone) if zone else moment).date()


def _zone(judged: Judged) -> ZoneInfo | None:
    terms = judged.settled.clinic.terms_on(judged.now.as_of)
    try:
        return ZoneInfo(terms.zone) if terms else None
    except (ZoneInfoNotFoundError, ValueError):
        return None


def _evidence(load: LoadFact) -> Evidence:
    return Evidence(load.row.ref, f"load with an implant, cycle {load.cycle_number or '?'} of {_of(load)}")


def _of(load: LoadFact) -> str:
    return day(load.row.happened_on)


def _days(loads: list[LoadFact]) -> str:
    return f"{_of(loads[0])} to {_of(loads[-1])}"
