"""One chapter a unit: on one page what it is, how it stands, its calendar, what is due; then all that was done."""

from __future__ import annotations

from dataclasses import replace

from audit.binder.calendar import calendar_blocks, earlier_calendar
from audit.binder.due import due_blocks
from audit.binder.duties_kept import lapses_section
from audit.binder.failures import failure_sections
from audit.binder.glance import answer_words
from audit.binder.happened import counter_line, happened_table
from audit.binder.indicator import spore_section
from audit.binder.open_items import OPEN, OPEN_TITLE, SINCE_BEFORE, unproven
from audit.binder.other_tests import other_tests_section
from audit.binder.pictures.unit import chart_blocks
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import (
    EVERYTHING,
    Beside,
    Block,
    Cell,
    Column,
    KeyValues,
    Paragraph,
    Section,
    StandingBox,
    Table,
)
from audit.binder.service import job_sections
from audit.binder.usual import RECORD, DatedLine, by_date
from audit.binder.written_on_paper import (
    NO_RECORD,
    change_words,
    counted,
    dated,
    day,
    days,
    first_upper,
    lines,
    number,
    quantity,
    unit_title,
)
from audit.facts import PlacementFact, newest
from audit.judge.judgement import Clock, Finding, Severity, State, UnitStanding

_ORDER = list(Severity)


# ------------------------------------------------------------------------------------------------ what it is


def what_it_is(unit: UnitScope) -> str:
    """Maker and model, type, chamber, serial: on one line behind the label."""
    facts = unit.facts
    named = " ".join(part for part in (facts.maker, facts.model) if part) or "maker and model not on record"
    type_ = facts.equipment_type or "type not stated"
    chamber = quantity(facts.chamber_litres, "litres") if facts.chamber_litres is not None else "chamber not stated"
    return f"{named}, {type_}, {chamber}, serial {facts.serial or 'not on record'}"


def identity(scope: Scope, unit: UnitScope) -> Beside:
    """Where it stands and stood, its plate, its counters, and the records that say so."""
    facts = unit.facts
    placement = newest([p for p in facts.placements if p.effective_on <= scope.as_of], lambda p: p.effective_on)
    since = f"on record since {day(placement.effective_on)}" if placement else ""
    room = f"{placement.room}, {placement.use}, {since}" if placement else NO_RECORD
    left = [
        ("Place", Cell(room)),
        *_stood_before(scope, unit, placement),
        ("UDI", Cell(facts.udi or "none on the plate")),
    ]
    right = []
    for counter in ("cycles", "hours"):
        told = counter_line(scope, unit, counter)
        if told or counter == "cycles":
            right.append((first_upper(counter), Cell(told or NO_RECORD)))
    right += _papers(scope, unit)
    proof = unit.judgement.standing.proof if unit.judgement else ()
    refs = (*(each.ref for each in proof), facts.row.ref, *((placement.row.ref,) if placement else ()))
    left.append(("Record", scope.refs(refs)))
    return Beside((KeyValues("", tuple(left)),), (KeyValues("", tuple(right)),))


def _stood_before(scope: Scope, unit: UnitScope, now: PlacementFact | None) -> tuple[tuple[str, Cell], ...]:
    """Each earlier room or use, oldest first, with its row."""
    earlier = [p for p in unit.facts.placements if p is not now and p.effective_on <= scope.as_of]
    earlier.sort(key=lambda p: (p.effective_on, p.row.number, p.row.line))
    return tuple(
        ("Before that", Cell(f"{p.room}, {p.use} from {day(p.effective_on)} [{scope.row(p.row.ref)}]"))
        for p in earlier
    )


# ------------------------------------------------------------------------------------------------ where it stands


def _standing_words(standing: UnitStanding) -> str:
    """Why, the proof that the reason does not name, who lifts it, and when it becomes another."""
    reason = dated(standing.reason)
    proof = [dated(each.text) for each in standing.proof if dated(each.text) not in reason]
    told = [
        f"{first_upper(reason)}.",
        f"Proof: {'; '.join(proof)}." if proof else "",
        f"Lifted by {dated(standing.lifted_by)}." if standing.lifted_by and not standing.word.may_be_used else "",
        f"{first_upper(change_words(standing.holds_until, standing.becomes))}." if standing.holds_until else "",
    ]
    return " ".join(part for part in told if part)


