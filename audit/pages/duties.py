"""What is to be done today at a clinic: due items, spore tests to read, failures to follow up."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from audit.facts import ClinicFacts, FollowUpFact, UnitFacts, in_order, unit_by_day
from audit.judge.judgement import (
    Case,
    ClinicJudgement,
    Clock,
    DueKind,
    Finding,
    NextStep,
    Severity,
    State,
    UnitJudgement,
    Word,
)
from audit.judge.next_step import steps_ahead
from audit.judge.response import ERROR, RETURNED, undone

DUE_TODAY = (State.DUE, State.IN_GRACE, State.OVERDUE, State.NO_EVIDENCE)
SETTLED = (RETURNED, ERROR)
# Shown in full elsewhere on the page, as a due item or as a failure.
SHOWN_ELSEWHERE = frozenset({
    "duty-overdue", "plan-overdue", "no-evidence", "positive-test-open", "air-removal-open", "air-leak-open",
    "case-open",
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class DueLine:
    """One due item. `entry` names the page on which it is recorded, "" where there is none.

    `unit` is None where the item is the place's own.
    """

    unit: UnitJudgement | None
    clock: Clock
    when: str  # by when it is asked, in words
    entry: str

    @property
    def doing(self) -> str:
        """What a link to that page says."""
        return DOING.get(self.entry, "")


@dataclass(frozen=True, slots=True)
class FailureLine:
    """An open failure with its next step, what its rules note of it, and the follow-ups set and not done."""

    unit: UnitJudgement
    case: Case
    next_step: NextStep | None
    note: str
    waiting: tuple[FollowUpFact, ...]


@dataclass(frozen=True, slots=True)
class OpenLine:
    """One open item; `unit` is None where it is the clinic's own."""

    unit: UnitJudgement | None
    finding: Finding


# On which page doing an item is recorded, by what it asks, and what the link to it says. A line of the plan asks "".
ENTRIES = {
    "": "log-visit",
    "servicing": "log-visit",
    "biological": "log-bio",
    "air removal": "log-air-removal",
    "air leak": "log-leak",
    "automatic control": "log-user-check",
    "safety check": "log-user-check",
    "thermometer comparison": "log-user-check",
    "water": "log-user-check",
    "pressure examination": "add-document",
    "validation report": "add-document",
    "training": "add-document",
    "insurance": "add-document",
    "procedure": "add-document",
    "instructions": "add-document",
}
DOING = {
    "log-visit": "Log the visit",
    "log-bio": "Start the spore test",
    "log-air-removal": "Log the test",
    "log-leak": "Log the test",
    "log-user-check": "Log the check",
    "add-document": "File the paper",
}


def entry_of(clock: Clock) -> str:
    """The name of the page on which doing the item is recorded; what has none of its own is told of a visit."""
    return page_of(clock) or "log-visit"


def page_of(clock: Clock) -> str:
    """The page of its own on which doing the item is recorded, "" where there is none."""
    return ENTRIES.get(clock.subject, "")


_WORST = {state: n for n, state in enumerate(reversed(State))}


def place_lines(judgement: ClinicJudgement) -> tuple[DueLine, ...]:
    """Papers, training and instruments of the whole place that apply to it, worst first."""
    lines = [
        DueLine(None, clock, clock.when(judgement.as_of), page_of(clock) if clock.subject else "")
        for clock in judgement.clocks
        if clock.state is not State.NOT_APPLICABLE
    ]
    return tuple(
        sorted(lines, key=lambda line: (_WORST[line.clock.state], line.clock.due_on or date.min, line.clock.id))
    )


def due_lines(units) -> tuple[DueLine, ...]:
    """Due, in grace, overdue or without evidence; duties of the rules before lines of the plan, worst first."""
    lines = [
        DueLine(unit, clock, clock.when(unit.as_of), page_of(clock))
        for unit in units
        if unit.standing.word is not Word.NOT_IN_USE
        for clock in unit.clocks
        if clock.state in DUE_TODAY
    ]

    def key(line: DueLine):
        clock = line.clock
        plan = clock.kind is not DueKind.DUTY
        return (plan, _WORST[clock.state], clock.due_on or date.min, line.unit.label, clock.id)

    return tuple(sorted(lines, key=key))


@dataclass(frozen=True, slots=True)
class DueGroup:
    """Due items that ask one thing for one reason, said once, with a line a unit."""

    title: str
    rule: str
    source: object
    lines: tuple[DueLine, ...]

    @property
    def by_visit(self) -> bool:
        """Whether it is recorded with a visit."""
        return any(line.entry == "log-visit" for line in self.lines)


def due_groups(lines: tuple[DueLine, ...]) -> tuple[DueGroup, ...]:
    """The lines in their order, those that ask the same by the same rule and source together under the first."""
    found: dict[tuple, list[DueLine]] = {}
    for line in lines:
        clock = line.clock
        found.setdefault((clock.kind, clock.title, clock.rule, str(clock.source), line.entry), []).append(line)
    return tuple(
        DueGroup(same[0].clock.title, same[0].clock.rule, same[0].clock.source, tuple(same))
        for same in found.values()
    )


def failure_lines(pairs, company: str = "") -> tuple[FailureLine, ...]:
    """Failures not resolved, the oldest first; `company` is the name of the one that serves the clinic."""
    lines = []
    for facts, unit in pairs:
        for case in unit.cases:
            if case.phase not in SETTLED:
                lines.append(_failure(facts, unit, case, company))
    return tuple(sorted(lines, key=lambda line: (line.case.known_on, line.unit.label)))


def _failure(facts: UnitFacts, unit: UnitJudgement, case: Case, company: str) -> FailureLine:
    ahead = steps_ahead(case, unit.as_of, company)
    note = next((step.note for step in case.steps if undone(step)), "")
    return FailureLine(unit, case, ahead[0] if ahead else None, note, waiting_follow_ups(facts, case, unit.as_of))


def waiting_follow_ups(facts: UnitFacts, case: Case, as_of: date) -> tuple[FollowUpFact, ...]:
    """The follow-ups of the case that were set by that day and not done by then."""
    rows = [c for c in unit_by_day(facts, as_of).cases if case.ref and c.row.origin == case.ref]
    return tuple(f for row in rows for f in in_order(row.followups) if f.done_on is None)


def open_lines(facts: ClinicFacts, judgement: ClinicJudgement) -> tuple[list[OpenLine], list[OpenLine]]:
    """Open items not shown as due items or failures: those to act on, and those only to be known."""
    lines = list(_open(judgement))
    act = [line for line in lines if line.finding.severity is not Severity.NOTE]
    known = [line for line in lines if line.finding.severity is Severity.NOTE]
    rank = {severity: n for n, severity in enumerate(Severity)}
    act.sort(key=lambda line: (rank[line.finding.severity], line.finding.since or date.min))
    known.sort(key=lambda line: line.finding.since or date.min, reverse=True)
    return act, known


def _open(judgement: ClinicJudgement) -> Iterator[OpenLine]:
    for finding in judgement.findings:
        yield OpenLine(None, finding)
    for unit in judgement.units:
        for finding in unit.findings:
            if finding.rule not in SHOWN_ELSEWHERE:
                yield OpenLine(unit, finding)
