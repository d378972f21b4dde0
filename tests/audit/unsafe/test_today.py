"""What is to be done before the first load counts today already, and what comes after an event before use."""

import pytest

from audit.facts import UnitEventFact
from audit.judge.judgement import Word
from tests.audit.unsafe.table import BEGUN, DAY, PERMITS, PLAIN, TESTED, history, holds
from tests.fact_builders import air, bio, document, event, job, load, outcome, placed, row, user_check, weekly

HTM, CDC, ST79 = "gb-eng-dental-htm0105", "us-healthcare-cdc-2008", "us-healthcare-st79-2017"
SIGNED = "HTM 01-05 (2013) 11.12: signed before return to use"
BEFORE = "CDC 2008, mechanical air-removal test: each day of use, before the first load"
NEW_JERSEY = "N.J.A.C. 8:27-5.4: after any repair or breakdown"
SEVEN = "410 IAC 1-4-8(d)(2): used within seven days before"
DUE = "due before the first load today"
YESTERDAY = "2025-06-26"
MOVED = "2025-06-23"


def england(told, *checks, loads=(), **more):
    """Papers in date, the weekly safety check done."""
    papers = (
        document("pressure examination", "2025-01-01", "2026-01-01"),
        document("validation report", "2025-01-01", "2026-01-01"),
    )
    weeks = tuple(user_check(t.row.happened_on, "safety check") for t in TESTED)
    done = (*weeks, *checks)
    return history(told, SIGNED, regime=HTM, documents=papers, checks=done, loads=loads, bio_tests=(), **more)


def vacuum(told, *tests, **more):
    """The air-removal test done on each day of a spore test."""
    tests = (*(air(t.row.happened_on) for t in TESTED), *tests)
    return history(told, BEFORE, regime=CDC, type="dynamic air removal", air_removal=tests, **more)


def after(told, *tests, kind="relocated", regime=ST79, at="", **more):
    """An event of 23 June, tested as asked at the installation and each week until then."""
    happened = UnitEventFact(row(MOVED, at=at), kind, "", "")
    begun = tuple(bio("2025-01-01", result="pass", cycle=str(n), purpose="installation") for n in range(1, 4))
    source = "after the event, before use: ST79 clause 13 (qualification), California HSC 119315"
    tested = (*begun, *weekly("2025-01-08", "2025-06-18"), *tests)
    return history(told, source, regime=regime, events=(BEGUN, happened), bio_tests=tested, **more)


def passes(*days, **more):
    return tuple(bio(d, result="pass", known=d, cycle=str(500 + n), **more) for n, d in enumerate(days))


def repaired(told, test, **more):
    jobs = (job(MOVED, reason="breakdown", outcomes=(outcome(MOVED),)),)
    return history(told, NEW_JERSEY, regime="us-nj-body-art", jobs=jobs, bio_tests=(*TESTED[:-1], test), **more)


def indiana(told, **more):
    return history(told, SEVEN, regime="us-in", **more)


CALIFORNIA = {"kind": "installed", "regime": "us-ca-body-art"}

