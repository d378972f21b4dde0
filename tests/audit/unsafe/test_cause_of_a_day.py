"""A cause of the day of a failure comes after it only where that is shown, or told of the failure in its own case."""

from dataclasses import replace
from datetime import datetime

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, history, holds
from tests.fact_builders import air, case, check, conclude, job, part, position, row, step

CDC = "CDC 2008: not used until maintenance has inspected it and it passes; the order: common practice, no source"
FIRST_DAY, DAY, PASSED, NEXT = "2025-06-23", "2025-06-24", "2025-06-25", "2025-06-26"


def at(day, time):
    return datetime.fromisoformat(f"{day}T{time}+00:00") if time else None


def sheet(day, result="pass", time="", **more):
    return replace(air(day, result, **more), row=row(day, at=time, ref="first" if day == FIRST_DAY else ""))


def inspected(day=DAY, time="", recorded="23:00", action="find cause"):
    done = step(day, action, done=day)
    done = replace(done, done_at=at(day, time), row=replace(done.row, logged_at=at(day, recorded)))
    return (case("first", FIRST_DAY, done, kind="air removal"),)


def told(words, *, again="none", cases=(), good=None, passed=PASSED, **more):
    """Failed on the 23rd, again on the 24th at `again`; passed on the 25th."""
    tests = [sheet(FIRST_DAY, "fail", "08:00")]
    tests += [] if again == "none" else [sheet(DAY, "fail", again)]
    tests.append(sheet(passed))
    held = {"type": "dynamic air removal", "air_removal": tuple(tests), "cases": cases} | more
    word = Word.IN_SERVICE if good else None
    return history(words, CDC, never=() if good else PERMITS, word=word, **held)


def repaired(arrived="", departed="", day=FIRST_DAY):
    """A pump kit fitted, with every test of that work, and released."""
    tests = tuple(check(day, code) for code in ("V1", "V2", "V3", "V4"))
    parts = (part(day, "kit", "replaced on condition", "pump kit"),)
    work = job(day, reason="breakdown", tests=tests, parts=parts, arrived=arrived, departed=departed,
               at=departed, conclusion=conclude(day))  # fmt: skip
    return {"jobs": (work,), "positions": (position("kit"),)}


ROWS = [
    told("inspected on the day of the failure, no time, passed later", cases=inspected(FIRST_DAY), good=True),
    told("inspected at 07:00, failed at 08:00", cases=inspected(FIRST_DAY, "07:00")),
    told("inspected without a time, recorded at 07:30, failed at 08:00", cases=inspected(FIRST_DAY, "", "07:30")),
    told("inspected at 09:00, failed at 08:00", cases=inspected(FIRST_DAY, "09:00"), good=True),
    told("failed again at 14:00, inspected at 13:00", again="14:00", cases=inspected(time="13:00")),
    told("failed again at 14:00, inspected at 15:00", again="14:00", cases=inspected(time="15:00"), good=True),
    told("failed again at 14:00, inspected without a time, recorded at 17:00", again="14:00", cases=inspected()),
    told("failed again without a time, inspected at 15:00", again="", cases=inspected(time="15:00")),
    told("failed again and inspected on one day without times", again="", cases=inspected()),
    told("failed again, inspected the day after", again="14:00", cases=inspected(PASSED), passed=NEXT, good=True),
    told("repaired from 09:00 to 10:00, failed at 08:00", **repaired("09:00", "10:00"), good=True),
    told("repaired from 06:00 to 07:00, failed at 08:00", **repaired("06:00", "07:00")),
    told("repaired on the day of the failure, no times", **repaired()),
    told("repaired on the day after the failure, no times", **repaired(day=DAY), good=True),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)
