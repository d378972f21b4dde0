"""What one test among others makes of an answer: a row each, as many are good, in part or none."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from audit.facts import in_order
from audit.judge.answers.testing import _unknown, _unlogged
from audit.judge.clocks.duties import EVENT, IMPLANT
from tests.fact_builders import bio, look, lot, on, user_check

from .asking import ask, own_unit

DAY = "2025-06-02"
GOOD = bio(DAY, result="pass")
OTHER = bio("2025-06-09", result="pass")
UNREAD = bio("2025-06-16")


def read(test, *controls):
    """The test with a reading for each of the controls, a day apart."""
    days = [f"2025-06-{n + 3:02}" for n in range(len(controls))]
    return replace(test, readings=in_order([look(d, control=c) for d, c in zip(days, controls, strict=True)]))


def without_reader(test):
    (one,) = test.readings
    return replace(test, readings=in_order([replace(one, read_by=" ", report="")]))


READ_TWICE = replace(OTHER, readings=in_order([*OTHER.readings, *without_reader(OTHER).readings]))
TESTS = [
    # (question, tests, answer, words of the count)
    ("spore-test-control", (GOOD, OTHER), "yes", "2 of 2"),
    ("spore-test-control", (GOOD, UNREAD), "yes", "1 of 1"),
    ("spore-test-control", (GOOD, replace(UNREAD, control_lot=None)), "in part", "1 of 2"),
    ("spore-test-control", (replace(GOOD, control_lot=None),), "no", "0 of 1"),
    ("spore-test-control", (replace(GOOD, lot=lot(" "), control_lot=lot(" ")),), "no", "0 of 1"),
    ("spore-test-control", (replace(GOOD, control_lot=lot("L9")),), "no", "0 of 1"),
    ("spore-test-control", (replace(GOOD, control_lot=replace(GOOD.lot, ref="another box")),), "yes", "1 of 1"),
    ("spore-test-control", (read(GOOD, "growth", "no growth"),), "no", "0 of 1"),
    ("spore-test-control", (read(GOOD, "no growth", "growth"),), "yes", "1 of 1"),
    ("spore-test-control", (read(GOOD, "growth", "not stated"),), "yes", "1 of 1"),
    ("spore-test-lot-in-date", (GOOD, replace(OTHER, lot=lot(" "))), "in part", "1 of 2"),
    ("spore-test-lot-in-date", (GOOD, replace(OTHER, lot=lot(expiry=""))), "in part", "1 of 2"),
    ("test-log-entries", (GOOD, without_reader(OTHER)), "in part", "1 of 2"),
    ("test-log-entries", (GOOD, READ_TWICE), "in part", "1 of 2"),
    ("test-log-entries", (GOOD, replace(OTHER, run_by=" ")), "in part", "1 of 2"),
    ("test-log-entries", (GOOD, replace(OTHER, cycle_type="")), "in part", "1 of 2"),
    ("test-log-entries", (GOOD, UNREAD), "in part", "1 of 1"),  # the purchase documents are not there
    ("test-log-entries", (GOOD, replace(UNREAD, run_by="")), "in part", "1 of 2"),
]  # fmt: skip


@pytest.mark.parametrize(("id", "tests", "answer", "count"), TESTS)
def test_each_spore_test_counts_for_itself(id, tests, answer, count):
    regime = "us-ca-body-art" if id == "spore-test-lot-in-date" else "us-dental-cdc-2003"
    reply = ask(id, own_unit(bio_tests=tests), regime=regime)
    assert (reply.answer, reply.words.startswith(count)) == (answer, True), reply.words
    assert ("not read yet" in reply.words) is (UNREAD in tests)
    assert answer != "yes" or len(reply.evidence) == 1


GREW = bio("2025-06-09", result="growth")
LAST = [
    ((GOOD, OTHER), "Last one on 2025-06-09, passed, 21 days ago; 2 with a result on record."),
    ((GOOD, GREW), "Last one on 2025-06-09, failed, 21 days ago; 2 with a result on record."),
    ((GOOD, UNREAD), "Last one with a result on 2025-06-02, passed, 28 days ago; 1 newer one, of 2025-06-16, without "
     "a result that counts; 1 with a result on record."),
]  # fmt: skip


@pytest.mark.parametrize(("tests", "words"), LAST)
def test_the_last_one_with_a_result_is_told_with_those_that_have_none(tests, words):
    assert ask("last-spore-test", own_unit(bio_tests=tests)).words == words


def water(result="pass", value="5", unit="µS/cm", day=DAY, at=""):
    return user_check(day, "water", result, value=value, unit=unit, at=at)


WATER = [
    ((), "no record found", ""),
    ((water(),), "yes", ""),
    ((water(value=None, unit=""),), "in part", "its value"),
    ((water(unit=" "),), "in part", "the unit of its value"),
    ((water("fail"),), "no", "a check that passes"),
    ((water("not done"),), "no record found", ""),
    ((water("fail", day="2025-05-02"), water()), "yes", ""),
    ((water("fail"), water()), "in part", "a check that passes"),
    ((water("fail", at="08:00"), water()), "in part", "a check that passes"),
    ((water("fail", at="08:00"), water(at="09:00")), "yes", ""),
    ((water(), water()), "yes", ""),
]


@pytest.mark.parametrize(("checks", "answer", "gap"), WATER)
def test_the_last_check_of_the_water_decides(checks, answer, gap):
    reply = ask("water-known", own_unit(checks=checks))
    assert reply.answer == answer and reply.gap.startswith(gap)


def kept(duty, awaited=0, first="2025-01-01"):
    return SimpleNamespace(duty=duty, awaited=awaited, first=on(first))


def asked(*, begin="2024-01-01", known=True, found=(), missing=0, unknown=()):
    """(place, view) in which duty "e" follows an event, "d" and "i" count by loads, and others by weeks."""
    ran = SimpleNamespace(complete=not missing and not unknown, missing=missing, words="2 of about 3 cycles logged.")
    usage = SimpleNamespace(begin=on(begin), begin_known=known)
    view = SimpleNamespace(usage=usage, findings=lambda rule: found, once=lambda key, make: ran)
    every = {"e": EVENT, "d": "day-of-use", "i": IMPLANT}
    place = SimpleNamespace(every=lambda duty: every.get(duty, "calendar-week"), since=lambda months: on(begin))
    return place, view


LATE, TO_COME = "a result is awaited for too long", "a result is awaited: it is not proven yet"
UNKNOWN = [
    # one awaited among several is enough, whichever duty it is of
    ([kept("e", 1), kept("p")], {}, [TO_COME]),
    ([kept("e"), kept("e", 1)], {}, [TO_COME]),
    ([kept("e"), kept("p")], {}, []),
    ([kept("p", 1)], {}, []),
    ([kept("p", 1), kept("p")], {"found": ("one",)}, [LATE]),
    ([kept("p")], {"found": ("one",)}, []),
    ([kept("e", 1), kept("p")], {"found": ("one",)}, [LATE]),
    # use before the record, of the earliest of the duties
    ([kept("p"), kept("p", first="2025-02-01")], {"begin": "2025-01-15", "known": False},
     ["it is on record from 2025-01-15; whether it was used before is not known"]),
    ([kept("p", first="2025-02-01")], {"begin": "2025-01-15", "known": False}, []),
    ([kept("p", first="2025-01-15")], {"begin": "2025-01-15", "known": False}, []),
    ([kept("p")], {"begin": "2025-01-15"}, []),
]  # fmt: skip


@pytest.mark.parametrize(("held", "more", "told"), UNKNOWN)
def test_what_is_not_known_of_that_by_which_duties_count(held, more, told):
    assert _unknown(*asked(**more), held) == told


UNLOGGED = [
    ([kept("d"), kept("p")], 1, True),
    ([kept("p"), kept("i")], 1, True),
    ([kept("d")], 0, False),
    ([kept("p")], 1, False),
]


@pytest.mark.parametrize(("held", "missing", "only"), UNLOGGED)
def test_whether_nothing_was_due_only_as_loads_are_not_logged(held, missing, only):
    assert _unlogged(*asked(missing=missing), held) is only


def test_duties_that_count_by_loads_say_so_where_not_all_that_ran_are_logged():
    said = "counted by the loads on record; 2 of about 3 cycles logged"
    assert _unknown(*asked(missing=1), [kept("d"), kept("p")]) == [said]
    assert _unknown(*asked(unknown=("a span",)), [kept("i")]) == [said]
    assert _unknown(*asked(missing=1), [kept("p")]) == [] and _unknown(*asked(), [kept("d")]) == []
