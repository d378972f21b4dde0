"""Proof is counted once: tests in a row are cycles, and a cycle counts once however often it was told."""

from dataclasses import replace
from itertools import permutations

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, PLAIN, TESTED, history, holds
from tests.fact_builders import air, bio, case, row, step

TABLE = "CDC 2008 Table 12: three consecutive cycles; a cycle counts once: common practice, no source"
CDC_2008 = {"regime": "us-healthcare-cdc-2008"}
FAILED = bio("2025-06-16", result="growth", known="2025-06-17")
NEXT = bio("2025-06-25", result="pass", known="2025-06-25", purpose="repeat")


def repeat(day, cycle="", at="", known="", **more):
    return bio(day, result="pass", known=known or day, cycle=cycle, at=at, purpose="repeat", **more)


def told(*repeats):
    return {"bio_tests": (*TESTED[:-2], FAILED, *repeats)} | CDC_2008


ROWS = [
    history(
        "three repeats of three days",
        TABLE,
        word=Word.IN_SERVICE,
        **told(*(repeat(f"2025-06-{n}") for n in (24, 25, 26))),
    ),
    history("two repeats of two days", TABLE, never=PERMITS, **told(*(repeat(f"2025-06-{n}") for n in (24, 25)))),
    history(
        "two days, the second sent twice with its cycle number",
        TABLE,
        never=PERMITS,
        opens=("came-in-twice",),
        **told(repeat("2025-06-24", "8"), repeat("2025-06-25", "9"), repeat("2025-06-25", "9")),
    ),
    history(
        "two days, the second sent twice with its time",
        TABLE,
        never=PERMITS,
        opens=("came-in-twice",),
        **told(repeat("2025-06-24"), repeat("2025-06-25", at="09:00"), repeat("2025-06-25", at="09:00")),
    ),
    history(
        "one day, three rows with neither number nor time",
        "unknown is not good",
        never=PERMITS,
        opens=("came-in-twice",),
        **told(*(repeat("2025-06-25") for _ in range(3))),
    ),
    history("one day, three numbers", TABLE, word=Word.IN_SERVICE, **told(*(repeat("2025-06-25", n) for n in "789"))),
    history(
        "one day, three times",
        TABLE,
        word=Word.IN_SERVICE,
        **told(*(repeat("2025-06-25", at=at) for at in ("08:00", "09:00", "10:00"))),
    ),
    history(
        "one day, two numbers and one without",
        TABLE,
        never=PERMITS,
        **told(repeat("2025-06-25", "7"), repeat("2025-06-25", "8"), repeat("2025-06-25")),
    ),
    history(
        "one day, two with numbers alone and two with times alone may be the same two",
        TABLE,
        never=PERMITS,
        **told(
            repeat("2025-06-25", "7"),
            repeat("2025-06-25", "8"),
            repeat("2025-06-25", at="08:00"),
            repeat("2025-06-25", at="09:00"),
        ),
    ),
    history(
        "one day, one number under two times is one cycle",
        TABLE,
        never=PERMITS,
        **told(repeat("2025-06-24"), repeat("2025-06-25", "7", "08:00"), repeat("2025-06-25", "7", "09:00")),
    ),
    history(
        "one day, two numbers at one moment are one cycle",
        TABLE,
        never=PERMITS,
        **told(repeat("2025-06-24"), repeat("2025-06-25", "7", "08:00"), repeat("2025-06-25", "8", "08:00")),
    ),
    history(
        "the same number on two days is two cycles",
        TABLE,
        word=Word.IN_SERVICE,
        **told(repeat("2025-06-24", "7"), repeat("2025-06-25", "7"), repeat("2025-06-26", "8")),
    ),
    history(
        "two of a day and one still unread, no times",
        TABLE,
        never=PERMITS,
        **told(
            repeat("2025-06-25", "7"),
            bio("2025-06-26", cycle="8", purpose="repeat"),
            repeat("2025-06-26", "9"),
            repeat("2025-06-27", "10"),
        ),
    ),
    history(
        "three of one day, a fourth unread of the same day, no times",
        TABLE,
        never=PERMITS,
        **told(*(repeat("2025-06-26", n) for n in "789"), bio("2025-06-26", cycle="10", purpose="repeat")),
    ),
    history(
        "three of one day by times, then one unread",
        TABLE,
        word=Word.IN_SERVICE,
        **told(
            *(repeat("2025-06-26", at=f"0{n}:00") for n in "789"), bio("2025-06-26", at="10:00", purpose="repeat")
        ),
    ),
    history(
        "a passed test was sent twice, and no more is asked",
        opens=("came-in-twice",),
        word=Word.IN_SERVICE,
        bio_tests=(*TESTED, replace(TESTED[-1], row=row("2025-06-25", ref="again"))),
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


def test_neither_names_nor_the_order_of_logging_decide():
    """The same results, whichever was logged first and whatever they are called."""
    results = [("growth", ""), ("pass", "7"), ("", "8"), ("pass", "9")]
    said = set()
    for order in permutations(range(len(results))):
        tests = []
        for number, n in enumerate(order, start=500):
            result, cycle = results[n]
            more = {"known": "2025-06-25"} if result else {}
            test = bio("2025-06-25", result=result, cycle=cycle, purpose="repeat", **more)
            tests.append(replace(test, row=row("2025-06-25", ref=f"name-{number}", number=number)))
        one = history("as said", never=PERMITS, **told(*tests)).values[0].judged()
        said.add((one.standing.word, one.standing.lifted_by, one.cases[0].phase))
    assert len(said) == 1 and {word for word, *_ in said} == {Word.OUT}


def test_an_air_removal_test_counts_once_too():
    found = case(FAILED.row.origin, "2025-06-17", step("2025-06-19", "find cause", done="2025-06-19"))
    again = bio("2025-06-18", result="growth", known="2025-06-18", purpose="repeat")
    spores = tuple(repeat(f"2025-06-{n}") for n in (20, 21, 22))
    for cycles, proven in ((("1", "1", "1"), False), (("", "", ""), False), (("1", "2", "3"), True)):
        one = history(
            "as said",
            never=PLAIN,  # its daily air-removal test is overdue all the same
            type="dynamic air removal",
            regime="us-healthcare-st79-2017",
            bio_tests=(*TESTED[:-2], FAILED, again, *spores, TESTED[-1]),
            air_removal=tuple(replace(air("2025-06-22"), cycle_number=n) for n in cycles),
            cases=(found,),
        ).values[0]
        holds(one)
        assert (one.judged().cases[0].resolved_on is not None) is proven
