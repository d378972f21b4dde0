"""One visit to one unit: who and when, what was found and done part by part, measured, tested, signed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from audit.binder.after_work import measured_table, signed_block, tests_table
from audit.binder.due import lot_and_receipt, recalled_parts
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Beside, Block, Cell, Column, KeyValues, Paragraph, Section, Table
from audit.binder.written_on_paper import (
    NO_RECORD,
    counted,
    day,
    labelled,
    lines,
    local_time,
    number,
)
from audit.facts import (
    ConclusionFact,
    FindingFact,
    JobFact,
    OutcomeFact,
    PartFact,
    in_order,
)
from audit.facts.names import GRADES, repair_class
from audit.judge.work.asked import required_class

# Where a binder has what 21 CFR 820.35(b) (2026) asks of a servicing record. The rule binds device makers; for an
# independent servicer the same fields are good practice.
SERVICING_FIELDS = (
    ("Device name", "the head of the chapter of the unit"),
    ("UDI, other identification", "the head of the chapter of the unit"),
    ("Date of service", "the title of the visit"),
    ("Individuals who serviced", "“By”"),
    ("Service performed", "the table by part"),
    ("Test and inspection data", "what was found, measured and tested"),
)

_LEAVES = ("outcomes", "findings", "readings", "parts", "tests", "signatures")
_RECORD = Column("Record", 38, small=True)


# ------------------------------------------------------------------------------------------------ who and when


def _when(scope: Scope, job: JobFact) -> str:
    """The times of the day at the clinic where they are known."""
    terms = scope.facts.terms_on(job.row.happened_on) or scope.facts.terms_on(scope.as_of)
    zone = terms.zone if terms else "UTC"
    arrived = local_time(job.arrived_at, zone) if job.arrived_at else ""
    left = local_time(job.departed_at, zone) if job.departed_at else ""
    times = " to ".join(part for part in (arrived, left) if part) if arrived or not left else f"until {left}"
    return f"{times} ({zone})" if times else ""


def qualified(scope: Scope, name: str, on) -> tuple[str, bool]:
    """What is on file of a person that held on a day, and whether anything did."""
    mine = [c for c in scope.facts.credentials if c.person.casefold() == name.casefold()]
    held = [c for c in mine if c.valid_from <= on and (c.valid_to is None or c.valid_to >= on)]
    if held:
        told = (f"{c.title}, to {day(c.valid_to)}" if c.valid_to else c.title for c in held)
        return lines(*dict.fromkeys(told)), True
    return ("none on file that held on this day" if mine else "no record found under this name"), False


def _facts(scope: Scope, unit: UnitScope, job: JobFact, done: ConclusionFact | None) -> Beside:
    by = f"{job.worked_by or NO_RECORD}, {job.servicer or 'company not stated'}"
    has, holds = qualified(scope, job.worked_by, job.row.happened_on)
    counter = next((c for c in reversed(in_order(unit.facts.counters)) if _same_day(c, job)), None)
    work = [_class_words(unit, job), labelled("why", job.class_reason)]
    work += [f"at {number(counter.shown)} {counter.counter}" if counter else ""]
    steps = [step.removesuffix(": done") for step in job.make_safe]
    left = [
        ("By", Cell(by)),
        *_pair("On site", _when(scope, job)),
        ("Qualified", Cell(has, strong=not holds)),
        ("Work", Cell("; ".join(part for part in work if part))),
    ]
    right = [
        *_pair("Complaint", job.complaint),
        ("Declared", Cell(job.contamination or NO_RECORD)),
        ("Made safe", Cell("; ".join(steps) or NO_RECORD)),
        *_limits(done),
        ("Record", scope.proof(job, done, counter)),
    ]
    return Beside((KeyValues("", tuple(left)),), (KeyValues("", tuple(right)),))


def _class_words(unit: UnitScope, job: JobFact) -> str:
    """The class stated; beside it the graver one that what was worked on asks, where that is another."""
    stated, required = repair_class(job.class_stated), required_class(job, unit.facts)
    if not required or repair_class(required) == stated:
        return f"class {stated}"
    said = f"stated: {stated}" if job.class_stated else "none stated"
    return f"class {repair_class(required)} by what was worked on ({said})"


def _pair(key: str, text: str) -> list[tuple[str, Cell]]:
    return [(key, Cell(text))] if text else []


def _same_day(counter, job: JobFact) -> bool:
    return counter.counter == "cycles" and counter.row.happened_on == job.row.happened_on


def _limits(done: ConclusionFact | None) -> list[tuple[str, Cell]]:
    """What a conclusion that is no plain release is bound to."""
    if done is None:
        return []
    until = f"until {day(done.deadline)}" if done.deadline else ""
    accepted = f"accepted by {done.acceptor}" if done.acceptor else ""
    told = lines(done.limitation, until, accepted, labelled("why", done.reason))
    return [("Concluded", Cell(told, strong=done.conclusion != "released"))] if told else []


def concluded(scope: Scope, job: JobFact) -> str:
    """The conclusion of the period in a word or two."""
    done = _conclusion(scope, job)
    return done.conclusion if done else "not concluded by the end of the period"


def _conclusion(scope: Scope, job: JobFact) -> ConclusionFact | None:
    done = job.conclusion
    return done if done is not None and scope.holds(done.row.happened_on) else None


# ------------------------------------------------------------------------------------------------ part by part


def _positions(job: JobFact) -> list[str]:
    """Where something was found or done, each once, in the order of the tasks, then of what was seen and fitted."""
    every = (*job.outcomes, *job.findings, *job.parts)
    return list(dict.fromkeys(each.position for each in every if each.position))


def _outcome_words(outcome: OutcomeFact, title: str, parts: int, alone: bool) -> str:
    """What became of one task; nothing of one that was done where a part tells it, unless it is one of many."""
    plain = outcome.outcome == "done" and not outcome.reason
    if plain and parts and alone:
        return ""
    until = f"until {day(outcome.deferred_until)}" if outcome.deferred_until else ""
    said = f"{outcome.outcome} {until}".strip()
    name = (outcome.action if alone and outcome.action else title) if outcome.outcome == "done" or not alone else ""
    return labelled(name, said) if name else said


def _agreed(outcome: OutcomeFact) -> str:
    """Who decided that a task is left, and who agreed."""
    agreed = f"agreed by {outcome.agreed_by}" if outcome.agreed_by else ""
    decided = f"decided by {outcome.decided_by}" if outcome.decided_by else ""
    return "; ".join(part for part in (decided, agreed) if part)


def _found_words(outcome: OutcomeFact) -> str:
    """What was found at a task, and why it was not done."""
    return "; ".join(part for part in (outcome.found, labelled("why", outcome.reason)) if part)


def _finding_words(finding: FindingFact, of_job: str) -> str:
    """What was seen, how bad it is, what was decided and by which rule."""
    grade = GRADES.get(finding.grade, str(finding.grade))
    seen = f"{finding.seen} (grade {grade})" if finding.seen else f"grade {grade}"
    own = repair_class(finding.repair_class) if finding.repair_class else ""
    return "; ".join(
        part
        for part in (
            seen,
            labelled("decided", finding.decision),
            labelled("to bring", " ".join(t for t in (finding.part_needed, finding.part_needed_number) if t)),
            labelled("rule", finding.rule),
            labelled("why", finding.reason),
            labelled("class", own) if own != repair_class(of_job) else "",
        )
        if part
    )


def _stayed_out(part: PartFact) -> bool:
    """Whether it is a piece of a kit that was not fitted, with what became of it."""
    return part.quantity == 0 and bool(part.kit_fate) and part.kit_pieces is not None


def _part_words(part: PartFact, old_told: bool) -> str:
    count = f"{part.quantity} of them" if part.quantity != 1 else ""
    expiry = f"usable to {day(part.expiry)}" if part.expiry else ""
    old = "" if old_told or _stayed_out(part) else labelled("old part", part.old_part)
    if _stayed_out(part):
        count = f"{part.kit_pieces} of the kit: {part.kit_fate}, not fitted"
    named = [part.number or "no number printed", f"lot {lot_and_receipt(part)}".replace("lot lot", "lot")]
    return "; ".join(text for text in (*named, count, expiry, old, labelled("kit", part.kit)) if text)


def _part_row(scope: Scope, unit: UnitScope, job: JobFact, position: str, titles, old_told: bool):
    """All that happened at one position in one row."""
    outcomes = [o for o in job.outcomes if o.position == position]
    findings = [f for f in job.findings if f.position == position]
    parts = [p for p in job.parts if p.position == position]
    found = [*map(_found_words, outcomes), *(_finding_words(f, job.class_stated) for f in findings)]
    done = [part.action for part in parts]
    done += [_outcome_words(o, titles(o), len(parts), len(outcomes) == 1) for o in outcomes]
    name = unit.position(position)
    others = [p.name for p in parts if p.name and not p.name.casefold().startswith(name.casefold())]
    others += [f.component for f in findings if f.component and f.component.casefold() not in name.casefold()]
    bad = any(o.outcome not in ("done", "not applicable") for o in outcomes)
    failed = tuple(f"grade {GRADES[f.grade]}" for f in findings if f.grade >= 3 and f.grade in GRADES)
    recalled = recalled_parts(unit) & {part.row.ref for part in parts}
    lots = tuple(p.lot for p in parts if p.row.ref in recalled and p.lot)
    agreed = (_agreed(o) for o in outcomes)
    fitted = lines(*(_part_words(part, old_told) for part in parts), "recalled" if recalled else "", *agreed)
    return (
        Cell(lines(name, *dict.fromkeys(others))),
        Cell(lines(*found), bold=failed),
        Cell("\n".join(text for text in done if text), strong=bad),
        Cell(fitted, bold=(*lots, *(("recalled",) if recalled else ()))),
        scope.proof(*outcomes, *findings, *parts),
    )


def _loose_rows(scope: Scope, job: JobFact, titles, old_told: bool) -> Iterator[tuple[Cell, ...]]:
    """Tasks, findings and parts of no position: one row each."""
    for o in job.outcomes:
        if not o.position:
            done = _outcome_words(o, o.action or "task", 0, True)
            yield (
                Cell(titles(o)),
                Cell(_found_words(o)),
                Cell(done, strong=o.outcome not in ("done", "not applicable")),
                Cell(_agreed(o)),
                scope.proof(o),
            )
    for f in job.findings:
        if not f.position:
            yield (
                Cell(f.component or "whole unit"),
                Cell(_finding_words(f, job.class_stated), strong=f.grade >= 3),
                Cell(""),
                Cell(""),
                scope.proof(f),
            )
    for p in job.parts:
        if not p.position:
            yield (
                Cell(lines(p.name or "part", "whole unit")),
                Cell(""),
                Cell(p.action),
                Cell(_part_words(p, old_told)),
                scope.proof(p),
            )


def _by_part(scope: Scope, unit: UnitScope, job: JobFact) -> Table:
    columns = (
        Column("Part", 112, names=True),
        Column("Found", 142),
        Column("Done", 92),
        Column("Part number, lot (receipt)", 126),
        _RECORD,
    )
    known = {line.code: line.title for line in sorted(unit.facts.plan, key=lambda p: p.effective_on)}

    def titles(outcome: OutcomeFact) -> str:
        return known.get(outcome.plan_line, outcome.plan_line) or f"{outcome.action or 'task'}, unplanned"

    old_told = bool(_old_parts(job))
    rows = (
        *(_part_row(scope, unit, job, position, titles, old_told) for position in _positions(job)),
        *_loose_rows(scope, job, titles, old_told),
    )
    return Table("", columns, rows, "Tasks, condition and parts: no record found.")


def _old_parts(job: JobFact) -> str:
    """What became of the old parts, where it is the same of all."""
    fates = {part.old_part for part in job.parts}
    return next(iter(fates)) if len(fates) == 1 and len(job.parts) > 1 else ""


# ------------------------------------------------------------------------------------------------ the visit


def job_id(unit: UnitScope, n: int) -> str:
    return f"{unit.chapter}-job-{n}"


def job_ids(scope: Scope, unit: UnitScope) -> dict[str, str]:
    """The section of each job of the period by the ref of its row."""
    jobs = scope.inside(unit.facts.jobs)
    return {job.row.ref: job_id(unit, n) for n, job in enumerate(jobs, start=1)}


def job_sections(scope: Scope, unit: UnitScope, job: JobFact, count: int) -> tuple[Section, ...]:
    """The whole record of one job; `count` numbers it within the unit's period."""
    job = replace(job, **{leaves: scope.inside(getattr(job, leaves)) for leaves in _LEAVES})
    done = _conclusion(scope, job)
    tables = (_by_part(scope, unit, job), measured_table(scope, job), tests_table(scope, job))
    blocks: tuple[Block, ...] = (
        _facts(scope, unit, job, done),
        *(table for table in tables if table.rows),
        signed_block(scope, job),
        *_notes(job, tables),
    )
    title = f"{day(job.row.happened_on)}: {job.reason or 'reason not stated'}"
    aside = f"Conclusion: {concluded(scope, job)}"
    return (Section(job_id(unit, count), title, 2, blocks, aside=aside),)


def _notes(job: JobFact, tables: Iterable[Table]) -> tuple[Paragraph, ...]:
    """What is the same of all old parts and limits, and what no row tells of."""
    old = _old_parts(job)
    sources = {r.limit_source for r in job.readings}
    limits = next(iter(sources)) if len(sources) == 1 else ""
    told = [
        f"Each of the {counted(len(job.parts), 'old part')}: {old}." if old else "",
        f"Limits: {limits}." if limits else "",
        *(table.empty for table in tables if not table.rows),
    ]
    words = " ".join(part for part in told if part)
    return (Paragraph(words, "small"),) if words else ()
