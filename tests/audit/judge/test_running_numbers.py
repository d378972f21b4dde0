"""Cycle numbers that run on, against the plain meaning of it: each once, none missing, rising from day to day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.facts import in_order
from audit.judge.plain_loads import NUMBERS, told_apart
from audit.judge.rules import cycle_numbers
from audit.judge.running_numbers import OutOfTurn, run_of_numbers
from tests.examples import examples
from tests.fact_builders import clinic, load, unit

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


def moved_of(loads) -> OutOfTurn | None:
    apart = told_apart(loads)
    assert apart.written == ([x.cycle_number for x in loads] if apart.moved is None else [])
    return apart.moved


@settings(max_examples=examples(150), deadline=None)
@given(logs(), st.integers(0, 19))
def test_what_is_out_of_turn_says_from_a_day_on_whether_the_numbers_rise(loads, place):
    moved, since = moved_of(loads), loads[place % len(loads)].row.happened_on
    once, _ = plainly(loads)
    first = min(int(x.cycle_number) for x in loads) if once else -1
    out = [x for n, x in enumerate(loads) if x.cycle_number != str(first + n)]
    begins = [x.cycle_number for x in loads if x.row.happened_on == loads[0].row.happened_on]
    assert (moved is not None) is (once and str(first) in begins and len(out) <= 8)
    if moved is None:
        return
    assert moved.loads == out
    late = [x for x in loads if x.row.happened_on >= since]
    own = sorted(int(x.cycle_number) for x in late) == list(range(first + len(loads) - len(late), first + len(loads)))
    assert moved.by_day(since) is (own and plainly(late)[1])


LONG = [load(FIRST + timedelta(days=n // 4), str(n + 1)) for n in range(400)]


def renumbered(changed: dict[int, str]) -> list:
    return in_order([replace(x, cycle_number=changed.get(n, x.cycle_number)) for n, x in enumerate(LONG)])


@pytest.mark.parametrize(
    ("what", "changed", "moved"),
    [
        ("as they ran", {}, 0),
        ("two in each other's place", {4: "6", 5: "5"}, 2),
        ("one twice, so that one is missing", {4: "6"}, None),
        ("one that was never run", {4: "4000"}, None),
        ("no number", {4: ""}, None),
        ("with a nought before it", {4: "05"}, None),
        ("the last is not there", {399: "9"}, None),
        ("the first day begins with no number", {0: "A"}, None),
        ("every eighth pair changed", {n: str(n + 2 - 2 * (n % 2)) for n in range(400) if n // 2 % 8 == 5}, 50),
        ("all pairs changed", {n: str(n + 2 - 2 * (n % 2)) for n in range(400)}, None),
        ("one missing, so that there is one more", {399: "401"}, None),
        ("one missing and one twice", {n: str(n + 2) for n in range(99, 300)}, None),
    ],
)
def test_the_numbers_of_a_long_log(what, changed, moved):
    loads = renumbered(changed)
    found = moved_of(loads)
    assert (None if found is None else len(found.loads)) == moved


def test_they_rise_by_day_only_from_the_day_on_that_is_asked_about():
    found = moved_of(renumbered({3: "5", 4: "4", 200: "202", 201: "201"}))
    assert not found.by_day(FIRST) and not found.by_day(FIRST + timedelta(days=1))
    assert found.by_day(FIRST + timedelta(days=2)) and found.by_day(FIRST + timedelta(days=90))


@settings(max_examples=examples(150), deadline=None)
@given(logs(), st.integers(0, 6))
def test_the_open_items_are_the_same_where_what_is_out_of_turn_is_not_told(loads, days):
    """Of a day a year after one of the first: some or all of the loads are older than what is told of."""
    made, apart = unit(loads=loads), told_apart(loads)

    def items(kept):
        settled = SimpleNamespace(memo={NUMBERS: kept}, clinic=clinic(made))
        now = SimpleNamespace(as_of=FIRST + timedelta(days=365 + days))
        return list(cycle_numbers.check(SimpleNamespace(unit=made, settled=settled, now=now)))

    assert items(apart[2:]) == items((None, [x.cycle_number for x in loads]))
