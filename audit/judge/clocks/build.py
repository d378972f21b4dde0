"""Due items of duties as values: not applicable, in order, or with their days."""

from __future__ import annotations

from datetime import date

from audit.facts.dates import ONE_DAY, add_days
from audit.judge.biological import awaited_until
from audit.judge.judgement import Clock, DueKind, Evidence, State
from audit.regimes.model import SUBJECTS, Duty

from .duty import DutyFacts
from .rows import DutyRows, awaited

_ACTIONS = {"test": "test", "check": "check", "work": "service", "document": "renew"}


def blank(duty: Duty, state: State, note: str, counts: Evidence | None = None) -> Clock:
    """A due item without days."""
    return _clock(duty, state, None, None, counts, note)


def not_in_use(facts: DutyFacts, duty: Duty) -> Clock | None:
    """The due item of a unit that is not in use on the day; None when it is."""
    if facts.usage.in_use(facts.as_of):
        return None
    why = facts.usage.why_idle(facts.as_of)
    return blank(duty, State.NOT_APPLICABLE, f"not in use: {why}" if why else "not in use yet")


def first_late(facts: DutyFacts, due_on: date, to: date, *, grace: int = 1, at_once: bool = False) -> date | None:
    """The first day of use up to `to`, inclusive, on which a thing due by `due_on` is overdue; None for none.

    What falls due while the unit is out of use falls due at its return, and is overdue `grace` days after that; what
    was overdue before it went out is so from its own first day. `at_once`: overdue on the day due itself.
    """
    first = due_on if at_once else due_on + ONE_DAY
    for start, end in facts.usage.stretches(due_on, to):
        late = max(first, start + ONE_DAY * grace)
        if late <= min(end, to):
            return late
    return None


def dated(
    facts: DutyFacts,
    duty: Duty,
    due_on: date,
    counts: Evidence | None,
    note: str = "",
    *,
    start: date | None = None,
    overdue_on: date | None = None,
    projected: bool = False,
) -> Clock:
    """A due item with its days: due from `start` (the day due itself where none is given) on.

    `due_on` is the last day in time; `overdue_on` the day after it where none is given.
    """
    overdue_on = overdue_on or due_on + ONE_DAY
    state = state_on(facts.as_of, start or due_on, due_on, overdue_on, duty.lead_days)
    return _clock(duty, state, due_on, overdue_on, counts, note, projected)


def state_on(day: date, start: date, due_on: date, overdue_on: date, lead_days: int) -> State:
    """How `day` stands to a due item that may be done from `start` on and is due by `due_on`."""
    if day >= overdue_on:
        return State.OVERDUE
    if day >= start:
        return State.DUE
    return State.DUE_SOON if lead_days and day >= add_days(due_on, -lead_days) else State.OK


def _clock(duty, state, due_on, overdue_on, counts, note, projected=False) -> Clock:
    return Clock(
        kind=DueKind.DUTY,
        code=duty.id,
        title=duty.title,
        state=state,
        due_on=due_on,
        overdue_on=overdue_on,
        counts_from=counts,
        rule=duty.words,
        source=duty.source,
        note=note,
        projected=projected,
        action=_ACTIONS[SUBJECTS[duty.subject]],
        subject=duty.subject,
        forbids=duty.forbids,
    )


def awaited_note(facts: DutyFacts, rows: DutyRows, last) -> str:
    """What is said of a newest test whose result is still awaited; "" else. `last` is the newest that counts."""
    newest = rows.facts[-1] if facts.unread and rows.facts else None
    if newest is not last and awaited(rows, newest) and facts.within_reason(newest):
        return f"the test of {newest.row.happened_on.isoformat()} counts once it is read: {facts.unread}"
    if not awaited(rows, last):
        return ""
    until = awaited_until(last, facts.regime.validity).isoformat()
    sent = "sent, awaited" if last.site == "laboratory" else "incubating, awaited"
    return f"{sent} by {until}; falls back if no result comes"
