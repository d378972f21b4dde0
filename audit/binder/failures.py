"""Each failure of one unit: its case and steps in order, what was done, and the look-back."""

from __future__ import annotations

from audit.binder.lookbacks import look_back_blocks, look_back_sections, look_backs_of_case
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import (
    Block,
    CaseTimeline,
    Cautions,
    Cell,
    Column,
    KeyValues,
    Paragraph,
    Section,
    Table,
    TimelineStep,
)
from audit.binder.written_on_paper import NO_RECORD, dated, day, first_upper, labelled, lines
from audit.judge.judgement import Case, Step


def _touches(scope: Scope, case: Case) -> bool:
    """A case belongs to the period when it was open on any day of it."""
    if case.failed_on > min(scope.to_on, scope.as_of):
        return False
    return case.resolved_on is None or case.resolved_on >= scope.from_on


def _step(scope: Scope, step: Step) -> TimelineStep:
    when = day(step.done_on) if step.done_on else "not needed" if step.state == "not needed" else "not done yet"
    rests_on = scope.told(step.evidence)
    return TimelineStep(
        step.state,
        when,
        dated(step.title),
        tuple(
            text
            for text in (
                f"In time up to and with {day(step.due_on)}" if step.due_on else "",
                dated(step.note),
                labelled("Evidence", rests_on) or "Evidence: " + NO_RECORD,
                f"Source: {scope.cite(step.source)}",
            )
            if text
        ),
    )


def _summary(scope: Scope, case: Case) -> KeyValues:
    now = f"{case.phase} on {day(case.resolved_on)}" if case.resolved_on else f"{case.phase}, still open"
    pairs = (
        ("Failed on", Cell(day(case.failed_on))),
        ("Known on", Cell(day(case.known_on))),
        ("Now", Cell(now, strong=case.resolved_on is None)),
        ("Passes in a row", Cell(f"{case.passes} of {case.passes_needed} needed")),
        ("Still missing", Cell(dated(case.needs) or "nothing")),
        ("Packs", Cell(first_upper(dated(case.recall)) or "not stated")),
        ("Evidence", Cell(scope.told(case.evidence) or NO_RECORD)),
    )
    return KeyValues("", pairs)


def _followups(scope: Scope, unit: UnitScope, case: Case) -> Table:
    columns = (
        Column("Follow-up", 14),
        Column("What", 30),
        Column("Owner", 16),
        Column("Due", 13),
        Column("Done", 26),
        Column("Rows", 17),
    )
    facts = [fact for fact in unit.facts.cases if case.ref and fact.row.origin == case.ref]
    steps = [step for fact in facts for step in fact.followups if step.row.happened_on <= scope.to_on]
    steps.sort(key=lambda s: (s.done_on is None, s.done_on or s.row.happened_on, s.row.number, s.row.line))
    rows = []
    for step in steps:
        # What was done after the period is not part of its history.
        done = step.done_on if step.done_on and step.done_on <= scope.to_on else None
        by = labelled("by", step.done_by)
        refs = [step.row.ref, *([step.done_row.ref] if done and step.done_row else [])]
        rows.append(
            (
                Cell(step.action),
                Cell(step.text or "nothing stated"),
                Cell(step.owner or "not named"),
                Cell(day(step.due_on, "no day set")),
                Cell(lines(day(done), by, step.outcome) if done else "not done"),
                scope.refs(refs),
            )
        )
    return Table("What was decided and done", columns, tuple(rows), "What was decided and done: no record found.")


def _case_blocks(scope: Scope, unit: UnitScope, case: Case) -> tuple[Block, ...]:
    warnings = (Cautions("Done in another way than the rules prefer", tuple(dated(w) for w in case.warnings)),)
    return (
        _summary(scope, case),
        CaseTimeline("Steps in order", tuple(_step(scope, step) for step in case.steps)),
        _followups(scope, unit, case),
        *(warnings if case.warnings else ()),
        *(block for back in look_backs_of_case(unit, case.ref) for block in look_back_blocks(scope, back)),
    )


def cases_told(scope: Scope, unit: UnitScope) -> list[Case]:
    """Failures open on any day of the period, the earliest first."""
    cases = [case for case in (unit.judgement.cases if unit.judgement else ()) if _touches(scope, case)]
    return sorted(cases, key=lambda case: (case.failed_on, case.known_on, case.ref))


def case_section(scope: Scope, unit: UnitScope, case: Case) -> str:
    """The id of the section that tells a failure, "" where this binder does not tell it."""
    told = cases_told(scope, unit)
    return f"{unit.indicators}-failure-{told.index(case) + 1}" if case in told else ""


def failure_sections(scope: Scope, unit: UnitScope) -> tuple[Section, ...]:
    """Each failure of the period, or that there is none; then other look-backs."""
    cases = cases_told(scope, unit)
    others = look_back_sections(scope, unit, {case.ref for case in cases if case.ref})
    if not cases:
        none = Paragraph(f"Failures of {unit.label} in the period: none on record.")
        return (Section(f"{unit.indicators}-failures", f"Failures of {unit.label}", 3, (none,)), *others)
    failures = tuple(
        Section(
            f"{unit.indicators}-failure-{n}",
            f"Failure {n} of {unit.label}: {first_upper(dated(case.title))}",
            3,
            _case_blocks(scope, unit, case),
        )
        for n, case in enumerate(cases, start=1)
    )
    return (*failures, *others)
