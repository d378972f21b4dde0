"""The service of one unit on one page or two: its visits, its parts by position, readings outside their limits."""

from __future__ import annotations

from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Block, Cell, Column, Section, Table
from audit.binder.service import job_id, job_ids, limit_words, lot_words
from audit.binder.written_on_paper import counted, day, labelled, lines, number
from audit.facts import ConclusionFact, JobFact, ReadingFact, SignatureFact, VerificationFact
from audit.facts.names import repair_class

_ORDER = ("pass", "fail", "not done", "not applicable")


def _work(scope: Scope, job: JobFact) -> str:
    done = sum(o.outcome == "done" for o in job.outcomes)
    parts = len(scope.inside(job.parts))
    return lines(
        job.reason or "reason not stated",
        f"{done} of {counted(len(job.outcomes), 'task')} done" if job.outcomes else "no task of the plan",
        counted(parts, "part"),
        labelled("class", repair_class(job.class_stated)),
    )


def _tested(tests: tuple[VerificationFact, ...]) -> str:
    """pass: V1, V5; not applicable: V2."""
    results = [r for r in _ORDER if any(t.result == r for t in tests)]
    return "\n".join(f"{r}: {', '.join(t.code for t in tests if t.result == r)}" for r in results) or "none on record"


def _signed(signature: SignatureFact) -> str:
    by = ", ".join(text for text in (signature.name or "no name", signature.role) if text)
    return lines(f"{signature.meaning}: {by}", signature.given_words, labelled("why", signature.reason))


def _conclusion(done: ConclusionFact) -> str:
    """The word; with what limits it and why where it is not a plain release."""
    if done.conclusion == "released":
        return done.conclusion
    until = f"until {day(done.deadline)}" if done.deadline else ""
    return lines(f"{done.conclusion} {until}".strip(), done.limitation, labelled("why", done.reason))


def _ended(scope: Scope, job: JobFact) -> tuple[str, bool]:
    """The conclusion and signatures of the period in words, and whether they weigh."""
    done: ConclusionFact | None = job.conclusion
    if done is not None and not scope.holds(done.row.happened_on):
        done = None
    word = _conclusion(done) if done else "not concluded by the end of the period"
    signed = [_signed(s) for s in scope.inside(job.signatures)] or ["no signature on record"]
    return lines(word, *signed), done is None or done.conclusion != "released"


def visits_table(scope: Scope, unit: UnitScope) -> Table:
    """One row a job, oldest first, with the page of its whole record."""
    columns = (
        Column("Day", 15),
        Column("Why, what, class", 24),
        Column("By", 22),
        Column("Tests before return", 22),
        Column("Conclusion, signatures", 30),
        Column("Rows", 16),
        Column("Page", 6, "right"),
    )
    rows = []
    for n, job in enumerate(scope.inside(unit.facts.jobs), start=1):
        ended, weighs = _ended(scope, job)
        to = job_id(unit, n)
        rows.append(
            (
                Cell(day(job.row.happened_on), to=to),
                Cell(_work(scope, job)),
                Cell(lines(job.worked_by or "no name on record", job.servicer or "company not stated")),
                Cell(_tested(scope.inside(job.tests)), strong=any(t.result == "fail" for t in job.tests)),
                Cell(ended, strong=weighs),
                scope.proof(job),
                Cell("", to=to, page=""),
            )
        )
    return Table("Service visits", columns, tuple(rows), "Service visits in the period: no record found.")


def _by_position(scope: Scope, unit: UnitScope) -> Table:
    """Parts fitted in the period, under the position they sit at, oldest first."""
    columns = (
        Column("Position", 20),
        Column("Part, part number", 28),
        Column("Lot", 20),
        Column("Day", 13),
        Column("What was done, old part", 26),
        Column("Rows", 16),
        Column("Page", 6, "right"),
    )
    homes = job_ids(scope, unit)
    names = {p.row.origin: (p.code, p.name) for p in unit.facts.positions}
    fitted = [
        (names.get(p.position), p, homes.get(j.row.ref, "")) for j in unit.facts.jobs for p in scope.inside(j.parts)
    ]
    fitted.sort(
        key=lambda each: (each[0] or ("~", ""), each[1].row.happened_on, each[1].row.number, each[1].row.line)
    )
    rows = tuple(
        (
            Cell(unit.position(part.position)),
            Cell(lines(part.name, part.number or "no number printed")),
            Cell(lot_words(part)),
            Cell(day(part.row.happened_on)),
            Cell(lines(part.action, labelled("old part", part.old_part))),
            scope.proof(part),
            Cell("", to=home, page=scope.row(part.row.ref)) if home else Cell("none"),
        )
        for _, part, home in fitted
    )
    return Table("Parts by position", columns, rows, "Parts fitted in the period: no record found.")


def _is_outside(reading: ReadingFact) -> bool:
    """Whether a value lies beyond a limit; one at the limit is inside."""
    values = [v for v in (reading.as_found, reading.as_left) if v is not None]
    low, high = reading.lower, reading.upper
    return any((low is not None and v < low) or (high is not None and v > high) for v in values)


def _outside(scope: Scope, unit: UnitScope) -> Table:
    columns = (
        Column("Day", 13),
        Column("Quantity, point", 28),
        Column("As found", 13, "right"),
        Column("As left", 13, "right"),
        Column("Unit", 9),
        Column("Limits and source", 30),
        Column("Rows", 16),
        Column("Page", 6, "right"),
    )
    homes = job_ids(scope, unit)
    found = [
        (r, homes.get(j.row.ref, "")) for j in unit.facts.jobs for r in scope.inside(j.readings) if _is_outside(r)
    ]
    found.sort(key=lambda each: (each[0].row.happened_on, each[0].row.number, each[0].row.line))
    rows = tuple(
        (
            Cell(day(r.row.happened_on)),
            Cell(lines(r.quantity, r.point)),
            Cell(number(r.as_found, "not measured")),
            Cell(number(r.as_left, "not measured")),
            Cell(r.unit_of_measure),
            Cell(limit_words(r)),
            scope.proof(r),
            Cell("", to=home, page=scope.row(r.row.ref)) if home else Cell("none"),
        )
        for r, home in found
    )
    total = sum(len(scope.inside(job.readings)) for job in unit.facts.jobs)
    empty = f"Readings outside their limits: none; {counted(total, 'reading')} in the period."
    if not total:
        empty = "Readings in the period: no record found."
    return Table("Readings outside their limits, as found or as left", columns, rows, empty)


def visits_sections(scope: Scope, unit: UnitScope) -> tuple[Section, ...]:
    """Parts and readings of all visits together; nothing for a unit without a visit in the period."""
    if not scope.inside(unit.facts.jobs):
        return ()
    blocks: tuple[Block, ...] = (_by_position(scope, unit), _outside(scope, unit))
    return (Section(f"{unit.chapter}-parts", f"Parts and readings of {unit.label}, all visits", 3, blocks),)
