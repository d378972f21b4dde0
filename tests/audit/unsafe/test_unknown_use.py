"""Use, times and counters that are not known count against the unit."""

from dataclasses import replace
from datetime import timedelta

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import BEGUN, DAY, PERMITS, PLAIN, TESTED, history, holds
from tests.fact_builders import bio, counter, event, job, line, load, on, outcome, row, weekly

FLORIDA, RULE = "us-fl-dental", "Florida Administrative Code 64B5-25.003: 40 hours of use or 30 days"
TORONTO, PUBLIC_HEALTH = "ca-toronto-personal-services", "Toronto Public Health, BodySafe: three passes before use"
LAST = (*weekly("2025-01-01", "2025-06-18"), bio("2025-06-20", result="pass", at="12:00"))
CYCLES = (line(months=None, cycles=500, position="", day="2025-01-01"),)


def done(day):
    return job(day, outcomes=(outcome(day, position=""),))


READ = (counter("2025-01-01", 0), counter("2025-03-01", 5), counter("2025-01-01", 0, counter="hours"),
        counter("2025-03-01", 1, counter="hours"))  # fmt: skip


def logged(n, to=DAY, **more):
    """So many loads, one a day, the last on that day; two readings of each counter that show much less."""
    loads = tuple(load(on(to) - timedelta(days=k), **more) for k in range(n))
    return {"loads": loads, "counters": READ}


def hours(*shown):
    return tuple(counter(day, n, counter="hours") for day, n in shown)


AT_TEST_AND_LATER = (("2025-06-20", 100), ("2025-06-25", 140))


def moved(at=""):
    fact = event("2025-06-23", "relocated")
    return (BEGUN, type(fact)(row("2025-06-23", at=at), "relocated", "", ""))


def three(at=("13:00", "14:00", "15:00"), purpose="routine"):
    """Three passes on the day of the move, each of a cycle of its own, after those of the installation."""
    begun = [bio("2025-01-01", result="pass", cycle=f"{n}", purpose="installation") for n in range(1, 4)]
    more = [
        bio("2025-06-23", result="pass", known="2025-06-23", cycle=f"{900 + n}", at=at[n], purpose=purpose)
        for n in range(3)
    ]
    return (*begun, *weekly("2025-01-08", "2025-06-18"), *more)


def in_toronto(told, **more):
    used = tuple(load(f"2025-{m:02}-{d:02}") for m in range(1, 7) for d in range(2, 27, 4))
    return history(told, PUBLIC_HEALTH, regime=TORONTO, loads=used, **more)


