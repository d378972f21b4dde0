"""Loads released on a failed result or on none, and cycle numbers that cannot be right, are said."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from audit.facts import ChemicalFact
from audit.judge.judgement import Severity
from tests.audit.unsafe.table import PRACTICE, TESTED, history
from tests.fact_builders import bio, gap, load, row

NUMBERS = "plain logic: a counter of cycles rises by one each cycle"
RIGHT = {"mechanical": "pass", "chemical": "pass"}
RELEASES = ("released-on-failure", "released-without-result", "released-wet-or-torn")
OF_NUMBERS = ("cycle-number-twice", "cycle-numbers-fell", "cycle-numbers-not-logged")
LEAPT = "cycle-numbers-leapt"


def run(*numbers, first="2025-06-02", **more):
    """A load a day with these cycle numbers; a text of several is several loads of one day."""
    day, out = date.fromisoformat(first), []
    for each in numbers:
        out += [load(day, number, **(RIGHT | more)) for number in str(each).split()]
        day += timedelta(days=1)
    return tuple(out)


def open_of(rules, **facts):
    """Which of these items are open for the history."""
    (row,) = history("a history", PRACTICE, opens=rules, **facts).values
    return {f.rule for f in row.judged().findings} & set(rules)


def strip(day, cycle, result="fail"):
    return ChemicalFact(row(day), 5, result, cycle, "pack", "C1")


def packs(**more):
    """A load of 2 June 2025 with both results right, but for what is said."""
    return (replace(run(100)[0], **more),)


LOADS = run(100, 101)
# CDC 2003 (MMWR 52 RR-17) VI.F: item 2, each load is watched by gauges and indicators; item 5, what failed is not
# used.
RELEASED = [
    # what, loads and facts beside, the items that must be open
    ("both results right", LOADS, {}, ()),
    ("mechanical failed and released", run(100, mechanical="fail"), {}, RELEASES[:1]),
    ("chemical failed and released", run(100, chemical="fail"), {}, RELEASES[:1]),
    ("both failed and released", run(100, mechanical="fail", chemical="fail"), {}, RELEASES[:1]),
    ("mechanical failed and rejected", run(100, mechanical="fail", released="rejected"), {}, ()),
    ("mechanical failed, no decision", run(100, mechanical="fail", released=""), {}, ()),
    ("a strip of the cycle failed", LOADS, {"chemical": (strip("2025-06-02", "100"),)}, RELEASES[:1]),
    (
        "a strip of the cycle failed, its number with a nought",
        LOADS,
        {"chemical": (strip("2025-06-02", "0100"),)},
        RELEASES[:1],
    ),
    ("a strip without a number failed", LOADS, {"chemical": (strip("2025-06-02", ""),)}, ()),
    ("a strip of another cycle failed", LOADS, {"chemical": (strip("2025-06-02", "99"),)}, ()),
    ("a strip of that number on another day failed", LOADS, {"chemical": (strip("2025-05-02", "100"),)}, ()),
    ("a strip of the cycle passed", LOADS, {"chemical": (strip("2025-06-02", "100", "pass"),)}, ()),
    (
        "the spore test of the cycle had a failed printout",
        LOADS,
        {"bio_tests": (*TESTED, bio("2025-06-03", result="pass", cycle="101", mechanical="fail"))},
        RELEASES[:1],
    ),
    ("mechanical not recorded", run(100, mechanical="not recorded"), {}, RELEASES[1:2]),
    ("mechanical never asked", run(100, mechanical=""), {}, RELEASES[1:2]),
    ("not recorded and rejected", run(100, mechanical="", released="rejected"), {}, ()),
    (
        "recorded with the spore test of the cycle",
        run(100, mechanical=""),
        {"bio_tests": (*TESTED, bio("2025-06-02", result="pass", cycle="100"))},
        (),
    ),
    (
        "one failed, one not recorded",
        (*run(100, mechanical="fail"), *run(101, mechanical="", first="2025-06-03")),
        {},
        RELEASES[:2],
    ),
]
# CDC 2008, storage of sterile items: a pack that is torn, wet or punctured is wrapped and sterilized again before
# use; from memory. That it is looked at when the packs are taken out is common practice.
WET_OR_TORN = [
    ("dry and intact", packs(packs="dry", pack_condition="intact"), {}, ()),
    ("wet and released", packs(packs="wet"), {}, RELEASES[2:]),
    ("torn and released", packs(pack_condition="damaged"), {}, RELEASES[2:]),
    ("dry, but torn", packs(packs="dry", pack_condition="damaged"), {}, RELEASES[2:]),
    ("torn and rejected", packs(pack_condition="damaged", released="rejected"), {}, ()),
    ("torn, no decision", packs(pack_condition="damaged", released=""), {}, ()),
    ("the wrapping was looked at and not recorded", packs(pack_condition="not recorded"), {}, ()),
    ("torn in a cycle that failed", packs(pack_condition="damaged", chemical="fail"), {}, (RELEASES[0], RELEASES[2])),
    ("torn, the results not recorded", packs(pack_condition="damaged", mechanical=""), {}, RELEASES[1:]),
]
NUMBERED = [
    ("one by one", run("100 101", 102, 103), {}, ()),
    ("a load without a number between", run(100, 101) + run("", first="2025-06-04"), {}, ()),
    ("one number on two days", run(100, 101, 101), {}, OF_NUMBERS[:1]),
    ("one number twice on a day", run(100, "101 101"), {}, OF_NUMBERS[:1]),
    ("one number again after months", run(100, 101, 102, 103, 100), {}, OF_NUMBERS[:1]),
    ("one number again, written with a nought", run("100", "0100"), {}, OF_NUMBERS[:1]),
    ("a name twice on a day", run("A-1 a-1"), {}, OF_NUMBERS[:1]),
    ("a name on two days", run("A-1", "A-1"), {}, ()),
    ("eight numbers not logged", run(120, 121, 130), {}, OF_NUMBERS[2:]),
    ("one number not logged", run(120, 122), {}, OF_NUMBERS[2:]),
    ("a step of a hundred", run(1, 101), {}, OF_NUMBERS[2:]),
    ("a longer step is another numbering, or a slip", run(1, 102), {}, (LEAPT,)),
    (
        "the number between is that of a spore test",
        run(120, 122),
        {"bio_tests": (*TESTED, bio("2025-06-02", result="pass", cycle="121"))},
        (),
    ),
    (
        "the number between is that of a strip",
        run(120, 122),
        {"chemical": (strip("2025-06-02", "121", "pass"),)},
        (),
    ),
    (
        "a test cycle logged as a load too",
        run(120, 121),
        {"bio_tests": (*TESTED, bio("2025-06-03", cycle="121"))},
        (),
    ),
    ("a fall by one", run(120, 121, 119), {}, OF_NUMBERS[1:2]),
    ("a fall within a day", run(120, "122 121", 123), {}, ()),
    ("a fall and a hole", run(120, 125, 123), {}, OF_NUMBERS[1:]),
    ("a far fall at the end", run(500, 501, 120), {}, OF_NUMBERS[1:2]),
    ("a far fall that lasts is another numbering", run(500, 501, 120, 121, 122), {}, ()),
    ("a counter that begins at 1", run(500, 501, 1, 2, 3), {}, ()),
    ("a number missing more than a year ago", run(120, 122, first="2024-06-20"), {}, ()),
    ("a number missing less than a year ago", run(120, 122, first="2024-07-20"), {}, OF_NUMBERS[2:]),
    ("a fall more than a year ago", run(120, 121, 119, first="2024-06-20"), {}, ()),
    ("one number on two days more than a year ago", run(100, 100, first="2024-06-20"), {}, OF_NUMBERS[:1]),
    ("a step of a hundred", run(120, 220), {}, OF_NUMBERS[2:]),
    ("a leap of more", run(120, 221), {}, (LEAPT,)),
    ("a leap and back, as of a slip", run(9, 99999, 10), {}, (*OF_NUMBERS[1:2], LEAPT)),
    ("a leap and back for good", run(9, 99999, 10, 11, 12), {}, (LEAPT,)),
    ("a leap and a hole", run(120, 122, 999), {}, (*OF_NUMBERS[2:], LEAPT)),
    ("a leap beside a number that came twice", run(120, 120, 999), {}, (*OF_NUMBERS[:1], LEAPT)),
    ("a leap more than a year ago", run(120, 999, first="2024-06-20"), {}, ()),
    ("a number that holds the day", run(250602001, 250603001, 250604001, 250605001), {}, ()),
    ("no numbers at all", run("", "", ""), {}, ()),
    ("each day numbered by itself", run("1 2 3", "1 2", "1 2 3", "1 2", "2 3"), {}, ()),
]


def told(row):
    return row[0]


def test_a_load_with_torn_packs_is_named_with_what_to_do():
    loads = (*run(99, first="2025-06-01"), *packs(packs="wet", pack_condition="damaged"))
    found = item(RELEASES[2], loads=loads)
    assert found.message == "1 load(s) released although packs were wet or wrapping was damaged, on 2025-06-02"
    (row,) = found.evidence
    assert row.text == "cycle 100 of 2025-06-02: released with packs wet and wrapping damaged"
    assert found.way_out.startswith("do not use these packs: take them back") and found.severity is Severity.PUT_RIGHT


@pytest.mark.parametrize("row", [*RELEASED, *WET_OR_TORN, *NUMBERED], ids=told)
def test_what_is_open(row):
    _, loads, more, rules = row
    assert open_of(("rule-failed", *RELEASES, *OF_NUMBERS, LEAPT), loads=loads, **more) == set(rules)


def item(rule, **more):
    (made,) = history("told", NUMBERS, opens=(rule,), **more).values
    (found,) = (f for f in made.judged().findings if f.rule == rule)
    return found


def test_a_release_on_a_failed_result_is_told_once_with_its_loads():
    found = item(RELEASES[0], loads=run(100, 101, 102, mechanical="fail"))
    assert found.severity is Severity.PUT_RIGHT and str(found.since) == "2025-06-02" and len(found.evidence) == 3
    assert found.message.startswith("3 load(s) released although something failed")
    assert "VI.F item 5" in str(found.source)


@pytest.mark.parametrize(
    ("regime", "severity"),
    [
        ("us-dental-cdc-2003", Severity.PUT_RIGHT),  # CDC 2003 VI.F item 2
        ("us-ca-body-art", Severity.PUT_RIGHT),  # HSC 119315(b)(3)
        ("us-or-dental", Severity.PUT_RIGHT),  # CDC 2003, inherited
        ("ie", Severity.NOTE),  # nothing of each load on file
        ("base", Severity.NOTE),
    ],
)
def test_a_release_without_a_result_weighs_by_the_rules(regime, severity):
    assert item(RELEASES[1], loads=run(100, mechanical=""), regime=regime).severity is severity


def test_numbers_not_logged_are_told_once():
    assert item(OF_NUMBERS[2], loads=run(120, 129)).message == "8 cycle numbers are not on record between 120 and 129"
    found = item(OF_NUMBERS[2], loads=run(120, 122, 130, 131))
    assert found.message == "8 cycle numbers are not on record between 120 and 130, in 2 places"
    assert str(found.since) == "2025-06-03"


def test_a_declared_gap_answers_for_the_numbers_in_it():
    place = {"gaps": (gap("2025-06-01", "2025-06-03", day="2025-06-04"),)}
    assert open_of(OF_NUMBERS, loads=run(120, 129), place=place) == set()
    later = {"gaps": (gap("2025-06-04", "2025-06-05", day="2025-06-06"),)}
    assert open_of(OF_NUMBERS, loads=run(120, 129), place=later) == {OF_NUMBERS[2]}


def test_a_leap_is_told_with_both_numbers():
    found = item(LEAPT, loads=run(9, 99999))
    assert found.message == "cycle numbers leapt from 9 to 99999 on 2025-06-03"
    assert found.severity is Severity.NOTE and len(found.evidence) == 2


def test_the_number_that_came_twice_is_named_with_its_days():
    found = item(OF_NUMBERS[0], loads=run(100, 101, 101))
    assert found.message == "cycle number 101 came twice, 2025-06-03 and 2025-06-04"
    assert found.severity is Severity.PUT_RIGHT and len(found.evidence) == 2
