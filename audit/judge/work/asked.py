"""The class of a job and the tests it asks: of the class, of each component touched, of the rules followed.

The class is derived from what was done and from what was touched; the technician may raise it, never lower it. A
component that the table does not know counts as major until somebody states a class with a reason. "Do not use" is
no class of work: it stands beside it, and such a job asks at least what significant work asks. Source of the classes:
see the verification sets of the rules and the table of components; otherwise common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

from audit.facts import JobFact, UnitFacts
from audit.regimes.components import Component
from audit.regimes.model import WITHOUT_VACUUM, Regime, VerificationSet

from .classes import DO_NOT_USE, LEFT_ALONE, MAJOR_REASONS, NOT_WORKED, class_letter, highest
from .touched import NamesOnUnit, Touched, touched_by, was_replaced


@dataclass(slots=True, unsafe_hash=True)  # not frozen, nor ever changed
class JobClass:
    """`letter`: A, B or C, "" when nothing was done. `unknown`: names of what the table does not know, undecided."""

    letter: str
    do_not_use: bool
    touched: tuple[Touched, ...]
    unknown: tuple[str, ...]


def class_of(job: JobFact, names: NamesOnUnit) -> JobClass:
    """The class of a job as it follows from what was done, what was touched and what was stated."""
    touched = tuple(touched_by(job, names))
    found = [t.least for t in touched]
    stated = class_letter(job.class_stated)
    forbids = stated == DO_NOT_USE or any(map(_forbids, job.findings))
    unknown = ()
    if "" in found and not (job.class_reason.strip() and highest([stated])):
        unknown = tuple(dict.fromkeys(_undecided(touched)))
    found += _done(job, names)
    if unknown or job.reason in MAJOR_REASONS:
        found.append("C")
    if forbids:
        found.append("B")
    if not _any(found) and job.conclusion is not None and job.conclusion.conclusion == NOT_WORKED:
        return JobClass("", forbids, touched, unknown)
    return JobClass(highest([stated, *found]), forbids, touched, unknown)


def _undecided(touched: tuple[Touched, ...]) -> list[str]:
    """The names of what has no least class of its own, as the table of components does not know it."""
    return [t.name for t in touched if not t.least]


def leak_tested(unit: UnitFacts, regime: Regime) -> bool:
    """Whether the rules ask the air-leak test of this type of unit: what it has a test for, work on it asks too."""
    kind = unit.equipment_type
    if kind in WITHOUT_VACUUM:
        return False
    return any([d.subject == "air leak" and (not d.equipment or kind in d.equipment) for d in regime.duties])


def asked_of(job: JobClass, regime: Regime, dynamic: bool, leaks: bool = False) -> VerificationSet:
    """All that the job asks together, as one set. `leaks`: see `leak_tested`."""
    held = regime.verification_set(job.letter or "A")
    if not job.touched:
        return held
    more = asked_by_touched(job.touched, regime, dynamic, leaks)
    tests = tuple(sorted(dict.fromkeys([*held.tests, *more]), key=_number)) if more else held.tests
    return held if tests == held.tests else replace(held, tests=tests)


def asked_by_touched(touched: tuple[Touched, ...], regime: Regime, dynamic: bool, leaks: bool = False) -> list[str]:
    """The tests that what was touched asks beside those of the class: by the table and by the rules."""
    more = [code for t in touched for code in t.asked(dynamic, leaks)]
    if regime.components:
        names = {c.name for t in touched for c in t.known}
        more += [code for codes in _by_rules(names, regime, dynamic) for code in codes]
    return more


def asked_beside(component: Component, regime: Regime, dynamic: bool, leaks: bool = False) -> tuple[str, ...]:
    """The tests asked when the component is changed, beside those of the class: of the table and of the rules.

    `leaks`: see `leak_tested`.
    """
    of_rules = (code for codes in _by_rules({component.name}, regime, dynamic) for code in codes)
    more = [*component.asked(dynamic, leaks), *of_rules]
    return tuple(sorted(dict.fromkeys(more), key=_number))


def _by_rules(names: set[str], regime: Regime, dynamic: bool) -> Iterator[tuple[str, ...]]:
    """What the rules add for each of these components."""
    for held in regime.components:
        if held.component in names:
            yield (*held.tests, *(held.dynamic if dynamic else ()))


def _done(job: JobFact, names: NamesOnUnit) -> list[str]:
    """The classes of the lines of the plan and of the findings; routine where none is stated."""
    out = []
    for outcome in job.outcomes:
        if outcome.outcome == "done":
            out += [_rank(line.repair_class) for line in names.lines.get(outcome.plan_line, ())] or ["A"]
    for part in job.parts:
        if was_replaced(part):
            out += [_rank(line.repair_class) for line in names.replaced_at.get(part.position, ())] or ["A"]
        elif part.action.startswith("replaced"):
            out.append("A")
    for finding in job.findings:
        if finding.decision not in LEFT_ALONE:
            out.append(_rank(finding.repair_class))
    return out


def _forbids(finding) -> bool:
    return finding.decision == "condemn" or class_letter(finding.repair_class) == DO_NOT_USE


@cache
def _rank(text: str) -> str:
    return highest([class_letter(text)]) or "A"


def _any(letters: list[str]) -> bool:
    return any(letters)


def _number(code: str) -> int:
    return int(code[1:]) if code[1:].isdigit() else 0


def shown_class(job: JobFact, unit: UnitFacts) -> str:
    """The class as one letter: X where something forbids use, else as `required_class`."""
    held = class_of(job, NamesOnUnit(unit))
    return DO_NOT_USE if held.do_not_use else held.letter


def required_class(job: JobFact, unit: UnitFacts) -> str:
    """The highest of the classes derived from what was done and the class stated; "" when nothing was done."""
    return class_of(job, NamesOnUnit(unit)).letter
