"""What is not known of use, of a counter or of the order of a day keeps an answer from "yes"; both sides of the edge.

Sources beside each question in the catalogue of questions; the edges: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit.facts import LocalDutyFact
from audit.judge.answers.registry import OF_UNIT
from tests.audit.judge.answers.asking import place_of, question
from tests.audit.unsafe.asked import YES, asks, holds
from tests.audit.unsafe.table import DAY, TESTED
from tests.fact_builders import bio, clinic, counter, document, event, load, on, row, unit, user_check

BEGUN = event("2024-01-01")
PART, NONE, NOT_ASKED = "in part", "no record found", "not asked here"
FLORIDA, HTM, RACGP = "us-fl-dental", "gb-eng-dental-htm0105", "au-racgp-2023"
TORONTO, NEHA, NEW_JERSEY = "ca-toronto-personal-services", "neha-body-art-model", "us-nj-body-art"


def told(id, title, answer, *says, not_says=(), regime="us-dental-cdc-2003", **more):
    return asks(id, title, never=(), answer=answer, says=says, not_says=not_says, regime=regime, **more)


def own(every, first, duty="biological-test", count=1):
    duties = (LocalDutyFact(row(first), on(first), duty, every, count, "the clinic's own"),)
    return {"local_duties": duties}


def read(*pairs, of="cycles"):
    return tuple(counter(day, shown, counter=of) for day, shown in pairs)


def hours(title, answer, *pairs, begun):
    """In use for a month and a half only: what counts is whether two readings tell of it."""
    says = () if answer == YES else ("Hours of use are not known",)
    tests = tuple(t for t in TESTED if t.row.happened_on >= on(begun))
    return told("spore-test-hours-or-days", title, answer, *says, regime=FLORIDA, events=(event(begun),),
                bio_tests=tests, counters=read(*pairs, of="hours"))  # fmt: skip


def by_minutes(title, answer, *says, minutes="30"):
    """A load a week since it was installed, each with its use time but the last, where `minutes` says so."""
    days = [t.row.happened_on for t in TESTED]
    loads = tuple(load(day, str(n), minutes="30") for n, day in enumerate(days[:-1], start=1))
    loads = (*loads, load(days[-1], str(len(days)), minutes=minutes))
    return told("spore-test-hours-or-days", title, answer, *says, regime=FLORIDA, events=(event("2025-01-01"),),
                bio_tests=TESTED, loads=loads)  # fmt: skip


NO_LOADS = {"bio_tests": TESTED, "loads": ()}


def after_move(title, answer, *says, result="pass", again="", regime=NEHA):
    """Moved on 24 June and tested on the 25th; `again`: the day of a second move."""
    tests = () if result == "none" else (bio("2025-06-25", purpose="requalification"),)
    if result == "pass":
        tests = (bio("2025-06-25", result="pass", known="2025-06-25", purpose="requalification"),)
    moves = [event(day, "relocated") for day in ("2025-06-24", again) if day]
    return told("spore-test-after-work", title, answer, *says, regime=regime, events=(event("2024-01-01"), *moves),
                bio_tests=(*TESTED[:-1], *tests))  # fmt: skip


def used_before(title, answer, *says, tests=(), regime=NEHA, begun=True):
    """Moved on 2 June, a load on the 4th; under the rules of this place two duties follow an event, one is asked."""
    moved = (*[event("2024-01-01")][:begun], event("2025-06-02", "relocated"))
    before = tuple(t for t in TESTED if t.row.happened_on < on("2025-06-02"))
    used = (load("2025-06-04", "1", mechanical="pass", chemical="pass"),)
    return told("spore-test-after-work", title, answer, *says, regime=regime, events=moved, loads=used,
                bio_tests=(*before, *tests))  # fmt: skip


def requalified(day, result="pass", known=None):
    return bio(day, result=result, known=known or day, purpose="requalification", site="laboratory")


ROWS = [
    # ---- nothing was due only because what would ask it is not logged
    told("implant-loads-tested", "no load on record, and 30 cycles more than are logged", NONE, **NO_LOADS,
         counters=read(("2025-01-01", 0), ("2025-06-27", 56))),
    told("implant-loads-tested", "no load on record, and one cycle more than is logged", NONE, **NO_LOADS,
         counters=read(("2024-12-31", 0), ("2025-06-27", 27))),
    told("implant-loads-tested", "no load on record, and every cycle was a test", NOT_ASKED, **NO_LOADS,
         counters=read(("2024-12-31", 0), ("2025-06-27", 26))),
    # ---- use before the record
    told("spore-test-each-period", "no installation on record, an own duty since later on", PART,
         "It is on record from 2024-01-01", events=(), place=own("calendar-month", "2025-03-01")),
    told("spore-test-each-period", "an installation on record, an own duty since later on", YES,
         place=own("calendar-month", "2025-03-01")),
    # ---- an event that still waits for its test
    after_move("moved, the test after it not read yet", "no", "Not proven yet", result=""),
    after_move("moved, no test since", "no", "Not proven yet", result="none"),
    after_move("moved, the test after it negative", YES),
    after_move("moved twice, a test after the first move alone", PART, "Not proven yet", again="2025-06-26"),
    told("spore-test-after-work", "never moved nor repaired", NOT_ASKED, regime=NEHA),
    # ---- an event that the rules do not name, and what was begun after it
    after_move("moved where the rules name no test for it, one not read yet", "no",
               "Relocated on 2025-06-24: 1 spore test since, none read yet", result="", regime=NEW_JERSEY),
    after_move("moved where the rules name no test for it, none since", NOT_ASKED, result="none", regime=NEW_JERSEY),
    after_move("moved where the rules name no test for it, one passed", NOT_ASKED, regime=NEW_JERSEY),
    told("spore-test-after-work", "moved where the rules name no test for it, one passed and one not read", NOT_ASKED,
         not_says=("none read yet",), regime=NEW_JERSEY, events=(BEGUN, event("2025-06-10", "relocated")),
         bio_tests=(*TESTED[:-1], bio("2025-06-25", purpose="requalification"))),
    # ---- of two duties one was asked: what is true of it alone is said
    used_before("used before the test that passed", PART, "1 met late", tests=(requalified("2025-06-05"),)),
    used_before("used before the test that failed", "no", "Spore tests since: failed on 2025-06-05.", tests=(
                requalified("2025-06-05", "growth"),)),
    used_before("used and never tested", NONE, "1 missed"),
    used_before("three tests in a row, used before them", PART, "1 met late", regime=TORONTO, tests=tuple(
                map(requalified, ("2025-06-05", "2025-06-06", "2025-06-07")))),
    used_before("three asked, one passed", "no", "1 missed", regime=TORONTO, begun=False,
                tests=(requalified("2025-06-05"),)),
    used_before("three asked, two passed and the third not read", "no", "awaited on 2025-06-07", regime=TORONTO,
                begun=False, tests=(*map(requalified, ("2025-06-05", "2025-06-06")), requalified("2025-06-07", ""))),
    # ---- hours of use
    hours("one reading in the middle of a short use", PART, ("2025-06-05", 8), begun="2025-05-14"),
    hours("two readings of a short use", YES, ("2025-05-20", 2), ("2025-06-20", 12), begun="2025-05-14"),
    by_minutes("each load with its minutes", YES),
    by_minutes("one load without its minutes", PART, "Hours of use are not known", minutes=None),
    # ---- one test is awaited for too long, another is in its time; a duty of the clinic's own has neither
    told("spore-test-each-period", "an own monthly duty beside the weekly one", PART,
         "A result is awaited for too long", place=own("calendar-month", "2025-01-01"),
         bio_tests=(*TESTED[:-3], bio(TESTED[-3].row.happened_on), TESTED[-2], bio(TESTED[-1].row.happened_on))),
    # ---- water on a day of two results
    told("water-known", "failed without a time, and passed at 10:00", "no", regime=HTM, checks=(
             user_check("2025-06-02", "water", "fail", value="40", unit="µS/cm"),
             user_check("2025-06-02", "water", value="1", unit="µS/cm", at="10:00"))),
    told("water-known", "failed at 08:00, and passed without a time", PART, "which came last is not known",
         regime=HTM, checks=(
             user_check("2025-06-02", "water", "fail", value="40", unit="µS/cm", at="08:00"),
             user_check("2025-06-02", "water", value="1", unit="µS/cm"))),
    told("water-known", "passed without a value", PART, "its value; ", regime=HTM,
         checks=(user_check("2025-06-02", "water"),)),
    told("water-known", "passed with a value without unit", PART, "the unit of its value; ", regime=HTM,
         checks=(user_check("2025-06-02", "water", value="1"),)),
    # ---- of which kind a paper of the unit is
    told("kept-seven-years", "an insurance of the unit is no validation", PART, "validation: nothing on record",
         regime=RACGP, documents=(document("insurance", "2025-01-01", unit="unit-1"),)),
    told("kept-seven-years", "a validation report of the unit is one", PART, "validation 2025-01-01 to 2025-01-01, 1",
         not_says=("validation: nothing on record",), regime=RACGP,
         documents=(document("validation report", "2025-01-01", unit="unit-1"),)),
]  # fmt: skip


@pytest.mark.parametrize("one", ROWS)
def test_never_more_than_is_known(one):
    holds(one)


# The most days from one to the other that a frequency can bring: from the first day of one period to the last of the
# next. One day more shows that a period was left out.
APART = [
    ("calendar-month", "2025-01-01", "2025-03-03", False),
    ("calendar-month", "2025-01-01", "2025-03-04", True),
    ("calendar-quarter", "2025-01-01", "2025-07-03", False),
    ("calendar-quarter", "2025-01-01", "2025-07-04", True),
    ("calendar-year", "2023-01-01", "2024-12-31", False),
    ("calendar-year", "2023-01-01", "2025-01-01", True),
    ("rolling-days", "2025-01-01", "2025-01-11", False),
    ("rolling-days", "2025-01-01", "2025-01-12", True),
    ("rolling-months", "2025-01-01", "2025-11-07", False),
    ("rolling-months", "2025-01-01", "2025-11-08", True),
]


@pytest.mark.parametrize(("every", "first", "second", "is_gap"), APART)
def test_a_gap_is_longer_than_the_duty_of_the_place_itself_allows(every, first, second, is_gap):
    checks = tuple(user_check(day, "thermometer comparison") for day in (first, second))
    facts = {"events": (event(first),), "checks": checks}
    row = told("all-records-kept-one-and-two", "two checks", PART, regime=TORONTO, as_of=second, **facts,
               place=own(every, first, "thermometer-comparison", 10)).values[0]  # fmt: skip
    after, before = (on(day).toordinal() for day in (first, second))
    span = f"{date.fromordinal(after + 1)} to {date.fromordinal(before - 1)}"
    assert (f"thermometer comparison checks: nothing from {span}" in row.reply().gap) is is_gap, row.reply().gap


def test_without_what_is_counted_there_is_no_answer():
    """A unit judged in brief has nothing counted: that is no record, and not a question that nobody asks."""
    facts = clinic(unit("2025-01-01", events=(event("2025-01-01"),), bio_tests=TESTED))
    place, one = place_of(facts, "us-dental-cdc-2003", on(DAY)), question("spore-test-each-period")
    view = replace(place.views[0], said=replace(place.views[0].said, coverage=()))
    assert OF_UNIT[one.answers](place, view, one).answer == NONE
    assert OF_UNIT[one.answers](place, place.views[0], one).answer == YES
