"""The clinic itself: terms, its own stricter rules, closures, known gaps and papers on file."""

from __future__ import annotations

from audit.binder.agreed_visits import agreed_visits_table
from audit.binder.responsible import agreements_table
from audit.binder.scope import Scope
from audit.binder.sections import Cell, Column, KeyValues, Section, Table
from audit.binder.written_on_paper import counted, dated, day, how_often, lines, span
from audit.facts import GapFact
from audit.judge.judgement import State
from records.wording import WEEKDAYS


def documents_table(scope: Scope, documents) -> Table:
    """Papers on file on the day of the answer; not cut to the period, for a paper covers later days."""
    columns = (
        Column("Paper", 158, names=True),
        Column("Kind", 70),
        Column("Valid", 100),
        Column("File, first of SHA-256", 110),
        Column("Page", 34, "right"),
        Column("Record", 38, small=True),
    )
    attached = {paper.ref: paper.section for paper in scope.papers}
    filed = sorted(documents, key=lambda d: (d.kind, d.valid_from, d.row.number, d.row.line))
    rows = tuple(
        (
            Cell(d.title),
            Cell(d.kind),
            Cell(span(d.valid_from, d.valid_to) if d.valid_to else f"from {day(d.valid_from)}"),
            Cell(f"{d.filename}\n{d.sha256[:16]}"),
            Cell("", to=attached[d.row.ref], page="") if d.row.ref in attached else Cell("not attached"),
            scope.proof(d),
        )
        for d in filed
        if d.row.happened_on <= scope.as_of
    )
    return Table("Papers on file", columns, rows, empty="Papers on file: no record found.")


def _accepted(gap: GapFact) -> str:
    return f"{gap.accepted_by}, {day(gap.row.happened_on)}"


def gaps_table(scope: Scope, gaps) -> Table:
    """Known gaps that touch the period, accepted by somebody."""
    columns = (
        Column("From, to", 100),
        Column("What is missing", 140, names=True),
        Column("Why", 130),
        Column("Accepted by, on", 102),
        Column("Record", 38, small=True),
    )
    rows = tuple(
        (Cell(span(g.from_on, g.to_on)), Cell(g.what), Cell(g.why), Cell(_accepted(g)), scope.proof(g))
        for g in sorted(gaps, key=lambda g: (g.from_on, g.row.number, g.row.line))
        if g.from_on <= scope.to_on and g.to_on >= scope.from_on and g.row.happened_on <= scope.as_of
    )
    return Table("Known gaps in the evidence", columns, rows, empty="Known gaps in the evidence: none declared.")


def _terms(scope: Scope) -> KeyValues:
    terms = scope.facts.terms_on(scope.as_of)
    if terms is None:
        return KeyValues("Terms", (("Terms", Cell("no record found of what this clinic is and follows")),))
    return KeyValues(
        "Terms",
        (
            ("Name", Cell(terms.name)),
            ("In effect", Cell(f"from {day(terms.effective_on)}; rules we follow: {terms.regime or 'none adopted'}")),
            ("Days and weeks", Cell(f"time zone {terms.zone}; the week starts on {WEEKDAYS[terms.week_start]}")),
            ("Record", scope.proof(terms)),
        ),
    )


def _local_duties(scope: Scope) -> Table:
    columns = (
        Column("Stricter rule of the clinic", 150, names=True),
        Column("How often", 130),
        Column("From", 62),
        Column("Source", 130),
        Column("Record", 38, small=True),
    )
    rows = tuple(
        (
            Cell(duty.duty.replace("-", " ")),
            Cell(how_often(duty.every, duty.count)),
            Cell(day(duty.effective_on)),
            Cell(duty.source),
            scope.proof(duty),
        )
        for duty in sorted(scope.facts.local_duties, key=lambda d: (d.effective_on, d.row.number, d.row.line))
        if duty.effective_on <= scope.as_of
    )
    return Table("The clinic's own rules", columns, rows, empty="The clinic's own rules: none beyond the above.")


def _closures(scope: Scope) -> Table:
    columns = (
        Column("From, to", 130, names=True),
        Column("Where", 90),
        Column("Why", 252),
        Column("Record", 38, small=True),
    )
    labels = {unit.facts.ref: unit.label for unit in scope.units}
    rows = tuple(
        (
            Cell(span(c.from_on, c.to_on)),
            Cell(labels.get(c.unit, c.unit) if c.unit else "whole clinic"),
            Cell(c.why),
            scope.proof(c),
        )
        for c in sorted(scope.facts.closures, key=lambda c: (c.from_on, c.row.number, c.row.line))
        if c.from_on <= scope.to_on and c.to_on >= scope.from_on
    )
    return Table("Days without patients", columns, rows, empty="Days without patients: none on record.")


def due_table(scope: Scope) -> Table:
    """Papers, training and instruments of the whole place, worst first."""
    columns = (
        Column("Due item", 220, names=True),
        Column("What is asked", 132),
        Column("Due on", 62),
        Column("State", 58),
        Column("Record", 38, small=True),
    )
    rows = []
    for clock in scope.judgement.clocks:
        late = clock.days_overdue(scope.as_of)
        state = f"{clock.state.value}, {counted(late, 'day')}" if late else clock.state.value
        worst = clock.state in (State.OVERDUE, State.NO_EVIDENCE)
        rows.append(
            (
                Cell(lines(clock.title, dated(clock.note))),
                Cell(clock.rule),
                Cell(day(clock.due_on, "no day")),
                Cell(state, strong=worst),
                scope.evidence((clock.counts_from,) if clock.counts_from else ()),
            )
        )
    return Table("", columns, tuple(rows), "No due item of the whole place.")


def clinic_section(scope: Scope) -> Section:
    """What the place is and follows; tables without a row are not printed, but for the agreements."""
    tables = (
        _local_duties(scope),
        _closures(scope),
        gaps_table(scope, scope.facts.gaps),
        documents_table(scope, scope.facts.documents),
        agreed_visits_table(scope),
    )
    blocks = (_terms(scope), agreements_table(scope), *(table for table in tables if table.rows))
    return Section("clinic", "The place, people, instruments", 1, blocks, flows=True)
