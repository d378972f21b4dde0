"""Laws of every look-back, whatever the history."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.facts import in_order
from audit.judge.evaluate import evaluate
from audit.judge.lookback import span
from audit.judge.lookback.span import DoubtSpan, Point, cut_loads
from tests.audit.judge.lookback.histories import LAST, days, histories, hours
from tests.audit.judge.lookback.histories import cycles as cycle_numbers
from tests.audit.judge.lookback.said import backs, days_in, left_out
from tests.examples import examples
from tests.fact_builders import bio, load, unit
from tests.strategies import shuffled_unit

SOME = settings(max_examples=examples(60), deadline=None, suppress_health_check=list(HealthCheck))
INSTRUMENT = "instrument out of tolerance"


def said(history, **more):
    facts, place = history
    return backs(facts, place=place, as_of=LAST, **more)


@SOME
@given(histories())
def test_nothing_outside_the_window_is_inside(history):
    facts, _ = history
    days_of = {r.row.ref: r.row.happened_on for r in facts.loads}
    days_of |= {x.row.ref: x.row.happened_on for j in facts.jobs for x in (*j.readings, *j.parts)}
    for back in said(history):
        for one in (*back.loads, *back.readings, *back.parts):
            on = days_of[one.ref]
            assert on <= back.to and (back.after is None or back.after <= on), back


@SOME
@given(histories())
def test_every_load_is_inside_or_left_out_exactly_once(history):
    facts, _ = history
    for back in said(history):
        if back.kind == INSTRUMENT:
            continue
        inside = [e.ref for e in back.loads]
        shown = [e.ref for e, _ in back.outside]
        assert len({*inside}) == len(inside) and not {*inside} & {*shown}
        assert len(inside) + sum(left_out(back).values()) == len(facts.loads)


@SOME
@given(histories(), st.data())
def test_the_order_of_rows_is_irrelevant(history, data):
    facts, place = history
    mixed = data.draw(shuffled_unit(facts))
    shuffled = {k: tuple(data.draw(st.permutations(getattr(place, k)))) for k in ("instruments", "part_recalls")}
    assert said((mixed, replace(place, **shuffled))) == said(history)


@SOME
@given(histories(), histories())
def test_another_unit_changes_nothing(history, other):
    (facts, place), (second, _) = history, other
    second = replace(second, row=replace(second.row, ref="unit-2", origin="unit-2"))
    alone = evaluate(replace(place, units=(facts,)), LAST).units[0]
    both = evaluate(replace(place, units=(facts, second)), LAST).units
    assert next(u for u in both if u.unit == facts.ref).look_backs == alone.look_backs


@SOME
@given(histories(), days)
def test_what_happens_later_changes_no_window_of_a_measurement(history, as_of):
    """Where a failure is followed by others, or a part stays in, the window may go on; a measurement is over."""
    kinds = (INSTRUMENT, "found out of tolerance")
    now = {(b.kind, b.evidence[0].ref): b for b in said(history)}
    for back in backs(history[0], place=history[1], as_of=as_of):
        if back.kind in kinds:
            then = now[back.kind, back.evidence[0].ref]
            held = (back.after, back.to, back.loads, back.readings)
            assert (then.after, then.to, then.loads, then.readings) == held


@SOME
@given(histories())
def test_each_says_what_is_asked_and_where_it_stands(history):
    for back in said(history):
        assert back.asked and back.source is not None and back.evidence and back.after_text and back.trigger
        assert back.settled_on is None or back.settled_on <= LAST


@SOME
@given(
    st.lists(st.builds(lambda d, c, h: load(d, c, at=h), days, cycle_numbers, hours), max_size=12),
    st.one_of(st.none(), st.builds(Point, days, st.none(), cycle_numbers, st.just("proof"))),
    days,
)
def test_a_span_sorts_every_load_once(run, good, to):
    cut = cut_loads(unit(loads=tuple(run)), DoubtSpan(good, to, "after"))
    parts = (cut.before, cut.own, cut.inside, cut.later)
    assert sorted(x.row.ref for some in parts for x in some) == sorted(x.row.ref for x in run)
    assert all(x.row.happened_on > to or (good and to < good.day) for x in cut.later)
    assert all(x.row.happened_on <= to for x in cut.inside)


def test_a_window_is_found_without_looking_at_every_load(monkeypatch):
    """Twenty thousand loads, one failure: the loads inside and a few dozen steps of searching, no more."""
    first = date(2020, 1, 1)
    run = in_order([load(first + timedelta(days=n // 5), str(n)) for n in range(20_000)])
    tests = (bio("2024-01-01", result="pass"), bio("2024-01-08", result="growth"))
    looked = []
    monkeypatch.setattr(span, "happened_on", lambda fact: looked.append(1) or fact.row.happened_on)
    cut = cut_loads(
        unit(loads=run, bio_tests=tests), DoubtSpan(Point(date(2024, 1, 1), None, "", ""), date(2024, 1, 9), "")
    )
    assert len(cut.inside) == 9 * 5 and len(looked) < 100


@pytest.mark.parametrize("many", [100, 4000])
def test_what_lies_outside_is_said_in_few_words(many):
    first = date(2023, 1, 1)
    run = tuple(load(first + timedelta(days=n // 10), str(n)) for n in range(many))
    (back,) = backs(loads=run, bio_tests=(bio("2023-01-02", result="pass"), bio("2023-01-03", result="growth")))
    assert len(back.outside) == 2 and sum(left_out(back).values()) + len(days_in(back)) == many
