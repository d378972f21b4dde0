"""Where each unit stands, and what is open, worst first."""

from __future__ import annotations

from datetime import date

from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Cell, Column, Paragraph, Section, Table
from audit.binder.written_on_paper import OUTRANKED, change_words, dated, day, first_upper, lines
from audit.judge.judgement import Finding, Severity, UnitStanding

SINCE_BEFORE = "since before the first record"
_ORDER = list(Severity)


def holds_words(standing: UnitStanding) -> str:
    """From which day on an answer is another, what it is then and why."""
    if standing.holds_until is None:
        return "when something new is logged"
    return change_words(standing.holds_until, standing.becomes)


def since(value: date | None) -> str:
    return SINCE_BEFORE if value is None else day(value)


def _worst_first(item: tuple[Cell, Finding]) -> tuple:
    """Severity, then the longest open; an item as old as the records comes first of its severity."""
    finding = item[1]
    return (_ORDER.index(finding.severity), finding.since or date.min)


def _row(scope: Scope, finding: Finding) -> tuple[Cell, ...]:
    forbids = finding.severity is Severity.FORBIDS
    source = f"Source: {scope.cite(finding.source)}" if finding.source else ""
    return (
        Cell(first_upper(finding.severity.value), strong=forbids),
        Cell(since(finding.since)),
        Cell(lines(dated(finding.message), source)),
        Cell(dated(finding.way_out)),
        Cell(finding.owner or "not named"),
        scope.evidence(finding.evidence),
    )


def findings_table(scope: Scope, caption: str, items: list[tuple[Cell | None, Finding]], empty: str) -> Table:
    """Open items, worst first. `items` name where each is, or None throughout where the heading says it."""
    columns = (
        Column("Weight", 11),
        Column("Since", 12),
        Column("What is open", 40),
        Column("Way out", 27),
        Column("Who", 11),
        Column("Rows", 17),
    )
    ordered = sorted(items, key=_worst_first)
    if all(where is None for where, _ in ordered):
        return Table(caption, columns, tuple(_row(scope, finding) for _, finding in ordered), empty=empty)
    rows = tuple((where, *_row(scope, finding)) for where, finding in ordered)
    return Table(caption, (Column("Where", 12), *columns), rows, empty=empty)


def _standing_row(scope: Scope, unit: UnitScope) -> tuple[Cell, ...]:
    if unit.judgement is None:
        return (
            unit.link(),
            Cell("Not judged", strong=True),
            *(Cell("no answer on record"),) * 3,
            Cell("none"),
        )
    standing = unit.judgement.standing
    return (
        unit.link(),
        Cell(standing.word.value, strong=True),
        Cell(dated(standing.reason)),
        Cell(since(standing.since)),
        Cell(holds_words(standing)),
        scope.evidence(standing.proof),
    )


def _standings(scope: Scope) -> Table:
    columns = (
        Column("Unit", 13),
        Column("Standing", 17),
        Column("Reason", 40),
        Column("Since", 13),
        Column("Changes", 14),
        Column("Rows", 17),
    )
    rows = tuple(_standing_row(scope, unit) for unit in scope.units)
    return Table("Where each unit stands", columns, rows, empty="No unit on record for this clinic.")


def open_items(scope: Scope) -> Section:
    """All units and the clinic itself in one list."""
    items = [(Cell("whole clinic", to="clinic"), finding) for finding in scope.judgement.findings]
    for unit in scope.units:
        items += [(unit.link(), finding) for finding in (unit.judgement.findings if unit.judgement else ())]
    blocks = (
        Paragraph(f"As of {day(scope.as_of)}. {OUTRANKED}", "small"),
        _standings(scope),
        findings_table(scope, "Open items, worst first", items, "Nothing is open on this day."),
    )
    return Section("open-items", "Open items", 1, blocks)
