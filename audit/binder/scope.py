"""What one binder is asked about: facts, judgement, period; and how a row is named in it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from audit.binder.sections import Cell
from audit.binder.words import dated
from audit.facts import ClinicFacts, Row, UnitFacts, unit_by_day, walk
from audit.judgement import ClinicJudgement, Coverage, Evidence, UnitJudgement
from audit.situation import clinic_by_day


def short(ref: str) -> str:
    """The first eight characters of a ref: enough to find it, short enough to print."""
    return ref[:8]


@dataclass(frozen=True, slots=True)
class UnitScope:
    """One unit: its facts cut to the day of the answer, what is said of it, and where its chapters are."""

    facts: UnitFacts
    judgement: UnitJudgement | None  # None: this unit was not judged
    chapter: str
    indicators: str
    coverage: tuple[Coverage, ...] = ()

    @property
    def label(self) -> str:
        return self.facts.label

    def link(self) -> Cell:
        return Cell(self.label, to=self.chapter)

    def position(self, origin: str) -> str:
        """The name of a position; "whole unit" for ""; the bare text where no position has that origin."""
        if not origin:
            return "whole unit"
        names = {p.row.origin: p.name for p in self.facts.positions}
        return names.get(origin, origin)


@dataclass(frozen=True, slots=True)
class Scope:
    """`from_on` and `to_on` are inclusive; histories also end at `as_of`, the day of the answer."""

    facts: ClinicFacts
    judgement: ClinicJudgement
    from_on: date
    to_on: date
    units: tuple[UnitScope, ...]
    rows: dict[str, Row]

    @property
    def as_of(self) -> date:
        return self.judgement.as_of

    @property
    def last(self) -> date:
        """The last day of the histories, inclusive."""
        return min(self.to_on, self.as_of)

    @property
    def name(self) -> str:
        return self.judgement.name or self.facts.slug

    def holds(self, day: date) -> bool:
        """Whether a day lies in the period and not after the day of the answer."""
        return self.from_on <= day <= self.last

    def inside(self, facts: Iterable) -> tuple:
        """The facts that happened in the period, oldest first; within a day in the order they were logged."""
        kept = [fact for fact in facts if self.holds(fact.row.happened_on)]
        return tuple(sorted(kept, key=lambda fact: (fact.row.happened_on, fact.row.number, fact.row.line)))

    def row(self, ref: str) -> str:
        """A row in short: the first eight characters of its ref and the number of its ledger entry."""
        row = self.rows.get(ref)
        return short(ref) if row is None else f"{short(row.ref)} #{row.number}"

    def proof(self, *facts) -> Cell:
        """The rows behind a cell, one to a line, each once."""
        return self.refs(fact.row.ref for fact in facts if fact is not None)

    def evidence(self, evidence: Iterable[Evidence]) -> Cell:
        return self.refs(each.ref for each in evidence)

    def refs(self, refs: Iterable[str]) -> Cell:
        names = dict.fromkeys(self.row(ref) for ref in refs if ref)
        return Cell("\n".join(names) or "none", proof=True)

    def told(self, evidence: Iterable[Evidence]) -> str:
        """Evidence in a sentence: what each row says and which row it is."""
        return "\n".join(f"{dated(each.text)} [{self.row(each.ref)}]" for each in evidence)


def scope(
    facts: ClinicFacts,
    judgement: ClinicJudgement,
    from_on: date,
    to_on: date,
    coverage: Mapping[str, tuple[Coverage, ...]] | None = None,
) -> Scope:
    """Join facts and judgement unit by unit, in the order of the facts.

    `coverage` by origin of the unit; for units not in it, that of the judgement.
    """
    said = {each.unit: each for each in judgement.units}
    own = clinic_by_day(facts, judgement.as_of)
    counted = {each.unit: each.coverage for each in judgement.units} | dict(coverage or {})
    units = tuple(
        UnitScope(
            unit_by_day(unit, judgement.as_of),
            said.get(unit.ref),
            f"unit-{n}",
            f"indicators-{n}",
            counted.get(unit.ref, ()),
        )
        for n, unit in enumerate(facts.units, start=1)
    )
    rows: dict[str, Row] = {}
    for fact in walk(facts):
        rows.setdefault(fact.row.ref, fact.row)
        rows.setdefault(fact.row.origin, fact.row)
        done = getattr(fact, "done_row", None)
        if done is not None:
            rows.setdefault(done.ref, done)
            rows.setdefault(done.origin, done)
    return Scope(own, judgement, from_on, to_on, units, rows)
