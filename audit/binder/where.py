"""In which section of a binder a row is shown, so that an answer can point to it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields, is_dataclass

from audit import facts as f
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Cell, Section

# Sections that only repeat what another shows in full, by how their ids begin or end.
_REPEATS = ("open-items", "clinic-due", "method")
_REPEATS_OF_UNIT = ("-standing", "-open", "-due", "-coverage")

# Where the facts of a kind stand when their rows are counted and not named one by one.
_OF_INDICATORS = {f.LoadFact: "-loads", f.UserCheckFact: "-checks"}
_AMONG_INDICATORS = (
    f.BioTestFact, f.BioReadingFact, f.ChemicalFact, f.AirRemovalFact, f.LeakFact, f.CaseFact, f.FollowUpFact,
)  # fmt: skip
_AMONG_PEOPLE = (f.CredentialFact, f.InstrumentFact, f.CalibrationFact)


@dataclass(frozen=True, slots=True)
class Where:
    """`named` is the section that names a row; `counted` the one that counts it, for rows of the period."""

    named: dict[str, str]
    counted: dict[str, str]

    def section(self, name: str) -> str:
        """The id of the section for a row's short name, "" where this binder does not show it."""
        return self.named.get(name) or self.counted.get(name, "")


def where(scope: Scope, sections: Iterable[Section]) -> Where:
    """Look through the sections, in their order; those that only repeat come last."""
    sections = tuple(sections)
    named: dict[str, str] = {}
    for section in sorted(sections, key=lambda s: _repeats(s.id)):
        for name in _names(section):
            named.setdefault(name, section.id)
    ids = {section.id for section in sections}
    counted = {name: to for name, to in _counted(scope) if to in ids}
    return Where(named, counted)


def _repeats(id: str) -> bool:
    return id.startswith(_REPEATS) or id.endswith(_REPEATS_OF_UNIT)


def _names(value) -> Iterable[str]:
    """The names of rows in every proof cell of a section."""
    if isinstance(value, Cell):
        if value.proof:
            yield from value.text.split("\n")
    elif isinstance(value, tuple):
        for each in value:
            yield from _names(each)
    elif is_dataclass(value):
        for field in fields(value):
            yield from _names(getattr(value, field.name))


def _counted(scope: Scope) -> Iterable[tuple[str, str]]:
    for fact in f.walk((scope.facts.credentials, scope.facts.instruments)):
        yield scope.row(fact.row.ref), "people"
    for unit in scope.units:
        for fact in f.walk(unit.facts):
            if scope.holds(fact.row.happened_on):
                yield scope.row(fact.row.ref), _home(fact, unit)


def _home(fact, unit: UnitScope) -> str:
    if type(fact) in _OF_INDICATORS:
        return unit.indicators + _OF_INDICATORS[type(fact)]
    if isinstance(fact, _AMONG_INDICATORS):
        return unit.indicators
    return "people" if isinstance(fact, _AMONG_PEOPLE) else unit.chapter
