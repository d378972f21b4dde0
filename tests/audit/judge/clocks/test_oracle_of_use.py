"""Slow oracles of the due items: a diary kept day by day, written without the engine's own helpers.

Each story is told up to some day; the diary says what a careful person would have written of that day and of every
stretch before it, and the engine must say the same. Here: days of use, implants, events, counters.
"""

import random
from dataclasses import replace
from fractions import Fraction

import pytest
from dateutil.relativedelta import relativedelta

from audit.facts import unit_by_day
from audit.judge.clocks.frequency import duty_clock
from audit.judge.clocks.plan import plan_clocks
from audit.judge.clocks.spans import spans
from audit.judge.situation import at, settle
from tests.audit.judge.clock_stories import (
    AWAITED_DAYS,
    BASE,
    FIRST,
    STORIES,
    TYPES,
    Story,
    a_duty,
    a_story,
    a_test,
    counts,
    day_of,
    days_of,
    facts_on,
    told,
    typed,
)
from tests.fact_builders import bio, clinic, counter, event, line, load, unit

pytestmark = pytest.mark.laws

# ------------------------------------------------------------------------------------------------ days of use


def diary_of_use(story, duty, now, by_type):
    """Each evening: what was run, what was tested; a page a day."""
    used = story.used(now)
    debts, found, said = {}, [], None
    last_used = None
    for d in range(now + 1):
        done = [(w, t) for e, w, t in typed(story.done) if e == d]
        good = {t for w, t in done if counts("biological", w, d, now)}
        run = {t for e, t, _ in story.loads if e == d} | {t for _, t in done}
        asked = sorted(run) if by_type else ["any"] * bool(run)
        page = {}
        for t in asked:
            mine = [w for w, x in done if not by_type or x == t]
            met = [w for w in mine if counts("biological", w, d, now)]
            if met:
                page[t] = "awaited" if set(met) == {"awaited"} else "met"
            elif not used(d):
                page[t] = "exempt"
            elif d == now:
                page[t] = "open"
            else:
                page[t] = "invalid" if "invalid" in mine else "missed"
        found += [(d, d, page[t]) for t in asked]
        for t in good if by_type else {"any"} if good else ():
            debts.pop(t, None)
        owing = [(debts[t]) for t in (last_used or ()) if t in debts]
        if owing:
            said = ("overdue", min(owing), min(owing) + 1)
        elif "open" in page.values():
            said = ("due", d, d + 1)
        else:
            said = ("ok", None, None)
        for t in asked:
            if page[t] in ("missed", "invalid", "open"):
                debts.setdefault(t, d)
        if asked and used(d):  # a test alone, while it is out of use, is no day of use
            last_used = asked
    return (said if used(now) or said[0] == "overdue" else ("not applicable", None, None)), found


@pytest.mark.parametrize("by_type", [False, True])
def test_days_of_use_against_a_diary(by_type):
    every = "day-of-use-and-cycle-type" if by_type else "day-of-use"
    duty, seen = a_duty(every), set()
    for seed in range(STORIES * 2):
        chance = random.Random(f"{every}-{seed}")
        story = a_story(
            chance, 40, "biological", rate=chance.choice([0.2, 0.5, 0.8]), loads=chance.choice([0.3, 0.8])
        )
        story.done = [(d, (w, chance.choice(TYPES))) for d, w in story.done for _ in range(chance.choice([1, 1, 2]))]
        for now in chance.sample(range(40), 3):
            facts = facts_on(story, duty, now)
            said, found = diary_of_use(story, duty, now, by_type)
            assert days_of(duty_clock(facts, duty)) == said, (seed, now, story)
            assert told(facts, duty, 0, now) == found, (seed, now, story)
            seen |= {said[0], *(r for _, _, r in found)}
    assert {"ok", "due", "overdue", "not applicable", "met", "missed", "invalid", "exempt", "open"} <= seen


# ------------------------------------------------------------------------------------------------ implants


