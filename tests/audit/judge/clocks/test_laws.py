"""Laws of due items over whole histories and every set of rules."""

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.facts import LocalDutyFact
from audit.judge.clocks import duty_clocks
from audit.judge.clocks.duties import TEST
from audit.judge.clocks.spans import spans
from audit.judge.judgement import State
from audit.judge.situation import at, settle
from audit.regimes import load_regime
from tests.examples import examples
from tests.fact_builders import air, bio, document, leak, load, row, user_check
from tests.strategies import FIRST, LAST, clinics, days, shuffled_unit

LAWS = settings(max_examples=examples(60), deadline=None, suppress_health_check=list(HealthCheck))
RANK = {state: max(n, 1) for n, state in enumerate(State)}
OWN = [
    (TEST, "day-of-use-and-cycle-type", 1),
    (TEST, "rolling-days", 5),
    ("safety-check", "calendar-week", 1),
    ("servicing", "rolling-months", 1),
    ("air-removal-test", "day-of-use", 1),
    ("validation", "stated-date", 2),
]


@st.composite
def places(draw):
    """A clinic of one unit, often with a duty of its own and with more loads and tests."""
    place = draw(clinics())
    own = draw(st.lists(st.sampled_from(OWN), max_size=3, unique_by=lambda o: o[0]))
    local = tuple(LocalDutyFact(row(FIRST), FIRST, id, every, count, "own") for id, every, count in own)
    held = place.units[0]
    kinds = st.sampled_from(["wrapped", "unwrapped"])
    run = draw(st.lists(st.tuples(days, kinds), max_size=30))
    more = tuple(load(d, program=kind, minutes="240") for d, kind in run)
    tests = tuple(bio(d, result="pass", known=d) for d in draw(st.lists(days, max_size=10)))
    held = replace(held, loads=held.loads + more, bio_tests=held.bio_tests + tests)
    return replace(place, units=(held,), local_duties=local)


def settled_of(place, day, unit=None):
    regime = load_regime(place.terms[0].regime).on(day)
    return settle(unit or place.units[0], place, regime, day)


def clocks_of(place, day, unit=None):
    return {c.id: c for c in duty_clocks(at(settled_of(place, day, unit), day).duty)}


def proof_of(subject, day):
    """A fact that passes, of the day."""
    if subject == "biological":
        return "bio_tests", bio(day, result="pass", known=day, cycle_type="wrapped", chamber="full")
    if subject == "air removal":
        return "air_removal", air(day)
    if subject == "air leak":
        return "leaks", leak(day)
    if subject in ("pressure examination", "validation report"):
        return "documents", document(subject, day, unit="unit-1")
    return "checks", user_check(day, subject)


@LAWS
@given(place=places(), day=days)
def test_a_pass_today_never_makes_its_own_due_item_worse(place, day):
    held = place.units[0]
    for id, clock in clocks_of(place, day).items():
        if clock.subject == "servicing" or clock.state is State.NOT_APPLICABLE:  # a pass may bring it back into use
            continue
        name, fact = proof_of(clock.subject, day)
        more = replace(held, **{name: (*getattr(held, name), fact)})
        after = clocks_of(place, day, more).get(id)
        assert after is not None and RANK[after.state] <= RANK[clock.state], (id, clock, after)


@LAWS
@given(place=places(), day=days, data=st.data())
def test_the_order_of_rows_does_not_matter(place, day, data):
    other = data.draw(shuffled_unit(place.units[0]))
    assert clocks_of(place, day) == clocks_of(place, day, other)
    first, second = (at(settled_of(place, day, u), day).duty for u in (place.units[0], other))
    for duty in first.duties():
        said = [[(s.start, s.end, s.result, s.note) for s in spans(f, duty, FIRST, day)] for f in (first, second)]
        assert said[0] == said[1]


@LAWS
@given(place=places(), day=days)
def test_with_no_new_fact_it_becomes_overdue_on_the_day_it_names(place, day):
    """Results still awaited and changes that are to take effect name days of their own, so they are left out."""
    held = place.units[0]
    known = {v.test for v in settled_of(place, day).verdicts.values() if v.verdict != "awaited"}
    held = replace(held, bio_tests=tuple(t for t in held.bio_tests if t.row.origin in known))
    settled = settled_of(place, day, held)
    memo = {}
    for clock in duty_clocks(at(settled, day).duty):
        if clock.state in (State.NOT_APPLICABLE, State.NO_EVIDENCE):
            continue
        for ahead in (0, 1, 2, 6, 7, 8, 14, 15, 16, 29, 30, 31, 32, 60, 100, 366):
            then = day + timedelta(days=ahead)
            if then not in memo:
                memo[then] = {c.id: c for c in duty_clocks(at(settled, then).duty)}
            later = memo[then][clock.id]
            if later.state is State.NOT_APPLICABLE:  # withdrawn today: from tomorrow nothing is asked
                continue
            late = clock.overdue_on is not None and then >= clock.overdue_on
            assert (later.state is State.OVERDUE) is late, (then, clock, later)


@LAWS
@given(place=places(), day=days)
def test_stretches_of_time_follow_on_each_other_and_end_with_the_state_of_today(place, day):
    facts = at(settled_of(place, day), day).duty
    states = {c.id: c.state for c in duty_clocks(facts)}
    # Hours of use that nobody can tell are no evidence today, and leave the record open: it says so.
    open_hours = {f"duty:{d.id}" for d in facts.duties() if d.every == "hours-or-days"}
    for duty in facts.duties():
        said = spans(facts, duty, FIRST, day)
        assert all(a.start <= a.end for a in said) and [s.start for s in said] == sorted(s.start for s in said)
        if duty.every.startswith("rolling") or duty.every == "stated-date" or duty.every == "hours-or-days":
            assert all(b.start == a.end + timedelta(days=1) for a, b in zip(said, said[1:], strict=False))
            state = states[f"duty:{duty.id}"]
            late = state is State.OVERDUE or (state is State.NO_EVIDENCE and f"duty:{duty.id}" not in open_hours)
            assert not late or said[-1].result == "missed"


@LAWS
@given(place=places())
def test_part_of_the_record_says_the_same_as_the_whole(place):
    facts = at(settled_of(place, LAST), LAST).duty
    start = date(2025, 6, 15)
    for duty in facts.duties():
        whole = [s for s in spans(facts, duty, FIRST, LAST) if s.end >= start]
        assert [(s.start, s.end, s.result) for s in whole] == [
            (s.start, s.end, s.result) for s in spans(facts, duty, start, LAST)
        ]
