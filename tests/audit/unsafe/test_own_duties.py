"""Duties of the clinic's own stand beside those of the rules: neither takes the other's place."""

import re
from datetime import date

import pytest

from audit.facts import LocalDutyFact
from audit.judge.evaluate import evaluate
from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, PLAIN, TESTED, history, holds
from tests.fact_builders import air, bio, counter, document, event, load, on, row, terms, user_check, weekly

OWN = "the clinic's own rule, beside the rules followed; common practice, no source"
HTM, FLORIDA, CA_ART = "gb-eng-dental-htm0105", "us-fl-dental", "us-ca-body-art"
BEGUN = event("2025-01-01")


def own(*each, day="2025-01-01"):
    """Facts of a place with duties of its own: (duty, frequency, count)."""
    on = date.fromisoformat(day)
    return {"local_duties": tuple(LocalDutyFact(row(day), on, *one, "invented procedure") for one in each)}


EACH_DAY = own(("biological-test", "day-of-use", 1))
IDLE = weekly("2025-01-01", "2025-06-04")  # last tested on 4 June, not used since

ROWS = [
    history(
        "own test on each day of use, not used for three weeks: the weekly test is owed all the same",
        "CDC 2003 (MMWR 52 RR-17) VI.F item 6; " + OWN,
        never=PLAIN,
        word=Word.OVERDUE,
        says=("overdue since 2025-06-16",),
        bio_tests=IDLE,
        place=EACH_DAY,
    ),
    history(
        "the same without the own duty",
        "CDC 2003 (MMWR 52 RR-17) VI.F item 6",
        never=PLAIN,
        word=Word.OVERDUE,
        bio_tests=IDLE,
    ),
    history(
        "own test on each day of use, used yesterday without one, tested this week",
        OWN,
        never=PLAIN,
        word=Word.OVERDUE,
        says=("the clinic's own rule",),
        loads=(load("2025-06-26"),),
        place=EACH_DAY,
    ),
    history(
        "the same day of use with its test",
        OWN,
        word=Word.IN_SERVICE,
        loads=(load("2025-06-26"),),
        bio_tests=(*TESTED, bio("2025-06-26", result="pass", known="2025-06-26")),
        place=EACH_DAY,
    ),
    history(
        "own test each day of use in California body art: the month without a test is missed",
        "California Health and Safety Code 119315: at least monthly; " + OWN,
        regime=CA_ART,
        never=PLAIN,
        bio_tests=weekly("2025-01-01", "2025-05-28", purpose="installation"),
        as_of="2025-07-01",
        place=EACH_DAY,
    ),
    history(
        "own 14 days in Florida: the 40 hours are run since the test of nine days ago",
        "Florida Administrative Code 64B5-25.003; " + OWN,
        regime=FLORIDA,
        never=PLAIN,
        word=Word.OVERDUE,
        bio_tests=(bio("2025-06-16", result="pass"),),
        loads=tuple(load(f"2025-06-{n}", minutes="480") for n in range(17, 22)),
        place=own(("biological-test", "rolling-days", 14)),
    ),
    history(
        "own 14 days in Florida, 39 hours run",
        "Florida Administrative Code 64B5-25.003; " + OWN,
        regime=FLORIDA,
        word=Word.IN_SERVICE,
        bio_tests=weekly("2025-01-01", "2025-06-18"),
        loads=(*(load(f"2025-06-{n}", minutes="480") for n in range(19, 23)), load("2025-06-23", minutes="420")),
        place=own(("biological-test", "rolling-days", 14)),
    ),
    history(
        "own 7 days in Florida: neither the hours nor the 30 days are over, the seven are",
        OWN,
        regime=FLORIDA,
        never=PLAIN,
        word=Word.OVERDUE,
        bio_tests=weekly("2025-01-01", "2025-06-18"),
        counters=(counter("2025-01-01", 0, counter="hours"), counter("2025-06-20", 60, counter="hours")),
        place=own(("biological-test", "rolling-days", 7)),
    ),
    history(
        "own pressure examination each day of use in England, no report by a competent person",
        "PSSR 2000 (Great Britain); " + OWN,
        regime=HTM,
        never=PERMITS,
        bio_tests=(),
        documents=(document("pressure examination", "2023-01-10"),),
        checks=(user_check("2025-06-27"), user_check("2025-06-26", "safety check")),
        place=own(("pressure-examination", "day-of-use", 1)),
    ),
    history(
        "two own duties: the one set later, monthly, does not end the earlier one of seven days",
        OWN,
        never=PLAIN,
        word=Word.OVERDUE,
        says=("overdue since 2025-06-26",),
        bio_tests=weekly("2025-01-01", "2025-06-18"),
        regime=CA_ART,
        place={
            "local_duties": (
                *own(("biological-test", "rolling-days", 7))["local_duties"],
                *own(("biological-test", "calendar-month", 1), day="2025-05-01")["local_duties"],
            )
        },
        as_of="2025-06-27",
    ),
    history(
        "an own calendar week beside 7 rolling days: tested on Monday of one week, on Friday of the next",
        OWN,
        never=PLAIN,
        word=Word.OVERDUE,
        bio_tests=(*weekly("2025-01-01", "2025-06-11"), bio("2025-06-16", result="pass")),
        as_of="2025-06-24",
        place=own(("biological-test", "rolling-days", 7)),
    ),
    history(
        "an own looser duty is no harm: the weekly test is done",
        OWN,
        word=Word.IN_SERVICE,
        place=own(("biological-test", "calendar-month", 1)),
    ),
    history(
        "an own looser duty takes nothing away: the weekly test is missed",
        "CDC 2003 (MMWR 52 RR-17) VI.F item 6; " + OWN,
        never=PLAIN,
        bio_tests=IDLE,
        place=own(("biological-test", "calendar-month", 1)),
    ),
    history(
        "an own duty of another kind, a water check each week, missed",
        OWN,
        never=PLAIN,
        word=Word.OVERDUE,
        place=own(("water-check", "calendar-week", 1)),
        checks=(user_check("2025-06-10", "water"),),
    ),
    history(
        "two own duties of two kinds, both done",
        OWN,
        word=Word.IN_SERVICE,
        place=own(("water-check", "calendar-week", 1), ("safety-check", "calendar-month", 1)),
        checks=(
            *(user_check(t.row.happened_on, "water") for t in TESTED),
            *(user_check(f"2025-{n:02}-02", "safety check") for n in range(1, 7)),
        ),
    ),
    history(
        "an own daily air-removal test beside the weekly spore test that was missed",
        "CDC 2003 (MMWR 52 RR-17) VI.F item 6; " + OWN,
        never=PLAIN,
        bio_tests=IDLE,
        air_removal=tuple(air(f"2025-06-{n:02}") for n in range(1, 28)),
        place=own(("air-removal-test", "day-of-use", 1)),
    ),
    history(
        "an own frequency that nobody can read is said",
        OWN,
        word=Word.IN_SERVICE,
        place=own(("biological-test", "now and then", 1)),
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


MONTHS = (bio("2025-01-02", result="pass", purpose="installation"),
          *(bio(f"2025-{n:02}-10", result="pass") for n in range(2, 7)))  # fmt: skip
LAW, WEEKS = "us-ca-body-art", "us-dental-cdc-2003"
CHANGES = [
    ({"local_duties": own(("biological-test", "calendar-week", 1), day="2025-06-26")["local_duties"]}, 0),
    # what is asked beside the monthly test from 16 June on, or before; the weeks missed that are told of
    ({"local_duties": own(("biological-test", "calendar-week", 1), day="2025-06-16")["local_duties"]}, 1),
    ({"local_duties": own(("biological-test", "calendar-week", 1), day="2025-01-01")["local_duties"]}, 6),
    ({"terms": (terms(LAW), terms(WEEKS, day="2025-06-16"))}, 1),
    ({"terms": (terms(WEEKS), terms(LAW, day="2025-03-01"), terms(WEEKS, day="2025-06-16"))}, 3),
]


@pytest.mark.parametrize(("place", "rows"), CHANGES)
def test_what_was_not_asked_yet_was_not_missed(place, rows):
    """As the coverage beside it has it: a week counts by the rules of the day on which it ended."""
    (row,) = history("monthly, then weekly", OWN, opens=("duty-overdue",), regime=LAW, bio_tests=MONTHS,
                     place=place).values  # fmt: skip
    said = row.judged()
    found = [f for f in said.findings if f.rule in ("missed-week", "missed-duty")]
    assert len(found) == rows, [f.message for f in found]
    weekly = [c for c in said.coverage if "calendar week" in c.rule]
    answer = next(a for a in evaluate(row.facts, on(row.as_of)).answers if a.id.startswith("spore-test-each") or
                  a.id == "spore-test-monthly")  # fmt: skip
    assert (answer.answer, said.standing.word) == ("in part", Word.OVERDUE), answer.words
    assert sum(c.missed for c in weekly) == sum(int(_how_many(f.message)) for f in found)


def _how_many(message: str) -> str:
    found = re.search(r"\((\d+) in a row", message)
    return found[1] if found else "1"
