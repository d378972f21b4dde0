"""Which part a position takes, computed from what is fitted on this unit and never from its model.

Two units of one model differ by year of make, options and what was put on later; so the number comes from the part
that was fitted last at the position; where none is on record, from what is stated to belong to this very unit. Where
it is not known whether the position is fitted, the part is brought all the same, or the clinic is asked first. Common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from audit.facts import FindingFact, PartFact, PlanLineFact, PositionFact, UnitFacts, in_order
from audit.judge.clocks.plan import fit_on

from .values import Need, StatedPart, Sure

WORN = 2  # grade: at its limit


@dataclass(frozen=True, slots=True)
class Fitted:
    """What sits on a unit on a day."""

    unit: UnitFacts
    as_of: date
    stated: Sequence[StatedPart] = ()  # what is said to belong to the unit, whatever was fitted

    def position(self, origin: str) -> PositionFact | None:
        return next((p for p in self.unit.positions if p.row.origin == origin), None)

    def missing(self) -> list[PositionFact]:
        return [p for p in self.unit.positions if fit_on(self.unit, p.row.origin, self.as_of) == "missing"]

    def last_parts(self, origin: str) -> tuple[PartFact, ...]:
        """What the newest job that says so put on, or found, at the position; of a kit only what was fitted."""
        for job in reversed(in_order(self.unit.jobs)):
            here = tuple(p for p in job.parts if p.position == origin and p.quantity > 0)
            if here:
                return here
        return ()

    def needs_of(self, line: PlanLineFact) -> tuple[Need, ...]:
        """The parts that the line takes when it is done: of replacing its part, else one that was worn, in case."""
        if not line.position:
            return ()
        if line.action == "replace":
            return self.needs_at(line.position)
        worn = self._worn(line.position)
        return self.needs_at(line.position, worn, Sure.IN_CASE) if worn else ()

    def needs_at(self, origin: str, why: str = "", sure: Sure | None = None) -> tuple[Need, ...]:
        """The parts that sit at the position, as fitted last, else as stated; () where none belongs there."""
        if not origin:
            return ()
        position, parts = self.position(origin), self.last_parts(origin)
        fit = fit_on(self.unit, origin, self.as_of)
        if fit == "none":
            return ()
        where = position.name if position else "a position that is not on the list"
        component = position.component if position else ""
        unknown = Sure.UNKNOWN_FIT if fit == "unknown" else None
        stated = () if parts else tuple(each for each in self.stated if each.place == origin)
        if stated:
            how_sure, told = sure or unknown or Sure.STATED, _reason(why, unknown or Sure.STATED)
            return tuple(
                Need(origin, where, s.name, s.number, component, s.quantity, how_sure, told, s.kit) for s in stated
            )
        if not parts:
            told = _reason(why, unknown or Sure.NUMBER_UNKNOWN)
            how_sure = sure or unknown or Sure.NUMBER_UNKNOWN
            return (Need(origin, where, component or where, "", component, 1, how_sure, told),)
        how_sure, told = sure or unknown or Sure.FITTED, _reason(why, unknown)
        return tuple(
            Need(origin, where, p.name, p.number, component, p.quantity, how_sure, told, p.kit) for p in parts
        )

    def needs_awaited(self, finding: FindingFact) -> tuple[Need, ...]:
        """The part that a finding says is to be brought; how many, and of which kit, as what is fitted there."""
        there = self.needs_at(finding.position, "must be replaced, the part was not at hand")
        if not finding.part_needed:
            return there
        position = self.position(finding.position)
        where = position.name if position else finding.component or "whole unit"
        like = there[0] if there else None
        return (
            Need(
                finding.position, where, finding.part_needed, finding.part_needed_number,
                position.component if position else "", like.quantity if like else 1,
                Sure.FITTED if finding.part_needed_number else Sure.NUMBER_UNKNOWN,
                f"must be replaced: {finding.seen}",
            ),
        )  # fmt: skip

    def _worn(self, origin: str) -> str:
        """In words, when the newest look found the position at its limit or worse and nothing was renewed since."""
        found = in_order([f for j in self.unit.jobs for f in j.findings if f.position == origin])
        if not found or found[-1].grade < WORN:
            return ""
        looked_on = found[-1].row.happened_on
        renewed = (p for p in self.last_parts(origin) if p.action.startswith("replaced"))
        if any(p.row.happened_on >= looked_on for p in renewed):
            return ""
        return f"at its limit or worse when seen on {looked_on.isoformat()}"


_SAID = {
    Sure.UNKNOWN_FIT: "nobody has said whether it is fitted: ask the clinic before you leave, or bring both",
    Sure.STATED: "stated for the unit, and no part is on record at this position",
    Sure.NUMBER_UNKNOWN: "no part is on record at this position: ask for the number before you leave",
}


def _reason(why: str, sure: Sure | None) -> str:
    return "; ".join(text for text in (why, _SAID.get(sure, "")) if text)
