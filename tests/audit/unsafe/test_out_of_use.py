"""What was owed before a unit went out of use stays owed: while it is out, and after its return."""

import pytest

from audit.judge.judgement import State, Word
from tests.audit.unsafe.table import BEGUN, DAY, PLAIN, TESTED, history, holds
from tests.fact_builders import air, bio, closure, event, job, line, load, outcome, placed, weekly

WEEKLY = "CDC 2003 (MMWR 52 RR-17) VI.F item 6"
OWED = weekly("2025-01-01", "2025-05-28")  # overdue from Monday 9 June on
OUT = (BEGUN, event("2025-06-17", "withdrawn", "leak"))
BACK = (*OUT, event("2025-06-26", "returned"))
TORONTO = "ca-toronto-personal-services"


def stored(since, back=None):
    returned = () if back is None else (placed(back),)
    return {"placements": (placed("2025-01-01"), placed(since, "stored as spare"), *returned)}


ROWS = [
    history(
        "overdue since 9 June, taken out on the 17th: still an open item",
        WEEKLY,
        never=(*PLAIN, Word.OVERDUE),
        opens=("duty-overdue",),
        events=OUT,
        bio_tests=OWED,
    ),
    history(
        "the same, returned on the 26th: overdue since 9 June, not since the return",
        WEEKLY,
        never=PLAIN,
        word=Word.OVERDUE,
        says=("overdue since 2025-06-09",),
        events=BACK,
        bio_tests=OWED,
    ),
    history(
        "overdue, in store from 17 to 25 June: overdue since 9 June",
        WEEKLY,
        never=PLAIN,
        says=("overdue since 2025-06-09",),
        bio_tests=OWED,
        **stored("2025-06-17", back="2025-06-26"),
    ),
    history(
        "overdue and now in store: the open item stays",
        WEEKLY,
        word=Word.NOT_IN_USE,
        opens=("duty-overdue",),
        bio_tests=OWED,
        **stored("2025-06-17"),
    ),
    history(
        "overdue and decommissioned: the open item stays",
        WEEKLY,
        word=Word.NOT_IN_USE,
        opens=("duty-overdue",),
        events=(BEGUN, event("2025-06-17", "decommissioned")),
        bio_tests=OWED,
    ),
    history(
        "14 days in Toronto over on 12 June, out from the 17th, back on the 26th",
        "Toronto Public Health, BodySafe: at least every two weeks",
        regime=TORONTO,
        never=PLAIN,
        says=("overdue since 2025-06-12",),
        events=BACK,
        bio_tests=(
            *(bio("2025-01-01", result="pass", purpose="installation", at=f"1{n}:00") for n in range(3)),
            *weekly("2025-01-01", "2025-05-28"),
        ),
    ),
    history(
        "a test on the day of the return ends what was owed",
        WEEKLY,
        word=Word.IN_SERVICE,
        events=BACK,
        bio_tests=(*OWED, bio("2025-06-26", result="pass", known="2025-06-26")),
    ),
    history(
        "air-removal test missed on a day of use before it went out",
        "CDC 2008: each day of use, before the first load",
        regime="us-healthcare-cdc-2008",
        type="dynamic air removal",
        never=PLAIN,
        says=("overdue since 2025-06-17",),
        events=(BEGUN, event("2025-06-17", "withdrawn"), event("2025-06-26", "returned")),
        loads=(load("2025-06-16"),),
        air_removal=(air("2025-06-13"),),
        bio_tests=TESTED,
    ),
    history(
        "the same, tested on the day of the return",
        "CDC 2008: each day of use, before the first load",
        regime="us-healthcare-cdc-2008",
        type="dynamic air removal",
        word=Word.IN_SERVICE,
        events=(BEGUN, event("2025-06-17", "withdrawn"), event("2025-06-26", "returned")),
        loads=(load("2025-06-16"),),
        air_removal=(air("2025-06-13"), air("2025-06-26"), air("2025-06-27")),
        bio_tests=TESTED,
    ),
    history(
        "overdue, then a failed test known: out of service, and after the passing repeat nothing is owed any more",
        WEEKLY,
        word=Word.IN_SERVICE,
        bio_tests=(
            *OWED,
            bio("2025-06-17", result="growth", known="2025-06-18"),
            bio("2025-06-23", result="pass", known="2025-06-24", purpose="repeat"),
        ),
    ),
    history(
        "a leak test overdue, then a failed spore test: the leak test stays an open item",
        "HTM 01-05 (2013), table of periodic tests",
        regime="gb-eng-dental-htm0105",
        word=Word.OUT,
        opens=("duty-overdue",),
        bio_tests=(*OWED, bio("2025-06-17", result="growth", known="2025-06-18")),
    ),
    history(
        "overdue, then work closed as not released: the open item stays",
        WEEKLY,
        never=PLAIN,
        opens=("duty-overdue",),
        bio_tests=OWED,
        jobs=(job("2025-06-17", outcomes=(outcome("2025-06-17"),), end="not released"),),
    ),
    history(
        "a paper of the rules without any evidence, then withdrawn: still an open item",
        "RACGP 2023: validation at installation and yearly",
        regime="au-racgp-2023",
        never=PLAIN,
        opens=("no-evidence",),
        events=(event("2025-06-17", "withdrawn"),),
        placements=(placed("2025-01-01"),),
        bio_tests=(),
    ),
    history(
        "closed for the two weeks of the tests owed: a calendar week pauses for no closure under CDC 2003",
        WEEKLY,
        never=PLAIN,
        bio_tests=OWED,
        place={"closures": (closure("2025-06-02", "2025-06-22"),)},
    ),
    history(
        "a week tested, then three weeks in store: nothing is owed at the return",
        "common practice, no source: what falls due during the time out falls due at the return",
        word=Word.IN_SERVICE,
        bio_tests=weekly("2025-01-01", "2025-06-04"),
        **stored("2025-06-09", back="2025-06-26"),
    ),
    history(
        "planned work overdue before it went into store",
        never=PLAIN,
        says=("overdue since 2025-03-02",),
        plan=(line(months=2, position="", day="2025-01-01"),),
        **stored("2025-06-09", back="2025-06-26"),
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


def test_what_falls_due_during_the_time_out_is_not_applicable_until_the_return():
    """Common practice, no source."""
    (row,) = history(
        "in store when it falls due",
        word=Word.NOT_IN_USE,
        bio_tests=weekly("2025-01-01", "2025-06-04"),
        **stored("2025-06-09"),
    ).values
    clock = next(c for c in row.judged().clocks if c.code == "biological-test")
    assert clock.state is State.NOT_APPLICABLE and row.as_of == DAY
