"""Random histories of one unit for laws about judgement. Days lie in one year; facts are consistent enough to log."""

from __future__ import annotations

import dataclasses
from datetime import date, timedelta
from functools import cache, lru_cache

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


@lru_cache(None, typed=True)
def of(*values):
    """One of the values. The same strategy each time: to make one takes longer than to draw from it."""
    return st.sampled_from(values)


@cache
def between(least: int, most: int):
    """A number, both ends inclusive."""
    return st.integers(least, most)


EITHER = st.booleans()
FIRST = date(2025, 1, 1)
LAST = date(2025, 12, 31)
days = st.integers(0, (LAST - FIRST).days).map(lambda n: FIRST + timedelta(days=n))
REGIMES = regime_ids()
STEPS = ("find cause", "confine", "notify", "return", "review")


@st.composite
def bio_tests(draw):
    day = draw(days)
    wait = draw(between(1, 10))
    return bio(
        day,
        result=draw(of("pass", "pass", "pass", "growth", "invalid", "")),
        known=day + timedelta(days=wait),
        purpose=draw(of("routine", "repeat")),
        chamber=draw(of("full", "empty")),
        site=draw(of("clinic", "laboratory")),
        cycle_type=draw(of("wrapped", "wrapped", "unwrapped")),
        implant=draw(EITHER),
    )


_NAMES = st.lists(of("find cause", "confine", "notify", "return", "review"), max_size=3)


@st.composite
def cases(draw, tests):
    """A case for each failed test, with steps on later days."""
    out = []
    for test in tests:
        if any(r.test == "growth" for r in test.readings):
            known = max(r.known_on for r in test.readings)
            names = draw(_NAMES)
            steps = [step(known, name, done=known + timedelta(days=draw(between(0, 9)))) for name in names]
            out.append(case(test.row.origin, known, *steps))
    return tuple(out)


@st.composite
def loads(draw):
    minutes = draw(of(None, "30", "240"))
    kind = draw(of("wrapped", "unwrapped"))
    return load(draw(days), program=kind, minutes=minutes, implant=draw(EITHER))


@st.composite
def checks(draw):
    kind = draw(of("automatic control", "safety check", "water"))
    result = draw(of("pass", "pass", "pass", "fail", "not done"))
    return user_check(draw(days), kind, result, signed=draw(of("A. User", "A. User", "")))


@st.composite
def papers(draw):
    kind = draw(of("pressure examination", "validation report", "insurance"))
    return document(kind, draw(days), draw(of(None, "2026-02-28")), unit="unit-1")


@st.composite
def jobs(draw):
    day = draw(days)
    end = draw(of("released", "released", "limited", "pending", "not released", "", "not worked on"))
    more = {}
    if end == "pending":
        until = day + timedelta(days=draw(between(0, 30)))
        more["conclusion"] = conclude(day, "pending", acceptor="C. Manager", deadline=until)
    what = draw(of("done", "deferred", "not done"))
    until = day + timedelta(days=draw(between(1, 200)))
    more["outcomes"] = (outcome(day, what=what, until=until, by="C", why="young"),)
    if draw(EITHER):
        more["parts"] = (part(day),)
    passed = draw(of(("V1",), ("V1", "V2", "V4"), ()))
    return job(day, tests=passed, end=end, class_stated=draw(of("", "B", "C")), **more)


_KINDS = of("withdrawn", "returned", "relocated", "decommissioned", "installed")
_GAPS = st.builds(gap, st.just("2024-06-01"), st.just("2024-07-31"), st.just(FIRST))
# What a unit has of each kind, beside what each has.
SOME = {
    "bio_tests": st.lists(bio_tests(), max_size=12),
    "events": st.lists(st.builds(event, days, _KINDS), max_size=2),
    "placements": st.lists(st.builds(placed, days, of("in use", "stored as spare")), max_size=2),
    "fits": st.lists(st.builds(fit, st.just("seal"), of("yes", "none", "unknown"), days), max_size=2),
    "jobs": st.lists(jobs(), max_size=3),
    "air_removal": st.lists(st.builds(air, days, of("pass", "pass", "fail")), max_size=3),
    "leaks": st.lists(st.builds(leak, days, of("pass", "fail")), max_size=2),
    "loads": st.lists(loads(), max_size=4),
    "checks": st.lists(checks(), max_size=4),
    "counters": st.lists(st.builds(counter, days, between(0, 900)), max_size=4),
    "documents": st.lists(papers(), max_size=2),
    "gaps": st.lists(_GAPS, max_size=1),
}


@st.composite
def units(draw, ref="unit-1"):
    def some(kind):
        return tuple(draw(SOME[kind]))

    seals = line(
        months=draw(of(3, 6, 12, None)),
        cycles=draw(of(None, 500)),
        grace=draw(of(0, 14)),
        day=FIRST,
    )
    tests = some("bio_tests")
    return unit(
        "2024-12-01",
        ref=ref,
        type=draw(of("gravity", "dynamic air removal")),
        events=(event(FIRST), *some("events")),
        placements=some("placements"),
        positions=(position(),),
        fits=some("fits"),
        plan=(seals,),
        jobs=some("jobs"),
        bio_tests=tests,
        cases=draw(cases(tests)),
        air_removal=some("air_removal"),
        leaks=some("leaks"),
        loads=some("loads"),
        checks=some("checks"),
        counters=some("counters"),
        documents=some("documents"),
        gaps=some("gaps"),
    )


_CLOSED = st.lists(st.tuples(days, between(0, 30)), max_size=2)


@st.composite
def clinics(draw, many=1):
    held = [draw(units(ref=f"unit-{n + 1}")) for n in range(many)]
    shut = draw(_CLOSED)
    closures = tuple(closure(a, a + timedelta(days=n), day=FIRST) for a, n in shut)
    regime, start = draw(of(*REGIMES)), draw(between(0, 6))
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
