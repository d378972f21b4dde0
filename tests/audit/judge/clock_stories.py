"""Stories for the slow oracles of the due items: what was done to one unit, day by day, and the facts made of it."""

from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cache

from audit.judge.clocks.spans import spans
from audit.judge.situation import at, settle
from audit.regimes import load_regime
from audit.regimes.model import FREQUENCIES, Duty
from audit.regimes.source import Source
from tests.examples import examples
from tests.fact_builders import (
    air,
    bio,
    clinic,
    closure,
    document,
    event,
    job,
    leak,
    load,
    outcome,
    placed,
    terms,
    unit,
    user_check,
)

FIRST = date(2025, 1, 15)  # within a week, a month, a quarter, a year
BASE = replace(load_regime("base"), failure=())  # no failure takes the unit out of service here
STORIES = examples(150)
AWAITED_DAYS = 1 + 7  # a day of incubation (24 h on the label), then seven days, as the base rules have it
TYPES = ("wrapped", "unwrapped")


@cache
def day_of(n):
    return FIRST + timedelta(days=n)


def a_duty(every, subject="biological", **more):
    plain = {
        "id": "biological-test" if subject == "biological" else "duty-of-test",
        "subject": subject,
        "title": "invented duty",
        "every": every,
        "count": 1,
        "hours": 0,
        "events": (),
        "passes": 1,
        "chamber": "any",
        "each_cycle_type": False,
        "idle_days": 0,
        "equipment": (),
        "forbids": False,
        "signed": False,
        "lead_days": 0,
        "words": FREQUENCIES[every].format(count=more.get("count", 1), hours=more.get("hours", 0), events="it"),
        "note": "",
        "source": Source("invented"),
    }
    return Duty(**(plain | more))


@dataclass
class Story:
    """Days are numbers from the first day; everything is known on the day it happened."""

    installed: bool = True
    done: list = field(default_factory=list)  # (day, what)
    out: list = field(default_factory=list)  # (withdrawn, returned or None)
    stored: list = field(default_factory=list)  # (stored, in use again or None)
    shut: list = field(default_factory=list)  # (first, last)
    loads: list = field(default_factory=list)  # (day, cycle type, minutes or None)
    week_start: int = 0

    def idle(self, now):
        """Days on which it could not be used, as known on `now`; far enough ahead."""
        days = set()
        for since, until in self.out:
            if since <= now:
                end = until if until is not None and until <= now else 5000
                days |= set(range(since + 1, end))
        for since, until in self.stored:
            if since <= now:
                end = until if until is not None and until <= now else 5000
                days |= set(range(since, end))
        return days - {d for d, _, _ in self.loads if d <= now}  # what ran was in use

    def used(self, now):
        """Whether it could be used, by day."""
        idle = self.idle(now)
        return lambda d: d >= 0 and d not in idle


OUTCOMES = {
    # subject: {what: does it count?}
    "biological": {"pass": True, "invalid": False, "awaited": None},
    "air removal": {"pass": True, "fail": True},
    "air leak": {"pass": True, "fail": True},
    "automatic control": {"pass": True, "fail": False, "not done": False, "unsigned": False},
    "servicing": {"done": True, "looked": False, "open": False},
    "validation report": {"paper": True},
}


def counts(subject, what, day, now):
    """Whether it counts on `now`; a spore test awaited does within reason."""
    found = OUTCOMES[subject][what]
    return now <= day + AWAITED_DAYS if found is None else found


def rows_of(subject, done):
    """The facts of a unit for what was done."""
    if subject == "biological":
        made = [
            bio(day_of(d), result="" if w == "awaited" else w, known=day_of(d), cycle_type=t)
            for d, w, t in typed(done)
        ]
        return {"bio_tests": tuple(made)}
    if subject == "air removal":
        return {"air_removal": tuple(air(day_of(d), w) for d, w in done)}
    if subject == "air leak":
        return {"leaks": tuple(leak(day_of(d), w) for d, w in done)}
    if subject == "servicing":
        return {"jobs": tuple(_job(day_of(d), w) for d, w in done)}
    if subject == "validation report":
        return {"documents": tuple(document(subject, day_of(d)) for d, _ in done)}
    made = [
        user_check(day_of(d), subject, "pass" if w == "unsigned" else w, signed="" if w == "unsigned" else "A. User")
        for d, w in done
    ]
    return {"checks": tuple(made)}


