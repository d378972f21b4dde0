"""One chapter a unit: what it is, where it stands and why, what is due, what was done to it."""

from __future__ import annotations

from audit.binder.duties_kept import coverage_section
from audit.binder.open_items import SINCE_BEFORE, findings_table, holds_words
from audit.binder.pictures.unit import chart_blocks, time_line_blocks
from audit.binder.place import documents_table, gaps_table
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Block, Cell, Column, KeyValues, Paragraph, Section, StandingBox, Table
from audit.binder.service import counter_words, job_sections
from audit.binder.visits import visits_sections, visits_table
from audit.binder.written_on_paper import NO_RECORD, OUTRANKED, dated, day, days, labelled, lines, number, unit_title
from audit.facts import newest
from audit.judge.judgement import Clock, State


def identity(scope: Scope, unit: UnitScope) -> KeyValues:
    facts = unit.facts
    placement = newest([p for p in facts.placements if p.effective_on <= scope.as_of], lambda p: p.effective_on)
    room = f"{placement.room}, {placement.use} since {day(placement.effective_on)}" if placement else NO_RECORD
    pairs = (
        ("Clinic's own label", Cell(facts.label, strong=True)),
        ("Serial number", Cell(facts.serial or NO_RECORD)),
        ("Maker, model", Cell(f"{facts.maker or NO_RECORD}, {facts.model or NO_RECORD}")),
        ("Type", Cell(f"small steam sterilizer, {facts.equipment_type or 'type not stated'}")),
        ("Chamber", Cell(f"{number(facts.chamber_litres)} litres")),
        ("UDI", Cell(facts.udi or "none on the plate")),
        ("Room", Cell(room)),
        *_stood_before(scope, unit, placement),
        ("Cycle counter", Cell(counter_words(unit.facts, "cycles"))),
        ("Hour counter", Cell(counter_words(unit.facts, "hours"))),
        ("Rows", scope.proof(facts, placement)),
    )
    return KeyValues("Identity", pairs)


def _stood_before(scope: Scope, unit: UnitScope, now) -> tuple[tuple[str, Cell], ...]:
    """Each earlier room or use, oldest first, with its row."""
    earlier = [p for p in unit.facts.placements if p is not now and p.effective_on <= scope.as_of]
    earlier.sort(key=lambda p: (p.effective_on, p.row.number, p.row.line))
    return tuple(
        ("Before that", Cell(f"{p.room}, {p.use} from {day(p.effective_on)} [{scope.row(p.row.ref)}]"))
        for p in earlier
    )


def standing_box(scope: Scope, unit: UnitScope) -> Block:
    if unit.judgement is None:
        return Paragraph("Standing: not judged. There is no answer on record for this unit.", "strong")
    standing = unit.judgement.standing
    pairs = (
        ("Since", Cell(SINCE_BEFORE if standing.since is None else day(standing.since))),
        ("Changes", Cell(holds_words(standing))),
        ("Lifted by", Cell(dated(standing.lifted_by) or "nobody needs to")),
        ("Proof", Cell(scope.told(standing.proof) or NO_RECORD)),
        ("Rule", Cell(lines(standing.rule, labelled("Source", scope.cite(standing.source))))),
    )
    return StandingBox(standing.word.value, dated(standing.reason), pairs, f"As of {day(scope.as_of)}. {OUTRANKED}")


def _clock_row(scope: Scope, clock: Clock) -> tuple[Cell, ...]:
    late = clock.days_overdue(scope.as_of)
    overdue = f"overdue by {days(late)}" if late else ""
    due = day(clock.due_on, "no day to compute") + (" (projected from counters)" if clock.projected else "")
    counts_from = clock.counts_from
    worst = clock.state in (State.OVERDUE, State.NO_EVIDENCE)
    return (
        Cell(
            lines(
                clock.title,
                "while it is not met the unit may not be used" if clock.forbids else "",
                dated(clock.note),
            )
        ),
        Cell(lines(clock.state.value, overdue), strong=worst),
        Cell(due),
        Cell(dated(counts_from.text) if counts_from else NO_RECORD),
        Cell(lines(clock.rule, scope.cite(clock.source))),
        scope.evidence((counts_from,) if counts_from else ()),
    )


