"""One job on one unit: the servicing record, then what was done, found, measured, fitted and tested."""

from __future__ import annotations

from dataclasses import replace

from audit.binder.scope import Scope, UnitScope, short
from audit.binder.sections import Block, Cell, Column, KeyValues, Paragraph, Section, Table
from audit.binder.written_on_paper import NO_RECORD, counted, day, first_upper, labelled, lines, local_time, number
from audit.facts import JobFact, OutcomeFact, PartFact, ReadingFact, UnitFacts, in_order
from audit.facts.names import GRADES, repair_class, test_title

# The headings of a servicing record are those of 21 CFR 820.35(b) (2026). The rule binds device makers; for
# an independent servicer the same fields are good practice.
SERVICING_FIELDS = (
    "Device name",
    "UDI, other identification",
    "Date of service",
    "Individuals who serviced",
    "Service performed",
    "Test and inspection data",
)

_LEAVES = ("outcomes", "findings", "readings", "parts", "tests", "signatures")


def _device(unit: UnitScope) -> str:
    facts = unit.facts
    return f"{facts.maker} {facts.model}, small steam sterilizer, {facts.equipment_type}"


def _identification(unit: UnitScope) -> str:
    facts = unit.facts
    udi = f"UDI {facts.udi}" if facts.udi else "no UDI on the plate"
    return f"{udi}; serial {facts.serial or NO_RECORD}; clinic's own label {facts.label}"


def _when(scope: Scope, job: JobFact) -> str:
    """The day, and the times of the day at the clinic where they are known."""
    terms = scope.facts.terms_on(job.row.happened_on) or scope.facts.terms_on(scope.as_of)
    zone = terms.zone if terms else "UTC"
    arrived = local_time(job.arrived_at, zone) if job.arrived_at else ""
    left = local_time(job.departed_at, zone) if job.departed_at else ""
    times = ", ".join(part for part in (labelled("arrived", arrived), labelled("left", left)) if part)
    return lines(day(job.row.happened_on), f"{times} ({zone})" if times else "")


def _performed(job: JobFact) -> str:
    done = [o for o in job.outcomes if o.outcome == "done"]
    summary = ", ".join(
        (
            job.reason or "reason not stated",
            f"{len(done)} of {counted(len(job.outcomes), 'task')} done",
            f"{counted(len(job.parts), 'part')} fitted or found in place",
        )
    )
    return f"{first_upper(summary)}; each task and part is listed below."


def _data(job: JobFact) -> str:
    if not (job.readings or job.findings or job.tests):
        return NO_RECORD
    counts = ", ".join(
        (
            counted(len(job.readings), "reading"),
            counted(len(job.findings), "condition finding"),
            counted(len(job.tests), "test") + " before return to service",
        )
    )
    return f"{counts}: listed below."


def servicing_record(scope: Scope, unit: UnitScope, job: JobFact) -> KeyValues:
    texts = (
        _device(unit),
        _identification(unit),
        _when(scope, job),
        f"{job.worked_by or NO_RECORD} ({job.servicer or 'company not stated'})",
        _performed(job),
        _data(job),
    )
    pairs = tuple((field, Cell(text)) for field, text in zip(SERVICING_FIELDS, texts, strict=True))
    more = (
        ("Complaint", Cell(job.complaint or "none stated")),
        ("Contamination", Cell(job.contamination or NO_RECORD)),
        ("Made safe before opening", Cell("\n".join(job.make_safe) or NO_RECORD)),
        ("Visit", Cell(short(job.visit) or NO_RECORD)),
        ("Rows", scope.proof(job)),
    )
    return KeyValues("Servicing record, fields of 21 CFR 820.35(b) (2026)", pairs + more)


def _outcome_words(outcome: OutcomeFact) -> str:
    until = f"until {day(outcome.deferred_until)}" if outcome.deferred_until else ""
    agreed = f"agreed by {outcome.agreed_by}" if outcome.agreed_by else ""
    decided = f"decided by {outcome.decided_by}" if outcome.decided_by else ""
    why = f"why: {outcome.reason}" if outcome.reason else ""
    return lines(f"{outcome.outcome} {until}".strip(), why, decided, agreed)


