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
    known = day + timedelta(days=draw(st.integers(0, 4)))
    result = draw(st.sampled_from(["pass", "pass", "growth", "invalid", ""]))
    mechanical = draw(st.sampled_from(["pass", "pass", "fail"]))
    return bio(day, result=result, known=known, cycle=draw(cycles), at=draw(hours), mechanical=mechanical)


@st.composite
def loads(draw):
    mechanical = draw(st.sampled_from(["pass", "", "", "fail"]))
    return load(draw(days), draw(cycles), at=draw(hours), mechanical=mechanical)


@st.composite
def checks(draw):
    return user_check(draw(days), result=draw(results), cycle=draw(cycles), at=draw(hours))


@st.composite
def visits(draw):
    day = draw(days)
    found = draw(st.sampled_from([None, "133", "135"]))
    reading = taken(day, draw(st.sampled_from(["T1", "T2"])), found=found, left=draw(st.sampled_from(["135", "133"])))
    reading = replace(reading, row=row(day, at=draw(hours)))
    action = draw(st.sampled_from(["replaced on plan", "replaced on condition", "found in place"]))
    lot, state = draw(st.sampled_from([("P1", "printed"), ("P2", "printed"), ("", "unreadable")]))
    fitted = seal(day, lot, state=state, action=action, quantity=draw(st.sampled_from([1, 1, 0])))
    return job(day, readings=(reading,), parts=(fitted,))


@st.composite
def histories(draw):
    """(unit, clinic)."""

    def some(one, most=5):
        return tuple(draw(st.lists(one, max_size=most)))

    tests = some(spore_tests(), 8)
    steps = some(st.builds(lambda d, a: step(d, a, done=d), days, st.sampled_from(["review", "recall packs"])), 2)
    cases = tuple(case(t.row.origin, t.row.happened_on, *steps) for t in tests[:1])
    facts = unit(
        FIRST,
        type=draw(st.sampled_from(["gravity", "dynamic air removal"])),
        bio_tests=tests,
        loads=some(loads(), 20),
        air_removal=some(st.builds(air, days, results)),
        leaks=some(st.builds(leak, days, results), 3),
        checks=some(checks()),
        jobs=some(visits(), 4),
        events=some(st.builds(event, days, st.sampled_from(["withdrawn", "returned"])), 4),
        fits=some(st.builds(lambda d: fit(state="none", day=d), days), 1),
        cases=cases,
    )
    marks = st.builds(
        calibration, days, st.sampled_from(["in tolerance", "out of tolerance", "adjusted", "no result"])
    )
    tools = tuple(instrument(*some(marks, 3), name=name) for name in ("T1", "T2"))
    notices = some(st.builds(part_recall, days, st.sampled_from(["P1", ""])), 2)
    return facts, clinic(facts, instruments=tools, part_recalls=notices)