def clocks_table(scope: Scope, clocks: tuple[Clock, ...], empty: str) -> Table:
    columns = (
        Column("Due item", 28),
        Column("State", 15),
        Column("Due on", 14),
        Column("Counts from", 20),
        Column("Rule and source", 32),
        Column("Rows", 17),
    )
    return Table("", columns, tuple(_clock_row(scope, clock) for clock in clocks), empty)


def due_items(scope: Scope, unit: UnitScope) -> Table:
    clocks = unit.judgement.clocks if unit.judgement else ()
    return clocks_table(scope, clocks, "No due item: no plan and no duty on record for this unit.")


def _events(scope: Scope, unit: UnitScope) -> Table:
    columns = (
        Column("Day", 13),
        Column("What", 18),
        Column("Reason", 40),
        Column("By", 20),
        Column("Rows", 17),
    )
    rows = tuple(
        (
            Cell(day(event.row.happened_on)),
            Cell(event.kind),
            Cell(event.reason or "none given"),
            Cell(event.by),
            scope.proof(event),
        )
        for event in scope.inside(unit.facts.events)
    )
    return Table(
        "Withdrawals, returns and moves", columns, rows, "Withdrawals, returns and moves: none in the period."
    )


def _fitted(scope: Scope, unit: UnitScope) -> Table:
    """Whether each position is fitted: the newest statement in effect; "unknown" without one."""
    columns = (
        Column("Position", 16),
        Column("Part", 30),
        Column("Fitted", 16),
        Column("Note", 30),
        Column("Rows", 17),
    )
    rows = []
    for position in sorted(unit.facts.positions, key=lambda p: p.code):
        stated = [f for f in unit.facts.fits if f.position == position.row.origin and f.effective_on <= scope.as_of]
        fit = newest(stated, lambda f: f.effective_on)
        state = (
            {"none": "not fitted", "missing": "should be there, is missing"}.get(fit.state, fit.state) if fit else ""
        )
        rows.append(
            (
                Cell(position.code),
                Cell(position.name),
                Cell(state or "unknown"),
                Cell(fit.note if fit else ""),
                scope.proof(position, fit),
            )
        )
    return Table("Options and positions", columns, tuple(rows), "Options and positions: no record found.")


def _papers(scope: Scope, unit: UnitScope) -> tuple[Block, ...]:
    tables = (documents_table(scope, unit.facts.documents), gaps_table(scope, unit.facts.gaps))
    if any(table.rows for table in tables):
        return tables
    return (Paragraph(" ".join(table.empty for table in tables), "small"),)


def unit_sections(scope: Scope, unit: UnitScope) -> tuple[Section, ...]:
    """The chapter and its parts."""
    findings = unit.judgement.findings if unit.judgement else ()
    items = [(None, finding) for finding in findings]
    jobs = scope.inside(unit.facts.jobs)
    intro = Paragraph(
        f"Its spore tests and failures are in the indicator record. Jobs in the period: {len(jobs)}.", "small"
    )
    return (
        Section(unit.chapter, unit_title(unit.label), 1, (identity(scope, unit),)),
        Section(f"{unit.chapter}-standing", "Standing", 2, (standing_box(scope, unit),)),
        Section(
            f"{unit.chapter}-open",
            "Open items of this unit",
            3,
            (findings_table(scope, "", items, "Nothing is open on this unit on this day."),),
        ),
        Section(f"{unit.chapter}-papers", "Papers and known gaps", 3, _papers(scope, unit)),
        Section(f"{unit.chapter}-due", "Due items", 2, (due_items(scope, unit), _fitted(scope, unit))),
        coverage_section(scope, unit),
        Section(
            f"{unit.chapter}-service",
            "Service history",
            2,
            (intro, *time_line_blocks(scope, unit), visits_table(scope, unit), _events(scope, unit)),
        ),
        Section(f"{unit.chapter}-readings", "Readings and counters over time", 3, chart_blocks(scope, unit)),
        *visits_sections(scope, unit),
        *(section for n, job in enumerate(jobs, 1) for section in job_sections(scope, unit, job, n)),
    )
