"""What ran between a failure and its proof: the moments of the two days themselves, and which result made them.

A load of one of the two days counts where both times show that it lay between; common practice, no source.
"""

from dataclasses import replace
from datetime import datetime

import pytest

from tests.audit.unsafe.asked import YES, asks, holds
from tests.audit.unsafe.table import TESTED
from tests.fact_builders import air, bio, leak, load, look, user_check

VI_F = "CDC 2003 (MMWR 52 RR-17) VI.F, positive spore test"
KNOWN, PROVEN = "2025-05-09", "2025-05-13"
OPEN = ("not recorded",)  # the order of a load, in words


def moment(day, time):
    return datetime.fromisoformat(f"{day}T{time}+00:00") if time else None


def at(test, *times):
    """A spore test whose readings became known at these times of their days."""
    made = zip(test.readings, times, strict=True)
    return replace(test, readings=tuple(replace(r, known_at=moment(r.known_on, t)) for r, t in made))


def grown(time="10:00"):
    return at(bio("2025-05-07", result="growth", known=KNOWN, ref="bad"), time)


def negative(time="12:00", **more):
    return at(bio("2025-05-12", result="pass", known=PROVEN, **({"purpose": "repeat"} | more)), time)


OTHERS = tuple(t for t in TESTED if str(t.row.happened_on) != "2025-05-07")


def told(title, day, time, *more, bad=None, good=None, **said):
    """A positive test known at 10:00 on 9 May, negative again at 12:00 on 13 May, and one load."""
    tests = (*OTHERS, bad or grown(), good or negative(), *more)
    facts = {"loads": (load(day, "9", at=time),), "bio_tests": tests}
    return asks("out-until-proven", title, VI_F, **{**facts, **said})


# What is said is held too: an open item of its own forbids the same load, so the answer alone would not show it.
NO = {"answer": "no", "says": ("1 load on record in between",)}
GOOD = {"answer": YES, "says": ("no load is on record in between",)}
CHECKED = user_check(PROVEN, at="15:00")
READ_TWICE = bio("2025-05-07", look("2025-05-08", "no growth"), look(KNOWN, "growth"), ref="bad")
GROWN_TWICE = bio("2025-05-07", look(KNOWN, "growth"), look(KNOWN, "growth"), ref="bad")

ROWS = [
    told("a load one minute before the failure was known", KNOWN, "09:59", **GOOD),
    told("a load of the very minute", KNOWN, "10:00", **GOOD),
    told("a load one minute after it", KNOWN, "10:01", **NO),
    told("a load of that day without a time", KNOWN, "", says=OPEN),
    told("the failure known at no time, a load with one", KNOWN, "11:00", bad=grown(""), says=OPEN),
    told("a load one minute before the proof was known", PROVEN, "11:59", **NO),
    told("a load one minute after it was known", PROVEN, "12:01", **GOOD),
    told("the proof known at no time, a load with one", PROVEN, "13:00", good=negative(""), says=OPEN),
    told("a load of the day of the proof without a time", PROVEN, "", says=OPEN),
    told("a load of a day between, without a time", "2025-05-11", "", **NO),
    told("a load of the day before the failure was known", "2025-05-08", "23:00", **GOOD),
    told("a load of the day after the proof", "2025-05-14", "01:00", **GOOD),
    told(
        "another result of the day of the proof, known later: the load between them",
        PROVEN,
        "13:00",
        negative("14:00", purpose="routine", cycle="2"),
        **NO,
    ),
    told("a check of the day of the proof, after the load", PROVEN, "13:00", checks=(CHECKED,), **NO),
    told("a leak test of that day, after the load", PROVEN, "13:00", leaks=(leak(PROVEN, at="15:00"),), **NO),
    told("a check of that day without a time", PROVEN, "13:00", checks=(user_check(PROVEN),), says=OPEN),
    told("a check of another day without a time", PROVEN, "13:00", checks=(user_check("2025-05-12"),), **GOOD),
    told(
        "a passing result of the other test known on that day counts by its own time",
        KNOWN,
        "09:59",
        at(bio("2025-05-08", result="pass", known=KNOWN, cycle="3"), "08:00"),
        **GOOD,
    ),
    told(
        "read twice, grown at the second: known then",
        KNOWN,
        "09:59",
        bad=at(READ_TWICE, "08:00", "10:00"),
        **GOOD,
    ),
    told(
        "read twice on one day, grown at both: known at the first",
        KNOWN,
        "10:30",
        bad=at(GROWN_TWICE, "10:00", "11:00"),
        **NO,
    ),
    told(
        "read twice on one day, grown at both, one without a time",
        KNOWN,
        "10:30",
        bad=at(GROWN_TWICE, "10:00", ""),
        says=OPEN,
    ),
    told("a load that is the cycle of a spore test is none", "2025-05-11", "", bio("2025-05-11", cycle="9"), **GOOD),
]

# CDC 2008: a sheet that failed takes the unit out until maintenance has inspected it and it passes.
SHEET = {"regime": "us-healthcare-cdc-2008", "type": "dynamic air removal", "bio_tests": TESTED}


def sheet(title, time, *, failed_at="10:00", **said):
    sheets = (air("2025-06-26", "pass", at="08:00"), air("2025-06-26", "fail", at=failed_at))
    facts = SHEET | {"air_removal": sheets, "loads": (load("2025-06-26", "9", at=time),)}
    return asks("out-until-proven", title, "CDC 2008, air-removal test", **facts, **said)


ROWS += [
    sheet("a sheet failed at ten, a load one minute before", "09:59", answer=YES, says=("no load is on record",)),
    sheet("a sheet failed at ten, a load one minute after", "10:01", answer="no", says=("1 load on record",)),
    sheet("a sheet that failed at no time", "10:01", failed_at="", says=OPEN),
]


@pytest.mark.parametrize("row", ROWS)
def test_what_ran_in_between(row):
    holds(row)
