"""A unit without dynamic air removal owes what its type has a test for: where its rules ask the leak test, V2 too."""

import pytest

from tests.audit.unsafe.table import PERMITS, history, holds
from tests.fact_builders import job, leak, part, position

DAY, AS_OF = "2025-06-23", "2025-06-27"
RACGP = (
    "RACGP guidelines (2023): an air-leak test of every steriliser that uses a vacuum in any part of its operation; "
    "which work asks it: common practice, no source"
)
TRADE = "component table of the trade; common practice, no source"
NO_LEAK_TEST = {"regime": "us-dental-cdc-2003", "source": TRADE}


def told(words, what, tests, *, owes=None, source=RACGP, regime="au-racgp-2023", type="cassette", leaks=(), **more):
    """`owes`: the test that is said to be missing; None: none is."""
    code = what.replace(" ", "-")
    work = job(DAY, reason="planned", tests=tests, parts=(part(DAY, code, "replaced on plan", what),), **more)
    held = {"positions": (position(code),), "jobs": (work,), "leaks": leaks, "type": type}
    said = {"says": ("verification not complete", owes), "never": PERMITS} if owes else {"not_says": ("V2", "V3")}
    return history(words, source, as_of=AS_OF, regime=regime, **said, **held)


V1, V12 = ("V1",), ("V1", "V2")
ROWS = [
    told("seal of a cassette unit, V1", "cassette seal", V1, owes="V2"),
    told("seal of a cassette unit, V1 and V2", "cassette seal", V12),
    told(
        "seal of a cassette unit, V1, leak test run the day after", "cassette seal", V1, leaks=(leak("2025-06-24"),)
    ),
    told("the leak test of the day, order not known", "cassette seal", V1, owes="V2", leaks=(leak(DAY),)),
    told("valve of a cassette unit, V1", "solenoid valve", V1, owes="V2"),
    told("valve of a cassette unit, V1 and V2: no test of air removal exists there", "solenoid valve", V12),
    told("pump kit of a cassette unit, V1 and V4", "pump kit", ("V1", "V4"), owes="V2"),
    told("check valve of a cassette unit, V1", "check valve", V1, owes="V2"),
    told("tubing of a cassette unit, V1", "tube set", V1, owes="V2"),
    told("strainer of a cassette unit, V1", "drain strainer", V1),
    told("battery of a cassette unit, V1", "backup battery", V1),
    told("a cassette unit under rules that ask it no leak test, V1", "cassette seal", V1, **NO_LEAK_TEST),
    told("the same without V1", "cassette seal", (), owes="V1", **NO_LEAK_TEST),
    told("seal of a gravity unit, V1", "door seal", V1, type="gravity"),
    told("seal of a gravity unit without V1", "door seal", (), type="gravity", owes="V1"),
    told("pump of a gravity unit, no V1", "feed pump", (), type="gravity", owes="V1"),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)
