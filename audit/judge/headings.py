"""What stands under the folded heading of a chapter about a unit or a place: what is in it, before it is opened.

A line counts; what it counts is in the chapter, and nothing else. Days in ISO text.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable

from audit.facts import UnitFacts, in_order

from .judgement import ClinicJudgement, Clock, Coverage, LookBack, Severity, State, UnitJudgement
from .response import ERROR, RETURNED

NONE = "none on record"
_LATE = (State.OVERDUE, State.NO_EVIDENCE)


def headings_of(facts: UnitFacts, judged: UnitJudgement) -> dict[str, str]:
    """Chapter → its line. `facts` are those of the unit up to the day that is judged."""
    return {
        "failures": failures(judged),
        "loads": loads_affected(judged.look_backs),
        "tests": spore_tests(facts, judged),
        "kept": kept(judged.coverage),
        "service": service(facts),
        "due": due(judged.clocks),
        "checks": other_tests(facts),
        "readings": readings(facts),
    }


def failures(judged: UnitJudgement) -> str:
    """Open ones first: "1 open, 2 resolved; the newest 2026-06-09"."""
    cases = [case for case in judged.cases if case.phase != ERROR]
    if not cases:
        return NONE
    resolved = sum(case.phase == RETURNED for case in cases)
    told = [f"{len(cases) - resolved} open"] if resolved < len(cases) else []
    told += [f"{resolved} resolved"] if resolved else []
    return f"{', '.join(told)}; the newest {max(case.failed_on for case in cases).isoformat()}"


def loads_affected(backs: tuple[LookBack, ...]) -> str:
    """How many loads are in doubt and how many times nothing was decided yet; what was not logged is not known."""
    if not backs:
        return "none known"
    loads = {evidence.ref for back in backs for evidence in back.loads}
    undecided = sum(back.settled_on is None for back in backs)
    first = min((back.after for back in backs if back.after is not None), default=None)
    told = f"{len(loads)} known" + (f", after {first.isoformat()}" if first else "")
    told += f"; {undecided} without a decision" if undecided else "; all decided"
    return told + ("; some cycles are not logged" if any(back.unlogged for back in backs) else "")


def spore_tests(facts: UnitFacts, judged: UnitJudgement) -> str:
    """ "80 on record: 78 passed, 2 failed; the newest 2026-06-10"."""
    found = Counter(verdict.verdict for verdict in judged.verdicts)
    return _counted(facts.bio_tests, found, ("failed", "invalid", "awaited", "passed"))


def other_tests(facts: UnitFacts) -> str:
    """Air removal, air leak, chemical indicators and checks by the users, by result."""
    rows = (*facts.air_removal, *facts.leaks, *facts.chemical, *facts.checks)
    found = Counter(row.result for row in rows)
    return _counted(rows, found, ("fail", "not done", "not read", "pass"))


def _counted(rows: Iterable, found: Counter, order: tuple[str, ...]) -> str:
    rows = list(rows)
    if not rows:
        return NONE
    others = sorted(set(found) - set(order))
    told = ", ".join(f"{found[result]} {result}" for result in (*order, *others) if found[result])
    newest = max(row.row.happened_on for row in rows).isoformat()
    return f"{len(rows)} on record: {told}; the newest {newest}"


def kept(coverage: tuple[Coverage, ...]) -> str:
    """What was due, and what was not met in time, of all duties together; the duties are named where they are few."""
    if not coverage:
        return "no duty was counted"
    told = f"{_sum(coverage, lambda c: c.due)} due, {_sum(coverage, lambda c: c.met)} met in time"
    for words, of in (
        ("late", lambda c: c.met_late),
        ("missed", lambda c: c.missed),
        ("invalid", lambda c: c.invalid),
    ):
        count = _sum(coverage, of)
        told += f", {count} {words}" if count else ""
    return told


def _sum(coverage: tuple[Coverage, ...], of: Callable[[Coverage], int]) -> int:
    return sum(of(each) for each in coverage)


def service(facts: UnitFacts) -> str:
    """ "3 visits; the last 2026-06-15, breakdown: not released"."""
    jobs = in_order(facts.jobs)
    if not jobs:
        return NONE
    last = jobs[-1]
    done = last.conclusion.conclusion if last.conclusion else "not concluded"
    many = f"{len(jobs)} visit" + ("" if len(jobs) == 1 else "s")
    return f"{many}; the last {last.row.happened_on.isoformat()}, {last.reason}: {done}"


def due(clocks: tuple[Clock, ...]) -> str:
    """ "5 asked, 1 overdue; 2 not asked of this unit"."""
    asked = [clock for clock in clocks if clock.state is not State.NOT_APPLICABLE]
    late = sum(clock.state in _LATE for clock in asked)
    told = f"{len(asked)} asked, " + (f"{late} overdue or without evidence" if late else "none overdue")
    others = len(clocks) - len(asked)
    return told + (f"; {others} not asked of this unit" if others else "")


def readings(facts: UnitFacts) -> str:
    """The counter as last shown, and how many readings against limits were taken at visits."""
    taken = sum(len(job.readings) for job in facts.jobs)
    shown = in_order(facts.counters)
    told = f"{taken} reading" + ("" if taken == 1 else "s") + " at visits"
    if not shown:
        return f"{told}; no counter reading"
    last = shown[-1]
    return f"{told}; {last.shown:f} {last.counter} on {last.row.happened_on.isoformat()}"


def items_line(judgement: ClinicJudgement) -> str:
    """ "1 forbids use, 3 to put right, 5 to be known", of the place and its units together."""
    findings = [*judgement.findings, *(f for unit in judgement.units for f in unit.findings)]
    found = Counter(finding.severity for finding in findings)
    words = {Severity.FORBIDS: "forbid use", Severity.PUT_RIGHT: "to put right", Severity.NOTE: "to be known"}
    if found[Severity.FORBIDS] == 1:
        words[Severity.FORBIDS] = "forbids use"
    return (
        ", ".join(f"{found[severity]} {said}" for severity, said in words.items() if found[severity]) or "none open"
    )


def place_line(clocks: tuple[Clock, ...]) -> str:
    """ "1 overdue or without evidence, 1 due soon, 2 in order", of papers, training and instruments of the place."""
    asked = [clock.state for clock in clocks if clock.state is not State.NOT_APPLICABLE]
    late, well = sum(state in _LATE for state in asked), sum(state is State.OK for state in asked)
    soon = len(asked) - late - well
    told = [f"{late} overdue or without evidence"] if late else []
    told += [f"{soon} due"] if soon else []
    told += [f"{well} in order"] if well else []
    return ", ".join(told) or "none asked"