def standing_box(scope: Scope, unit: UnitScope) -> Block:
    """May it be used: the word, why, on what proof, and what it becomes."""
    if unit.judgement is None:
        return Paragraph("Standing: not judged. There is no answer on record for this unit.", "strong")
    standing = unit.judgement.standing
    since = SINCE_BEFORE if standing.since is None else f"since {day(standing.since)}"
    sign, _ = answer_words(unit)
    unproven_ = " No proof is on record that it may be used: not yet." if unproven(unit) else ""
    return StandingBox(f"{sign} {standing.word.value}\n{since}", _standing_words(standing) + unproven_, (), "")


# ------------------------------------------------------------------------------------------------ what is open


def _worst_first(finding: Finding) -> tuple:
    return _ORDER.index(finding.severity), -(finding.since.toordinal() if finding.since else 0)


def open_of_unit(scope: Scope, unit: UnitScope) -> tuple[Table, ...]:
    """What forbids use of the unit or is to be put right, and the way out, worst first; how many notes there are."""
    columns = (
        Column("Since", 60, names=True),
        Column("What, and the way out", 346),
        Column("By", 66),
        Column("Record", RECORD, small=True),
    )
    found = unit.judgement.findings if unit.judgement else ()
    notes = sum(finding.severity is Severity.NOTE for finding in found)
    findings = sorted((each for each in found if each.severity is not Severity.NOTE), key=_worst_first)
    groups: dict[tuple, list[Finding]] = {}
    for finding in findings:
        groups.setdefault((finding.severity, finding.rule, finding.way_out, finding.owner), []).append(finding)
    rows = tuple(_open_row(scope, group) for group in groups.values())
    if notes:
        more = f"{counted(notes, 'note' if not rows else 'further note')} to be known, under {OPEN_TITLE}; page:"
        rows = (*rows, (Cell(""), Cell(more), Cell("", to=OPEN, page=""), Cell("", proof=True)))
    return (Table("Open for this unit", columns, rows),) if rows else ()


def _open_row(scope: Scope, group: list[Finding]) -> tuple[Cell, ...]:
    """Findings of one rule with one way out, together: each with its day, the way out once."""
    one = group[0]
    weight = f"{first_upper(one.severity.value)}."
    way_out = f"Way out: {dated(one.way_out)}." if one.way_out else ""
    said = (f"{first_upper(dated(finding.message))}." for finding in group)
    since = (SINCE_BEFORE if finding.since is None else day(finding.since) for finding in group)
    return (
        Cell(lines(*dict.fromkeys(since))),
        Cell(" ".join(part for part in (weight, *said, way_out) if part), bold=(weight,)),
        Cell(one.owner),
        scope.evidence(each for finding in group for each in finding.evidence),
    )


# ------------------------------------------------------------------------------------------------ papers, due items


def _papers(scope: Scope, unit: UnitScope) -> list[tuple[str, Cell]]:
    """Papers of the unit on file on the day of the answer, each with its page, its file where it has none."""
    attached = {paper.ref: paper.section for paper in scope.papers}
    filed = sorted(unit.facts.documents, key=lambda d: (d.kind, d.valid_from, d.row.number, d.row.line))
    pairs = []
    for paper in filed:
        if paper.row.happened_on > scope.as_of:
            continue
        valid = f", valid to {day(paper.valid_to)}" if paper.valid_to else ""
        file = "" if paper.row.ref in attached else f"; file {paper.filename}, SHA-256 begins {paper.sha256[:16]}"
        text = f"{paper.title}, {paper.kind} from {day(paper.valid_from)}{valid}{file} [{scope.row(paper.row.ref)}]"
        to = attached.get(paper.row.ref, "")
        pairs.append(("Paper", Cell(text, to=to, page="" if to else None)))
    return pairs or [("Papers", Cell("none on record"))]


