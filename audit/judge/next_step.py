"""What is to be done next about a unit, by whom and by when; and its answer's reason in short.

| the answer | what is next |
| --- | --- |
| out after a failure, or one is open and it may be used | the first step of the oldest open failure not done |
| another answer that forbids, waits or limits | what lifts it, by who can |
| overdue | what is late longest, then what has no evidence |
| in service | what is due now, else what is due first |
| not in use | nothing |

Common practice, no source: the answer's own rule has its source where it is given.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from audit.facts.dates import ONE_DAY
from audit.regimes.model import SUBJECTS

from .judgement import (
    Case,
    ClinicJudgement,
    Clock,
    DueKind,
    NextStep,
    State,
    Step,
    UnitJudgement,
    UnitStanding,
    Word,
)
from .response import BY_COMPANY, ERROR, RETURNED, undone
from .response.said import NOT_NEEDED

CLINIC, COMPANY, EITHER = "clinic", "service company", "clinic or service company"
# Who lifts an answer, as `UnitStanding.lifted_by` begins with it.
_WHO = {
    "a technician": COMPANY,
    "the technician": COMPANY,
    "the clinic": CLINIC,
    "the clinic or its service company": EITHER,
    "tests": CLINIC,
}
_FROM_THE_CASE, _FROM_WHAT_IS_DUE = "R4", ("R8", "R9", "R10", "R11")
_PENDING = "R6"
_ASKED_NOW = (State.OVERDUE, State.NO_EVIDENCE, State.IN_GRACE, State.DUE)  # what is worst first
_LATER = (State.DUE_SOON, State.OK)


@dataclass(frozen=True, slots=True)
class OpenPath:
    """The steps after a failure, in the order of the rules: those done, and those ahead, at least one."""

    title: str
    done: tuple[Step, ...]
    ahead: tuple[NextStep, ...]


def next_step(judged: UnitJudgement) -> NextStep | None:
    """What is next, None where nothing is: the unit is not in use, or nothing at all is asked of it."""
    return next_of(judged.standing, judged.clocks, judged.cases, judged.as_of)


def next_of(
    standing: UnitStanding, clocks: tuple[Clock, ...], cases: tuple[Case, ...], as_of: date
) -> NextStep | None:
    """The same, from what a judgement of the day holds."""
    if standing.word is Word.NOT_IN_USE:
        return None
    if cases and (standing.word.may_be_used or standing.rule == _FROM_THE_CASE):
        path = _open_path(cases, as_of)
        if path is not None:
            return path.ahead[0]
    if standing.rule in _FROM_WHAT_IS_DUE:
        return _of_what_is_due(clocks, as_of)
    return _of_what_lifts(standing)


def named(who: str, company: str) -> str:
    """Who is to do it, with the name of the company that serves the clinic; without a name the role stays."""
    return who.replace(COMPANY, company) if company and who in (COMPANY, EITHER) else who


def with_company(judgement: ClinicJudgement, company: str) -> ClinicJudgement:
    """The judgement as people read it: what is next names the company. `company` "": nobody serves the clinic."""
    if not company:
        return judgement
    return replace(judgement, units=tuple(_with_company(unit, company) for unit in judgement.units))


def _with_company(unit: UnitJudgement, company: str) -> UnitJudgement:
    step = unit.next
    return unit if step is None else replace(unit, next=replace(step, who=named(step.who, company)))


def open_path(judged: UnitJudgement, company: str = "") -> OpenPath | None:
    """The way out of the oldest open failure that has a step to be done, None where there is none.

    `company` is the name of the one that serves the clinic, "" for none.
    """
    return _open_path(judged.cases, judged.as_of, company)


def _open_path(cases: tuple[Case, ...], as_of: date, company: str = "") -> OpenPath | None:
    open_ = [c for c in cases if c.phase not in (ERROR, RETURNED)]
    for case in sorted(open_, key=lambda c: (c.known_on, c.ref)):
        ahead = steps_ahead(case, as_of, company)
        if ahead:
            done = tuple(s for s in case.steps if s.state != NOT_NEEDED and s.done_on is not None)
            return OpenPath(case.title, done, ahead)
    return None


def steps_ahead(case: Case, day: date, company: str = "") -> tuple[NextStep, ...]:
    """The steps of a failure that are still to be done, in the order of the rules."""
    return tuple(_ahead(step, day, company) for step in case.steps if undone(step))


def _ahead(step: Step, day: date, company: str) -> NextStep:
    who = named(COMPANY, company) if step.action in BY_COMPANY else CLINIC
    return NextStep(who, step.title, step.due_on, _late(step.due_on, day))


def _of_what_is_due(clocks: tuple[Clock, ...], as_of: date) -> NextStep | None:
    clock = _first_due(clocks)
    if clock is None:
        return None
    return NextStep(owner_of(clock), plain_title(clock), clock.due_on, clock.days_overdue(as_of))


def _first_due(clocks: tuple[Clock, ...]) -> Clock | None:
    """What is asked now, the worst and oldest first; else what is due first of all that has a day."""
    states = {c.state for c in clocks}
    for state in _ASKED_NOW:
        if state in states:
            return min((c for c in clocks if c.state is state), key=lambda c: (c.due_on or date.min, c.id))
    ahead = [c for c in clocks if c.state in _LATER and c.due_on is not None]
    return min(ahead, key=lambda c: (c.due_on, c.id), default=None)


def _of_what_lifts(standing: UnitStanding) -> NextStep:
    if standing.rule == _PENDING:
        last = standing.holds_until and standing.holds_until - ONE_DAY
        return NextStep(CLINIC, "enter the result of the pending spore test", last)
    named, _, what = standing.lifted_by.partition(": ")
    return NextStep(_WHO[named], what) if what and named in _WHO else NextStep("", standing.lifted_by)


def _late(by: date | None, day: date) -> int:
    return max(0, (day - by).days) if by is not None else 0


def owner_of(clock: Clock) -> str:
    """Who is to do it: the service company for planned work and instruments, else the clinic."""
    work = clock.kind in (DueKind.PLAN, DueKind.INSTRUMENT) or SUBJECTS.get(clock.subject) == "work"
    return COMPANY if work else CLINIC


def plain_title(clock: Clock) -> str:
    """The title without what stands in brackets behind it: "Spore test (biological indicator)" is a spore test."""
    return clock.title.split(" (")[0]


def short_reason(standing: UnitStanding) -> str:
    """The reason without what its word and the next step say already; never a word that the reason lacks.

    Of a unit with nothing against it: its last proof, and what is due before the first load today.
    """
    if standing.rule != "R11":
        return standing.reason
    parts = standing.reason.split("; ")
    kept = [p for p in parts if p not in _SAID_BY_THE_WORD and not p.startswith("next stop: ")]
    return "; ".join(kept) or standing.reason


_SAID_BY_THE_WORD = ("no open failure, nothing overdue",)
