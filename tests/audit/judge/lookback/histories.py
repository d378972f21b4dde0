"""Random histories of one unit and its clinic in sixty days, with much that fails."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import strategies as st

from tests.audit.judge.lookback.said import seal, taken
from tests.fact_builders import (
    air,
    bio,
    calibration,
    case,
    clinic,
    event,
    fit,
    instrument,
    job,
    leak,
    load,
    part_recall,
    row,
    step,
    unit,
    user_check,
)
from tests.strategies import between, of

FIRST = date(2025, 3, 1)
LENGTH = 60
LAST = FIRST + timedelta(days=LENGTH)
# Half of what happens falls on a few days, so that much of it is of one day.
days = st.one_of(st.integers(0, LENGTH - 1), st.integers(10, 13)).map(lambda n: FIRST + timedelta(days=n))
hours = st.sampled_from(["", "", "08:00", "12:00", "16:00"])
cycles = st.sampled_from(["", "", "1", "2", "3", "A"])
results = st.sampled_from(["pass", "pass", "fail"])


@st.composite
def spore_tests(draw):
    day = draw(days)
    known = day + timedelta(days=draw(between(0, 4)))
    result = draw(of("pass", "pass", "growth", "invalid", ""))
    mechanical = draw(of("pass", "pass", "fail"))
    return bio(day, result=result, known=known, cycle=draw(cycles), at=draw(hours), mechanical=mechanical)


@st.composite
def loads(draw):
    mechanical = draw(of("pass", "", "", "fail"))
    return load(draw(days), draw(cycles), at=draw(hours), mechanical=mechanical)


@st.composite
def checks(draw):
    return user_check(draw(days), result=draw(results), cycle=draw(cycles), at=draw(hours))


@st.composite
def visits(draw):
    day = draw(days)
    found = draw(of(None, "133", "135"))
    reading = taken(day, draw(of("T1", "T2")), found=found, left=draw(of("135", "133")))
    reading = replace(reading, row=row(day, at=draw(hours)))
    action = draw(of("replaced on plan", "replaced on condition", "found in place"))
    lot, state = draw(of(("P1", "printed"), ("P2", "printed"), ("", "unreadable")))
    fitted = seal(day, lot, state=state, action=action, quantity=draw(of(1, 1, 0)))
    return job(day, readings=(reading,), parts=(fitted,))


_MARKS = of("in tolerance", "out of tolerance", "adjusted", "no result")
SOME = {
    "bio_tests": st.lists(spore_tests(), max_size=8),
    "steps": st.lists(st.builds(lambda d, a: step(d, a, done=d), days, of("review", "recall packs")), max_size=2),
    "loads": st.lists(loads(), max_size=20),
    "air_removal": st.lists(st.builds(air, days, results), max_size=5),
    "leaks": st.lists(st.builds(leak, days, results), max_size=3),
    "checks": st.lists(checks(), max_size=5),
    "jobs": st.lists(visits(), max_size=4),
    "events": st.lists(st.builds(event, days, of("withdrawn", "returned")), max_size=4),
    "fits": st.lists(st.builds(lambda d: fit(state="none", day=d), days), max_size=1),
    "marks": st.lists(st.builds(calibration, days, _MARKS), max_size=3),
    "notices": st.lists(st.builds(part_recall, days, of("P1", "")), max_size=2),
}


@st.composite
def histories(draw):
    """(unit, clinic)."""

    def some(kind):
        return tuple(draw(SOME[kind]))

    tests, steps = some("bio_tests"), some("steps")
    cases = tuple(case(t.row.origin, t.row.happened_on, *steps) for t in tests[:1])
    facts = unit(
        FIRST,
        type=draw(of("gravity", "dynamic air removal")),
        bio_tests=tests,
        loads=some("loads"),
        air_removal=some("air_removal"),
        leaks=some("leaks"),
        checks=some("checks"),
        jobs=some("jobs"),
        events=some("events"),
        fits=some("fits"),
        cases=cases,
    )
    tools = tuple(instrument(*some("marks"), name=name) for name in ("T1", "T2"))
    notices = some("notices")
    return facts, clinic(facts, instruments=tools, part_recalls=notices)
