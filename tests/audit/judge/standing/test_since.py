"""Since when a unit is in service, against the answers of all the days before: each is judged by itself."""

import random
from datetime import date, timedelta

import pytest

from audit.judge.evaluate import evaluate
from audit.judge.judgement import Word
from tests.examples import examples
from tests.fact_builders import (
    air,
    bio,
    clinic,
    counter,
    event,
    job,
    line,
    load,
    outcome,
    placed,
    unit,
    user_check,
)

pytestmark = pytest.mark.laws
FIRST = date(2025, 1, 1)
RULES = (
    "us-dental-cdc-2003",
    "us-or-dental",
    "us-ca-body-art",
    "us-in",
    "ca-on-dental",
    "us-healthcare-cdc-2008",
    "ca-toronto-personal-services",
)


def day_of(n):
    return FIRST + timedelta(days=n)


def a_history(chance, length):
    """A unit tested, used, moved, stored and worked on at random; every result is known on the day of its cycle."""
    often = chance.choice([0.1, 0.3, 0.9])

    def days(rate):
        return [n for n in range(length) if chance.random() < rate]

    def when():
        return chance.choice(["", "08:00", "15:00"])

    events = [event(day_of(0)), *(event(day_of(n), "relocated") for n in days(0.01))]
    for n in days(0.02):
        events += [event(day_of(n), "withdrawn"), event(day_of(n + chance.choice([1, 4, 9])), "returned")]
    placements = [placed(day_of(0))]
    for n in days(0.01):
        placements += [placed(day_of(n), "stored as spare"), placed(day_of(n + 6))]
    tests = [
        bio(day_of(n), result=chance.choice(["pass", "pass", "pass", "invalid"]), known=day_of(n), cycle=f"{n}{k}",
            at=when(), purpose=chance.choice(["routine", "requalification"]),
            cycle_type=chance.choice(["wrapped", "unwrapped"]))
        for n in days(often) for k in "12"
    ]  # fmt: skip
    total, counters = 0, []
    for n in days(0.04):
        total += chance.choice([1, 30, 90])
        counters.append(counter(day_of(n), total))
    return unit(
        FIRST,
        type="dynamic air removal",
        events=tuple(events),
        placements=tuple(placements),
        bio_tests=tuple(tests),
        air_removal=tuple(air(day_of(n)) for n in days(chance.choice([0.5, 1]))),
        checks=tuple(user_check(day_of(n)) for n in days(0.8)),
        loads=tuple(load(day_of(n), f"{n}9", program=chance.choice(["wrapped", "unwrapped"])) for n in days(0.4)),
        plan=(line("clean", "", "clean", months=chance.choice([1, 24]), cycles=chance.choice([None, 60]),
                   day="2025-01-01"),),
        jobs=tuple(
            job(day_of(n), outcomes=(outcome(day_of(n), "clean", "", "clean"),), tests=("V1", "V2"))
            for n in days(0.03)
        ),
        counters=tuple(counters),
    )  # fmt: skip


def word_on(held, rules, day):
    return evaluate(clinic(held, regime=rules), day, brief=True).units[0].standing


def test_it_was_in_service_on_every_day_since():
    """By the facts of each day alone; before that day it was not, unless it had not begun."""
    seen, told = set(), 0
    for seed in range(examples(200)):
        chance = random.Random(f"since-{seed}")
        length, rules = chance.choice([30, 70]), chance.choice(RULES)
        held = a_history(chance, length)
        last = day_of(length + chance.choice([-1, 0, 2]))
        said = word_on(held, rules, last)
        if said.rule != "R11":
            continue
        assert said.since is not None
        told += said.since > FIRST
        day = said.since
        while day <= last:
            found = word_on(held, rules, day)
            assert found.word is Word.IN_SERVICE, (seed, rules, said.since, day, found.reason)
            day += timedelta(days=1)
        seen.add(rules)
    assert told > 10 and len(seen) >= 5
