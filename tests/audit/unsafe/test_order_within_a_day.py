"""A test proves the work only when it is shown to have run after it: by day, by times, or as its person stated."""

from dataclasses import replace

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, TESTED, history, holds
from tests.fact_builders import air, bio, check, conclude, job, outcome, part, position

DAY = "2025-06-26"  # a day after the last routine test
NEXT, AS_OF = "2025-06-27", "2025-06-28"
ISSUE = "where both times are on record they decide; where one is missing a test of the day proves nothing"
ST79 = "ST79:2006 Table 8"
SPAN = {"arrived": "13:00", "departed": "16:00"}
PENDING = {"conclusion": conclude(DAY, "pending", acceptor="C. Manager", deadline="2025-06-26")}


def repaired(**times):
    """A valve renewed; the release waits for one negative spore test, accepted until the end of the day."""
    return job(
        DAY, reason="breakdown", parts=(part(DAY, "valve", "replaced on condition", "valve"),), **PENDING, **times
    )


def spore(at="", *, day=DAY, purpose="routine", result="pass"):
    return bio(day, result=result, known=NEXT, at=at, purpose=purpose)


def after(told, test, never=PERMITS, word=None, work=None, source=ISSUE):
    tests = test if isinstance(test, tuple) else (test,)
    held = {"positions": (position("valve"),), "jobs": (work or repaired(**SPAN),), "bio_tests": (*TESTED, *tests)}
    return history(told, source, as_of=AS_OF, never=never, word=word, **held)


def proven(told, test, work=None, source=ISSUE):
    return after(told, test, (), Word.IN_SERVICE, work, source)


def major(told, days, *, never=(), word=None, airs=(), type="gravity", **times):
    """A pump was renewed: three spore tests, and three air-removal tests where there is a vacuum."""
    parts = (part(DAY, "pump", "replaced on condition", "vacuum pump"),)
    work = job(DAY, reason="breakdown", tests=("V1", "V2", "V3", "V4"), parts=parts, **(SPAN | times))
    held = {"positions": (position("pump"),), "jobs": (work,), "type": type, "air_removal": tuple(airs)}
    return history(told, ST79, as_of="2025-07-02", never=never, word=word, bio_tests=(*TESTED, *days), **held)


