"""Failed results of every kind hold: each opens a case by itself, and several in a row stop the unit.

How many do is a number in the rules' data: two failed cycles, common practice, no source.
"""

from dataclasses import replace

import pytest

from audit.facts import ChemicalFact
from audit.judge.judgement import Word
from tests.audit.unsafe import table
from tests.audit.unsafe.table import PERMITS, TESTED, holds
from tests.fact_builders import air, bio, case, load, row, step, user_check

PACKS = "CDC 2003 (MMWR 52 RR-17) VI.F: packs are not used when mechanical or chemical results point to failure"
DYNAMIC = "dynamic air removal"


def failed(*days, kind="mechanical", cycle=True, **more):
    """A load on each day of which gauges or indicators failed, cycles numbered from 5."""
    return tuple(load(d, str(n) if cycle else "", **({kind: "fail"} | more)) for n, d in enumerate(days, start=5))


def packs(day, cycle, what):
    return replace(load(day, cycle), packs=what)


def sheet(day, result="fail", *, kind=2):
    return ChemicalFact(row(day), kind, result, "", "chamber", "C1")


def history(told, source=table.PRACTICE, **facts):
    """A row whose last spore test, of which gauges and indicators passed too, is that of 18 June."""
    return table.history(told, source, **({"bio_tests": TESTED[:-1]} | facts))


THREE = ("2025-06-23", "2025-06-24", "2025-06-25")
DAILY = tuple(air(f"2025-06-{n:02}") for n in range(1, 28))  # what some rules ask of units with dynamic air removal
INSPECTED = step("2025-06-25", "find cause", done="2025-06-25")

