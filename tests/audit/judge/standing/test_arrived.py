"""The first day on which something on record proves a unit where it stands since it came."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.judge.situation import at, settle
from audit.judge.standing.arrived import last_arrivals, proved_on
from audit.regimes import load_regime
from tests.fact_builders import bio, clinic, document, event, job, on, position, row, unit

CAME, AS_OF = "2025-06-20", "2025-06-27"
RULES = load_regime("us-dental-cdc-2003")


def came(hour=""):
    return replace(event(CAME, "loaner in"), row=row(CAME, at=hour))


def set_up(day, end="released", **more):
    return job(day, end=end, reason="loaner", tests=("V1", "V4"), **more)


def paper(kind, day, **more):
    return document(kind, day, "2026-06-19", **more)


PASS = bio("2025-06-25", result="pass", known="2025-06-26")
ROWS = [
    # (what, hour of the arrival, facts since, day of the first proof)
    ("nothing", "", {}, None),
    ("a test that passed, from the day its result was known", "", {"bio_tests": (PASS,)}, "2025-06-26"),
    (
        "of two the first",
        "",
        {"bio_tests": (bio("2025-06-22", result="pass", known="2025-06-23"), PASS)},
        "2025-06-23",
    ),
    ("a test without a control", "", {"bio_tests": (replace(PASS, control_lot=None),)}, None),
    ("a test of before", "", {"bio_tests": (bio("2025-06-19", result="pass", known="2025-06-21"),)}, None),
    ("a test of that day, no time known", "", {"bio_tests": (bio(CAME, result="pass", known="2025-06-21"),)}, None),
    (
        "a test of that day, run for the installation",
        "",
        {"bio_tests": (bio(CAME, result="pass", known="2025-06-21", purpose="installation"),)},
        "2025-06-21",
    ),
    ("set up that day, no time known", "", {"jobs": (set_up(CAME),)}, CAME),
    ("set up that day, the arrival without a time", "", {"jobs": (set_up(CAME, at="11:00"),)}, CAME),
    ("set up that day, itself without a time", "12:00", {"jobs": (set_up(CAME),)}, CAME),
    ("set up that day, an hour before", "12:00", {"jobs": (set_up(CAME, at="11:00"),)}, None),
    ("set up that day, at that moment", "12:00", {"jobs": (set_up(CAME, at="12:00"),)}, CAME),
    ("set up that day, an hour after", "12:00", {"jobs": (set_up(CAME, at="13:00"),)}, CAME),
    (
        "set up the day after, at an earlier hour",
        "12:00",
        {"jobs": (set_up("2025-06-21", at="11:00"),)},
        "2025-06-21",
    ),
    ("set up the day before, at a later hour", "12:00", {"jobs": (set_up("2025-06-19", at="13:00"),)}, None),
    ("set up, not concluded", "", {"jobs": (set_up(CAME, ""),)}, None),
    ("set up, not released", "", {"jobs": (set_up(CAME, "not released"),)}, None),
    ("a planned visit", "", {"jobs": (job(CAME),)}, None),
    ("a validation report of that day", "", {"documents": (paper("validation report", CAME),)}, CAME),
    ("one of the day judged", "", {"documents": (paper("validation report", AS_OF),)}, AS_OF),
    ("one of before", "", {"documents": (paper("validation report", "2025-06-19"),)}, None),
    ("a paper of another kind", "", {"documents": (paper("instructions", CAME),)}, None),
]


@pytest.mark.parametrize(("hour", "facts", "first"), [r[1:] for r in ROWS], ids=[r[0] for r in ROWS])
def test_the_first_day_on_which_it_is_proved(hour, facts, first):
    made = unit("2025-01-06", events=(event("2025-01-06"), came(hour)), positions=(position(),), **facts)
    s = at(settle(made, clinic(made), RULES, on(AS_OF)), on(AS_OF))
    (arrived,) = last_arrivals(s)
    assert proved_on(s, arrived) == (first and on(first))


@pytest.mark.parametrize(("of", "first"), [("unit-1", CAME), ("unit-2", None), ("", None)])
def test_a_report_that_the_clinic_keeps_counts_of_that_unit_alone(of, first):
    made = unit("2025-01-06", events=(event("2025-01-06"), came()), positions=(position(),))
    place = clinic(made, documents=(replace(paper("validation report", CAME), unit=of),))
    s = at(settle(made, place, RULES, on(AS_OF)), on(AS_OF))
    assert proved_on(s, last_arrivals(s)[0]) == (first and on(first))


def test_of_several_arrivals_those_of_the_newest_day_count():
    earlier, same = event("2025-03-01", "relocated"), event(CAME, "relocated")
    made = unit("2025-01-06", events=(earlier, same, came()), positions=(position(),))
    s = at(settle(made, clinic(made), RULES, on(AS_OF)), on(AS_OF))
    assert len(last_arrivals(s)) == 2
