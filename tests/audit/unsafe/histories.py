"""Random histories for the laws: as those of `tests.strategies`, with times of day, cycle numbers, work and results.

Dense rather than likely: few days, so that much falls on the same one.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta

from hypothesis import strategies as st

from audit.facts import ClinicFacts, LocalDutyFact, UnitFacts
from tests import strategies
from tests.fact_builders import (
    air,
    bio,
    case,
    check,
    conclude,
    counter,
    event,
    job,
    leak,
    load,
    measured,
    on,
    outcome,
    part,
    part_recall,
    placed,
    position,
    row,
    seen,
    step,
    user_check,
)

FIRST = date(2025, 3, 3)  # a Monday
SPAN = 40  # days in which everything happens
days = st.integers(0, SPAN).map(lambda n: FIRST + timedelta(days=n))
LAST = FIRST + timedelta(days=SPAN + 60)
HOURS = st.sampled_from([None, 8, 11, 14, 17])
PURPOSES = st.sampled_from(["routine", "routine", "repeat", "after repair", "requalification"])
CYCLES = st.sampled_from(["", "100", "101", "102", "103"])
RESULTS = st.sampled_from(["pass", "pass", "pass", "fail", "not recorded"])


def _at(day: date, hour: int | None) -> datetime | None:
    return None if hour is None else datetime.combine(day, time(hour), UTC)


def timed(fact, hour: int | None):
    """The fact with that hour of its day."""
    return replace(fact, row=replace(fact.row, happened_at=_at(fact.row.happened_on, hour)))


@st.composite
def spore_tests(draw):
    day = draw(days)
    result = draw(st.sampled_from(["pass", "pass", "pass", "growth", "invalid", ""]))
    made = bio(
        day,
        result=result,
        known=day + timedelta(days=draw(st.integers(1, 3))),
        purpose=draw(PURPOSES),
        chamber=draw(st.sampled_from(["full", "empty"])),
        site=draw(st.sampled_from(["clinic", "laboratory"])),
        cycle_type=draw(st.sampled_from(["wrapped", "wrapped", "unwrapped"])),
        mechanical=draw(RESULTS),
        chemical=draw(RESULTS),
        cycle=draw(CYCLES),
        implant=draw(st.sampled_from([False, False, True])),
    )
    return timed(made, draw(HOURS))


@st.composite
def others(draw, build, results=("pass", "pass", "fail")):
    made = build(draw(days), draw(st.sampled_from(results)))
    return timed(replace(made, purpose=draw(st.sampled_from(["", "repeat", "after repair"]))), draw(HOURS))


@st.composite
def checks(draw):
    kind = draw(st.sampled_from(["automatic control", "safety check", "air detector", "water"]))
    made = user_check(
        draw(days), kind, draw(st.sampled_from(["pass", "pass", "fail", "not done"])), cycle=draw(CYCLES)
    )
    return timed(made, draw(HOURS))


@st.composite
def loads(draw):
    made = load(
        draw(days),
        draw(CYCLES),
        draw(st.booleans()),
        minutes=draw(st.sampled_from([None, "30", "600"])),
        mechanical=draw(st.sampled_from(["pass", "pass", "fail", "not recorded", ""])),
        chemical=draw(st.sampled_from(["pass", "pass", "fail", "not recorded", ""])),
        released=draw(st.sampled_from(["released", "rejected", ""])),
        program=draw(st.sampled_from(["wrapped", "unwrapped"])),
    )
    return timed(replace(made, packs=draw(st.sampled_from(["", "dry", "wet"]))), draw(HOURS))


@st.composite
def visits(draw):
    day, hour = draw(days), draw(HOURS)
    name = draw(st.sampled_from(["seal", "vacuum-pump", "temperature-sensor", "door-latch"]))
    more = {"outcomes": (outcome(day, f"replace-{name}", name, what=draw(st.sampled_from(["done", "not done"]))),)}
    if draw(st.booleans()):
        more["parts"] = (part(day, name, draw(st.sampled_from(["replaced on plan", "replaced on condition"])), name),)
    if draw(st.sampled_from([False, False, True])):
        grade = draw(st.integers(0, 3))
        decision = draw(st.sampled_from(["leave", "clean", "adjust", "replace", "condemn"]))
        more["findings"] = (seen(day, name, grade, decision, draw(st.sampled_from(["A", "B", "X"]))),)
    if draw(st.booleans()):
        more["readings"] = (measured(day, left=draw(st.sampled_from(["134.2", "134.2", "131.0"]))),)
    codes = draw(st.sampled_from([(), ("V1",), ("V1", "V2"), ("V1", "V2", "V3", "V4", "V5", "V6")]))
    tests = tuple(check(day, c, draw(st.sampled_from(["pass", "pass", "pass", "fail"]))) for c in codes)
    end = draw(st.sampled_from(["released", "released", "limited", "pending", "not released", "", "not worked on"]))
    if end == "pending":
        more["conclusion"] = conclude(day, end, acceptor="C. Manager", deadline=day + timedelta(days=5))
    kind = draw(st.sampled_from(["planned", "breakdown", "installation"]))
    made = job(day, tests=tests, end=end, reason=kind, class_stated=draw(st.sampled_from(["", "B", "C"])), **more)
    return replace(timed(made, hour), arrived_at=_at(day, hour))


@st.composite
def events(draw):
    kind = draw(st.sampled_from(["withdrawn", "withdrawn", "returned", "returned", "relocated", "installed"]))
    return timed(event(draw(days), kind, draw(st.sampled_from(["", "door", "positive spore test"]))), draw(HOURS))


@st.composite
def units(draw) -> UnitFacts:
    def some(one, most):
        return tuple(draw(st.lists(one, max_size=most)))

    names = ("seal", "vacuum-pump", "temperature-sensor", "door-latch")
    tests = some(spore_tests(), 7)
    opened = []
    for test in tests:
        if any(r.test == "growth" for r in test.readings) and draw(st.booleans()):
            known = max(r.known_on for r in test.readings)
            done = known + timedelta(days=draw(st.integers(0, 4)))
            kinds = st.sampled_from(["find cause", "repair", "confine", "return", "withdraw"])
            told = draw(st.lists(kinds, max_size=3))
            opened.append(case(test.row.origin, known, *(step(known, name, done=done) for name in told)))
    base = draw(strategies.units())
    return replace(
        base,
        equipment_type=draw(st.sampled_from(["gravity", "dynamic air removal", "cassette"])),
        events=(event("2025-01-06"), *some(events(), 4)),
        placements=some(st.builds(placed, days, st.sampled_from(["in use", "stored as spare"])), 1),
        positions=tuple(position(name) for name in names),
        jobs=some(visits(), 3),
        bio_tests=tests,
        cases=tuple(opened),
        air_removal=some(others(air), 4),
        leaks=some(others(leak), 3),
        loads=some(loads(), 5),
        checks=some(checks(), 3),
        counters=some(st.builds(counter, days, st.integers(0, 900)), 3),
    )


@st.composite
def clinics(draw) -> ClinicFacts:
    """One unit under any of the rules on file, at times with a duty of the clinic's own or a part recall."""
    held = draw(strategies.clinics())
    own = ()
    if draw(st.booleans()):
        every = draw(st.sampled_from(["day-of-use", "calendar-month", "rolling-days", "calendar-week"]))
        own = (own_duty(every=every, count=10 if every == "rolling-days" else 1),)
    recalls = (part_recall(draw(days), action="stop use"),) if draw(st.integers(0, 5)) == 0 else ()
    return replace(held, units=(draw(units()),), local_duties=own, part_recalls=recalls)


def own_duty(duty="biological-test", every="calendar-week", count=1, day=FIRST) -> LocalDutyFact:
    """A duty of the clinic's own from a day on."""
    return LocalDutyFact(row(day), on(day), duty, every, count, "invented procedure")