ROWS = [
    history("three cycles in a row with failed gauges", never=PERMITS, word=Word.OUT, loads=failed(*THREE)),
    history("two, the fewest that stop it", never=PERMITS, word=Word.OUT, loads=failed(*THREE[:2])),
    history("one: an open failure that stops no unit", PACKS, opens=("case-open",), loads=failed(THREE[0])),
    history(
        "two, and one that passed on a later day",
        word=Word.IN_SERVICE,
        loads=(*failed(*THREE[:2]), load("2025-06-25", "9", mechanical="pass")),
    ),
    history(
        "two with one that passed between them: neither stops it",
        word=Word.IN_SERVICE,
        opens=("case-open",),
        loads=(*failed("2025-06-23"), load("2025-06-24", "9", mechanical="pass"), *failed("2025-06-25")),
    ),
    history(
        "two, and one of the second day that passed, without times",
        never=PERMITS,
        loads=(*failed(*THREE[:2]), load("2025-06-24", "9", mechanical="pass")),
    ),
    history("two of one day with other numbers", never=PERMITS, loads=failed("2025-06-24", "2025-06-24")),
    history(
        "two of one day without numbers: nobody knows that they are one cycle",
        "unknown is not good",
        never=PERMITS,
        loads=failed("2025-06-24", "2025-06-24", cycle=False),
    ),
    history(
        "one cycle told of by its load and by its spore test stops no unit",
        word=Word.IN_SERVICE,
        opens=("case-open",),
        loads=failed("2025-06-25"),
        bio_tests=(*TESTED[:-1], bio("2025-06-25", result="pass", cycle="5", mechanical="fail")),
    ),
    history("two with failed indicators", never=PERMITS, loads=failed(*THREE[:2], kind="chemical")),
    history(
        "a failed integrator and a load with failed indicators",
        never=PERMITS,
        chemical=(sheet("2025-06-23", kind=5),),
        loads=failed("2025-06-24", kind="chemical"),
    ),
    history(
        "gauges failed in two cycles of spore tests that were negative",
        never=PERMITS,
        bio_tests=(*TESTED[:-1], *(bio(d, result="pass", mechanical="fail") for d in ("2025-06-25", "2025-06-26"))),
    ),
    history(
        "one failed mechanically, another chemically: each a failure of its own",
        opens=("case-open",),
        loads=(*failed("2025-06-23"), load("2025-06-24", "9", chemical="fail")),
    ),
    history(
        "not recorded after two that failed proves nothing",
        "unknown is not good",
        never=PERMITS,
        loads=(*failed(*THREE[:2]), load("2025-06-25", "9", mechanical="not recorded")),
    ),
    history(
        "a failed air-removal sheet entered as an indicator of type 2",
        "CDC 2008: not used until maintenance has inspected it and it passes; ISO 11140-1 for the type",
        never=PERMITS,
        word=Word.OUT,
        opens=("air-removal-open",),
        type=DYNAMIC,
        air_removal=DAILY,
        chemical=(sheet("2025-06-27"),),
    ),
    history(
        "the same, inspected and passed by another such sheet on a later day",
        "CDC 2008: not used until maintenance has inspected it and it passes",
        word=Word.IN_SERVICE,
        type=DYNAMIC,
        air_removal=DAILY,
        chemical=(bad := sheet("2025-06-24"), sheet("2025-06-26", "pass")),
        cases=(
            case(
                bad.row.origin, "2025-06-24", step("2025-06-25", "find cause", done="2025-06-25"), kind="air removal"
            ),
        ),
    ),
    history(
        "the same, passed without an inspection",
        "CDC 2008: not used until maintenance has inspected it and it passes",
        never=PERMITS,
        type=DYNAMIC,
        air_removal=DAILY,
        chemical=(sheet("2025-06-24"), sheet("2025-06-26", "pass")),
    ),
    history(
        "a failed sheet of type 2 on a gravity unit stays a failure",
        opens=("case-open",),
        chemical=(sheet("2025-06-24"),),
    ),
    history(
        "the air detector failed",
        never=PERMITS,
        word=Word.OUT,
        opens=("air-detector-open",),
        checks=(user_check("2025-06-25", "air detector", "fail"),),
    ),
    history(
        "the air detector failed and passed on a later day",
        word=Word.IN_SERVICE,
        checks=(user_check("2025-06-25", "air detector", "fail"), user_check("2025-06-26", "air detector")),
    ),
    history(
        "the air detector failed and passed on the same day, without times",
        never=PERMITS,
        checks=(user_check("2025-06-25", "air detector", "fail"), user_check("2025-06-25", "air detector")),
    ),
    history("wet packs once", opens=("wet-packs-open",), loads=(packs("2025-06-24", "5", "wet"),)),
    history(
        "wet packs twice in a row",
        never=PERMITS,
        word=Word.OUT,
        loads=(packs("2025-06-24", "5", "wet"), packs("2025-06-25", "6", "wet")),
    ),
    history(
        "wet, then dry, then wet",
        word=Word.IN_SERVICE,
        loads=(packs("2025-06-23", "5", "wet"), packs("2025-06-24", "6", "dry"), packs("2025-06-25", "7", "wet")),
    ),
    history(
        "wet twice and nobody said whether the next were dry",
        "unknown is not good",
        never=PERMITS,
        loads=(
            packs("2025-06-23", "5", "wet"),
            packs("2025-06-24", "6", "wet"),
            packs("2025-06-25", "7", "not recorded"),
        ),
    ),
    history(
        "a water check failed and passed on one day, without times",
        opens=("check-failed",),
        checks=(user_check("2025-06-25", "water", "fail"), user_check("2025-06-25", "water")),
    ),
    history(
        "an automatic control test failed and passed unsigned, where only what is signed counts",
        "HTM 01-05 (2013) 11.12",
        never=PERMITS,
        regime="gb-eng-dental-htm0105",
        checks=(user_check("2025-06-26", result="fail"), user_check("2025-06-27", signed="")),
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


@pytest.mark.parametrize("kind", ["mechanical", "chemical"])
def test_one_more_failure_takes_away_no_open_item(kind):
    def items(*days):
        facts = history("as before", opens=("case-open",), loads=failed(*days, kind=kind)).values[0]
        return {(f.rule, f.evidence[0].ref) for f in facts.judged().findings if f.rule == "case-open"}

    assert len(items("2025-06-23")) == 1 and len(items("2025-06-23", "2025-06-25")) == 1


def test_several_in_a_row_ask_the_withdrawal_and_the_return_as_steps():
    """One failed cycle is a matter of its packs; from the second on the unit is out, and that is said as a step."""
    for days, asked in ((THREE[:1], ["review", "retest"]), (THREE[:2], ["withdraw", "review", "retest", "return"])):
        one = history("as before", opens=("case-open",), loads=failed(*days)).values[0].judged()
        (case_,) = one.cases
        assert [s.action for s in case_.steps] == asked
        (item,) = [f for f in one.findings if f.rule == "case-open"]
        assert (item.severity == "forbids use") is ("withdraw" in asked)
