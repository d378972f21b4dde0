"""What a job changed on the unit, component by component; inspecting and testing change nothing.

What something is comes from the position it sits at (component and name), from what the finding or the part is
called, and only where these say nothing from the title and code of the plan's line. Every component that is named
counts. Cleaning and lubricating are routine work, after which a safety function (latch, safety valve) is checked;
adjusting is at most significant; a calibration asks that values are checked. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

from audit.facts import FindingFact, JobFact, OutcomeFact, PartFact, PlanLineFact, UnitFacts
from audit.regimes.components import Component, components, named_in

from .classes import LEFT_ALONE

CHANGED, ADJUSTED, CLEANED = "changed", "adjusted", "cleaned"
_HOW = {"replace": CHANGED, "repair kit": CHANGED, "adjust": ADJUSTED, "clean": CLEANED, "lubricate": CLEANED}
CALIBRATE = "calibrate"
SAFETY_CHECK = "V6"


@dataclass(slots=True, unsafe_hash=True)  # not frozen, nor ever changed
class Touched:
    """Something that was changed: `known` the components it is, () when the table knows none; `name` as recorded."""

    how: str
    name: str
    known: tuple[Component, ...]

    @property
    def least(self) -> str:
        """The least class of the work on it; "" where it is not known and so not yet decided."""
        if self.how == CLEANED:
            return "A"
        known = self.known
        found = known[0].least if len(known) == 1 else max([c.least for c in known], default="")
        return min(found, "B") if self.how == ADJUSTED and found else found

    def asked(self, dynamic: bool, leak_tested: bool = False) -> tuple[str, ...]:
        """The tests asked after it, see `Component.asked`."""
        if self.how == CLEANED:
            return (SAFETY_CHECK,) if any(c.safety for c in self.known) else ()
        return tuple(code for c in self.known for code in c.asked(dynamic, leak_tested))


class NamesOnUnit:
    """How things on a unit are called: its positions by origin, the lines of its plan by code."""

    def __init__(self, unit: UnitFacts):
        self._called = {p.row.origin: tuple([t for t in (p.component, p.name) if t]) for p in unit.positions}
        self.lines: dict[str, list[PlanLineFact]] = {}
        self.replaced_at: dict[str, list[PlanLineFact]] = {}
        for line in unit.plan:
            self.lines.setdefault(line.code, []).append(line)
            if line.action == "replace" and line.position:
                self.replaced_at.setdefault(line.position, []).append(line)

    def at(self, position: str) -> tuple[str, ...]:
        """What the position is called: component and name; () where it is not on record."""
        return self._called.get(position, ())


def touched_by(job: JobFact, names: NamesOnUnit) -> Iterator[Touched]:
    """Everything the job changed: parts replaced, findings acted on, tasks done that change something."""
    fitted = [p for p in job.parts if was_replaced(p)]
    for part in fitted:
        yield _part(part, names)
    for finding in job.findings:
        if finding.decision not in LEFT_ALONE:
            yield _finding(finding, names)
    for outcome in job.outcomes:
        if outcome.outcome == "done":
            yield from _outcome(outcome, names, bool(fitted))


def was_replaced(part: PartFact) -> bool:
    """Whether the part was fitted in place of another; a quantity of 0 fitted nothing."""
    return part.quantity > 0 and part.action.startswith("replaced")


@lru_cache(maxsize=8192)
def known_of(names: tuple[str, ...], part_name: str = "") -> tuple[Component, ...]:
    """Every component that one of the names, or the name of a part, names."""
    found = [c for text in names for c in named_in(text)]
    if part_name:
        found += named_in(part_name, True)
    return tuple(dict.fromkeys(found))


def _part(part: PartFact, names: NamesOnUnit) -> Touched:
    held = names.at(part.position)
    known = known_of(held, part.name) or _titles(names.replaced_at.get(part.position, ()))
    return Touched(CHANGED, part.name or (held[-1] if held else "a part without a name"), known)


def _finding(finding: FindingFact, names: NamesOnUnit) -> Touched:
    held = names.at(finding.position)
    known = known_of((*held, finding.component))
    name = finding.component or (held[-1] if held else "a component without a name")
    return Touched(_HOW.get(finding.decision, CHANGED), name, known)


def _outcome(outcome: OutcomeFact, names: NamesOnUnit, parts_fitted: bool) -> Iterator[Touched]:
    lines = names.lines.get(outcome.plan_line, ())
    held = names.at(outcome.position)
    title = lines[-1].title if lines else ""
    if outcome.action == CALIBRATE:
        known = (components()["calibration"], *known_of(held))
        yield Touched(ADJUSTED, title or "calibration", tuple(dict.fromkeys(known)))
        return
    how = _HOW.get(outcome.action)
    if how is None:
        return
    known = known_of(held) or _titles(lines) or known_of((outcome.plan_line,))
    if known or not parts_fitted:  # a task without a name is what the parts fitted in the job say
        yield Touched(how, held[-1] if held else title or f"something to {outcome.action}", known)


def _titles(lines) -> tuple[Component, ...]:
    return known_of(tuple(line.title for line in lines))
