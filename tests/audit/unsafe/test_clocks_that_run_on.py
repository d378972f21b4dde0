"""Clocks that nothing stops but what was asked, and sentences that say since when."""

from dataclasses import replace

import pytest

from audit.facts.dates import ONE_DAY
from audit.judge.judgement import Word
from tests.audit.unsafe.table import BEGUN, DAY, PLAIN, TESTED, history, holds
from tests.fact_builders import (
    bio,
    closure,
    document,
    event,
    job,
    line,
    load,
    outcome,
    placed,
    terms,
    user_check,
    weekly,
)

WEEKLY = "CDC 2003 (MMWR 52 RR-17) VI.F item 6"
NOTED = "16 CCR 1005(b)(17): weekly; a week closed and noted is owed nothing"
UNTIL = weekly("2025-01-01", "2025-06-11")
STORED = (placed("2025-01-01"), placed("2025-06-16", "stored as spare"), placed("2025-06-26"))
SHUT = closure("2025-06-16", "2025-06-22")


def weeks_begin(*starts):
    return {"terms": tuple(terms("us-dental-cdc-2003", day, n) for day, n in starts)}


def california(told, closed=SHUT, **more):
    return history(told, NOTED, regime="us-ca-dental", place={"closures": (closed,)}, **more)


# One test a week that begins on Monday, two of them 13 days apart: Monday 2 June, Sunday 15 June.
MONDAYS = (
    bio("2025-01-02", result="pass"),
    *weekly("2025-01-06", "2025-06-02"),
    *(bio(f"2025-06-{n}", result="pass") for n in (15, 19)),
)
FROM_MONDAY, FROM_SUNDAY = ("2020-01-01", 0), ("2020-01-01", 6)

