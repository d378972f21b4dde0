"""A loaner, or a unit that was moved, is proved where it stands now before it is used, whatever ended its withdrawal.

One spore test passed: NEHA body-art model code 8.11; three: ST79 clause 13, Toronto Public Health. Where the rules
followed are silent, as those here: common practice, no source.
"""

from dataclasses import replace

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import BEGUN, PERMITS, TESTED, history, holds
from tests.fact_builders import bio, document, event, job, row

CAME = "2025-06-20"
BEFORE = tuple(t for t in TESTED if t.row.happened_on.isoformat() < CAME)


def told(day, kind, reason="", *, at="", ends="", ref=""):
    return replace(event(day, kind, reason), row=row(day, at=at, ref=ref), ends=ends)


def came(kind="loaner in", at=""):
    return told(CAME, kind, at=at)


OUT = told(CAME, "withdrawn", "not proved at this place yet", ref="out")
BACK = told("2025-06-23", "returned", "set up", ends="out")
PASS = bio("2025-06-25", result="pass", known="2025-06-26")


def arrival(words, *tests, events=(), **more):
    return history(
        words, **({"events": (BEGUN, *(events or (came(), OUT, BACK))), "bio_tests": BEFORE + tests} | more)
    )


def ended(conclusion, reason="loaner", day="2025-06-23", **more):
    return job(day, end=conclusion, reason=reason, tests=("V1", "V4"), **more)


SILENT = "loaner in on 2025-06-20"
ROWS = [
    arrival("a loaner returned to use by a return that names its arrival, no test", never=PERMITS, says=(SILENT,)),
    arrival("a unit moved here, the same", events=(came("relocated"), OUT, BACK), never=PERMITS, word=Word.WAITING),
    arrival("a loaner by itself, never withdrawn", events=(came(),), never=PERMITS, word=Word.WAITING),
    arrival(
        "lent elsewhere, and back", events=(told("2025-06-02", "loaner out"), came()), never=PERMITS,
        word=Word.WAITING,
    ),
    arrival(
        "lent elsewhere, and back by a return to use",
        events=(told("2025-06-02", "loaner out"), told(CAME, "returned")),
        never=PERMITS, word=Word.WAITING,
    ),
    arrival(
        "the same with a spore test passed since", PASS, word=Word.IN_SERVICE,
        events=(told("2025-06-02", "loaner out"), told(CAME, "returned")),
    ),
    arrival(
        "decommissioned when it moved away, and back by a return to use", never=PERMITS, word=Word.WAITING,
        events=(told("2025-06-02", "decommissioned"), told(CAME, "returned")),
    ),
    arrival(
        "withdrawn and lent elsewhere: a return that names the withdrawal brings nothing back", PASS, never=PERMITS,
        word=Word.NOT_IN_USE,
        events=(told("2025-06-01", "withdrawn", "door", ref="w"), told("2025-06-02", "loaner out"),
                told(CAME, "returned", ends="w")),
    ),
    arrival(
        "withdrawn and decommissioned: a return that names neither is about the withdrawal", PASS, never=PERMITS,
        word=Word.NOT_IN_USE,
        events=(told("2025-06-01", "withdrawn", "door"), told("2025-06-02", "decommissioned"),
                told(CAME, "returned")),
    ),
    arrival(
        "a second return brings it back", PASS, word=Word.IN_SERVICE,
        events=(told("2025-06-01", "withdrawn", "door"), told("2025-06-02", "decommissioned"), told(CAME, "returned"),
                told("2025-06-21", "returned")),
    ),
    arrival("a spore test passed since", PASS, word=Word.IN_SERVICE),
    arrival("one passed, and never returned", PASS, events=(came(), OUT), never=PERMITS, word=Word.OUT),
    arrival("one that is incubating", bio("2025-06-25"), never=PERMITS),
    arrival("one that grew", bio("2025-06-25", result="growth", known="2025-06-26"), never=PERMITS, word=Word.OUT),
    arrival("one of the day before", bio("2025-06-19", result="pass", known="2025-06-21"), never=PERMITS),
    arrival(
        "passed that day, nobody knows when",
        bio(CAME, result="pass", known="2025-06-21"),
        never=PERMITS,
        word=Word.WAITING,
    ),
    arrival(
        "passed that day, run for the installation",
        bio(CAME, result="pass", known="2025-06-21", purpose="installation"),
        word=Word.IN_SERVICE,
    ),
    arrival(
        "a test begun at the very minute at which it came",
        bio(CAME, result="pass", known="2025-06-21", at="12:00"),
        events=(came(at="12:00"),),
        never=PERMITS,
        word=Word.WAITING,
    ),
    arrival(
        "a test begun a minute later",
        bio(CAME, result="pass", known="2025-06-21", at="12:01"),
        events=(came(at="12:00"),),
        word=Word.IN_SERVICE,
    ),
    arrival("a planned visit proves no place", never=PERMITS, jobs=(ended("released", "planned"),)),
    arrival("set up, and not released", never=PERMITS, jobs=(ended("not released"),)),
    arrival("set up before it came", never=PERMITS, jobs=(ended("released", day="2025-06-18"),)),
    arrival(
        "a validation report since", documents=(document("validation report", "2025-06-24", "2026-06-23"),),
        word=Word.IN_SERVICE,
    ),
    arrival(
        "a validation report of before", documents=(document("validation report", "2025-06-01", "2026-06-01"),),
        never=PERMITS, word=Word.WAITING,
    ),
    arrival(
        "Toronto names it and asks three: one is not enough", PASS, regime="ca-toronto-personal-services",
        never=PERMITS, says=("2 more test(s)",),
    ),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_it_is_proved_where_it_stands(row):
    holds(row)
