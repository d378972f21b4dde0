"""Loads released although something failed in their cycle, with packs found wet or torn, without the result of
gauges, printout or data, or in the name of somebody who did not sign.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from audit.facts import LoadFact
from audit.facts.names import TOLD
from audit.judge.biological import cycle_key
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.plain_loads import REMARKABLE
from audit.regimes.source import Source

from .tools import CLINIC, PRACTICE, SIGNED, Judged, day

NOT_USED = Source(
    "CDC 2003 (MMWR 52 RR-17) VI.F item 5: packs are not used when mechanical or chemical results point to failure",
    "2026-11-28",
    "read",
)
# The condition is looked at when the packs are taken out; that it holds then too is common practice.
COMPROMISED = Source(
    "CDC 2008 (Guideline for Disinfection and Sterilization), storage of sterile items: a pack that is torn, wet or "
    "punctured is wrapped and sterilized again before use",
    "2026-11-29",
    "from memory",
)
_SHOWN = 20
RELEASED = "released"


def check(judged: Judged) -> Iterator[Finding]:
    """One item for each kind, with the newest loads; a decision amended to “rejected” ends it for its load.

    A result is of the load where it was logged with it, or with a spore test or chemical indicator of its day and
    cycle number.
    """
    failed, passed = _of_cycles(judged)
    remarkable = judged.settled.memo[REMARKABLE]
    released = [x for x in remarkable if x.released == RELEASED]
    bad = [x for x in released if x.mechanical == "fail" or x.chemical == "fail"]
    bad = _with_cycles(judged.unit.loads, bad, failed) if failed else bad
    unknown = [x for x in released if x.mechanical != "pass"]
    if unknown and bad:
        found = {x.row.origin for x in bad}
        unknown = [x for x in unknown if x.row.origin not in found]
    days = {on for on, _ in passed}
    without = [x for x in unknown if x.row.happened_on not in days or _cycle(x) not in passed]
    if bad:
        yield _on_failure(bad)
    if compromised := [x for x in released if x.barrier_lost]:
        yield _compromised(compromised)
    if without:
        yield _without_result(judged, without)
    if told := [x for x in remarkable if x.released_given == TOLD and x.released]:
        yield _only_told(told)


def _with_cycles(loads: Sequence[LoadFact], bad: list[LoadFact], failed: set) -> list[LoadFact]:
    """The released ones with a failed result of their own, or of a cycle of which something else failed; in order."""
    days, own = {on for on, _ in failed}, {x.row.origin for x in bad}
    near = [x for x in loads if x.released == RELEASED and (x.row.happened_on in days or x.row.origin in own)]
    return [x for x in near if x.row.origin in own or _cycle(x) in failed]


def _of_cycles(judged: Judged) -> tuple[set, set]:
    """(cycles in which a test or indicator failed, cycles of which a spore test recorded passing gauges)."""
    tests, strips = judged.unit.bio_tests, judged.unit.chemical
    named = [t for t in tests if t.cycle_number]
    failed = {_cycle(t) for t in named if t.mechanical == "fail" or t.chemical == "fail"}
    failed |= {_cycle(c) for c in strips if c.result == "fail" and c.cycle_number}
    return failed, {_cycle(t) for t in named if t.mechanical == "pass"}


def _cycle(fact) -> tuple:
    return fact.row.happened_on, cycle_key(fact)


def _on_failure(loads: list[LoadFact]) -> Finding:
    return Finding(
        rule="released-on-failure",
        severity=Severity.PUT_RIGHT,
        since=loads[0].row.happened_on,
        message=f"{len(loads)} load(s) released although something failed in the cycle, {_days(loads)}",
        way_out="trace these packs, take them out of use and sterilize them again; amend the decision to rejected",
        evidence=tuple(_evidence(x, "released though it failed") for x in loads[-_SHOWN:]),
        source=NOT_USED,
        owner=CLINIC,
    )


def _compromised(loads: list[LoadFact]) -> Finding:
    """Packs that were wet or torn when they were taken out are not sterile, whatever the results of the cycle."""
    return Finding(
        rule="released-wet-or-torn",
        severity=Severity.PUT_RIGHT,
        since=loads[0].row.happened_on,
        message=f"{len(loads)} load(s) released although packs were wet or wrapping was damaged, {_days(loads)}",
        way_out="do not use these packs: take them back, wrap and sterilize them again; amend the decision to "
        "rejected",
        evidence=tuple(_evidence(x, f"released with {x.barrier_lost}") for x in loads[-_SHOWN:]),
        source=COMPROMISED,
        owner=CLINIC,
    )


def _without_result(judged: Judged, loads: list[LoadFact]) -> Finding:
    rule = judged.now.regime.release
    asked = rule is not None and rule.mechanical
    return Finding(
        rule="released-without-result",
        severity=Severity.PUT_RIGHT if asked else Severity.NOTE,
        since=loads[0].row.happened_on,
        message=f"{len(loads)} load(s) released without a mechanical result on record, {_days(loads)}"
        + (f": {rule.words}" if asked else ""),
        way_out="add the result from the printout or data to each load; from now on look at it before the release",
        evidence=tuple(_evidence(x, "no mechanical result") for x in loads[-_SHOWN:]),
        source=rule.source if asked else PRACTICE,
        owner=CLINIC,
    )


def _only_told(loads: list[LoadFact]) -> Finding:
    """Decisions entered by somebody in the name of another, who signed nothing."""
    return Finding(
        rule="release-only-told",
        severity=Severity.NOTE,
        since=loads[0].row.happened_on,
        message=f"the decision on {len(loads)} load(s) was told by somebody else, not signed, {_days(loads)}",
        way_out="the person named signs each; from now on who decides enters it while signed in",
        evidence=tuple(_evidence(x, x.decided_words) for x in loads[-_SHOWN:]),
        source=SIGNED,
        owner=CLINIC,
    )


def _evidence(load: LoadFact, what: str) -> Evidence:
    return Evidence(load.row.ref, f"cycle {load.cycle_number or '?'} of {day(load.row.happened_on)}: {what}")


def _days(loads: list[LoadFact]) -> str:
    first, last = (day(loads[n].row.happened_on) for n in (0, -1))
    return f"on {first}" if first == last else f"{first} to {last}"