THREE = tuple(bio(f"2025-06-{n}", result="pass") for n in (27, 28, 29))
AIRS = tuple(air(f"2025-06-{n}") for n in (27, 28, 29))
ROWS = [
    after("repaired 13:00 to 16:00, spore test run at 08:00 of the day", spore("08:00")),
    after("spore test at 12:59, a minute before the technician came", spore("12:59")),
    after("spore test at 13:00, as the technician came", spore("13:00")),
    after("spore test at 15:59, a minute before the work ended", spore("15:59")),
    proven("spore test at 16:00, as the technician left", spore("16:00")),
    proven("spore test at 16:01", spore("16:01")),
    after("spore test of the day without a time, routine", spore()),
    proven("spore test of the day without a time, run because of the repair", spore(purpose="after repair")),
    proven("spore test of the day without a time, the repeat", spore(purpose="repeat")),
    after("called “after repair”, but both times show it ran before", spore("08:00", purpose="after repair")),
    proven("called “after repair”, run while the technician was there", spore("14:00", purpose="after repair")),
    proven("spore test of the next day without a time", spore(day=NEXT)),
    after("spore test of the day before", spore(day="2025-06-25")),
    after("times of the visit not known, spore test at 18:00", spore("18:00"), work=repaired()),
    proven("times of the visit not known, stated", spore("18:00", purpose="after repair"), work=repaired()),
    after("arrival known, departure not, spore test at 18:00", spore("18:00"), work=repaired(arrived="13:00")),
    proven("one time of the visit on record, 14:00, spore test at 15:00", spore("15:00"), work=repaired(at="14:00")),
    after("one time of the visit on record, 14:00, spore test at 08:00", spore("08:00"), work=repaired(at="14:00")),
    after("positive test of the day without a time counts against it", (spore("16:30"), spore(result="growth"))),
    major("pump renewed, three spore tests of later days", THREE, word=Word.IN_SERVICE),
    major(
        "pump renewed, the first of three spore tests at 09:00 of the day, before the work",
        (bio(DAY, result="pass", at="09:00"), *THREE[:2]),
        never=PERMITS,
    ),
    major(
        "vacuum unit, pump renewed, the first of three air-removal tests at 07:30 of the day, before the work",
        THREE,
        airs=(air(DAY, at="07:30"), *AIRS[:2]),
        type="dynamic air removal",
        never=PERMITS,
    ),
    major(
        "vacuum unit, pump renewed, air-removal test of the day without a time",
        THREE,
        airs=(air(DAY), *AIRS[:2]),
        type="dynamic air removal",
        never=PERMITS,
    ),
    major(
        "vacuum unit, pump renewed, air-removal test of the day run as requalification",
        THREE,
        airs=(air(DAY, purpose="requalification"), *AIRS[:2]),
        type="dynamic air removal",
        never=(Word.WAITING,),
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


FIRST = {"tests": (), "outcomes": (outcome(DAY),)}
TWO_VISITS = [
    # first visit without its test, second visit of the same day with it: times of both, the word
    ({"arrived": "09:00", "departed": "10:00"}, {"arrived": "14:00", "departed": "15:00"}, Word.IN_SERVICE),
    ({"arrived": "09:00", "departed": "10:00"}, {"arrived": "10:00", "departed": "11:00"}, Word.IN_SERVICE),
    ({"arrived": "14:00", "departed": "15:00"}, {"arrived": "09:00", "departed": "10:00"}, Word.WAITING),
    ({}, {}, Word.WAITING),
    ({"arrived": "09:00"}, {"arrived": "14:00", "departed": "15:00"}, Word.WAITING),
]


@pytest.mark.parametrize(("first", "second", "word"), TWO_VISITS)
def test_a_test_of_another_visit_of_the_day(first, second, word):
    jobs = (job(DAY, **FIRST, **first), job(DAY, tests=("V1",), **second))
    row = history("two visits of one day", ISSUE, as_of=AS_OF, word=word, jobs=jobs).values[0]
    holds(row)


@pytest.mark.parametrize(
    ("fail", "passed", "word"),
    [
        ("10:00", "11:00", Word.IN_SERVICE),
        ("11:00", "10:00", Word.WAITING),
        ("11:00", "", Word.WAITING),
        ("", "11:00", Word.WAITING),
        ("", "", Word.IN_SERVICE),  # typed one after the other in one visit
    ],
)
def test_a_function_cycle_that_failed_and_passed_in_one_visit(fail, passed, word):
    tests = (check(DAY, "V1", "fail", at=fail), check(DAY, "V1", at=passed))
    work = job(DAY, tests=tests, outcomes=(outcome(DAY),))
    holds(history("failed, then passed", word=word, as_of=AS_OF, jobs=(work,)).values[0])


def test_no_time_is_worth_more_than_a_time():
    """Taking away a time of day never makes the answer more permitting."""
    work = repaired(**SPAN)
    for test in (spore("08:00"), spore("14:00"), spore("17:00", purpose="after repair"), spore("17:00")):
        whole = _word(work, test)
        without = replace(test, row=replace(test.row, happened_at=None))
        assert _word(work, without).rank <= whole.rank
        for name in ("arrived_at", "departed_at"):
            assert _word(replace(work, **{name: None}), test).rank <= whole.rank, (test.row.happened_at, name)


def _word(work, test):
    held = {"positions": (position("valve"),), "jobs": (work,), "bio_tests": (*TESTED, test)}
    row = history("times", as_of=AS_OF, not_says=("nothing of the kind",), **held).values[0]
    return row.judged().standing.word