def _tasks(scope: Scope, unit: UnitScope, job: JobFact) -> Table:
    columns = (
        Column("Task", 28),
        Column("Position", 20),
        Column("Action", 12),
        Column("Outcome", 26),
        Column("Found", 22),
        Column("Rows", 17),
    )
    titles = {line.code: line.title for line in sorted(unit.facts.plan, key=lambda p: p.effective_on)}
    rows = tuple(
        (
            Cell(titles.get(o.plan_line, o.plan_line) or "unplanned"),
            Cell(unit.position(o.position)),
            Cell(o.action),
            Cell(_outcome_words(o)),
            Cell(o.found or "nothing stated"),
            scope.proof(o),
        )
        for o in job.outcomes
    )
    return Table("Tasks", columns, rows, "Tasks: no record found.")


def _findings(scope: Scope, unit: UnitScope, job: JobFact) -> Table:
    columns = (
        Column("Component", 22),
        Column("Grade", 14),
        Column("Seen", 26),
        Column("Decision, by which rule", 32),
        Column("Class", 13),
        Column("Rows", 17),
    )
    rows = tuple(
        (
            Cell(f.component or unit.position(f.position)),
            Cell(GRADES.get(f.grade, str(f.grade)), strong=f.grade >= 3),
            Cell(f.seen),
            Cell(lines(f.decision, f.rule, labelled("why", f.reason))),
            Cell(repair_class(f.repair_class)),
            scope.proof(f),
        )
        for f in job.findings
    )
    return Table("Condition as seen", columns, rows, "Condition as seen: no record found.")


def counter_words(unit: UnitFacts, counter: str) -> str:
    """The newest reading of a counter, with the life total where an earlier counter is added."""
    readings = in_order(c for c in unit.counters if c.counter == counter)
    if not readings:
        return NO_RECORD
    last = readings[-1]
    total = f", life total {number(last.total)}" if last.offset else ""
    return f"{number(last.shown)} on {day(last.row.happened_on)}{total}"


def limit_words(reading: ReadingFact) -> str:
    """The limits of a reading and where they stand; both ends are inside."""
    low, high = reading.lower, reading.upper
    if low is None and high is None:
        limits = "no limit stated"
    elif low is None:
        limits = f"at most {number(high)}"
    elif high is None:
        limits = f"at least {number(low)}"
    else:
        limits = f"{number(low)} to {number(high)}"
    return lines(limits, reading.limit_source)


def _instrument(reading: ReadingFact) -> str:
    due = f"calibration due {day(reading.calibration_due)}" if reading.calibration_due else ""
    expired = reading.calibration_due is not None and reading.calibration_due < reading.row.happened_on
    return lines(reading.instrument or "none stated", due, "calibration expired on that day" if expired else "")


def _readings(scope: Scope, job: JobFact) -> Table:
    columns = (
        Column("Quantity, point", 24),
        Column("As found", 12, "right"),
        Column("As left", 12, "right"),
        Column("Unit", 11),
        Column("Limits and source", 26),
        Column("Instrument", 24),
        Column("Rows", 17),
    )
    rows = tuple(
        (
            Cell(lines(r.quantity, r.point)),
            Cell(number(r.as_found, "not measured")),
            Cell(number(r.as_left, "not measured")),
            Cell(r.unit_of_measure),
            Cell(limit_words(r)),
            Cell(_instrument(r)),
            scope.proof(r),
        )
        for r in job.readings
    )
    return Table("Readings as found and as left", columns, rows, "Readings as found and as left: no record found.")


def lot_words(part: PartFact) -> str:
    """The lot as printed, or why there is none, with the lot of the receipt."""
    printed = part.lot if part.lot_state in ("printed", "") else f"lot {part.lot_state}"
    return lines(printed or "no lot on record", labelled("receipt lot", part.receipt_lot))


def _parts(scope: Scope, unit: UnitScope, job: JobFact) -> Table:
    columns = (
        Column("Part, position", 26),
        Column("Part number", 20),
        Column("Lot", 19),
        Column("Expiry", 13),
        Column("Qty", 7, "right"),
        Column("What was done, old part", 26),
        Column("Rows", 17),
    )
    rows = tuple(
        (
            Cell(lines(p.name, unit.position(p.position))),
            Cell(p.number or "not printed"),
            Cell(lot_words(p)),
            Cell(day(p.expiry, "none carried")),
            Cell(str(p.quantity)),
            Cell(lines(p.action, labelled("old part", p.old_part), labelled("kit", p.kit))),
            scope.proof(p),
        )
        for p in job.parts
    )
    return Table("Parts", columns, rows, "Parts: none on record for this job.")


