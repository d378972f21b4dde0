"""Slow oracles of the due items: a diary kept day by day, written without the engine's own helpers.

Each story is told up to some day; the diary says what a careful person would have written of that day and of every
stretch before it, and the engine must say the same. Here: periods, and so long after the last one.
"""

import random
from dataclasses import replace
from functools import cache

import pytest
from dateutil.relativedelta import relativedelta

from audit.judge.clocks.frequency import duty_clock
from audit.judge.situation import at, settle
from tests.audit.judge.clock_stories import (
    BASE,
    FIRST,
    STORIES,
    Story,
    a_duty,
    a_story,
    counts,
    day_of,
    days_of,
    facts_on,
    told,
)
from tests.fact_builders import clinic, document, event, placed, unit

pytestmark = pytest.mark.laws

# ------------------------------------------------------------------------------------------------ calendar periods


def weeks(story):
    return lambda d: (day_of(d).toordinal() - 1 - story.week_start) // 7  # ordinal 1 was a Monday


PERIODS = {
    "calendar-week": weeks,
    "calendar-week-with-patients": weeks,
    "calendar-month": lambda story: lambda d: (day_of(d).year, day_of(d).month),
    "calendar-quarter": lambda story: lambda d: (day_of(d).year, (day_of(d).month + 2) // 3),
    "calendar-year": lambda story: lambda d: day_of(d).year,
}
LENGTH = {"calendar-month": 200, "calendar-quarter": 500, "calendar-year": 1100}


@cache
def pages_from_to(every, week_start, until):
    """The days of each period, from long before the first day to the day before `until`."""
    number, pages = PERIODS[every](Story(week_start=week_start)), {}
    for d in range(-400, until):
        pages.setdefault(number(d), []).append(d)
    return list(pages.values())


def diary_of_periods(story, duty, now):
    """(state, due, overdue) of the day and every period begun, from the first day on."""
    number, used = PERIODS[duty.every](story), story.used(now)
    shut = {d for a, b in story.shut for d in range(a, b + 1)}
    begin = 0
    if not story.installed and number(-1) == number(0):  # records merely begin: from the first full period
        begin = next(d for d in range(1, 400) if number(d) != number(0))
    rows = []
    for days in pages_from_to(duty.every, story.week_start, now + 900):
        asks = [d for d in days if d >= begin and used(d)]
        held = [(d, w) for d, w in story.done if d in days and d <= now]
        seen = (held if duty.subject == "biological" else []) or [
            d for d, _, _ in story.loads if d in days and d <= now
        ]  # somebody was there
        if duty.every == "calendar-week-with-patients" and all(d in shut for d in days) and not seen:
            asks = []
        rows.append((days[0], days[-1], bool(asks), held, days[-1] < begin))
    counted = [r for r in rows if any(counts(duty.subject, w, d, now) for d, w in r[3])]
    after = counted[-1][1] if counted else -1000
    coming = next(((a, b) for a, b, asks, _, _ in rows if a > after and asks), None)
    if coming is not None and now > coming[1]:  # owed before it went out: still owed
        said = ("overdue", coming[1], coming[1] + 1)
    elif not used(now):
        said = ("not applicable", None, None)
    elif coming is None:
        said = ("ok", None, None)
    else:
        first, last = coming
        said = ("due" if now >= first else "ok", last, last + 1)
    found = []
    for first, last, asks, held, before in rows:
        if last < 0 or first > now:
            continue
        good = [w for d, w in held if counts(duty.subject, w, d, now)]
        if good:
            result = "awaited" if set(good) == {"awaited"} else "met"
        elif before or not asks:
            result = "before" if before else "exempt"
        elif last >= now:
            result = "open"
        else:
            result = "invalid" if {w for _, w in held} & {"invalid", "unsigned"} else "missed"
        found.append((first, last, result))
    return said, found


@pytest.mark.parametrize("every", PERIODS)
def test_periods_against_a_diary(every):
    seen = set()
    for seed in range(STORIES):
        chance = random.Random(f"{every}-{seed}")
        subject = chance.choice(["biological", "automatic control", "air leak", "servicing"])
        duty = a_duty(every, subject, signed=subject == "automatic control")
        length = LENGTH.get(every, 60)
        story = a_story(chance, length, subject, rate=8 / length, loads=chance.choice([0, 3 / length]))
        for now in chance.sample(range(length), 2):
            facts = facts_on(story, duty, now)
            said, found = diary_of_periods(story, duty, now)
            assert days_of(duty_clock(facts, duty)) == said, (seed, now, story)
            assert told(facts, duty, 0, now) == found, (seed, now, story)
            seen |= {said[0], *(r for _, _, r in found)}
    assert {"ok", "due", "overdue", "not applicable", "met", "missed", "exempt", "open", "before"} <= seen


# ------------------------------------------------------------------------------------------------ after the last one


def limit_of(story, duty, since, now, counted):
    """The last day in time after `since`."""
    if duty.every == "rolling-days":
        return since + duty.count
    months = (day_of(since) + relativedelta(months=duty.count) - FIRST).days
    if duty.every == "rolling-months":
        return months
    run, day = 0, None  # hours-or-days
    for d, _, minutes in sorted(story.loads, key=lambda x: x[0]):
        if since <= d <= now and day is None:  # on the day of a test it is not shown to have run before it
            run += minutes or 0
            day = d if run >= duty.hours * 60 else None
    return since + duty.count if day is None else min(day, since + duty.count)


def hours_unknown(story, duty, since, now):
    """Whether the hours may have been reached unseen: a day with a load of unknown length may have run 24 hours."""
    if not [d for d, _, _ in story.loads if d <= now]:
        return True
    run = [(d, m) for d, _, m in story.loads if since <= d <= now]
    dark = {d for d, m in run if m is None}
    most = sum(m or 0 for _, m in run) + 24 * 60 * len(dark)
    return bool(dark) and most >= duty.hours * 60


def diary_of_rolling(story, duty, now):
    """(state, due, overdue) of the day and every stretch from one that counts to the next."""
    used, paper = story.used(now), duty.subject == "validation report"
    good, awaited = {}, {}
    for d, w in story.done:
        if d <= now and counts(duty.subject, w, d, now):
            good[d] = True
            awaited[d] = awaited.get(d, True) and w == "awaited"
    last, begun, since, returned, late, late_on, found = 0, False, 0, 0, False, None, []
    limits = {}  # by the day it was last done
    for d in range(now + 1):
        if used(d) and not used(d - 1):
            returned = d
        if (last, begun) not in limits:
            limits[last, begun] = limit_of(story, duty, last, now, begun)
        limit = limits[last, begun]
        if not late and used(d) and d > (limit if paper else max(limit, returned)):
            late, late_on = True, d
        if d in good:
            found.append((since, d, "met late" if late else "awaited" if awaited[d] else "met"))
            last, begun, late, late_on, since = d, True, False, None, d + 1
    limit = limit_of(story, duty, last, now, begun)
    due = limit if paper else max(limit, returned)
    if late and not paper:
        due = late_on - 1  # from then on, whatever became of the unit since
    unproven = duty.subject in ("servicing", "validation report") and not story.installed and not begun
    if unproven:
        said = ("no evidence", None, None)
    elif late:
        said = ("overdue", due, due + 1)
    elif not used(now) and begun and last == now:  # the unit is out, and only the test itself ran
        said = ("not applicable", None, None)
    elif duty.every == "hours-or-days" and hours_unknown(story, duty, last, now):
        said = ("no evidence", None, None)
    elif not used(now):
        said = ("not applicable", None, None)
    else:
        said = ("due" if now == due else "ok", due, due + 1)
    if since <= now:
        if unproven or late:
            found.append((since, now, "missed"))
        elif not used(now):
            found.append((since, now, "exempt"))
        else:
            found.append((since, max(due, since), "open"))
    return said, found


ROLLING = [
    ("rolling-days", "biological", {"count": 14}, 70),
    ("rolling-days", "automatic control", {"count": 7, "signed": True}, 40),
    ("rolling-months", "servicing", {"count": 3}, 300),
    ("rolling-months", "validation report", {"count": 2}, 300),
    ("rolling-months", "air leak", {"count": 1}, 120),
    ("hours-or-days", "biological", {"count": 30, "hours": 40}, 100),
]


@pytest.mark.parametrize(("every", "subject", "more", "length"), ROLLING)
def test_rolling_against_a_diary(every, subject, more, length):
    duty, seen = a_duty(every, subject, **more), set()
    rare = 2 if every == "hours-or-days" else 1  # what is just due there is seldom met
    # The last seed: tested on a day on which it is out, of unknown hours before.
    for seed in (*range(STORIES * rare), 577):
        chance = random.Random(f"{every}-{subject}-{seed}")
        story = a_story(
            chance, length, subject, rate=chance.choice([3, 7, 12]) / length, loads=chance.choice([0.1, 0.6])
        )
        for now in chance.sample(range(length), 4):
            facts = facts_on(story, duty, now)
            said, found = diary_of_rolling(story, duty, now)
            assert days_of(duty_clock(facts, duty)) == said, (seed, now, story)
            assert told(facts, duty, 0, now) == found, (seed, now, story)
            seen |= {said[0], *(r for _, _, r in found)}
    assert {"ok", "due", "overdue", "not applicable", "met", "met late", "missed", "exempt", "open"} <= seen


@pytest.mark.parametrize("stored", [False, True])
def test_a_stated_day_against_a_diary(stored):
    """Reports at random days, some stating a last valid day, some none."""
    duty, seen = a_duty("stated-date", "pressure examination", count=2), set()
    for seed in range(STORIES):
        chance = random.Random(f"stated-{seed}")
        reports = sorted(
            (d, chance.choice([None, d + chance.randrange(5, 90)]))
            for d in chance.sample(range(150), chance.randrange(4))
        )
        papers = tuple(document(duty.subject, day_of(d), None if t is None else day_of(t)) for d, t in reports)
        placements = (placed(FIRST), *((placed(day_of(40), "stored as spare"), placed(day_of(60))) if stored else ()))
        held = unit(FIRST, events=(event(FIRST),), placements=placements, documents=papers)
        for now in chance.sample(range(170), 3):
            today = day_of(now)
            facts = at(settle(held, clinic(held, regime="base"), replace(BASE, duties=(duty,)), today), today).duty
            base, last = FIRST, None
            for d, t in reports:
                if d <= now:
                    base, last = day_of(d), None if t is None else day_of(t)
            due = base + relativedelta(months=2)
            due = min(due, last) if last else due
            state = "overdue" if today > due else "due" if today == due else "ok"
            expected = (state, (due - FIRST).days, (due - FIRST).days + 1)
            if stored and 40 <= now < 60 and (state != "overdue" or due >= day_of(39)):
                expected = ("not applicable", None, None)
            assert days_of(duty_clock(facts, duty)) == expected, (seed, now, reports)
            seen.add(expected[0])
    assert {"ok", "due", "overdue"} <= seen
