"""The cycles of a look-back along a bar: the last good proof, what failed, and the loads on record between them."""

from __future__ import annotations

from collections.abc import Iterator

from audit.binder.scope import UnitScope
from audit.binder.sections import CycleBar, CycleMark
from audit.binder.spore_words import verdicts_of
from audit.binder.written_on_paper import NO_BREAK, counted, day
from audit.judge.judgement import Case, LookBack

PASSED, FAILED, LOAD = "passed", "failed", "load"


def cycle_bar(unit: UnitScope, back: LookBack, proof: str, case: Case | None) -> tuple[CycleBar, ...]:
    """Nothing where no test, or nothing beside it, has a plain cycle number, or where no test is what it is about.

    `proof` is the row of the good one, "" for none.
    """
    if not proof and case is None:
        return ()
    marks = {mark.number: mark for mark in (*_loads(unit, back), *_tests(unit, back, proof, case))}
    told = tuple(sorted(marks.values(), key=lambda mark: mark.number))
    if len(told) < 2 or all(mark.state == LOAD for mark in told):
        return ()
    return (CycleBar(told, _in_words(told)),)


def _loads(unit: UnitScope, back: LookBack) -> Iterator[CycleMark]:
    doubted = {each.ref for each in back.loads}
    for load in unit.facts.loads:
        if load.row.ref in doubted and load.cycle_number.isdecimal():
            yield CycleMark(int(load.cycle_number), LOAD, day(load.row.happened_on))


def _tests(unit: UnitScope, back: LookBack, proof: str, case: Case | None) -> Iterator[CycleMark]:
    """The good proof, and the tests of the window that failed."""
    facts, verdicts = unit.facts, verdicts_of(unit)
    failing = {each.ref for each in (*back.evidence, *(case.evidence if case else ()))}
    failing |= {test.row.ref for test in facts.bio_tests if _failed(verdicts.get(test.row.origin))}
    for test in (*facts.bio_tests, *facts.air_removal, *facts.checks):
        on, ref = test.row.happened_on, test.row.ref
        inside = on <= back.to and (back.after is None or on >= back.after)
        if test.cycle_number.isdecimal() and (ref == proof or (ref in failing and inside)):
            yield CycleMark(int(test.cycle_number), PASSED if ref == proof else FAILED, day(on))


def _failed(verdict) -> bool:
    return verdict is not None and verdict.verdict == FAILED


def _in_words(marks: tuple[CycleMark, ...]) -> str:
    """What the bar shows, for who cannot see it."""
    first, last = marks[0].number, marks[-1].number
    tests = [f"cycle{NO_BREAK}{mark.number}, {mark.day}, {mark.state}" for mark in marks if mark.state != LOAD]
    loads = [str(mark.number) for mark in marks if mark.state == LOAD]
    held = f"loads on record: {', '.join(loads)}" if loads else "no load on record"
    unknown = last - first + 1 - len(marks)
    return (
        f"A bar of the cycles {first} to {last}. {'; '.join(tests)}; {held}; "
        f"{counted(unknown, 'other cycle')} of these numbers not among them."
    )
