"""Rows of passes: which passes are the proof, and from which day. A cycle counts once: common practice, no source."""

from __future__ import annotations

from datetime import date

import pytest

from audit.judge.response.in_a_row import ANY, PassRows, cycles_possible, cycles_shown
from tests.fact_builders import air, bio

ONE, TWO, THREE, FOUR = (date(2025, 3, n) for n in (1, 2, 3, 4))


def passed(rows, *told):
    """Let passes count, each (cycle type, day of the run, day it was known, cycle number or moment); the facts."""
    made = []
    for cycle_type, day, known, cycle in told:
        made.append(air(day, at=cycle) if ":" in cycle else bio(day, cycle=cycle))
        rows.passed(cycle_type, known, made[-1])
    return made


def test_of_two_that_would_do_the_first_is_the_proof():
    rows = PassRows(1)
    first, _ = passed(rows, (ANY, ONE, THREE, "1"), (ANY, TWO, THREE, "2"))
    assert (rows.proven_on, rows.row()) == (THREE, (first,))


def test_one_known_sooner_is_the_proof():
    rows = PassRows(1)
    _, second = passed(rows, (ANY, ONE, THREE, "1"), (ANY, TWO, TWO, "2"))
    assert (rows.proven_on, rows.row()) == (TWO, (second,))


def test_a_proof_of_all_types_stays_where_another_is_no_sooner():
    rows = PassRows(1, ("open", "wrapped"))
    first, other, _ = passed(rows, ("open", ONE, THREE, "1"), ("wrapped", ONE, THREE, "2"), ("open", TWO, TWO, "3"))
    assert (rows.proven_on, rows.row()) == (THREE, (first, other))


def test_a_cycle_told_twice_counts_from_the_telling_known_first():
    rows = PassRows(2)
    first, second, _ = passed(rows, (ANY, ONE, ONE, "1"), (ANY, TWO, THREE, "2"), (ANY, TWO, FOUR, "2"))
    assert (rows.proven_on, rows.row()) == (THREE, (first, second))


def test_a_row_reaches_back_by_as_many_as_were_told_twice():
    rows = PassRows(3)
    made = passed(rows, (ANY, ONE, ONE, "1"), (ANY, TWO, TWO, "2"), (ANY, TWO, TWO, "2"), (ANY, THREE, THREE, "3"))
    assert (rows.proven_on, rows.row()) == (THREE, tuple(made))


def test_a_row_reaches_back_over_what_was_told_twice():
    """The two last are one cycle: the row of two begins one before them, not two."""
    rows = PassRows(2)
    _, second, third, fourth = passed(
        rows, (ANY, ONE, FOUR, "1"), (ANY, ONE, TWO, "2"), (ANY, TWO, TWO, "3"), (ANY, TWO, TWO, "3")
    )
    assert (rows.proven_on, rows.row()) == (TWO, (second, third))
    assert fourth not in rows.row()


def test_what_holds_so_far_is_told_type_by_type():
    rows = PassRows(2, ("open", "wrapped"))
    made = passed(rows, ("open", ONE, ONE, "1"), ("open", TWO, TWO, "2"), ("wrapped", TWO, TWO, "3"))
    assert (rows.proven_on, rows.row()) == (None, tuple(made))
    assert (rows.count("open"), rows.count("wrapped"), rows.least()) == (2, 1, 1)
    assert rows.missing() == [("wrapped", 1)]
    rows.broken("open")  # what was enough stays so
    assert (rows.count("open"), rows.count("wrapped")) == (2, 1)
    rows.failed()
    assert (rows.count("open"), rows.count("wrapped"), rows.row()) == (0, 0, ())
    assert rows.missing() == [("open", 2), ("wrapped", 2)]


def test_of_a_type_that_has_enough_the_first_row_is_told_while_another_is_short():
    rows = PassRows(1, ("open", "wrapped"))
    first, _ = passed(rows, ("open", ONE, THREE, "1"), ("open", TWO, THREE, "3"))
    assert (rows.proven_on, rows.row()) == (None, (first,))


def test_a_proof_is_not_taken_back_by_what_breaks_a_row_after_it():
    rows = PassRows(1)
    (only,) = passed(rows, (ANY, ONE, TWO, "1"))
    rows.broken(ANY)
    rows.broken("of another type")
    assert (rows.proven_on, rows.row(), rows.least(), rows.missing()) == (TWO, (only,), 1, [])


def test_of_a_type_that_is_not_asked_nothing_counts():
    rows = PassRows(1, ("open",))
    passed(rows, ("wrapped", ONE, ONE, "1"))
    assert (rows.proven_on, rows.row(), rows.missing()) == (None, (), [("open", 1)])


def test_where_no_pass_is_needed_one_is_asked_all_the_same():
    rows = PassRows(0)
    assert rows.proven_on is None
    (only,) = passed(rows, (ANY, ONE, TWO, "1"))
    assert (rows.proven_on, rows.row()) == (TWO, (only,))


def runs(*told):
    """Runs of one day: a number, a time of the day, or both as "7 08:00"; "" for neither."""
    out = []
    for text in told:
        number, _, time = (text if not text or ":" not in text or " " in text else f" {text}").partition(" ")
        out.append((ONE, time or None, number))
    return out


@pytest.mark.parametrize(
    ("told", "shown", "possible"),
    [
        (("",), 1, 1),
        (("", ""), 1, 2),
        (("7", "8"), 2, 2),
        (("7", "7"), 1, 1),
        (("7", ""), 1, 2),
        (("08:00", "09:00"), 2, 2),
        (("08:00", "08:00"), 1, 1),
        (("7", "08:00"), 1, 2),
        (("7", "8", "08:00"), 2, 3),
        (("7", "08:00", "09:00"), 2, 3),
        (("7 08:00", "8"), 2, 2),
        (("7 08:00", "09:00"), 2, 2),
        (("7 08:00", "8", "09:00"), 2, 3),
        (("7 08:00", "7 09:00"), 1, 1),
        (("7 08:00", "8 08:00"), 1, 1),
        (("7", "8 09:00", "7 09:00"), 1, 1),
        (("7 08:00", "08:00", "7"), 1, 1),
        (("7 08:00", "7", "08:00"), 1, 1),
        (("7 08:00", "8 09:00", "9 10:00"), 3, 3),
    ],
)
def test_how_many_cycles_are_shown_and_how_many_there_may_be(told, shown, possible):
    assert (cycles_shown(runs(*told)), cycles_possible(runs(*told))) == (shown, possible)


def test_runs_of_several_days_are_counted_day_by_day():
    both = [*runs("7", "7"), (TWO, None, "7"), (TWO, None, "")]
    assert (cycles_shown(both), cycles_possible(both)) == (2, 3)
