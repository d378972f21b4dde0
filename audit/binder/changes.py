"""Corrections, late entries and entries transcribed from paper: each shown as what it is."""

from __future__ import annotations

import re

from audit.binder.scope import Scope
from audit.binder.sections import Cell, Column, Paragraph, Section, Table
from audit.binder.usual import entries
from audit.binder.written_on_paper import day, lines, moment
from audit.facts import CorrectionFact

MOST = 60  # late entries told one by one; of more, those of a month that are alike are counted

# Kinds of row whose class name does not read as English on paper.
_KINDS = {
    "BioTestFact": "spore test",
    "BioReadingFact": "reading of a spore test",
    "ChemicalFact": "chemical indicator",
    "AirRemovalFact": "air removal test",
    "LeakFact": "air leakage test",
    "OutcomeFact": "task",
    "FindingFact": "condition as seen",
    "PartFact": "part",
    "VerificationFact": "test before return to service",
    "CaseFact": "failure case",
    "FollowUpFact": "follow-up",
    "FaultFact": "fault reported",
    "UnitFacts": "unit",
    "TermsFact": "terms of the clinic",
    "FitFact": "what is fitted",
    "GapFact": "known gap",
}


def kind_words(fact) -> str:
    """The kind of a fact in words, from its class: "counter", "spore test"."""
    name = type(fact).__name__
    spaced = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", name.removesuffix("Fact")).lower()
    return _KINDS.get(name, spaced)


def _corrected_in(scope: Scope, correction: CorrectionFact) -> bool:
    """A correction belongs to the period by the day it is about or by the clinic's day on which it was made."""
    made = scope.facts.day_of(correction.logged_at)
    return scope.holds(correction.happened_on) or scope.from_on <= made <= scope.to_on


def corrections_table(scope: Scope) -> Table:
    columns = (
        Column("Made", 17),
        Column("By", 15),
        Column("About", 23),
        Column("Old, new", 36),
        Column("Why", 24),
        Column("Record", 17, small=True),
    )
    labels = {unit.facts.ref: unit.label for unit in scope.units}
    rows = []
    for c in sorted(scope.facts.corrections, key=lambda c: (c.number, c.ref)):
        if not _corrected_in(scope, c):
            continue
        changes = "\n".join(f"{field}: {old or '(empty)'} → {new or '(empty)'}" for field, old, new in c.changes)
        where = labels.get(c.unit, c.unit) if c.unit else "whole clinic"
        rows.append(
            (
                Cell(moment(c.logged_at)),
                Cell(c.logged_by),
                Cell(lines(c.what, where, day(c.happened_on))),
                Cell(changes or "entered in error", strong=not c.changes),
                Cell(c.reason),
                Cell(str(c.number), proof=True),
            )
        )
    return Table("Corrections", columns, tuple(rows), "Corrections in the period: none.")


def _marked(scope: Scope, marked) -> list:
    """(fact, where) for each fact of the period that is marked, oldest first."""
    found = [
        (fact, unit.label if unit else "whole clinic")
        for fact, unit in scope.every
        if marked(fact.row) and scope.holds(fact.row.happened_on)
    ]
    return sorted(found, key=lambda each: (each[0].row.happened_on, each[0].row.number, each[0].row.line))


def _groups(marked: list, key) -> list[list]:
    """(fact, where) with the same key together, in the order of the first of each."""
    groups: dict[tuple, list] = {}
    for fact, where in marked:
        groups.setdefault(key(fact, where), []).append((fact, where))
    return list(groups.values())


def _span(facts: list) -> str:
    """The day of one fact; of several the first and the last day, and how many they are."""
    first, last = facts[0].row.happened_on, facts[-1].row.happened_on
    days = day(first) if first == last else f"{day(first)} to {day(last)}"
    return lines(days, f"{len(facts)} entries" if len(facts) > 1 else "")


def _logged(facts: list) -> str:
    moments = sorted(fact.row.logged_at for fact in facts)
    return moment(moments[0]) if len(facts) == 1 else f"{moment(moments[0])} to {moment(moments[-1])}"


def _rows_of(scope: Scope, facts: list) -> Cell:
    return scope.proof(facts[0]) if len(facts) == 1 else entries(facts)


def _late_together(fact, where: str) -> tuple:
    """What is told in one row where there are many: a month's late entries of one kind, place and person."""
    row = fact.row
    return (row.happened_on.replace(day=1), kind_words(fact), where, row.logged_by, row.logged_for)


def late_table(scope: Scope) -> Table:
    columns = (
        Column("Happened", 16),
        Column("Logged", 22),
        Column("What", 24),
        Column("Where", 18),
        Column("By", 22),
        Column("Record", 17, small=True),
    )
    marked = _marked(scope, lambda row: row.late)
    groups = [[each] for each in marked] if len(marked) <= MOST else _groups(marked, _late_together)
    rows = []
    for group in groups:
        facts, (fact, where) = [each for each, _ in group], group[0]
        rows.append(
            (
                Cell(_span(facts)),
                Cell(_logged(facts)),
                Cell(kind_words(fact)),
                Cell(where),
                Cell(lines(fact.row.logged_by, fact.row.logged_for)),
                _rows_of(scope, facts),
            )
        )
    return Table("Late entries", columns, tuple(rows), "Late entries in the period: none.")


def _copied_together(fact, where: str) -> tuple:
    """What one person copied of one kind and place from one page."""
    return (fact.row.paper, kind_words(fact), where, fact.row.logged_by)


def paper_table(scope: Scope) -> Table:
    """A row for what came from one page, of one kind: the days it happened on, and how many entries it is."""
    columns = (
        Column("Happened", 16),
        Column("What", 24),
        Column("Where", 18),
        Column("Page it was copied from", 30),
        Column("Copied by, on", 26),
        Column("Record", 17, small=True),
    )
    rows = []
    for group in _groups(_marked(scope, lambda row: bool(row.paper)), _copied_together):
        facts, (fact, where) = [each for each, _ in group], group[0]
        rows.append(
            (
                Cell(_span(facts)),
                Cell(kind_words(fact)),
                Cell(where),
                Cell(fact.row.paper),
                Cell(lines(fact.row.logged_by, _logged(facts))),
                _rows_of(scope, facts),
            )
        )
    return Table("Transcribed from paper", columns, tuple(rows), "Transcribed from paper in the period: none.")


def changes_section(scope: Scope) -> Section:
    intro = Paragraph(
        "Nothing on record is changed or deleted. A correction stands beside what it corrects; a late entry "
        "was written after the end of the next working day; an entry transcribed from paper was not witnessed "
        "by the one who logged it.",
        "small",
    )
    tables = (corrections_table(scope), late_table(scope), paper_table(scope))
    kept = tuple(table for table in tables if table.rows)
    none = Paragraph("No correction, no late entry and nothing transcribed from paper in the period.")
    blocks = (intro, *(kept or (none,)))
    return Section("changes", "Corrections, late entries, entries from paper", 1, blocks, flows=True)