def test_implant_loads_against_a_diary():
    duty, seen = a_duty("each-implant-load"), set()
    for seed in range(STORIES * 2):
        chance = random.Random(f"implants-{seed}")
        loads = [(d, c, chance.random() < 0.4) for d in range(20) for c in "ab" if chance.random() < 0.3]
        tests = [
            (d, chance.choice(["a", "b", ""]), chance.random() < 0.3, chance.choice(["pass", "pass", "invalid"]))
            for d in range(20)
            if chance.random() < 0.4
        ]
        held = unit(
            FIRST,
            events=(event(FIRST),),
            loads=tuple(load(day_of(d), c, implant=i) for d, c, i in loads),
            bio_tests=tuple(bio(day_of(d), result=w, known=day_of(d), cycle=c, implant=i) for d, c, i, w in tests),
        )
        for now in chance.sample(range(20), 3):
            today = day_of(now)
            facts = at(settle(held, clinic(held, regime="base"), replace(BASE, duties=(duty,)), today), today).duty
            found, debts = [], []
            for d in range(now + 1):
                good = [t for t in tests if t[0] == d and t[3] == "pass"]
                if good:  # a spore test that counts ends what was owed from the days before
                    debts = []
                for _, cycle, _ in [x for x in loads if x[0] == d and x[2]]:
                    mine = [t for t in tests if t[0] == d and (t[1] == cycle or (t[2] and t[1] == ""))]
                    if any(t in good for t in mine):
                        found.append((d, d, "met"))
                        continue
                    debts.append(d)
                    late = "invalid" if mine else "missed"
                    found.append((d, d, "open" if d == now else late))
            said = ("ok", None, None)
            if not found:
                said = ("not applicable", None, None)
            elif debts:
                said = ("overdue" if debts[0] < now else "due", debts[0], debts[0] + 1)
            assert days_of(duty_clock(facts, duty)) == said, (seed, now, loads, tests)
            assert told(facts, duty, 0, now) == found, (seed, now, loads, tests)
            seen |= {said[0], *(r for _, _, r in found)}
    assert {"ok", "due", "overdue", "not applicable", "met", "missed", "invalid", "open"} <= seen


# ------------------------------------------------------------------------------------------------ after an event


def diary_of_events(story, moves, tests, duty, now):
    """The newest event begins a page; the tests in a row are tallied on it, each cycle type apart where asked."""
    events = [d for d in moves if d <= now]
    idle_next = None
    if duty.idle_days:
        days = sorted({d for d, _, _ in story.loads if d <= now} | {t[0] for t in tests if t[0] <= now})
        for n, d in enumerate(days):
            after = days[n + 1] if n + 1 < len(days) else None
            start = d + duty.idle_days + 1
            if (after is None and start <= now) or (after is not None and start <= after):
                events.append(start + 0.5)  # at once: no use before the tests
            elif after is None:
                idle_next = start
    if not story.loads or not any(d <= now for d, _, _ in story.loads):
        events, idle_next = [d for d in moves if d <= now], None
    if not events:
        return (("ok", idle_next, idle_next) if idle_next is not None else None), None
    newest = max(events)
    day, at_once = int(newest), newest != int(newest)
    columns = {"all"}
    if duty.each_cycle_type:
        before = day_of(day) - relativedelta(months=12)
        columns = {t for d, t, _ in story.loads if before <= day_of(d) and d <= day}
        columns = columns or {t[2] for t in tests if before <= day_of(t[0]) and t[0] <= day} or {"all"}
    tally, ready, proven = dict.fromkeys(columns, 0), set(), False
    for d, what, cycle_type, chamber in tests:
        column = cycle_type if columns != {"all"} else "all"
        if d < day or d > now or proven:
            continue
        if d == day and (not at_once or day in moves) and what != "growth":  # after a move of that day? Not shown
            continue
        if what == "growth":
            tally, ready = dict.fromkeys(columns, 0), set()
        elif column not in columns:
            continue
        elif what == "awaited" and duty.forbids:
            tally[column] = 0
        elif what == "pass" or (what == "awaited" and now <= d + AWAITED_DAYS):
            if duty.chamber in ("any", chamber):
                tally[column] += 1
        ready |= {c for c in columns if tally[c] >= duty.passes}
        proven = ready >= columns
    if proven:
        return ("ok", idle_next, idle_next), True
    late = now >= day if at_once else now > day
    return ("overdue" if late else "due", day, day if at_once else day + 1), False


