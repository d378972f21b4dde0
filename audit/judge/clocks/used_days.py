"""On each day of use (for each cycle type used that day), and in every load that holds an implant.

Days of use are known from the loads and the spore tests logged. A day of use asks its test that very day: until it is
done the item is due; from the next day on the day is missed, which nothing makes good. The item stays overdue until
the next one that counts (of the same cycle type where the rules ask each type). Days before a unit's return to use
lie behind it. A load whose cycle type is not recorded is met by any test of its day. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from datetime import date

from audit.facts import LoadFact, in_order
from audit.facts.dates import ONE_DAY
from audit.judge.cycle_of_load import spore_tests_of
from audit.judge.judgement import Clock, State
from audit.judge.response.cycle_types import named
from audit.regimes.model import Duty

from .build import awaited_note, blank, dated, not_in_use
from .duty import DutyFacts
from .rows import DutyRows, happened_on, rows_of
from .values import AWAITED, EXEMPT, INVALID, MET, MISSED, OPEN, Span

ANY = ""  # cycle types are not told apart, or the type is not recorded
BY_TYPE = "day-of-use-and-cycle-type"


@dataclass(frozen=True, slots=True)
class Uses:
    """The cycles that show a unit in use: loads, and spore tests, each in order of day."""

    loads: tuple[LoadFact, ...]
    tests: tuple
    air: tuple  # air-removal tests: their cycle, logged as a load, is of no cycle type

    def last(self, to: date) -> date | None:
        """The last day of use of `to` or before."""
        found = self.newest(to)
        return found[0] if found is not None else None

    def newest(self, to: date) -> tuple[date, str] | None:
        """(day, row) of the last use of `to` or before."""
        held = []
        for facts in (self.loads, self.tests):
            n = bisect_right(facts, to, key=happened_on)
            if n:
                held.append((happened_on(facts[n - 1]), facts[n - 1].row.ref))
        return max(held, default=None, key=lambda h: h[0])

    def first(self, since: date) -> date | None:
        """The first day of use of `since` or after."""
        days = []
        for facts in (self.loads, self.tests):
            n = bisect_left(facts, since, key=happened_on)
            if n < len(facts):
                days.append(happened_on(facts[n]))
        return min(days, default=None)

    def first_of(self, cycle_type: str, since: date) -> date | None:
        """The first day, of `since` or after, on which that cycle type was used."""
        day = self.first(since)
        while day is not None and cycle_type not in self.types(day):
            day = self.first(day + ONE_DAY)
        return day

    def types(self, day: date) -> tuple[str, ...]:
        """The cycle types used on a day, sorted."""
        no_loads = {t.cycle_number for t in _on(self.air, day) if t.cycle_number}
        found = {named(x.program) for x in _on(self.loads, day) if x.cycle_number not in no_loads}
        return tuple(sorted(found | {named(t.cycle_type) for t in _on(self.tests, day)}))

    def types_by_day(self, first: date, last: date) -> dict[date, tuple[str, ...]]:
        """The days of use from `first` to `last`, both inclusive, oldest first, with the cycle types of each."""
        air = {(happened_on(t), t.cycle_number) for t in _within(self.air, first, last) if t.cycle_number}
        found: dict[date, set[str]] = {}
        for x in _within(self.loads, first, last):
            day = happened_on(x)
            if (day, x.cycle_number) not in air:
                found.setdefault(day, set()).add(x.program)
        for t in _within(self.tests, first, last):
            found.setdefault(happened_on(t), set()).add(t.cycle_type)
        return {day: tuple(sorted({named(t) for t in found[day]})) for day in sorted(found)}

    def days(self, first: date, last: date) -> list[date]:
        """The days of use from `first` to `last`, both inclusive, oldest first."""
        found = {happened_on(f) for facts in (self.loads, self.tests) for f in _within(facts, first, last)}
        return sorted(found)


def uses_of(facts: DutyFacts) -> Uses:
    """The cycles logged of the unit; none for the whole place."""
    unit = facts.unit
    if unit is None:
        return Uses((), (), ())
    return Uses(in_order(unit.loads), in_order(unit.bio_tests), in_order(unit.air_removal))


def _within(rows, first: date, last: date):
    low = bisect_left(rows, first, key=happened_on)
    return rows[low : bisect_right(rows, last, lo=low, key=happened_on)]


def _on(rows, day: date):
    return _within(rows, day, day)


# ------------------------------------------------------------------------------------------------ days of use


def clock(facts: DutyFacts, duty: Duty) -> Clock:
    """The due item on the day."""
    unused = not_in_use(facts, duty)
    if unused is not None:
        return unused
    rows, uses, today = rows_of(facts, duty), uses_of(facts), facts.as_of
    newest = rows.last()
    proof = rows.told(newest) if newest is not None else None
    note = awaited_note(facts, rows, newest)
    last = _last_asking(duty, uses, today - ONE_DAY)
    owed = []
    if last is not None and last >= facts.usage.resumed(today):
        owed = [t for t in _types(duty, uses, last) if not _tested(rows, t, last, today)]
    if owed:
        since = [_row_start(facts, uses, rows, t) for t in owed]
        due_on = min(d for d in since if d is not None)
        return dated(facts, duty, due_on, proof, _told("no test that counts on a day of use", owed, note))
    owed = [t for t in _types(duty, uses, today) if not _tested(rows, t, today, today)]
    if owed and uses.last(today) == today:
        return dated(facts, duty, today, proof, _told("used today, not tested yet", owed, note))
    if uses.last(today) is None:
        note = "no load and no spore test is on record: days of use are not known"
    return blank(duty, State.OK, note or "due on the next day of use", proof)


def _last_asking(duty: Duty, uses: Uses, to: date) -> date | None:
    """The last day of use of `to` or before that asks a test."""
    day = uses.last(to)
    while day is not None and not _types(duty, uses, day):
        day = uses.last(day - ONE_DAY)
    return day


def _types(duty: Duty, uses: Uses, day: date) -> tuple[str, ...]:
    return uses.types(day) if duty.every == BY_TYPE else (ANY,)


def _told(what: str, types, note: str) -> str:
    named_types = [f"cycle type {t!r}" for t in types if t]
    return "; ".join([what, *named_types, *([note] if note else [])])


def _tested(rows: DutyRows, cycle_type: str, first: date, last: date) -> bool:
    return any(cycle_type in (ANY, named(rows.cycle_type(f))) for f in rows.counting(first, last))


def _row_start(facts: DutyFacts, uses: Uses, rows: DutyRows, cycle_type: str) -> date | None:
    """The first day of use without a test since the last one that counts and since the return to use."""
    since = facts.usage.resumed(facts.as_of)
    for fact in reversed(rows.within(since, facts.as_of)):
        if rows.counts(fact) and cycle_type in (ANY, named(rows.cycle_type(fact))):
            since = rows.day(fact) + ONE_DAY
            break
    return uses.first(since) if cycle_type == ANY else uses.first_of(cycle_type, since)


def spans(facts: DutyFacts, duty: Duty, first: date, last: date) -> list[Span]:
    """One for each day of use (and cycle type) from `first` to `last`, oldest first."""
    rows, uses = rows_of(facts, duty), uses_of(facts)
    first, last = max(first, facts.usage.begin), min(last, facts.as_of)
    done = _by_day(rows.within(first, last), rows.day)
    if duty.every == BY_TYPE:
        asked = uses.types_by_day(first, last)
    else:
        asked = dict.fromkeys(uses.days(first, last), (ANY,))
    return [_day(facts, rows, day, t, done.get(day, ())) for day, types in asked.items() for t in types]


def _by_day(rows, day=happened_on) -> dict[date, list]:
    out: dict[date, list] = {}
    for fact in rows:
        out.setdefault(day(fact), []).append(fact)
    return out


def _day(facts: DutyFacts, rows: DutyRows, day: date, cycle_type: str, done) -> Span:
    held = [f for f in done if cycle_type in (ANY, named(rows.cycle_type(f)))]
    return _judged(facts, rows, day, held, f"cycle type {cycle_type!r}" if cycle_type else "")


def _judged(facts: DutyFacts, rows: DutyRows, day: date, held, words: str) -> Span:
    """What became of one day, or one load, with the tests that answer to it."""
    counting = tuple(f for f in held if rows.counts(f))
    if counting:
        known = any(rows.result(f) != AWAITED for f in counting)
        return Span(day, day, MET if known else AWAITED, words, day, counting, rows.told)
    result, text, due_on = _without(facts, rows, day, held)
    note = f"{words}: {text}" if words else text
    return Span(day, day, result, note, due_on, tuple(held), rows.told)


def _without(facts: DutyFacts, rows: DutyRows, day: date, held) -> tuple[str, str, date | None]:
    """(result, reason, day due) of a day without anything that counts."""
    why = facts.usage.why_idle(day)
    if why:
        return EXEMPT, why, None
    if day >= facts.as_of:
        return OPEN, "not over yet", day
    invalid = any(rows.result(f) == INVALID for f in held)
    return INVALID if invalid else MISSED, "nothing that counts", day


# ------------------------------------------------------------------------------------------------ implants


def implant_clock(facts: DutyFacts, duty: Duty) -> Clock:
    """The due item of loads with an implant: due on the day of the load, overdue until a later test that counts."""
    unused = not_in_use(facts, duty)
    if unused is not None:
        return unused
    loads = implant_loads(facts)
    if not loads:
        return blank(duty, State.NOT_APPLICABLE, "no load with an implant is on record")
    rows = rows_of(facts, duty)
    newest = rows.last()
    proof = rows.told(newest) if newest is not None else None
    since = rows.day(newest) if newest is not None else date.min
    for load in loads[bisect_left(loads, since, key=happened_on) :]:
        if not any(rows.counts(t) for t in _tests_of(facts, load)):
            note = f"cycle {load.cycle_number or '?'} held an implant; no spore test of that cycle that counts"
            return dated(facts, duty, happened_on(load), proof, note)
    return blank(duty, State.OK, "due with the next load that holds an implant", proof)


def implant_spans(facts: DutyFacts, duty: Duty, first: date, last: date) -> list[Span]:
    """One for each load with an implant from `first` to `last`, oldest first."""
    rows = rows_of(facts, duty)
    loads = _within(implant_loads(facts), max(first, facts.usage.begin), min(last, facts.as_of))
    return [
        _judged(facts, rows, happened_on(x), _tests_of(facts, x), f"cycle {x.cycle_number or '?'}") for x in loads
    ]


def implant_loads(facts: DutyFacts) -> list[LoadFact]:
    """Loads with an implant, in order."""
    return facts.once("implants", lambda: [x for x in in_order(facts.unit.loads) if x.implant])


def _tests_of(facts: DutyFacts, load: LoadFact) -> list:
    return spore_tests_of(facts.unit.bio_tests, load)
