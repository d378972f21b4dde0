"""Random histories of one unit for laws about judgement. Days lie in one year; facts are consistent enough to log."""

from __future__ import annotations

import dataclasses
from datetime import date, timedelta

from hypothesis import strategies as st

from audit.regimes import regime_ids
from tests.fact_builders import (
    air,
    bio,
    case,
    clinic,
    closure,
    conclude,
    counter,
    document,
    event,
    fit,
    gap,
    job,
    leak,
    line,
    load,
    outcome,
    part,
    placed,
    position,
    step,
    terms,
    unit,
    user_check,
)

FIRST = date(2025, 1, 1)
LAST = date(2025, 12, 31)
days = st.integers(0, (LAST - FIRST).days).map(lambda n: FIRST + timedelta(days=n))
REGIMES = regime_ids()
STEPS = ("find cause", "confine", "notify", "return", "review")


@st.composite
def bio_tests(draw):
    day = draw(days)
    wait = draw(st.integers(1, 10))
    return bio(
        day,
        result=draw(st.sampled_from(["pass", "pass", "pass", "growth", "invalid", ""])),
        known=day + timedelta(days=wait),
        purpose=draw(st.sampled_from(["routine", "repeat"])),
        chamber=draw(st.sampled_from(["full", "empty"])),
        site=draw(st.sampled_from(["clinic", "laboratory"])),
        cycle_type=draw(st.sampled_from(["wrapped", "wrapped", "unwrapped"])),
        implant=draw(st.booleans()),
    )


@st.composite
def cases(draw, tests):
    """A case for each failed test, with steps on later days."""
    out = []
    for test in tests:
        if any(r.test == "growth" for r in test.readings):
            known = max(r.known_on for r in test.readings)
            names = draw(
                st.lists(st.sampled_from(["find cause", "confine", "notify", "return", "review"]), max_size=3)
            )
            steps = [step(known, name, done=known + timedelta(days=draw(st.integers(0, 9)))) for name in names]
            out.append(case(test.row.origin, known, *steps))
    return tuple(out)


@st.composite
def loads(draw):
    minutes = draw(st.sampled_from([None, "30", "240"]))
    kind = draw(st.sampled_from(["wrapped", "unwrapped"]))
    return load(draw(days), program=kind, minutes=minutes, implant=draw(st.booleans()))


@st.composite
def checks(draw):
    kind = draw(st.sampled_from(["automatic control", "safety check", "water"]))
    result = draw(st.sampled_from(["pass", "pass", "pass", "fail", "not done"]))
    return user_check(draw(days), kind, result, signed=draw(st.sampled_from(["A. User", "A. User", ""])))


@st.composite
def papers(draw):
    kind = draw(st.sampled_from(["pressure examination", "validation report", "insurance"]))
    return document(kind, draw(days), draw(st.sampled_from([None, "2026-02-28"])), unit="unit-1")


@st.composite
def jobs(draw):
    day = draw(days)
    end = draw(st.sampled_from(["released", "released", "limited", "pending", "not released", "", "not worked on"]))
    more = {}
    if end == "pending":
        until = day + timedelta(days=draw(st.integers(0, 30)))
        more["conclusion"] = conclude(day, "pending", acceptor="C. Manager", deadline=until)
    what = draw(st.sampled_from(["done", "deferred", "not done"]))
    until = day + timedelta(days=draw(st.integers(1, 200)))
    more["outcomes"] = (outcome(day, what=what, until=until, by="C", why="young"),)
    if draw(st.booleans()):
        more["parts"] = (part(day),)
    passed = draw(st.sampled_from([("V1",), ("V1", "V2", "V4"), ()]))
    return job(day, tests=passed, end=end, class_stated=draw(st.sampled_from(["", "B", "C"])), **more)


@st.composite
def units(draw, ref="unit-1"):
    def some(one, most=3):
        return tuple(draw(st.lists(one, max_size=most)))

    seals = line(
        months=draw(st.sampled_from([3, 6, 12, None])),
        cycles=draw(st.sampled_from([None, 500])),
        grace=draw(st.sampled_from([0, 14])),
        day=FIRST,
    )
    tests = some(bio_tests(), 12)
    kinds = st.sampled_from(["withdrawn", "returned", "relocated", "decommissioned", "installed"])
    return unit(
        "2024-12-01",
        ref=ref,
        type=draw(st.sampled_from(["gravity", "dynamic air removal"])),
        events=(event(FIRST), *some(st.builds(event, days, kinds), 2)),
        placements=some(st.builds(placed, days, st.sampled_from(["in use", "stored as spare"])), 2),
        positions=(position(),),
        fits=some(st.builds(fit, st.just("seal"), st.sampled_from(["yes", "none", "unknown"]), days), 2),
        plan=(seals,),
        jobs=some(jobs(), 3),
        bio_tests=tests,
        cases=draw(cases(tests)),
        air_removal=some(st.builds(air, days, st.sampled_from(["pass", "pass", "fail"])), 3),
        leaks=some(st.builds(leak, days, st.sampled_from(["pass", "fail"])), 2),
        loads=some(loads(), 4),
        checks=some(checks(), 4),
        counters=some(st.builds(counter, days, st.integers(0, 900)), 4),
        documents=some(papers(), 2),
        gaps=some(st.builds(gap, st.just("2024-06-01"), st.just("2024-07-31"), st.just(FIRST)), 1),
    )


@st.composite
def clinics(draw, many=1):
    held = [draw(units(ref=f"unit-{n + 1}")) for n in range(many)]
    shut = draw(st.lists(st.tuples(days, st.integers(0, 30)), max_size=2))
    closures = tuple(closure(a, a + timedelta(days=n), day=FIRST) for a, n in shut)
    regime, start = draw(st.sampled_from(REGIMES)), draw(st.integers(0, 6))
    return clinic(*held, terms=(terms(regime, week_start=start),), closures=closures)


@st.composite
def shuffled_unit(draw, facts):
    """The same facts in another order of rows."""
    changed = {}
    for field in dataclasses.fields(facts):
        value = getattr(facts, field.name)
        if isinstance(value, tuple):
            changed[field.name] = tuple(draw(st.permutations(value)))
    return dataclasses.replace(facts, **changed)