def a_test(day, what, cycle_type, chamber="full"):
    """A spore test whose result, if any, is known on the day of its cycle."""
    result = "" if what == "awaited" else what
    return bio(day_of(day), result=result, known=day_of(day), cycle_type=cycle_type, chamber=chamber)


def typed(done):
    return [(d, *w) if isinstance(w, tuple) else (d, w, "wrapped") for d, w in done]


def _job(day, what):
    outcomes = (outcome(day, what="done" if what != "looked" else "not due"),)
    return job(day, outcomes=outcomes, end="" if what == "open" else "released")


_made: dict = {}  # the newest story alone: each is told on several days, and its facts are the same


def facts_on(story, duty, now):
    """What the engine is given of the story on a day."""
    asked = repr(story), duty.subject
    if asked not in _made:
        _made.clear()
        _made[asked] = _facts_of(story, duty.subject)
    held, place = _made[asked]
    today = day_of(now)
    return at(settle(held, place, replace(BASE, duties=(duty,)), today), today).duty


def _facts_of(story, subject):
    """The unit and its clinic, of all days."""
    events = [event(day_of(0))] if story.installed else []
    for since, until in story.out:
        events.append(event(day_of(since), "withdrawn"))
        events += [event(day_of(until), "returned")] if until is not None else []
    placements = [placed(day_of(0))]
    for since, until in story.stored:
        placements.append(placed(day_of(since), "stored as spare"))
        placements += [placed(day_of(until))] if until is not None else []
    more = rows_of(subject, story.done)
    held = unit(
        FIRST,
        type="dynamic air removal",
        events=tuple(events),
        placements=tuple(placements),
        loads=tuple(load(day_of(d), program=t, minutes=m) for d, t, m in story.loads),
        **more,
    )
    shut = tuple(closure(day_of(a), day_of(b), day=FIRST) for a, b in story.shut)
    return held, clinic(held, terms=(terms("base", week_start=story.week_start),), closures=shut)


def a_story(chance, length, subject, rate=0.15, loads=0.0):
    """A random story; `rate`: how many tests a day, `loads`: on how many days it is used."""
    story = Story(installed=chance.random() < 0.7, week_start=chance.randrange(7))
    whats = list(OUTCOMES[subject])
    story.done = [
        (d, chance.choice(whats) if chance.random() < 0.4 else whats[0])
        for d in range(length)
        if chance.random() < rate
    ]
    if chance.random() < 0.5:
        since = chance.randrange(length)
        story.out.append((since, since + chance.choice([1, 2, 9, 30, 70]) if chance.random() < 0.8 else None))
    if chance.random() < 0.3:
        since = chance.randrange(1, length)
        story.stored.append((since, since + chance.randrange(1, 60)))
    for _ in range(chance.choice([0, 0, 1, 3])):
        since = chance.randrange(length)
        story.shut.append((since, since + chance.choice([0, 6, 7, 13, 20])))
    for d in range(length):
        if chance.random() < loads:
            for _ in range(chance.choice([1, 1, 2, 4])):
                story.loads.append((d, chance.choice(TYPES), chance.choice([30, 30, 45, 240, None])))
    return story


def told(facts, duty, start, to):
    """What the engine says of the stretches: (first, last, result), as numbers of days."""
    said = spans(facts, duty, day_of(start), day_of(to))
    return [((s.start - FIRST).days, (s.end - FIRST).days, s.result) for s in said]


def days_of(clock):
    """State, due and overdue of a due item, as numbers of days."""
    return (
        str(clock.state),
        None if clock.due_on is None else (clock.due_on - FIRST).days,
        None if clock.overdue_on is None else (clock.overdue_on - FIRST).days,
    )
