"""In which section of a binder a row is shown, so that an answer can point to it."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from audit import facts as f
from audit.binder.scope import Scope, UnitScope, short
from audit.binder.sections import (
    Beside,
    Block,
    CaseTimeline,
    Cautions,
    KeyValues,
    Paragraph,
    Section,
    Signed,
    StandingBox,
    Table,
)

# Sections that only repeat what another shows in full, by how their ids begin or end.
_REPEATS = ("open-items", "clinic-due", "method")
_REPEATS_OF_UNIT = ("-coverage", "-readings", "-happened")

_OPENER = re.compile(r"unit-\d+")  # the first page of a unit: what is due there stands in full at its visit
_BETWEEN = re.compile(r",\s*|\n")  # record numbers of one cell
_SIGNED = re.compile(r"\brecord ([a-z]?\d+(?:\.\d+)?)")
_IN_WORDS = re.compile(r"\[([a-z]?\d+(?:\.\d+)?)\]")

# Where the facts of a kind stand when their rows are counted and not named one by one.
_OF_INDICATORS = {f.LoadFact: "-loads", f.UserCheckFact: "-checks"}
_AMONG_INDICATORS = (
    f.BioTestFact, f.BioReadingFact, f.ChemicalFact, f.AirRemovalFact, f.LeakFact, f.CaseFact, f.FollowUpFact,
)  # fmt: skip
_OF_BOOKS = (f.CredentialFact, f.InstrumentFact, f.CalibrationFact)


@dataclass(frozen=True, slots=True)
class Where:
    """`named` is the section that names a row; `counted` the one that counts it, for rows of the period."""

    named: dict[str, str]
    counted: dict[str, str]

    def section(self, name: str) -> str:
        """The id of the section for a row's short name, "" where this binder does not show it."""
        return self.named.get(name) or self.counted.get(name, "")


def where(scope: Scope, sections: Iterable[Section]) -> Where:
    """Look through the sections, in their order; those that only repeat come last. A paper leads to its pages, a load
    to the log of loads, which alone says what became of it.
    """
    sections = tuple(sections)
    named = {scope.row(paper.ref): paper.section for paper in scope.papers}
    for section in sorted(sections, key=lambda s: _repeats(s.id)):
        for name in _names(section):
            named.setdefault(name, section.id)
    ids = {section.id for section in sections}
    counted = {name: to for name, to in _counted(scope) if to in ids}
    named |= {name: to for name, to in counted.items() if to.endswith(_OF_INDICATORS[f.LoadFact])}
    return Where(named, counted)


def _repeats(id: str) -> bool:
    return id.startswith(_REPEATS) or id.endswith(_REPEATS_OF_UNIT) or bool(_OPENER.fullmatch(id))


def _names(section: Section) -> Iterable[str]:
    """The names of rows in every proof cell of a section, and in the steps of its failures."""
    for block in section.blocks:
        yield from _names_of(block)


def _names_of(block: Block) -> Iterable[str]:
    if isinstance(block, Table):
        yield from (name for row in block.rows for cell in row if cell.proof for name in _apart(cell.text))
    elif isinstance(block, KeyValues | StandingBox):
        yield from (name for _, cell in block.pairs if cell.proof for name in _apart(cell.text))
    elif isinstance(block, CaseTimeline):
        yield from (name for step in block.steps for name in _apart(step.record))
    elif isinstance(block, Signed):
        yield from (name for _, said in block.statements for line in said for name in _SIGNED.findall(line))
    elif isinstance(block, Beside):
        yield from (name for each in (*block.left, *block.right) for name in _names_of(each))


def _apart(names: str) -> Iterable[str]:
    return (name for name in _BETWEEN.split(names) if name)


def named_rows(scope: Scope, sections: Iterable[Section]) -> tuple[tuple[str, str], ...]:
    """Each row that a binder names, by record number, with the first characters of its ref: what became of it since
    can be looked up. In the order of the ledgers."""
    told = {name for section in sections for name in (*_names(section), *_in_words(section))}
    rows = {row.ref: row for row in scope.rows.values()}.values()
    named = [(row.ledger, row.number, row.line, scope.number_of(row), short(row.ref)) for row in rows]
    return tuple((number, ref) for *_, number, ref in sorted(named) if number in told)


def _in_words(section: Section) -> Iterable[str]:
    """The record numbers that stand in sentences."""
    for block in section.blocks:
        for text in _sentences(block):
            if "[" in text:
                yield from _IN_WORDS.findall(text)


def _sentences(block: Block) -> Iterable[str]:
    """The texts of a block in which a record may be named."""
    if isinstance(block, Table):
        yield from (cell.text for row in block.rows for cell in row)
    elif isinstance(block, KeyValues | StandingBox):
        yield from (cell.text for _, cell in block.pairs)
    elif isinstance(block, Paragraph):
        yield block.text
    elif isinstance(block, Cautions):
        yield from block.lines
    elif isinstance(block, Beside):
        yield from (text for each in (*block.left, *block.right) for text in _sentences(each))


def _counted(scope: Scope) -> Iterable[tuple[str, str]]:
    """The home of each row that an answer rests on, by the kind of its fact."""
    wanted = {each.ref for answer in scope.judgement.answers for each in answer.evidence}
    for fact, unit in scope.every:
        if fact.row.ref not in wanted and fact.row.origin not in wanted:
            continue
        if unit is None and isinstance(fact, _OF_BOOKS):
            yield scope.row(fact.row.ref), "people"
        elif unit is not None and scope.holds(fact.row.happened_on):
            yield scope.row(fact.row.ref), _home(fact, unit)


def _home(fact, unit: UnitScope) -> str:
    if type(fact) in _OF_INDICATORS:
        return unit.indicators + _OF_INDICATORS[type(fact)]
    return unit.indicators if isinstance(fact, _AMONG_INDICATORS) else unit.chapter
