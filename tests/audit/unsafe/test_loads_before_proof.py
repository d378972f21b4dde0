"""Loads that were run while the unit was not to be used are said, whatever it was that kept it from use."""

from dataclasses import replace
from datetime import datetime

import pytest

from tests.audit.unsafe.table import BEGUN, PRACTICE, TESTED, history
from tests.fact_builders import document, event, job, load, outcome, part, part_recall, position, row, seen, weekly

RULE = "loads-before-proof"
DAY, AFTER = "2025-06-23", "2025-06-24"
EARLY = TESTED[:-1]  # the last one of them is of 18 June
PLACES = tuple(position(code) for code in ("seal", "door-latch"))
DONE = (outcome(DAY),)
LATCH = (seen(DAY, "door-latch", 3, "leave", "X"),)
SEAL = job("2025-06-01", parts=(part("2025-06-01"),))


def moved(at=""):
    return {"events": (BEGUN, replace(event(DAY, "relocated"), row=row(DAY, at=at)))}


def stopped(*notices):
    return {"jobs": (SEAL,), "place": {"part_recalls": notices}}


INDIANA = {"regime": "us-in", "bio_tests": weekly("2025-01-01", "2025-06-11")}  # seven days, or no use

ROWS = [
    # what, the day and time of the load, facts, whether it is said
    ("moved, and used before a test there", AFTER, "", moved() | {"bio_tests": EARLY}, True),
    ("moved, and used once a test had passed", "2025-06-27", "", moved(), False),
    ("moved, used first, then tested and passed", AFTER, "", moved(), True),
    ("used on the day of the move, nobody knows when", DAY, "", moved() | {"bio_tests": EARLY}, False),
    ("used on the day of the move, after it", DAY, "13:00", moved("12:00") | {"bio_tests": EARLY}, True),
    ("used on the day of the move, before it", DAY, "11:00", moved("12:00") | {"bio_tests": EARLY}, False),
    ("work not concluded", AFTER, "", {"jobs": (job(DAY, end="", outcomes=DONE),)}, True),
    ("a test of the work missing", AFTER, "", {"jobs": (job(DAY, tests=(), outcomes=DONE),)}, True),
    ("the work proven", AFTER, "", {"jobs": (job(DAY, outcomes=DONE),)}, False),
    ("a safety finding", AFTER, "", {"jobs": (job(DAY, tests=(), end="", findings=LATCH),)}, True),
    ("before the safety finding", "2025-06-22", "", {"jobs": (job(DAY, tests=(), end="", findings=LATCH),)}, False),
    ("a recalled part to stop use", AFTER, "", stopped(part_recall("2025-06-10", action="stop use")), True),
    ("a recalled part to inspect", AFTER, "", stopped(part_recall("2025-06-10", action="inspect")), False),
    (
        "the pressure examination run out",
        AFTER,
        "",
        {"documents": (document("pressure examination", "2024-06-20", "2025-06-20", unit="unit-1"),)},
        True,
    ),
    (
        "on its last valid day",
        "2025-06-20",
        "",
        {"documents": (document("pressure examination", "2024-06-20", "2025-06-20", unit="unit-1"),)},
        False,
    ),
    ("Indiana, tested twelve days before", AFTER, "", INDIANA, True),
    ("Indiana, tested in time", AFTER, "", {"regime": "us-in"}, False),
]  # fmt: skip


@pytest.mark.parametrize(("told", "on", "at", "facts", "said"), ROWS, ids=[each[0] for each in ROWS])
def test_it_is_said(told, on, at, facts, said):
    moment = datetime.fromisoformat(f"{on}T{at}+00:00") if at else None
    one = load(on, "9", mechanical="pass", chemical="pass")
    one = replace(one, row=replace(one.row, happened_at=moment))
    held = {"positions": PLACES, "loads": (one,)} | facts
    (made,) = history(told, PRACTICE, opens=(RULE,), **held).values
    found = [f for f in made.judged().findings if f.rule == RULE]
    assert bool(found) == said, found
    assert all(f.message.startswith("1 load(s) run while it was not to be used") for f in found)
