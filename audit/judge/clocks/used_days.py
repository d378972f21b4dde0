"""On each day of use (for each cycle type used that day), and in every load that holds an implant.

Days of use are known from the loads and the spore tests logged. A day of use asks its test that very day: until it is
done the item is due; from the next day on the day is missed, which nothing makes good. The item stays overdue until
the next one that counts (of the same cycle type where the rules ask each type), or the next day of use, which has its
own; also while the unit is out of use and after its return. What ran while it was out of use, and was no load, is no
day of use. A load whose cycle type is not recorded is met by any test of its day. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left
from datetime import date

from audit.facts import LoadFact, happened_on, in_order, within
from audit.facts.dates import ONE_DAY
from audit.judge.cycle_of_load import spore_tests_of
from audit.judge.cycle_types import named
from audit.judge.judgement import Clock, State
from audit.judge.plain_loads import REMARKABLE, remarkable
from audit.regimes.model import Duty

from .build import awaited_note, blank, dated, not_in_use
from .duty import DutyFacts
from .rows import DutyRows, rows_of
from .uses import Uses, uses_of
from .values import AWAITED, EXEMPT, INVALID, MET, MISSED, OPEN, Span

ANY = ""  # cycle types are not told apart, or the type is not recorded
BY_TYPE = "day-of-use-and-cycle-type"
EACH_DAY = ("day-of-use", BY_TYPE)


# ------------------------------------------------------------------------------------------------ days of use


def clock(facts: DutyFacts, duty: Duty) -> Clock:
    """The due item on the day."""
    rows, uses, today = rows_of(facts, duty), uses_of(facts), facts.as_of
    newest = rows.last()
    proof = rows.told(newest) if newest is not None else None
    note = awaited_note(facts, rows, newest)
    last = _last_asking(facts, duty, uses, today - ONE_DAY)
    owed = [] if last is None else [t for t in _types(duty, uses, last) if not _tested(rows, t, last, today)]
    if owed:
        since = [_row_start(facts, uses, rows, t) for t in owed]
        due_on = min([d for d in since if d is not None], default=last)
        return dated(facts, duty, due_on, proof, _told("no test that counts on a day of use", owed, note))
    unused = not_in_use(facts, duty)
    if unused is not None:
        return unused
    owed = [t for t in _types(duty, uses, today) if not _tested(rows, t, today, today)]
    if owed and uses.last(today) == today:
        return dated(facts, duty, today, proof, _told("used today, not tested yet", owed, note))
    if uses.last(today) is None:
        note = "no load and no spore test is on record: days of use are not known"
    elif not _tested(rows, ANY, today, today):
        note = note or "due on each day of use, before the first load; not done today"
    return blank(duty, State.OK, note or "due on the next day of use", proof)


def not_done_today(facts: DutyFacts, duty: Duty) -> bool:
    """Whether the duty asks a test on each day of use, the unit is in use today, and the test is still to be done.

    Where each cycle type asks its own: that of any used today, or of all while nothing was run.
    """
    if duty.every not in EACH_DAY or not facts.usage.in_use(facts.as_of):
        return False
    rows, today = rows_of(facts, duty), facts.as_of
    types = (_types(duty, uses_of(facts), today) if duty.every == BY_TYPE else ()) or (ANY,)
    return not all(_tested(rows, t, today, today) for t in types)


def _last_asking(facts: DutyFacts, duty: Duty, uses: Uses, to: date) -> date | None:
    """The last day of use of `to` or before that asks a test; what ran while it was out of use asks none."""
    day = uses.last(to)
    while day is not None and not (facts.usage.in_use(day) and _types(duty, uses, day)):
        day = uses.last(day - ONE_DAY)
    return day


def last_owed(facts: DutyFacts, duty: Duty, since: date) -> date | None:
    """The last day after `since`, and before the day itself, on which a day of use stood without its test; else None.

    A day of use without its test is owed from the day after it to the next one that counts, or the next day of use.
    """
    rows, uses = rows_of(facts, duty), uses_of(facts)
    run = uses.types_by_day(since, facts.as_of)
    asked = [(d, run[d] if duty.every == BY_TYPE else (ANY,)) for d in run if facts.usage.in_use(d) and run[d]]
    tested: dict[str, date] = {}  # by type, the first test that counts of the days looked at so far, newest first
    done, n, following = list(rows.counting(since, facts.as_of)), 0, facts.as_of
    done.reverse()
    for day, types in reversed(asked):
        while n < len(done) and rows.day(done[n]) >= day:
            tested[named(rows.cycle_type(done[n]))] = tested[ANY] = rows.day(done[n])
            n += 1
        until = max(tested.get(t, date.max) for t in types)
        last = min(following, until - ONE_DAY, facts.as_of - ONE_DAY)
        if last > day:
            return last
        following = day
    return None


def _types(duty: Duty, uses: Uses, day: date) -> tuple[str, ...]:
    return uses.types(day) if duty.every == BY_TYPE else (ANY,)


def _told(what: str, types, note: str) -> str:
    named_types = [f"cycle type {t!r}" for t in types if t]
    return "; ".join([what, *named_types, *([note] if note else [])])


def _tested(rows: DutyRows, cycle_type: str, first: date, last: date) -> bool:
    return any(cycle_type in (ANY, named(rows.cycle_type(f))) for f in rows.counting(first, last))


def _row_start(facts: DutyFacts, uses: Uses, rows: DutyRows, cycle_type: str) -> date | None:
    """The first day of use without a test since the last one that counts, of the unit's time out of use none."""
    since = facts.usage.begin
    for fact in reversed(rows.within(since, facts.as_of)):
        if rows.counts(fact) and cycle_type in (ANY, named(rows.cycle_type(fact))):
            since = rows.day(fact) + ONE_DAY
            break
    day = _used(uses, cycle_type, since)
    while day is not None and not facts.usage.in_use(day):
        day = _used(uses, cycle_type, day + ONE_DAY)
    return day


