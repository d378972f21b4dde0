"""One chapter a unit: on one page what it is, how it stands, its calendar, what is due; then all that was done."""

from __future__ import annotations

from dataclasses import replace

from audit.binder.calendar import calendar_blocks, earlier_calendar
from audit.binder.due import due_blocks
from audit.binder.duties_kept import lapses_section
from audit.binder.failures import failure_sections
from audit.binder.glance import answer_words
from audit.binder.happened import HAPPENED, counter_line, happened_id, happened_table
from audit.binder.indicator import spore_section
from audit.binder.open_items import SINCE_BEFORE, open_of_unit, unproven
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
)
from audit.binder.service import job_sections
from audit.binder.usual import RECORD, DatedLine, by_date
from audit.binder.written_on_paper import (
    NO_RECORD,
    dated,
    day,
    first_upper,
    number,
    quantity,
    unit_title,
)
from audit.facts import PlacementFact, newest
from audit.judge.judgement import UnitStanding

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
        f"{first_upper(dated(standing.changes))}." if standing.holds_until else "",
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


# ------------------------------------------------------------------------------------------------ papers


def _papers(scope: Scope, unit: UnitScope) -> list[tuple[str, Cell]]:
    """Papers of the unit on file on the day of the answer: with its page, which says all of it, or with its file."""
    attached = {paper.ref: paper.section for paper in scope.papers}
    filed = sorted(unit.facts.documents, key=lambda d: (d.kind, d.valid_from, d.row.number, d.row.line))
    pairs = []
    for paper in filed:
        if paper.row.happened_on > scope.as_of:
            continue
        valid = f", valid to {day(paper.valid_to)}" if paper.valid_to else ""
        to = attached.get(paper.row.ref, "")
        file = f"; file {paper.filename}, SHA-256 begins {paper.sha256[:16]}"
        rest = "" if to else f", {paper.kind} from {day(paper.valid_from)}"
        text = f"{paper.title}{rest}{valid}{'' if to else file} [{scope.row(paper.row.ref)}]"
        pairs.append(("Paper", Cell(text, to=to, page="" if to else None)))
    return pairs or [("Papers", Cell("none on record"))]


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
    blocks: tuple[Block, ...] = (
        standing_box(scope, unit),
        identity(scope, unit),
        *calendar_blocks(scope, unit),
        *due_blocks(scope, unit),
        *open_of_unit(scope, unit),
    )
    return Section(unit.chapter, unit_title(unit.label), 1, blocks, aside=what_it_is(unit))


def _happened(scope: Scope, unit: UnitScope) -> tuple[Section, ...]:
    """What happened to it, by day; nothing where nothing did."""
    table = happened_table(scope, unit)
    return (Section(happened_id(unit), HAPPENED, 2, (table,)),) if table.rows else ()


def unit_sections(scope: Scope, unit: UnitScope) -> tuple[Section, ...]:
    """The chapter and its parts: the page of the unit, tests, loads, visits, failures, readings."""
    jobs = scope.inside(unit.facts.jobs)
    spores = spore_section(scope, unit)
    earlier = earlier_calendar(scope, unit)
    if earlier:
        spores = replace(spores, blocks=(*earlier, *spores.blocks))
    return (
        _opener(scope, unit),
        *_happened(scope, unit),
        *lapses_section(scope, unit),
        spores,
        *other_tests_section(scope, unit),
        *(section for n, job in enumerate(jobs, 1) for section in job_sections(scope, unit, job, n)),
        *failure_sections(scope, unit),
        *_readings(scope, unit),
    )