def _tests(scope: Scope, job: JobFact) -> Table:
    columns = (
        Column("Test before return to service", 36),
        Column("Result", 14),
        Column("Value", 24),
        Column("Cycle", 12),
        Column("Reason", 22),
        Column("Rows", 17),
    )
    rows = tuple(
        (
            Cell(test_title(t.code)),
            Cell(t.result, strong=t.result == "fail"),
            Cell(t.value or "not stated"),
            Cell(t.cycle_number or "not stated"),
            Cell(t.reason),
            scope.proof(t),
        )
        for t in job.tests
    )
    return Table("Tests before return to service", columns, rows, "Tests before return to service: no record found.")


def _conclusion(scope: Scope, job: JobFact) -> KeyValues:
    stated = Cell(lines(repair_class(job.class_stated), labelled("why", job.class_reason)))
    done = job.conclusion if job.conclusion and scope.holds(job.conclusion.row.happened_on) else None
    if done is None:
        missing = Cell("work started, not concluded by the end of the period", strong=True)
        return KeyValues("Class and conclusion", (("Repair class", stated), ("Conclusion", missing)))
    pairs = (
        ("Repair class", stated),
        ("Conclusion", Cell(done.conclusion, strong=True)),
        ("Limitation", Cell(done.limitation or "none")),
        ("Accepted by", Cell(done.acceptor or "nobody named")),
        ("Deadline", Cell(day(done.deadline, "nothing is pending"))),
        ("Reason", Cell(done.reason or "none stated")),
        ("Rows", scope.proof(done)),
    )
    return KeyValues("Class and conclusion", pairs)


def _signatures(scope: Scope, job: JobFact) -> Table:
    columns = (
        Column("Signed for", 22),
        Column("Name", 30),
        Column("Role", 24),
        Column("Day", 14),
        Column("Reason", 24),
        Column("Rows", 17),
    )
    rows = tuple(
        (
            Cell(s.meaning),
            Cell(lines(s.name or "no name", s.given_words)),
            Cell(s.role),
            Cell(day(s.row.happened_on)),
            Cell(s.reason),
            scope.proof(s),
        )
        for s in job.signatures
    )
    return Table("Signatures", columns, rows, "Signatures: no record found.")


def job_id(unit: UnitScope, n: int) -> str:
    return f"{unit.chapter}-job-{n}"


def job_ids(scope: Scope, unit: UnitScope) -> dict[str, str]:
    """The section of each job of the period by the ref of its row."""
    jobs = scope.inside(unit.facts.jobs)
    return {job.row.ref: job_id(unit, n) for n, job in enumerate(jobs, start=1)}


def job_sections(scope: Scope, unit: UnitScope, job: JobFact, count: int) -> tuple[Section, ...]:
    """The whole record of one job; `count` numbers it within the unit's period."""
    job = replace(job, **{leaves: scope.inside(getattr(job, leaves)) for leaves in _LEAVES})
    blocks: tuple[Block, ...] = (
        servicing_record(scope, unit, job),
        _tasks(scope, unit, job),
        _findings(scope, unit, job),
        _readings(scope, job),
        _parts(scope, unit, job),
        _tests(scope, job),
        _conclusion(scope, job),
        _signatures(scope, job),
    )
    title = f"{day(job.row.happened_on)}: {job.reason or 'reason not stated'}"
    return (Section(job_id(unit, count), title, 3, _empty_together(blocks)),)


def _empty_together(blocks: tuple[Block, ...]) -> tuple[Block, ...]:
    """Neighbouring tables without rows as one paragraph of their sentences."""
    out: list[Block] = []
    sentences: list[str] = []
    for block in (*blocks, None):
        if isinstance(block, Table) and not block.rows:
            sentences.append(block.empty)
            continue
        if sentences:
            out.append(Paragraph(" ".join(sentences), "small"))
            sentences = []
        if block is not None:
            out.append(block)
    return tuple(out)