ROWS = [
    history("a line of 500 cycles, the counter never read", never=PLAIN, opens=("no-evidence",), plan=CYCLES),
    history(
        "the same with months beside it that are not over",
        never=PLAIN,
        opens=("no-evidence",),
        plan=(line(months=24, cycles=500, position="", day="2025-01-01"),),
    ),
    history(
        "a line of 500 cycles, two readings five months apart, 100 run",
        word=Word.IN_SERVICE,
        plan=CYCLES,
        counters=(counter("2025-01-01", 0), counter("2025-06-01", 100)),
    ),
    history(
        "a line of 500 cycles, 500 run",
        never=PLAIN,
        plan=CYCLES,
        counters=(counter("2025-01-01", 0), counter("2025-06-01", 500)),
    ),
    history("the same without the first reading", never=PLAIN, plan=CYCLES, counters=(counter("2025-06-01", 500),)),
    history("the same without the last reading", never=PLAIN, plan=CYCLES, counters=(counter("2025-01-01", 0),)),
    history(
        "the counter read when the line was done 28 days ago, not since: good to the day",
        word=Word.IN_SERVICE,
        plan=CYCLES,
        counters=(counter("2025-05-30", 200),),
        jobs=(done("2025-05-30"),),
    ),
    history(
        "the same 29 days ago",
        never=PLAIN,
        plan=CYCLES,
        counters=(counter("2025-05-29", 200),),
        jobs=(done("2025-05-29"),),
    ),
    history(
        "read once since the line was done, not then",
        never=PLAIN,
        plan=CYCLES,
        counters=(counter("2025-06-20", 200),),
    ),
    history(
        "a line of 20 cycles, few by the counter, 20 loads logged by yesterday",
        never=PLAIN,
        says=("overdue since 2025-06-27",),
        plan=(line(months=None, cycles=20, position="", day="2025-01-01"),),
        **logged(20, "2025-06-26"),
    ),
    history(
        "the 20th of them today",
        word=Word.IN_SERVICE,
        plan=(line(months=None, cycles=20, position="", day="2025-01-01"),),
        **logged(20),
    ),
    history(
        "a line of 10 hours, few by the counter, 20 loads of half an hour logged by yesterday",
        never=PLAIN,
        says=("overdue since 2025-06-27",),
        plan=(line(months=None, hours=10, position="", day="2025-01-01"),),
        **logged(20, "2025-06-26", minutes="30"),
    ),
    history(
        "19 of them",
        word=Word.IN_SERVICE,
        plan=(line(months=None, hours=10, position="", day="2025-01-01"),),
        **logged(19, "2025-06-26", minutes="30"),
    ),
    history(
        "a line of 5 months never done, the unit installed once more last week",
        never=PLAIN,
        says=("overdue since 2025-06-02",),
        plan=(line(months=5, position="", day="2025-01-01"),),
        events=(BEGUN, event("2025-06-20", "installed")),
    ),
    history(
        "20 loads were logged before the line was done yesterday",
        word=Word.IN_SERVICE,
        plan=(line(months=None, cycles=20, position="", day="2025-01-01"),),
        jobs=(done("2025-06-26"),),
        **logged(20, "2025-06-26"),
    ),
    history(
        "Florida, neither a counter nor a load on record",
        RULE,
        regime=FLORIDA,
        never=PLAIN,
        opens=("no-evidence",),
        bio_tests=LAST,
    ),
    history(
        "Florida, two days of loads without minutes",
        RULE,
        regime=FLORIDA,
        never=PLAIN,
        opens=("no-evidence",),
        bio_tests=LAST,
        loads=(load("2025-06-23"), load("2025-06-24")),
    ),
    history(
        "Florida, one load without minutes: a day has 24 hours",
        RULE,
        regime=FLORIDA,
        word=Word.IN_SERVICE,
        bio_tests=LAST,
        loads=(load("2025-06-23"), load("2025-06-24", minutes="60")),
    ),
    history(
        "Florida, all minutes known and few",
        RULE,
        regime=FLORIDA,
        word=Word.IN_SERVICE,
        bio_tests=LAST,
        loads=(load("2025-06-23", minutes="60"), load("2025-06-24", minutes="60")),
    ),
    history(
        "Florida, 40 hours on the day of the test, the order not known",
        RULE,
        regime=FLORIDA,
        never=PLAIN,
        bio_tests=LAST,
        loads=(load("2025-06-20", minutes="2400"),),
    ),
    history(
        "Florida, the same load shown to have run before the test",
        RULE,
        regime=FLORIDA,
        word=Word.IN_SERVICE,
        bio_tests=LAST,
        loads=(load("2025-06-20", minutes="2400", at="08:00"),),
    ),
    history(
        "Florida, the counter shows 40 hours and the loads ten",
        RULE,
        regime=FLORIDA,
        never=PLAIN,
        bio_tests=LAST,
        counters=hours(("2025-05-01", 0), ("2025-06-20", 100), ("2025-06-25", 140)),
        loads=(load("2025-06-23", minutes="600"),),
    ),
    history(
        "Florida, the loads show 40 hours and the counter ten",
        RULE,
        regime=FLORIDA,
        never=PLAIN,
        bio_tests=LAST,
        counters=hours(("2025-05-01", 0), ("2025-06-20", 100), ("2025-06-25", 110)),
        loads=tuple(load(f"2025-06-{n}", minutes="800") for n in (21, 22, 23)),
    ),
    history(
        "Florida, one of two readings of the counter is missing",
        RULE,
        regime=FLORIDA,
        never=PLAIN,
        bio_tests=LAST,
        counters=hours(("2025-06-25", 140)),
    ),
    *(
        history(
            f"Florida, the only load on record went wrong: {told}",
            RULE,
            regime=FLORIDA,
            never=PLAIN,
            opens=("no-evidence",),
            bio_tests=LAST,
            loads=(replace(load("2025-06-23", minutes="30"), **wrong),),
        )
        for told, wrong in (
            ("gauges failed", {"mechanical": "fail"}),
            ("indicators failed", {"chemical": "fail"}),
            ("wet packs", {"packs": "wet"}),
        )
    ),
    history(
        "Florida, a load went wrong and another was right",
        RULE,
        regime=FLORIDA,
        word=Word.IN_SERVICE,
        bio_tests=LAST,
        loads=(load("2025-06-23", minutes="30", chemical="fail"), load("2025-06-24", minutes="30", chemical="pass")),
    ),
    history(
        "Florida, the counter read once and few minutes logged: what was not logged shows on the counter alone",
        RULE,
        regime=FLORIDA,
        never=PLAIN,
        opens=("no-evidence",),
        bio_tests=LAST,
        counters=hours(("2025-06-25", 140)),
        loads=(load("2025-06-23", minutes="60"),),
    ),
    history(
        "Florida, the counter read at the test and five hours later, few minutes logged",
        RULE,
        regime=FLORIDA,
        word=Word.IN_SERVICE,
        bio_tests=LAST,
        counters=hours(("2025-05-20", 100), ("2025-06-20", 140), ("2025-06-25", 145)),
        loads=(load("2025-06-23", minutes="60"),),
    ),
    history(
        "Florida, the same, and the counter fell since: too few readings after the fall",
        RULE,
        regime=FLORIDA,
        never=PLAIN,
        opens=("no-evidence",),
        bio_tests=LAST,
        counters=hours(("2025-05-20", 100), ("2025-06-20", 140), ("2025-06-25", 5)),
        loads=(load("2025-06-23", minutes="60"),),
    ),
    *(
        history(
            f"Florida, few minutes logged, the hours counter read {told}",
            RULE,
            regime=FLORIDA,
            word=word,
            opens=opens,
            bio_tests=LAST,
            counters=hours(*read),
            loads=(load("2025-06-21", minutes="60"),),
            as_of=day,
        )
        for told, read, day, word, opens in (
            ("on the day of the test and at 40 hours", AT_TEST_AND_LATER, "2025-06-27", Word.OVERDUE, ()),
            ("on the day of the test alone", AT_TEST_AND_LATER[:1], "2025-06-27", Word.OVERDUE, ("no-evidence",)),
            ("at 40 hours alone", AT_TEST_AND_LATER[1:], "2025-06-27", Word.OVERDUE, ("no-evidence",)),
            ("today: a day has 24 hours", AT_TEST_AND_LATER[:1], "2025-06-20", Word.IN_SERVICE, ()),
            ("the day before: 48 may have run", AT_TEST_AND_LATER[:1], "2025-06-21", Word.OVERDUE, ("no-evidence",)),
            ("at the test and since", (("2025-06-20", 100), ("2025-06-25", 105)), "2025-06-27", Word.IN_SERVICE, ()),
        )
    ),
    in_toronto(
        "moved at noon, three passes after it", word=Word.IN_SERVICE, events=moved("12:00"), bio_tests=three()
    ),
    in_toronto(
        "moved at noon, one of the three passes before it",
        never=PERMITS,
        word=Word.WAITING,
        events=moved("12:00"),
        bio_tests=three(("11:00", "14:00", "15:00")),
    ),
    in_toronto("moved, the time not known", never=PERMITS, word=Word.WAITING, events=moved(), bio_tests=three()),
    in_toronto(
        "moved at noon, the times of the tests not known",
        never=PERMITS,
        word=Word.WAITING,
        events=moved("12:00"),
        bio_tests=three(("", "", "")),
    ),
    in_toronto(
        "moved, no time known, the tests said to be its requalification",
        word=Word.IN_SERVICE,
        events=moved(),
        bio_tests=three(("", "", ""), "requalification"),
    ),
    in_toronto(
        "moved, no time known, the tests said to be routine",
        never=PERMITS,
        word=Word.WAITING,
        events=moved(),
        bio_tests=three(("", "", "")),
    ),
    history("tested each week, nothing else asked", word=Word.IN_SERVICE, bio_tests=TESTED),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)
