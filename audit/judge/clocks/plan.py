"""Due items of the maintenance plan: one for each line in effect, for each position on its own.

A line counts from the newest of: its own outcome "done" (or an outcome "done" of the same action at the same
position); a part replaced at its position, which also satisfies inspecting, cleaning, lubricating and testing there.
Cleaning never resets replacing, and a part found in place resets nothing. A line never done counts from the
installation; with no installation on record there is no evidence, which ranks with overdue. Nor is there any where a
limit in cycles or hours cannot be told: no reading of that counter, or too few. The greatest use that counter or log
shows counts: where the loads logged since then make up so many cycles or hours by themselves, it is due on that day.

Days: a line is due on `due_on`; from the day after, for `grace_days` days, it is in grace; `overdue_on` is `due_on +
grace_days + 1`, so with no grace the due day itself is still in time. With several limits the first to be reached
holds. Common practice, no source, but for the limits themselves, whose source is the line's.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import lru_cache

from audit.facts import PlanLineFact, UnitFacts
from audit.facts.dates import add_days, add_months
from audit.judge.judgement import Clock, DueKind, Evidence, State
from audit.regimes.source import Source

from .counters import NEEDED_SPAN, Counter, counter_of
from .plan_done import DoneIndex, counts_from, deferral_of, deferral_words

_FAR = date.max.replace(year=9000)  # no day of a due item is later


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
        return (current[0] if len(current) == 1 else max(current, key=_version)).state
    parts = (p for j in unit.jobs for p in j.parts)
    return "yes" if any(p.position == position for p in parts) else "unknown"


def plan_clocks(unit: UnitFacts, as_of: date, once: Callable | None = None) -> tuple[Clock, ...]:
    """One due item for each line of the plan in effect on `as_of`.

    `once(key, make)` keeps what the facts alone decide, for judging the same facts on further days.
    """
    once = once or _made_anew()
    index = once("plan index", lambda: DoneIndex.of(unit))
    settled: dict[tuple[str, str], _SettledLine] = once("plan settled", dict)
    out = []
    for line in _lines_once(unit, as_of, once):
        key = line.row.ref, fit_on(unit, line.position, as_of) if line.position else "yes"
        made = settled.get(key)
        if made is None:
            made = settled[key] = _settled(index, line, key[1])
        out.append(made.on(as_of))
    return tuple(out)


def _lines_once(unit: UnitFacts, as_of: date, once: Callable) -> tuple[PlanLineFact, ...]:
    """`plan_lines`, looked for again only where another number of lines has taken effect by the day."""
    begun = len([line for line in unit.plan if line.effective_on <= as_of])
    return once(("plan lines", begun), lambda: plan_lines(unit, as_of))


def last_done_late(unit: UnitFacts, as_of: date, once: Callable | None = None) -> tuple[date, ...]:
    """Days on which lines of the plan in effect on `as_of` stopped being late: done last, where they were overdue
    then, and read a counter of, where nothing had told it before.
    """
    once = once or _made_anew()
    index = once("plan index", lambda: DoneIndex.of(unit))
    out = []
    for line in _lines_once(unit, as_of, once):
        base = counts_from(index, line)
        if base is None:
            continue
        out += _first_told(unit, line, base[0], once)
        if base is index.installed:  # never done
            continue
        done = base[0]
        before = index.until(done)
        earlier = counts_from(before, line)
        if earlier is None or earlier[0] >= done:
            continue
        due = _due(before, line, earlier[0])
        if due.day is not None:
            postponed = deferral_of(before, line, earlier[0])
            until = postponed.deferred_until if postponed is not None else date.min
            if done > max(add_days(due.day, line.grace_days), until):
                out.append(done)
    return tuple(out)


def _first_told(unit: UnitFacts, line: PlanLineFact, base: date, once: Callable) -> list[date]:
    """The days after `base` on which a reading told of a limit what no earlier reading did."""
    out = []
    for name, limit in (("cycles", line.cycles), ("hours", line.hours)):
        if limit is None:
            continue
        read = once(("counter by day", name), lambda name=name: _by_day(unit, name))
        n = max(bisect_right(read, base, key=lambda r: r[0]) - 1, 0)  # the last one of that day or before
        good = None  # by the readings so far: the last day on which they tell that it is in time
        for day, counter in read[n:]:
            if day > base and (good is None or day > add_days(good, line.grace_days)):
                out.append(day)
            due, _, missing = _by_count(counter, name, base, Decimal(limit))
            good = None if missing else due[0] if due is not None else _FAR
    return out


def _by_day(unit: UnitFacts, name: str) -> list[tuple[date, Counter]]:
    """Each day of a reading, with what the counter told by then."""
    days = sorted({c.row.happened_on for c in unit.counters if c.counter == name})
    return [(day, counter_of(unit, name, day)) for day in days]


def _made_anew() -> Callable:
    held: dict = {}

    def once(key, make):
        if key not in held:
            held[key] = make()
        return held[key]

    return once


def state_on(day: date, due_on: date, overdue_on: date, lead_days: int) -> State:
    """How `day` stands to a due item."""
    if day >= overdue_on:
        return State.OVERDUE
    if day > due_on:
        return State.IN_GRACE
    if day == due_on:
        return State.DUE
    return State.DUE_SOON if day >= add_days(due_on, -lead_days) else State.OK


@dataclass(slots=True)
class _SettledLine:
    """A due item but for the day: its state follows from the days."""

    line: PlanLineFact
    counts_from: Evidence | None = None
    due_on: date | None = None
    overdue_on: date | None = None
    note: str = ""
    projected: bool = False
    state: State | None = None  # where no day changes it
    unknown: bool = False  # another limit cannot be told: without evidence, unless it is overdue anyway
    made: Clock | None = None  # the one asked for last: on most days it is the same

    def on(self, day: date) -> Clock:
        line = self.line
        state = self.state or state_on(day, self.due_on, self.overdue_on, line.lead_days)
        if self.unknown and state is not State.OVERDUE:
            state = State.NO_EVIDENCE
        if self.made is None or self.made.state is not state:
            self.made = Clock(
                DueKind.PLAN,
                line.code,
                line.title,
                state,
                self.due_on,
                self.overdue_on,
                self.counts_from,
                _rule_words(line.action, line.months, line.cycles, line.hours, line.rule),
                _source(line.source, line.edition),
                self.note,
                self.projected,
                line.position,
                line.action,
            )
        return self.made


def _settled(index: DoneIndex, line: PlanLineFact, fit: str) -> _SettledLine:
    if fit == "none":
        return _SettledLine(line, note="not fitted on this unit", state=State.NOT_APPLICABLE)
    base = counts_from(index, line)
    notes = ["whether fitted is unknown"] if fit == "unknown" else []
    if base is None:
        notes.append("never done, and no installation on record")
        return _SettledLine(line, note="; ".join(notes), state=State.NO_EVIDENCE)
    due = _due(index, line, base[0])
    notes += [n for n in (due.unknown, *due.notes) if n]
    if due.day is None:
        state = State.NO_EVIDENCE if due.unknown else State.OK
        return _SettledLine(line, base[1], note="; ".join(notes), state=state)
    overdue_on = add_days(due.day, line.grace_days + 1)
    postponed = deferral_of(index, line, base[0])
    if postponed is not None:
        overdue_on = max(overdue_on, add_days(postponed.deferred_until, 1))
        notes.append(deferral_words(postponed))
    unknown = bool(due.unknown)
    return _SettledLine(line, base[1], due.day, overdue_on, "; ".join(notes), due.projected, unknown=unknown)


@lru_cache(maxsize=4096)  # units of one model have the same lines
def _source(source: str, edition: str) -> Source:
    return Source(f"{source}, {edition}" if edition else source)


@lru_cache(maxsize=4096)
def _rule_words(action: str, months: int | None, cycles: int | None, hours: int | None, rule: str) -> str:
    limits = [("months", months), ("cycles", cycles), ("hours", hours)]
    every = " or ".join(f"{n} {word}" for word, n in limits if n is not None)
    several = ", whichever comes first" if " or " in every else ""
    text = f"{action} every {every}{several}" if every else f"{action}: {rule or 'no interval stated'}"
    return f"{text}; {rule}" if every and rule else text


# ------------------------------------------------------------------------------------------------ when it is due


@dataclass(slots=True)
class _Limits:
    """The first day due, None where no limit names one; what is not known of it, "" for nothing."""

    day: date | None
    projected: bool
    notes: tuple[str, ...]
    unknown: str = ""


def _due(index: DoneIndex, line: PlanLineFact, base: date) -> _Limits:
    """When the line is due that counts from `base`. A limit that no reading can tell is not known."""
    if line.months is not None and line.cycles is None and line.hours is None:
        return _Limits(add_months(base, line.months), False, ())
    found: list[tuple[date, bool]] = []
    notes, unknown = [], []
    if line.months is not None:
        found.append((add_months(base, line.months), False))
    for name, limit in (("cycles", line.cycles), ("hours", line.hours)):
        if limit is not None:
            due, note, missing = _by_count(index.counters[name], name, base, Decimal(limit))
            found += [due] if due is not None else []
            logged = index.logged_on(name, base, limit)
            found += [(logged, False)] if logged is not None else []
            notes += [note] if note else []
            unknown += [missing] if missing else []
    if not found and not unknown:
        return _Limits(None, False, tuple(notes or ["no interval stated"]))
    due_on, projected = min(found, default=(None, False))
    if projected:
        notes.append("date projected from counter readings")
    return _Limits(due_on, projected, tuple(notes), "; ".join(unknown))


def _by_count(
    counter: Counter | None, name: str, base: date, limit: Decimal
) -> tuple[tuple[date, bool] | None, str, str]:
    """((day due, whether a projection) or None, note, what is not known).

    Too few readings to project hold for 28 days, where they tell the total on `base` and that the limit was not
    reached by the last of them.
    """
    if counter is None:
        return None, "", f"no reading of the {name} counter on record"
    found = counter.due_on(base, limit)
    if found is not None:
        return found, "", ""
    if counter.fell_on is not None and base < counter.fell_on:
        fell = counter.fell_on.isoformat()
        return None, "", f"{name} not projected: the counter fell on {fell} without an offset"
    if counter.rate is not None:
        return None, f"{name} not projected: not reached at the present rate", ""
    if not counter.shows_less(base, limit):
        return None, "", f"{name} not projected: too few counter readings"
    until = add_days(max(base, counter.days[-1]), NEEDED_SPAN)
    return (until, False), f"too few readings of the {name} counter to project: read it again by then", ""
