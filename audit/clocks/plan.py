"""Due items of the maintenance plan: one for each line in effect, for each position on its own.

A line counts from the newest of: its own outcome "done" (or an outcome "done" of the same action at the same
position); a part replaced at its position, which also satisfies inspecting, cleaning, lubricating and testing there.
Cleaning never resets replacing, and a part found in place resets nothing. A line never done counts from the
installation; with no installation on record there is no evidence, which ranks with overdue.

Days: a line is due on `due_on`; from the day after, for `grace_days` days, it is in grace; `overdue_on` is
`due_on + grace_days + 1`, so with no grace the due day itself is still in time. With several limits the first to be
reached holds. Common practice, no source, but for the limits themselves, whose source is the line's.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from audit.dates import add_days, add_months
from audit.facts import OutcomeFact, PlanLineFact, UnitFacts, in_order
from audit.judgement import Clock, Evidence, Source, State
from audit.usage import installation

NEEDED_SPAN = 28  # days between two counter readings before a rate is taken from them
_RENEWED_WITH_PART = ("replace", "inspect", "clean", "lubricate", "test")


def plan_lines(unit: UnitFacts, as_of: date) -> tuple[PlanLineFact, ...]:
    """The newest version of each code in effect on `as_of`, retired ones left out, in order of code."""
    newest: dict[str, PlanLineFact] = {}
    for line in unit.plan:
        if line.effective_on <= as_of:
            held = newest.get(line.code)
            if held is None or _version(line) > _version(held):
                newest[line.code] = line
    return tuple(newest[c] for c in sorted(newest) if not newest[c].retired)


def _version(fact):
    return (fact.effective_on, fact.row.number, fact.row.line)


def fit_on(unit: UnitFacts, position: str, as_of: date) -> str:
    """Whether the position is fitted: "yes", "none", "missing" or "unknown".

    Nothing said about a position is "yes" once a part was replaced there, else "unknown".
    """
    current = [f for f in unit.fits if f.position == position and f.effective_on <= as_of]
    if current:
        return max(current, key=_version).state
    parts = (p for j in unit.jobs for p in j.parts)
    return "yes" if any(p.position == position for p in parts) else "unknown"


def plan_clocks(unit: UnitFacts, as_of: date) -> tuple[Clock, ...]:
    """One due item for each line of the plan in effect on `as_of`."""
    rates = {name: counter_rate(unit, name) for name in ("cycles", "hours")}
    return tuple(_clock(unit, line, as_of, rates) for line in plan_lines(unit, as_of))


def state_on(day: date, due_on: date, overdue_on: date, lead_days: int) -> State:
    """How `day` stands to a due item."""
    if day >= overdue_on:
        return State.OVERDUE
    if day > due_on:
        return State.IN_GRACE
    if day == due_on:
        return State.DUE
    return State.DUE_SOON if day >= add_days(due_on, -lead_days) else State.OK


def _clock(unit: UnitFacts, line: PlanLineFact, as_of: date, rates) -> Clock:
    fixed = {
        "id": f"plan:{line.code}",
        "title": line.title,
        "rule": _rule_words(line),
        "source": Source(f"{line.source}, {line.edition}" if line.edition else line.source),
        "position": line.position,
        "action": line.action,
    }
    fit = fit_on(unit, line.position, as_of) if line.position else "yes"
    if fit == "none":
        note = "not fitted on this unit"
        return Clock(state=State.NOT_APPLICABLE, due_on=None, overdue_on=None, counts_from=None, note=note, **fixed)
    base = counts_from(unit, line)
    notes = ["whether fitted is unknown"] if fit == "unknown" else []
    if base is None:
        notes.append("never done, and no installation on record")
        note = "; ".join(notes)
        return Clock(state=State.NO_EVIDENCE, due_on=None, overdue_on=None, counts_from=None, note=note, **fixed)
    due_on, projected, how = _due(unit, line, base[0], rates)
    notes += how
    if due_on is None:
        return Clock(
            state=State.OK, due_on=None, overdue_on=None, counts_from=base[1], note="; ".join(notes), **fixed
        )
    overdue_on = add_days(due_on, line.grace_days + 1)
    postponed = deferral_of(unit, line, base)
    if postponed is not None:
        overdue_on = max(overdue_on, add_days(postponed.deferred_until, 1))
        notes.append(_deferral_words(postponed))
    state = state_on(as_of, due_on, overdue_on, line.lead_days)
    return Clock(
        state=state,
        due_on=due_on,
        overdue_on=overdue_on,
        counts_from=base[1],
        note="; ".join(notes),
        projected=projected,
        **fixed,
    )


def _rule_words(line: PlanLineFact) -> str:
    limits = [("months", line.months), ("cycles", line.cycles), ("hours", line.hours)]
    every = " or ".join(f"{n} {word}" for word, n in limits if n is not None)
    several = ", whichever comes first" if " or " in every else ""
    text = f"{line.action} every {every}{several}" if every else f"{line.action}: {line.rule or 'no interval stated'}"
    return f"{text}; {line.rule}" if every and line.rule else text


# ------------------------------------------------------------------------------------------------ what it counts from


@dataclass(frozen=True, slots=True)
class _Done:
    """Something that resets a line, sorted by the row."""

    row: object
    text: str


def counts_from(unit: UnitFacts, line: PlanLineFact) -> tuple[date, Evidence] | None:
    """The day and the row the line counts from, or None when there is no evidence at all."""
    done = in_order(list(_resets(unit, line)))
    if done:
        last = done[-1]
        return last.row.happened_on, Evidence(last.row.ref, last.text)
    start = installation(unit)
    if start is None:
        return None
    day = start.row.happened_on
    return day, Evidence(start.row.ref, f"never done since installation on {day.isoformat()}")


def _resets(unit: UnitFacts, line: PlanLineFact):
    renewing = {p.code for p in unit.plan if p.position == line.position and p.action == "replace"}
    for job in unit.jobs:
        for outcome in job.outcomes:
            if outcome.outcome == "done" and _does(outcome, line, renewing):
                yield _Done(outcome.row, f"{outcome.action} done on {outcome.row.happened_on.isoformat()}")
        for part in job.parts:
            if not line.position or part.position != line.position or not part.action.startswith("replaced"):
                continue
            if line.action in _RENEWED_WITH_PART and part.quantity > 0:
                lot = f", lot {part.lot}" if part.lot else ""
                yield _Done(part.row, f"{part.name} {part.action} on {part.row.happened_on.isoformat()}{lot}")


def _does(outcome: OutcomeFact, line: PlanLineFact, renewing: set[str]) -> bool:
    """Whether a done outcome resets the line: its own, the same action there, or a renewal there."""
    if outcome.plan_line and outcome.plan_line == line.code:
        return True
    here = bool(line.position) and outcome.position == line.position
    if here and outcome.action == line.action:
        return True
    renewed = (here and outcome.action == "replace") or (line.position and outcome.plan_line in renewing)
    return bool(renewed) and line.action in _RENEWED_WITH_PART


def deferral_of(unit: UnitFacts, line: PlanLineFact, base) -> OutcomeFact | None:
    """The newest decided postponement of the line since what it counts from, or None.

    A postponement is a decision: without who decided, why and until when it moves nothing.
    """
    outcomes = [o for j in unit.jobs for o in j.outcomes]
    mine = [o for o in outcomes if o.outcome == "deferred" and _is_of(o, line) and o.row.happened_on >= base[0]]
    decided = [o for o in in_order(mine) if o.deferred_until and o.decided_by and o.reason]
    return decided[-1] if decided else None


def _is_of(outcome: OutcomeFact, line: PlanLineFact) -> bool:
    if outcome.plan_line:
        return outcome.plan_line == line.code
    return bool(line.position) and outcome.position == line.position and outcome.action == line.action


def _deferral_words(outcome: OutcomeFact) -> str:
    agreed = f", agreed by {outcome.agreed_by}" if outcome.agreed_by else ""
    day, until = outcome.row.happened_on.isoformat(), outcome.deferred_until.isoformat()
    return f"postponed on {day} until {until} by {outcome.decided_by}{agreed}: {outcome.reason}"


# ------------------------------------------------------------------------------------------------ when it is due


@dataclass(frozen=True, slots=True)
class Rate:
    """How fast a counter runs: units per day between two readings at least 28 days apart."""

    per_day: Decimal
    last_on: date
    last_total: Decimal


def counter_rate(unit: UnitFacts, name: str) -> Rate | None:
    """The rate from the last reading and the newest one at least 28 days before it; None without such a pair."""
    readings = [c for c in in_order(unit.counters) if c.counter == name]
    if not readings:
        return None
    last = readings[-1]
    for first in reversed(readings):
        days = (last.row.happened_on - first.row.happened_on).days
        if days >= NEEDED_SPAN:
            grown = last.total - first.total
            return Rate(grown / days, last.row.happened_on, last.total) if grown >= 0 else None
    return None


def _due(unit: UnitFacts, line: PlanLineFact, base: date, rates) -> tuple[date | None, bool, list[str]]:
    """(first day due, whether that day is a projection, notes)."""
    found: list[tuple[date, bool]] = []
    notes = []
    if line.months is not None:
        found.append((add_months(base, line.months), False))
    for name, limit in (("cycles", line.cycles), ("hours", line.hours)):
        if limit is None:
            continue
        by_count = _due_by_count(unit, name, Decimal(limit), base, rates[name])
        if by_count is None:
            notes.append(f"{name} not projected: too few counter readings")
        else:
            found.append(by_count)
    if not found:
        return None, False, notes or ["no interval stated"]
    due_on, projected = min(found)
    if projected:
        notes.append("date projected from counter readings")
    return due_on, projected, notes


def _due_by_count(unit, name: str, limit: Decimal, base: date, rate: Rate | None) -> tuple[date, bool] | None:
    """The day the counter reaches base + limit: the reading that shows it, else projected at the present rate."""
    readings = [c for c in in_order(unit.counters) if c.counter == name]
    start = _total_on(readings, base, rate)
    if start is None:
        return None
    target = start + limit
    for reading in readings:
        if reading.row.happened_on >= base and reading.total >= target:
            return reading.row.happened_on, False
    if rate is None or rate.per_day <= 0:
        return None
    left = (target - rate.last_total) / rate.per_day
    days = int(left.to_integral_value(rounding="ROUND_CEILING"))
    if days > 36500:
        return None
    return add_days(rate.last_on, max(days, 0)), True


def _total_on(readings, day: date, rate: Rate | None) -> Decimal | None:
    """The life total on `day`: read that day, else carried from the nearest reading before (or after) by the rate."""
    same = [c for c in readings if c.row.happened_on == day]
    if same:
        return same[-1].total
    if rate is None:
        return None
    before = [c for c in readings if c.row.happened_on < day]
    near = before[-1] if before else readings[0]
    return near.total + rate.per_day * (day - near.row.happened_on).days