@pytest.mark.parametrize("idle_days", [0, 14])
def test_after_an_event_against_a_diary(idle_days):
    seen = set()
    for seed in (*range(STORIES * 2), 5967):  # the last: moved on the day on which it was unused for too long
        chance = random.Random(f"events-{idle_days}-{seed}")
        more = {"events": ("relocated", "idle") if idle_days else ("relocated",), "idle_days": idle_days}
        duty = a_duty(
            "after-event",
            passes=chance.choice([1, 3]),
            chamber=chance.choice(["any", "any", "full"]),
            each_cycle_type=chance.random() < 0.4,
            forbids=chance.random() < 0.5,
            **more,
        )
        story = Story(loads=[(d, chance.choice(TYPES), 30) for d in range(60) if chance.random() < 0.1])
        moves = chance.sample(range(60), chance.choice([0, 1, 2]))
        rate = chance.choice([0.05, 0.3])
        tests = [
            (
                d,
                chance.choice(["pass", "pass", "pass", "growth", "awaited"]),
                chance.choice(TYPES),
                chance.choice(["full", "full", "empty"]),
            )
            for d in range(60)
            if chance.random() < rate
        ]
        made = [a_test(*test) for test in tests]
        held = unit(
            FIRST,
            events=(event(FIRST), *(event(day_of(d), "relocated") for d in moves)),
            bio_tests=tuple(made),
            loads=tuple(load(day_of(d), program=t) for d, t, _ in story.loads),
        )
        for now in chance.sample(range(80), 3):
            today = day_of(now)
            facts = at(settle(held, clinic(held, regime="base"), replace(BASE, duties=(duty,)), today), today).duty
            said, proven = diary_of_events(story, moves, tests, duty, now)
            clock = duty_clock(facts, duty)
            assert (days_of(clock) if clock else None) == said, (seed, now, duty, moves, tests, story.loads)
            newest = spans(facts, duty, FIRST, today)[-1:]
            if proven is not None:
                assert (newest[0].result in ("met", "met late", "awaited")) is proven, (seed, now)
            seen.add(said and said[0])
    assert {None, "ok", "overdue"} | ({"due"} if not idle_days else set()) <= seen


# ------------------------------------------------------------------------------------------------ counters


def diary_of_counter(readings, base, limit):
    """The day the counter reaches `limit` more than on `base`, found day by day; None where it cannot be said."""

    def at_day(d):
        before = [r for r in readings if r[0] <= d]
        after = [r for r in readings if r[0] >= d]
        if before and after:
            (a, low), (b, high) = before[-1], after[0]
            return Fraction(low) if a == b else Fraction(low) + Fraction(high - low) * (d - a) / (b - a)
        if pace is None:
            return None
        near = before[-1] if before else after[0]
        return Fraction(near[1]) + pace * (d - near[0])

    early = [r for r in readings if readings[-1][0] - r[0] >= 28]
    pace = None
    if early:
        pace = Fraction(readings[-1][1] - early[-1][1]) / (readings[-1][0] - early[-1][0])
    start = at_day(base)
    if start is None:
        return None
    start = max(start, Fraction(0))  # no counter was ever below nought
    if base < readings[0][0]:
        readings = [(base, start), *readings]
    for d in range(base, 20000):
        if d > readings[-1][0] and not pace:
            return None
        total = at_day(d)
        if total is not None and total >= start + limit:
            return d
    return None


def word_of_few_readings(readings, base, limit):
    """(state, day) where no two readings are 28 days apart: they are good for 28 days if less was run by then."""
    before = [r for r in readings if r[0] <= base]
    after = [r for r in readings if r[0] >= base]
    shown = None  # at the base: not known
    if before and after:
        (a, low), (b, high) = before[-1], after[0]
        shown = low if a == b else low + Fraction(high - low) * (base - a) / (b - a)
    if shown is None or readings[-1][1] - shown >= limit:
        return "no evidence", None
    return None, max(base, readings[-1][0]) + 28


def test_cycles_and_hours_against_a_diary():
    reached, few = 0, set()
    for seed in range(STORIES * 2):
        chance = random.Random(f"counter-{seed}")
        name = chance.choice(["cycles", "hours"])
        total, readings = 0, []
        for d in sorted(chance.sample(range(0, 200), chance.randrange(1, 6))):
            total += chance.choice([0, 3, 50, 120])
            readings.append((d, total))
        change = chance.choice(
            [None, *range(1, len(readings))]
        )  # a new board: it shows less, the offset tells how much
        counters = []
        for n, (d, life) in enumerate(readings):
            offset = readings[change - 1][1] if change is not None and n >= change else 0
            counters.append(counter(day_of(d), life - offset, offset, name))
        base, limit = chance.randrange(0, 150), chance.choice([1, 40, 100, 300])
        plan = (line(months=None, lead=0, **{name: limit}),)
        facts = unit(FIRST, plan=plan, events=(event(day_of(base)),), counters=tuple(counters))
        clock = plan_clocks(unit_by_day(facts, day_of(200)), day_of(200))[0]
        expected = diary_of_counter(readings, base, limit)
        state = None
        if expected is None and readings[-1][0] - readings[0][0] < 28:
            state, expected = word_of_few_readings(readings, base, limit)
            few.add(state)
        assert days_of(clock)[1] == expected, (seed, readings, base, limit)
        assert state is None or clock.state == state
        reached += expected is not None
    assert reached > STORIES / 2 and few == {None, "no evidence"}
