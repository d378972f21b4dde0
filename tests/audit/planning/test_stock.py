"""Where each lot is: what came, went, was fitted and was counted, and what is said where these do not agree."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.planning.stock import StockStep, account, barred
from tests.examples import examples

DAY = date(2026, 3, 2)
STORE, VAN, OTHER = "store", "van", "other van"


def step(n: int, kind: str, quantity: int, place: str = STORE, to: str = "", van: str = "") -> StockStep:
    """What became of some on the n-th day, recorded in that order."""
    return StockStep(DAY + timedelta(days=n), (n, 1), kind, quantity, place, to, van)


def levels(*steps: StockStep) -> dict:
    return {each.place: each.level for each in account(steps, DAY + timedelta(days=99)).lying}


CAME = step(0, "received", 10)


@pytest.mark.parametrize(
    ("steps", "lying"),
    [
        ((CAME,), {STORE: 10}),
        ((CAME, step(1, "moved", 4, STORE, VAN)), {STORE: 6, VAN: 4}),
        ((CAME, step(1, "moved", 10, STORE, VAN)), {VAN: 10}),
        ((CAME, step(1, "thrown away", 3)), {STORE: 7}),
        ((CAME, step(1, "returned", 3)), {STORE: 7}),
        ((CAME, step(1, "counted", 8)), {STORE: 8}),
        ((CAME, step(1, "counted", 8), step(2, "moved", 1, STORE, VAN)), {STORE: 7, VAN: 1}),
        # The van of who did the work, where the lot was in it.
        ((CAME, step(1, "moved", 4, STORE, VAN), step(2, "fitted", 1, "", "", VAN)), {STORE: 6, VAN: 3}),
        # It never was in that van: then it came from the only place where it lay.
        ((CAME, step(2, "fitted", 1, "", "", VAN)), {STORE: 9}),
        ((CAME, step(1, "moved", 4, STORE, OTHER), step(2, "fitted", 1, "", "", VAN)), {STORE: 6, OTHER: 4}),
        ((CAME, step(1, "moved", 4, STORE, VAN), step(2, "fitted", 1, STORE, "", VAN)), {STORE: 5, VAN: 4}),
        ((step(1, "counted", 5), step(2, "thrown away", 1)), {STORE: 4}),
        ((step(1, "moved", 2, STORE, VAN),), {STORE: None, VAN: None}),
        ((step(1, "moved", 2, STORE, VAN), step(2, "counted", 3, VAN)), {STORE: None, VAN: 3}),
    ],
)
def test_where_a_lot_lies(steps, lying):
    assert levels(*steps) == lying


def test_the_day_asked_for_leaves_out_what_came_after_it():
    found = account((CAME, step(5, "thrown away", 3)), DAY + timedelta(days=4))
    assert [(each.place, each.level) for each in found.lying] == [(STORE, 10)]


def test_a_count_says_what_lies_there_and_its_difference_stays_said():
    found = account((CAME, step(1, "counted", 8), step(2, "moved", 8, STORE, VAN)), DAY + timedelta(days=9))
    assert [(t.step.quantity, t.difference) for t in found.differences] == [(8, -2)]
    settled = account((CAME, step(1, "thrown away", 2), step(3, "counted", 8)), DAY + timedelta(days=9))
    assert settled.differences == ()


def test_the_first_count_of_a_lot_of_unknown_number_differs_from_nothing():
    (told,) = account((step(1, "counted", 5),), DAY + timedelta(days=9)).told
    assert told.difference is None


def test_more_going_out_than_came_in_is_said_until_it_is_counted():
    steps = (CAME, step(1, "thrown away", 12))
    found = account(steps, DAY + timedelta(days=9))
    assert found.short == ((STORE, DAY + timedelta(days=1), 2),)
    assert not found.used_up
    counted = account((*steps, step(2, "counted", 1)), DAY + timedelta(days=9))
    assert counted.short == () and counted.left == 1
    assert [t.difference for t in counted.differences] == [3]


def test_what_went_out_before_it_came_in_is_said_though_the_number_is_right_in_the_end():
    found = account((step(1, "moved", 2, VAN, STORE), step(3, "received", 5, VAN)), DAY + timedelta(days=9))
    assert [place for place, _, _ in found.short] == [VAN]


def test_a_part_fitted_from_nobody_knows_where_is_said_until_every_place_was_counted():
    steps = (CAME, step(1, "moved", 4, STORE, OTHER), step(2, "fitted", 1, "", "", VAN))
    assert len(account(steps, DAY + timedelta(days=9)).unplaced) == 1
    one = (*steps, step(3, "counted", 5))
    assert len(account(one, DAY + timedelta(days=9)).unplaced) == 1
    both = (*one, step(4, "counted", 4, OTHER))
    assert account(both, DAY + timedelta(days=9)).unplaced == ()


def test_a_lot_of_which_nobody_said_how_many_came_is_not_known_and_not_used_up():
    found = account((step(1, "fitted", 1, "", "", VAN),), DAY + timedelta(days=9))
    assert not found.known and not found.used_up and found.lying == ()


def test_a_lot_is_used_up_when_nothing_is_left_and_nothing_speaks_against_it():
    assert account((CAME, step(1, "thrown away", 10)), DAY + timedelta(days=9)).used_up


@pytest.mark.parametrize(
    ("expiry", "doubt", "says"),
    [
        (None, "", ""),
        (DAY, "", ""),
        (DAY - timedelta(days=1), "", "out of date"),
        (DAY, "recalled", "recalled"),
        (DAY - timedelta(days=1), "recalled", "recalled; out of date"),
    ],
)
def test_why_a_lot_must_not_be_fitted(expiry, doubt, says):
    assert barred(expiry, doubt, DAY) == says


PLACES = st.sampled_from([STORE, VAN, OTHER])


@st.composite
def histories(draw):
    """A receipt, and movements of what lies there, counts that find what lies there among them."""
    lying, steps = {STORE: 20}, [step(0, "received", 20)]
    for n in range(1, draw(st.integers(1, 12))):
        place = draw(st.sampled_from(sorted(p for p in lying)))
        kind = draw(st.sampled_from(["moved", "thrown away", "returned", "fitted", "counted"]))
        number = draw(st.integers(0, lying[place]))
        if kind == "counted":
            steps.append(step(n, kind, lying[place], place))
            continue
        to = draw(PLACES.filter(lambda p, place=place: p != place)) if kind == "moved" else ""
        steps.append(step(n, kind, number, place, to))
        lying[place] -= number
        if to:
            lying[to] = lying.get(to, 0) + number
    return steps, lying


@settings(max_examples=examples(60))
@given(histories(), st.randoms())
def test_no_part_is_lost_or_doubled_in_whatever_order_the_rows_are_read(history, random):
    steps, lying = history
    shuffled = list(steps)
    random.shuffle(shuffled)
    found = account(shuffled, DAY + timedelta(days=99))
    assert {e.place: e.level for e in found.lying} == {p: n for p, n in lying.items() if n}
    assert (found.short, found.unplaced, found.differences) == ((), (), ())
    gone = sum(s.quantity for s in steps if s.kind in ("thrown away", "returned", "fitted"))
    assert found.left + gone == 20