ROWS = [
    history(
        "the last test is unread, nine days old: no test any more",
        "common practice, no source: a day of incubation and seven more",
        never=PLAIN,
        word=Word.OVERDUE,
        bio_tests=(*UNTIL, bio("2025-06-18")),
        opens=("result-awaited-too-long",),
    ),
    history(
        "the last test is unread, eight days old: awaited within reason",
        word=Word.IN_SERVICE,
        bio_tests=(*UNTIL, bio("2025-06-18")),
        as_of="2025-06-26",
    ),
    california(
        "a week in which a load was run is not excused by the closure",
        never=PLAIN,
        opens=("load-while-not-in-use",),
        bio_tests=UNTIL,
        loads=(load("2025-06-18"),),
    ),
    california(
        "a week in which a spore test that does not count was run is not excused by the closure",
        never=PLAIN,
        bio_tests=(*UNTIL, bio("2025-06-18", result="invalid")),
    ),
    history(
        "a load run before the day of the installation on record",
        opens=("load-while-not-in-use",),
        loads=(load("2024-12-31"),),
    ),
    california("closed the whole week, nothing run", word=Word.IN_SERVICE, bio_tests=UNTIL),
    california("closed but for the Sunday", closure("2025-06-16", "2025-06-21"), never=PLAIN, bio_tests=UNTIL),
    history(
        "closed the whole week under rules that pause for no closure",
        WEEKLY,
        never=PLAIN,
        bio_tests=UNTIL,
        place={"closures": (SHUT,)},
    ),
    history(
        "a load while it is said to be in store: the week asks its test",
        WEEKLY,
        never=PLAIN,
        opens=("load-while-not-in-use",),
        bio_tests=UNTIL,
        loads=(load("2025-06-18"),),
        placements=STORED,
    ),
    history(
        "in store the whole week and nothing run", WEEKLY, word=Word.IN_SERVICE, bio_tests=UNTIL, placements=STORED
    ),
    history(
        "the cycle of a spore test in store is no load",
        WEEKLY,
        word=Word.IN_SERVICE,
        bio_tests=(*UNTIL, bio("2025-06-18", result="invalid", cycle="7")),
        loads=(load("2025-06-18", "7"),),
        placements=STORED,
    ),
    history(
        "weeks begin on Monday until now, on Sunday from now on: those before stay met",
        word=Word.IN_SERVICE,
        bio_tests=MONDAYS,
        place=weeks_begin(FROM_MONDAY, ("2025-06-26", 6)),
    ),
    history(
        "weeks always began on Sunday: the week of 8 June was missed, that of 22 June is not over",
        word=Word.IN_SERVICE,
        bio_tests=MONDAYS,
        place=weeks_begin(FROM_SUNDAY),
    ),
    history(
        "weeks begin on Sunday until now, on Monday from now on: the week from 15 to 21 June stays missed",
        never=PLAIN,
        word=Word.OVERDUE,
        bio_tests=(*weekly("2025-01-05", "2025-06-08"), bio("2025-06-14", result="pass")),
        place=weeks_begin(FROM_SUNDAY, ("2025-06-26", 0)),
        says=("overdue since 2025-06-22",),
    ),
    history(
        "late and then tested: in service again",
        WEEKLY,
        word=Word.IN_SERVICE,
        bio_tests=(*weekly("2025-01-01", "2025-05-14"), bio("2025-06-12", result="pass"), *TESTED[-2:]),
    ),
    history(
        "rules that name no frequency of spore tests say so",
        "the shared rules: how often is a matter of place and programme",
        regime="base",
        word=Word.IN_SERVICE,
        says=("name no frequency of spore tests",),
        not_says=("nothing overdue;",),
    ),
    history("rules that do say nothing of that", WEEKLY, word=Word.IN_SERVICE, says=("nothing overdue;",)),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


def test_a_change_of_the_first_day_of_the_week_re_cuts_no_earlier_week():
    cells = {}
    for name, starts in (("before", (FROM_MONDAY,)), ("after", (FROM_MONDAY, ("2025-06-26", 6)))):
        (row,) = history(name, word=Word.IN_SERVICE, bio_tests=MONDAYS, place=weeks_begin(*starts)).values
        said = row.judged()
        cells[name] = said.weeks
        assert "missed-week" not in {f.rule for f in said.findings}
        assert [c.missed for c in said.coverage if c.duty == "biological-test"] == [0]
    assert cells["after"][:-1] == cells["before"][:-1]


BEGAN = tuple(bio("2025-01-01", result="pass", cycle=str(n), purpose="installation") for n in (1, 2, 3))
CLEANED = job("2025-04-02", outcomes=(outcome("2025-04-02", plan_line="clean", position="", action="clean"),))
MAY = weekly("2025-01-01", "2025-05-28")
SINCE = {
    "installed and tested every week": ({}, "2025-01-01"),
    "a week missed, tested on 12 June": (
        {"bio_tests": (*MAY, bio("2025-06-12", result="pass", known="2025-06-12"), *TESTED[-2:])},
        "2025-06-12",
    ),
    "a week missed, tested on the first day after it: overdue on no day": (
        {"bio_tests": (*MAY, bio("2025-06-09", result="pass", known="2025-06-09"), *TESTED[-2:])},
        "2025-01-01",
    ),
    "planned work due on 1 March, done on 2 April": (
        {
            "plan": (line("clean", "", "clean", months=2, day="2025-01-01"),),
            "jobs": (CLEANED,),
            "as_of": "2025-05-20",
        },
        "2025-04-02",
    ),
    "weeks missed in May, out on 2 June, back on the 3rd and tested on the 4th": (
        {
            "bio_tests": (*weekly("2025-01-01", "2025-04-30"), *TESTED[-4:]),
            "events": (BEGUN, event("2025-06-02", "withdrawn"), event("2025-06-03", "returned")),
        },
        "2025-06-04",
    ),
    "a positive test of 5 June known on the 6th, its repeat negative on the 8th": (
        {
            "bio_tests": (
                *TESTED,
                bio("2025-06-05", result="growth", known="2025-06-06"),
                bio("2025-06-07", result="pass", known="2025-06-08", purpose="repeat"),
            )
        },
        "2025-06-08",
    ),
    "worked on 3 June, not released until the 5th": (
        {
            "jobs": (
                job("2025-06-03", end="not released", outcomes=(outcome("2025-06-03"),)),
                job("2025-06-05", outcomes=(outcome("2025-06-05"),)),
            )
        },
        "2025-06-05",
    ),
    "in store from 16 to 25 June": ({"placements": STORED}, "2025-06-26"),
    "lent out on 2 June, back on the 4th, the test of the 11th known on the 12th": (
        {"events": (BEGUN, event("2025-06-02", "loaner out"), event("2025-06-04", "loaner in"))},
        "2025-06-12",
    ),
    "decommissioned on 2 June, installed again on the 4th": (
        {"events": (BEGUN, event("2025-06-02", "decommissioned"), event("2025-06-04", "installed"))},
        "2025-06-04",
    ),
    "an own yearly paper that ran out on 31 May, renewed on 10 June": (
        {
            "regime": "gb-eng-dental-htm0105",
            "bio_tests": (),
            "checks": tuple(
                user_check(BEGUN.row.happened_on + n * ONE_DAY, kind)
                for n in range(180)
                for kind in ("automatic control", "safety check")
            ),
            "documents": (
                document("pressure examination", "2024-12-01", "2025-05-31"),
                document("pressure examination", "2025-06-10", "2026-06-09"),
                document("validation report", "2025-01-01", "2026-01-01"),
            ),
        },
        "2025-06-10",
    ),
    "moved on 2 June, three tests in a row passed by the 5th": (
        {
            "regime": "us-healthcare-st79-2017",
            "events": (BEGUN, event("2025-06-02", "relocated")),
            "bio_tests": (
                *BEGAN,
                *TESTED,
                *(bio(f"2025-06-0{n}", result="pass", known="2025-06-05") for n in (3, 4, 5)),
            ),
        },
        "2025-06-05",
    ),
}


@pytest.mark.parametrize("told", SINCE)
def test_since_when_it_is_in_service_is_so(told):
    """A plain yes on each day from that one on, judged day by day, and not on the day before it."""
    facts, since = SINCE[told]
    facts = dict(facts)
    (row,) = history(told, word=Word.IN_SERVICE, as_of=facts.pop("as_of", DAY), **facts).values
    said = row.judged().standing
    assert (said.word, str(said.since)) == (Word.IN_SERVICE, since)
    first = day = said.since
    while day.isoformat() <= row.as_of:
        assert replace(row, as_of=day.isoformat()).judged().standing.word is Word.IN_SERVICE, day
        day += ONE_DAY
    before = replace(row, as_of=(first - ONE_DAY).isoformat()).judged().standing
    assert before.word is not Word.IN_SERVICE
