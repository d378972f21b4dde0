"""What was owed stays an open item beside a failed test: bad news closes none, until the unit is proven again."""

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import BEGUN, TESTED, history, holds
from tests.fact_builders import air, bio, event, leak, load, placed, user_check, weekly

CDC, CDC_2008, HTM = "us-dental-cdc-2003", "us-healthcare-cdc-2008", "gb-eng-dental-htm0105"
WEEKLY = "CDC 2003 (MMWR 52 RR-17) VI.F item 6"
EACH_DAY = "CDC 2008: each day of use, before the first load"
FLORIDA = {"source": "Florida Administrative Code 64B5-25.003", "regime": "us-fl-dental"}
OWED = weekly("2025-01-01", "2025-05-28")  # overdue from Monday 9 June on
GROWN = bio("2025-06-17", result="growth", known="2025-06-18")
VACUUM = {"type": "dynamic air removal", "regime": CDC_2008}
MISSED = {"loads": (load("2025-06-23"),), "bio_tests": TESTED, **VACUUM}


def told(words, source=WEEKLY, *, opens=(), word=Word.OUT, **more):
    return history(words, source, word=word, opens=opens, **more)


ROWS = [
    told("spore test overdue, then a positive one", bio_tests=(*OWED, GROWN), opens=("duty-overdue",)),
    told(
        "the same, and a negative repeat: nothing is owed any more",
        bio_tests=(*OWED, GROWN, bio("2025-06-23", result="pass", known="2025-06-24", purpose="repeat")),
        word=Word.IN_SERVICE,
    ),
    told(
        "leak test overdue, then one that failed",
        "HTM 01-05 (2013), table of periodic tests: weekly",
        regime=HTM,
        type="dynamic air removal",
        leaks=(leak("2025-06-02"), leak("2025-06-24", "fail")),
        opens=("duty-overdue", "air-leak-open"),
    ),
    told(
        "air-removal test missed on a day of use, then one that failed",
        EACH_DAY,
        air_removal=(air("2025-06-20"), air("2025-06-24", "fail")),
        opens=("duty-overdue", "air-removal-open"),
        **MISSED,
    ),
    told(
        "the test of today failed at seven, a load ran at eight",
        EACH_DAY,
        air_removal=(air("2025-06-26"), air("2025-06-27", "fail", at="07:00")),
        loads=(load("2025-06-26", at="08:00"), load("2025-06-27", at="08:00", released="")),
        bio_tests=TESTED,
        opens=("load-before-test", "air-removal-open"),
        **VACUUM,
    ),
    told(
        "the test of today passed at seven, a load ran at eight",
        EACH_DAY,
        air_removal=(air("2025-06-26"), air("2025-06-27", at="07:00")),
        loads=(load("2025-06-26", at="08:00"), load("2025-06-27", at="08:00")),
        bio_tests=TESTED,
        word=Word.IN_SERVICE,
        **VACUUM,
    ),
    told(
        "a spore test that does not count, then a positive one",
        bio_tests=(*TESTED[:-2], bio("2025-06-18", result="invalid"), bio("2025-06-23", result="growth")),
        opens=("invalid-test", "positive-test-open"),
    ),
    told(
        "daily control test missed, then one that failed",
        "HTM 01-05 (2013), table of periodic tests: daily",
        regime=HTM,
        checks=(user_check("2025-06-20"), user_check("2025-06-25", result="fail")),
        loads=(load("2025-06-23"), load("2025-06-24")),
        opens=("duty-overdue", "automatic-control-open"),
    ),
    told(
        "Florida, hours of use not known, then taken out by hand on the day of the last test",
        events=(BEGUN, event("2025-06-25", "withdrawn", "door")),
        opens=("no-evidence",),
        **FLORIDA,
    ),
    told(
        "Florida, hours of use not known, in store since the day of the last test",
        placements=(placed("2025-01-01"), placed("2025-06-25", "stored as spare")),
        word=Word.NOT_IN_USE,
        **FLORIDA,
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)