ROWS = [
    england("today's automatic control test is not done", never=PERMITS, word=Word.WAITING, says=(DUE,)),
    england("it is done and signed", user_check(DAY), word=Word.IN_SERVICE, not_says=(DUE,)),
    england("it is done and nobody signed", user_check(DAY, signed=""), never=PERMITS, word=Word.WAITING),
    england("it was done yesterday, not today", user_check(YESTERDAY), never=PERMITS, word=Word.WAITING),
    england(
        "used today without it",
        user_check(YESTERDAY),
        loads=(load(DAY, "9"),),
        never=PERMITS,
        word=Word.WAITING,
        opens=("load-before-test",),
    ),
    england("used yesterday without it", loads=(load(YESTERDAY),), never=PERMITS, word=Word.OUT),
    england(
        "used today, the load before the test by its time",
        user_check(DAY, at="09:00"),
        loads=(load(DAY, "9", at="08:00"),),
        word=Word.IN_SERVICE,
        opens=("load-before-test",),
    ),
    england(
        "in store today: nothing is asked of today",
        placements=(placed("2025-01-01"), placed("2025-06-20", "stored as spare")),
        word=Word.NOT_IN_USE,
        not_says=(DUE,),
    ),
    vacuum("today's air-removal test is not done", word=Word.IN_SERVICE, says=(DUE,)),
    vacuum("it is done", air(DAY), word=Word.IN_SERVICE, not_says=(DUE,)),
    vacuum(
        "used today without it",
        loads=(load(DAY, "9"),),
        word=Word.IN_SERVICE,
        says=(DUE,),
        opens=("load-before-test",),
    ),
    vacuum("used yesterday without it", loads=(load(YESTERDAY),), never=PLAIN, word=Word.OVERDUE, says=(DUE,)),
    vacuum("used yesterday without it, done today", air(DAY), loads=(load(YESTERDAY),), word=Word.IN_SERVICE),
    vacuum(
        "the weekly spore test is overdue and today's test not done",
        bio_tests=weekly("2025-01-01", "2025-06-11"),
        word=Word.OVERDUE,
        says=(DUE, "overdue since 2025-06-23"),
    ),
    history("a gravity unit is asked no air-removal test", BEFORE, regime=CDC, word=Word.IN_SERVICE, not_says=(DUE,)),
    after("relocated, no test since", never=PERMITS, word=Word.WAITING),
    after("relocated today", never=PERMITS, word=Word.WAITING, as_of=MOVED),
    after(
        "relocated, three tests incubating",
        *(bio("2025-06-24", cycle=n) for n in "789"),
        never=PERMITS,
        word=Word.WAITING,
    ),
    after(
        "relocated, two passed and one incubating",
        *passes("2025-06-24", "2025-06-24"),
        bio("2025-06-25", cycle="9"),
        never=PERMITS,
        word=Word.WAITING,
    ),
    after("relocated, three passed", *passes("2025-06-24", "2025-06-24", "2025-06-25"), word=Word.IN_SERVICE),
    after(
        "relocated at noon, three passed that morning",
        *passes(MOVED, MOVED, MOVED, at="09:00"),
        at="12:00",
        never=PERMITS,
        word=Word.WAITING,
    ),
    after(
        "relocated, nobody knows when, three passed that day as routine",
        *passes(MOVED, MOVED, MOVED, at="09:00"),
        never=PERMITS,
        word=Word.WAITING,
    ),
    after(
        "relocated, nobody knows when, three passed that day as its requalification",
        *passes(MOVED, MOVED, MOVED, purpose="requalification"),
        word=Word.IN_SERVICE,
    ),
    after(
        "installed in a California studio, its test incubating",
        bio("2025-06-24", cycle="9"),
        never=PERMITS,
        word=Word.WAITING,
        **CALIFORNIA,
    ),
    after("installed in a California studio, tested before", never=PERMITS, word=Word.WAITING, **CALIFORNIA),
    after(
        "installed in a California studio, its test passed", *passes("2025-06-24"), word=Word.IN_SERVICE, **CALIFORNIA
    ),
    repaired(
        "repaired in New Jersey, the full test of that day passed, the order not known",
        bio(MOVED, result="pass", known=MOVED, at="08:00"),
        never=PERMITS,
    ),
    repaired(
        "repaired in New Jersey, the test said to be the one after repair",
        bio(
            MOVED,
            result="pass",
            known=MOVED,
            purpose="after repair",
            site="laboratory",
            place="centre, to the front",
        ),
        word=Word.IN_SERVICE,
    ),
    indiana(
        "Indiana, tested seven days ago",
        word=Word.IN_SERVICE,
        bio_tests=weekly("2025-01-01", "2025-06-18"),
        as_of="2025-06-25",
    ),
    indiana(
        "Indiana, tested eight days ago",
        never=PERMITS,
        word=Word.OUT,
        bio_tests=weekly("2025-01-01", "2025-06-18"),
        as_of="2025-06-26",
    ),
    indiana(
        "Indiana, back from store after two weeks, no test yet",
        never=PERMITS,
        word=Word.OUT,
        bio_tests=weekly("2025-01-01", "2025-06-11"),
        placements=(placed("2025-01-01"), placed("2025-06-13", "stored as spare"), placed(DAY)),
    ),
    indiana("Indiana, never tested", never=PERMITS, word=Word.OUT, events=(event("2025-06-26"),), bio_tests=()),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


def test_a_day_on_which_todays_test_is_done_holds_until_tomorrow():
    (row,) = england("done and signed", user_check(DAY), word=Word.IN_SERVICE).values
    said = row.judged().standing
    assert (str(said.holds_until), str(said.since)) == ("2025-06-28", DAY)
