"""Cycle numbers that run on, against the plain meaning of it: each once, none missing, rising from day to day."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.facts import in_order
from audit.judge.running_numbers import mostly_in_turn, run_of_numbers
from tests.examples import examples
from tests.fact_builders import load

FIRST = date(2025, 1, 1)


@st.composite
def logs(draw):
    """Loads of a few days, mostly numbered in turn but for their order within a day, at times with a slip."""
    sizes = draw(st.lists(st.integers(1, 4), min_size=1, max_size=5))
    start = draw(st.sampled_from([0, 1, 8, 98, 49_998]))
    days = [FIRST + timedelta(days=n) for n, size in enumerate(sizes) for _ in range(size)]
    texts, n = [], start
    for size in sizes:
        texts += map(str, draw(st.permutations(range(n, n + size))))
        n += size
    for place, text in draw(
        st.lists(st.tuples(st.integers(0, 19), st.sampled_from(["", "07", "A", "9", "99"])), max_size=1)
    ):
        texts[place % len(texts)] = text
    if draw(st.booleans()):
        a, b = draw(st.integers(0, len(texts) - 1)), draw(st.integers(0, len(texts) - 1))
        texts[a], texts[b] = texts[b], texts[a]
    return in_order([load(day, text) for day, text in zip(days, texts, strict=True)])


def plainly(loads) -> tuple[bool, bool]:
    """(whether each number is plain, comes once and none is missing; whether they rise from day to day besides)."""
    texts = [x.cycle_number for x in loads]
    if any(str(int(t)) != t if t.isdigit() else True for t in texts):
        return False, False
    numbers = [int(t) for t in texts]
    once = sorted(numbers) == list(range(min(numbers), min(numbers) + len(numbers)))
    pairs = [(a, b) for a in loads for b in loads if a.row.happened_on < b.row.happened_on]
    return once, once and all(int(a.cycle_number) < int(b.cycle_number) for a, b in pairs)


@settings(max_examples=examples(300), deadline=None)
@given(logs())
def test_numbers_run_on_where_each_comes_once_and_they_rise_from_day_to_day(loads):
    run = run_of_numbers(loads, [x.cycle_number for x in loads])
    once, rising = plainly(loads)
    assert (run is not None and run.by_day(loads)) is rising
    if run is not None:
        assert once and run.start == min(int(x.cycle_number) for x in loads)


@settings(max_examples=examples(150), deadline=None)
@given(logs(), st.integers(0, 19))
def test_from_a_place_on_only_what_stands_there_is_asked_about(loads, place):
    run = run_of_numbers(loads, [x.cycle_number for x in loads])
    since = next(n for n, x in enumerate(loads) if x.row.happened_on == loads[place % len(loads)].row.happened_on)
    if run is not None:
        late = [int(x.cycle_number) for x in loads[since:]]
        own = sorted(late) == list(range(run.start + since, run.start + len(loads)))
        assert run.by_day(loads, since) is (own and plainly(loads[since:])[1])


@pytest.mark.parametrize(
    ("texts", "mostly"),
    [
        ([str(n) for n in range(7, 207)], True),
        ([str(n) for n in range(7, 107)] + [str(n) for n in range(200, 300)], False),
        (["7"], True),
        (["A", "8"], False),
        ([], False),
    ],
)
def test_a_few_numbers_picked_evenly_tell_whether_most_are_in_turn(texts, mostly):
    assert mostly_in_turn(texts) is mostly