def _clock_row(scope: Scope, clock: Clock) -> tuple[Cell, ...]:
    late = clock.days_overdue(scope.as_of)
    overdue = f"overdue by {days(late)}" if late else ""
    due = day(clock.due_on, "no day to compute") + (" (projected from counters)" if clock.projected else "")
    counts_from = clock.counts_from
    worst = clock.state in (State.OVERDUE, State.NO_EVIDENCE)
    forbids = "while it is not met no unit may be used" if clock.forbids else ""
    return (
        Cell(lines(clock.title, forbids, dated(clock.note))),
        Cell(lines(clock.state.value, overdue), strong=worst),
        Cell(due),
        Cell(dated(counts_from.text) if counts_from else NO_RECORD),
        Cell(lines(clock.rule, scope.cite(clock.source))),
        scope.evidence((counts_from,) if counts_from else ()),
    )


def clocks_table(scope: Scope, clocks: tuple[Clock, ...], empty: str) -> Table:
    """Due items of the whole place."""
    columns = (
        Column("Due item", 118, names=True),
        Column("State", 64),
        Column("Due on", 60),
        Column("Counts from", 100),
        Column("Rule and source", 130),
        Column("Record", RECORD, small=True),
    )
    return Table("", columns, tuple(_clock_row(scope, clock) for clock in clocks), empty)


# ------------------------------------------------------------------------------------------------ what was read


def _counters(scope: Scope, unit: UnitScope) -> tuple[Block, ...]:
    """Each reading of a counter, in the extent of everything: the first page of the unit counts them in a line."""
    read = scope.inside(unit.facts.counters)
    if not read or scope.extent != EVERYTHING:
        return ()
    several = len({c.counter for c in read}) > 1
    added = any(c.offset for c in read)
    columns = (
        *((Column("Counter", 46),) if several else ()),
        Column("Shown", 60),
        *((Column("Life total", 60),) if added else ()),
        Column("Record", RECORD, small=True),
    )
    lines_ = [
        DatedLine(
            c.row.happened_on,
            (
                *((Cell(c.counter),) if several else ()),
                Cell(number(c.shown)),
                *((Cell(number(c.total)),) if added else ()),
                scope.proof(c),
            ),
        )
        for c in read
    ]
    what = "" if several else f" of {read[0].counter}"
    return (by_date(f"Counter{what} as read", columns, lines_, NO_RECORD),)


def _readings(scope: Scope, unit: UnitScope) -> tuple[Section, ...]:
    """Readings over time and counters; nothing where too few were read."""
    blocks = (*chart_blocks(scope, unit), *_counters(scope, unit))
    if not blocks:
        return ()
    return (Section(f"{unit.chapter}-readings", "Readings and counters", 2, blocks),)


# ------------------------------------------------------------------------------------------------ the chapter


def _opener(scope: Scope, unit: UnitScope) -> Section:
    happened = happened_table(scope, unit)
    blocks: tuple[Block, ...] = (
        standing_box(scope, unit),
        identity(scope, unit),
        *calendar_blocks(scope, unit),
        *due_blocks(scope, unit),
        *open_of_unit(scope, unit),
        *((happened,) if happened.rows else ()),
    )
    return Section(unit.chapter, unit_title(unit.label), 1, blocks, aside=what_it_is(unit))


def unit_sections(scope: Scope, unit: UnitScope) -> tuple[Section, ...]:
    """The chapter and its parts: the page of the unit, tests, loads, visits, failures, readings."""
    jobs = scope.inside(unit.facts.jobs)
    spores = spore_section(scope, unit)
    earlier = earlier_calendar(scope, unit)
    if earlier:
        spores = replace(spores, blocks=(*earlier, *spores.blocks))
    return (
        _opener(scope, unit),
        *lapses_section(scope, unit),
        spores,
        *other_tests_section(scope, unit),
        *(section for n, job in enumerate(jobs, 1) for section in job_sections(scope, unit, job, n)),
        *failure_sections(scope, unit),
        *_readings(scope, unit),
    )