def _used(uses: Uses, cycle_type: str, since: date) -> date | None:
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
    held = done if cycle_type == ANY else [f for f in done if cycle_type == named(rows.cycle_type(f))]
    return _judged(facts, rows, day, held, f"cycle type {cycle_type!r}" if cycle_type else "")


def _judged(facts: DutyFacts, rows: DutyRows, day: date, held, words: str) -> Span:
    """What became of one day, or one load, with the tests that answer to it."""
    counting = tuple([f for f in held if rows.counts(f)])
    if counting:
        known = any([rows.result(f) != AWAITED for f in counting])
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


def _none_on_record(facts: DutyFacts, duty: Duty) -> Clock:
    """The same on every day that is looked at."""
    key = ("no implant", duty.id)
    of, kept = facts.memo.get(key, (None, None))
    if of is not duty:
        kept = blank(duty, State.NOT_APPLICABLE, "no load with an implant is on record")
        facts.memo[key] = duty, kept
    return kept


def implant_clock(facts: DutyFacts, duty: Duty) -> Clock:
    """The due item of loads with an implant: due on the day of the load, overdue until a later test that counts."""
    loads, unused = implant_loads(facts), not_in_use(facts, duty)
    if not loads:
        return unused or _none_on_record(facts, duty)
    rows = rows_of(facts, duty)
    newest = rows.last()
    proof = rows.told(newest) if newest is not None else None
    since = rows.day(newest) if newest is not None else date.min
    for load in loads[bisect_left(loads, since, key=happened_on) :]:
        if not any(rows.counts(t) for t in _tests_of(facts, load)):
            note = f"cycle {load.cycle_number or '?'} held an implant; no spore test of that cycle that counts"
            return dated(facts, duty, happened_on(load), proof, note)
    return unused or blank(duty, State.OK, "due with the next load that holds an implant", proof)


def implant_spans(facts: DutyFacts, duty: Duty, first: date, last: date) -> list[Span]:
    """One for each load with an implant from `first` to `last`, oldest first."""
    rows = rows_of(facts, duty)
    loads = within(implant_loads(facts), max(first, facts.usage.begin), min(last, facts.as_of))
    return [
        _judged(facts, rows, happened_on(x), _tests_of(facts, x), f"cycle {x.cycle_number or '?'}") for x in loads
    ]


def implant_loads(facts: DutyFacts) -> list[LoadFact]:
    """Loads with an implant, in order."""
    told = facts.once(REMARKABLE, lambda: remarkable(in_order(facts.unit.loads)))
    return facts.once("implants", lambda: [x for x in told if x.implant])


def _tests_of(facts: DutyFacts, load: LoadFact) -> list:
    return spore_tests_of(facts.unit.bio_tests, load)
