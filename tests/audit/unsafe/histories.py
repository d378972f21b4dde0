"""Random histories for the laws: as those of `tests.strategies`, with times of day, cycle numbers, work and results.

Each begins with a unit that is kept well, so that most answers permit something, and adds a few pieces of anything,
in few days, so that much falls on the same one.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache

from hypothesis import strategies as st

from audit.facts import AirRemovalFact, ClinicFacts, LeakFact, LocalDutyFact, UnitFacts, UserCheckFact
from audit.regimes import regime_ids
from tests.fact_builders import (
    air,
    bio,
    case,
    check,
    clinic,
    conclude,
    counter,
    document,
    event,
    gap,
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
    terms,
    unit,
    user_check,
)
from tests.strategies import EITHER, between, of

FIRST = date(2025, 3, 3)  # a Monday
SPAN = 40  # days in which everything happens
days = st.integers(0, SPAN).map(lambda n: FIRST + timedelta(days=n))
LAST = FIRST + timedelta(days=SPAN + 60)
REGIMES = regime_ids()
# Rules that ask little beside a weekly spore test: under these most answers permit something.
LIGHT = ("us-dental-cdc-2003", "us-or-dental", "us-oh-dental", "us-ca-dental", "us-in", "us-dental-cdc-2003") * 3
ALL_TESTS = ("V1", "V2", "V3", "V4", "V5", "V6")
KIND_OF = {AirRemovalFact: "air_removal", LeakFact: "leaks", UserCheckFact: "checks"}
HOURS = of(None, 8, 11, 14, 17)
PURPOSES = of("routine", "routine", "repeat", "after repair", "requalification")
CYCLES = of("", "100", "101", "102", "103")
RESULTS = of("pass", "pass", "pass", "fail", "not recorded")


def _at(day: date, hour: int | None) -> datetime | None:
    return None if hour is None else datetime.combine(day, time(hour), UTC)


def timed(fact, hour: int | None):
    """The fact with that hour of its day."""
    return replace(fact, row=replace(fact.row, happened_at=_at(fact.row.happened_on, hour)))


@st.composite
def spore_tests(draw):
    day = draw(days)
    result = draw(of("pass", "pass", "pass", "growth", "invalid", ""))
    made = bio(
        day,
        result=result,
        known=day + timedelta(days=draw(between(1, 3))),
        purpose=draw(PURPOSES),
        chamber=draw(of("full", "empty")),
        site=draw(of("clinic", "laboratory")),
        cycle_type=draw(of("wrapped", "wrapped", "unwrapped")),
        mechanical=draw(RESULTS),
        chemical=draw(RESULTS),
        cycle=draw(CYCLES),
        implant=draw(of(False, False, True)),
    )
    return timed(made, draw(HOURS))


@st.composite
def others(draw, build, results=("pass", "pass", "fail")):
    made = build(draw(days), draw(of(*results)))
    return timed(replace(made, purpose=draw(of("", "repeat", "after repair"))), draw(HOURS))


@st.composite
def checks(draw):
    kind = draw(of("automatic control", "safety check", "air detector", "water"))
    made = user_check(draw(days), kind, draw(of("pass", "pass", "fail", "not done")), cycle=draw(CYCLES))
    return timed(made, draw(HOURS))


@st.composite
def loads(draw):
    made = load(
        draw(days),
        draw(CYCLES),
        draw(EITHER),
        minutes=draw(of(None, "30", "600")),
        mechanical=draw(of("pass", "pass", "fail", "not recorded", "")),
        chemical=draw(of("pass", "pass", "fail", "not recorded", "")),
        released=draw(of("released", "rejected", "")),
        program=draw(of("wrapped", "unwrapped")),
    )
    return timed(replace(made, packs=draw(of("", "dry", "wet"))), draw(HOURS))


@st.composite
def visits(draw):
    day, hour = draw(days), draw(HOURS)
    name = draw(of("seal", "vacuum-pump", "temperature-sensor", "door-latch"))
    more = {"outcomes": (outcome(day, f"replace-{name}", name, what=draw(of("done", "not done"))),)}
    if draw(EITHER):
        more["parts"] = (part(day, name, draw(of("replaced on plan", "replaced on condition")), name),)
    if draw(of(False, False, True)):
        grade = draw(between(0, 3))
        decision = draw(of("leave", "clean", "adjust", "replace", "part awaited", "condemn"))
        more["findings"] = (seen(day, name, grade, decision, draw(of("A", "B", "X"))),)
    if draw(EITHER):
        more["readings"] = (measured(day, left=draw(of("134.2", "134.2", "131.0"))),)
    codes = draw(of((), ("V1",), ("V1", "V2"), ALL_TESTS))
    tests = tuple(check(day, c, draw(of("pass", "pass", "pass", "fail"))) for c in codes)
    end = draw(of("released", "released", "limited", "pending", "not released", "", "not worked on"))
    if end == "pending":
        more["conclusion"] = conclude(day, end, acceptor="C. Manager", deadline=day + timedelta(days=5))
    kind = draw(of("planned", "breakdown", "installation"))
    made = job(day, tests=tests, end=end, reason=kind, class_stated=draw(of("", "B", "C")), **more)
    return replace(timed(made, hour), arrived_at=_at(day, hour))


@st.composite
def events(draw):
    kind = draw(of("withdrawn", "withdrawn", "returned", "returned", "relocated", "installed"))
    return timed(event(draw(days), kind, draw(of("", "door", "positive spore test"))), draw(HOURS))


@cache
def kept_well(every: int) -> UnitFacts:
    """A unit without a fault: in use for two months before, a spore test every so many days, each with its cycle."""
    begun = FIRST - timedelta(days=63)
    tests = []
    for n, day in enumerate(range(0, (LAST - begun).days, every)):
        on_day = begun + timedelta(days=day)
        made = bio(on_day, result="pass", known=on_day + timedelta(days=1), cycle=str(500 + n))
        tests.append(timed(made, 8))
    names = ("seal", "vacuum-pump", "temperature-sensor", "door-latch")
    return unit(
        begun,
        events=(event(begun),),
        positions=tuple(position(name) for name in names),
        bio_tests=tuple(tests),
        documents=(document("pressure examination", begun, "2030-01-01", unit="unit-1"),),
        jobs=(timed(job(begun, reason="installation", tests=ALL_TESTS), 9),),
    )


def tested(day: date) -> tuple:
    """Everything that rules ask on a day of use, passed at seven."""
    made = (air(day), leak(day), *(user_check(day, kind) for kind in ("automatic control", "safety check", "water")))
    return tuple(timed(each, 7) for each in made)


@cache
def tested_daily() -> tuple:
    return tuple(fact for n in range(-7, SPAN + 61) for fact in tested(FIRST + timedelta(days=n)))


# Which facts of a unit a piece belongs to.
PIECES = {
    "bio_tests": spore_tests(),
    "air_removal": others(air),
    "leaks": others(leak),
    "checks": checks(),
    "loads": loads(),
    "jobs": visits(),
    "events": events(),
    "placements": st.builds(placed, days, of("in use", "stored as spare")),
    "counters": st.builds(counter, days, between(0, 900)),
    "gaps": st.builds(gap, st.just("2025-01-10"), st.just("2025-01-12")),
}
SEVERAL = st.lists(of(*sorted(PIECES)), max_size=5)
STEPS = st.lists(of("find cause", "repair", "confine", "return", "withdraw"), max_size=3)


@st.composite
def units(draw) -> UnitFacts:
    """A unit kept well, at times with daily tests, and up to five pieces of anything; cases for some failures."""
    held = kept_well(draw(of(7, 7, 1)))
    more = {name: list(getattr(held, name)) for name in PIECES}
    if draw(EITHER):
        for fact in tested_daily():
            more[KIND_OF[type(fact)]].append(fact)
    for name in draw(SEVERAL):
        more[name].append(draw(PIECES[name]))
    opened = []
    for test in more["bio_tests"]:
        if any(r.test == "growth" for r in test.readings) and draw(EITHER):
            known = max(r.known_on for r in test.readings)
            done = known + timedelta(days=draw(between(0, 4)))
            told = draw(STEPS)
            opened.append(case(test.row.origin, known, *(step(known, name, done=done) for name in told)))
    kind = draw(of("gravity", "gravity", "dynamic air removal", "cassette"))
    return replace(held, equipment_type=kind, cases=tuple(opened), **{k: tuple(v) for k, v in more.items()})


@st.composite
def clinics(draw) -> ClinicFacts:
    """One unit under any of the rules on file, at times with a duty of the clinic's own or a part recall."""
    rules = draw(of(*LIGHT, *REGIMES))
    held = clinic(draw(units()), terms=(terms(rules, week_start=draw(between(0, 6))),))
    own = ()
    if draw(between(0, 3)) == 0:
        every = draw(of("day-of-use", "calendar-month", "rolling-days", "calendar-week"))
        own = (own_duty(every=every, count=10 if every == "rolling-days" else 1),)
    recalls = (part_recall(draw(days), action="stop use"),) if draw(between(0, 5)) == 0 else ()
    return replace(held, local_duties=own, part_recalls=recalls)


def own_duty(duty="biological-test", every="calendar-week", count=1, day=FIRST) -> LocalDutyFact:
    """A duty of the clinic's own from a day on."""
    return LocalDutyFact(row(day), on(day), duty, every, count, "invented procedure")
