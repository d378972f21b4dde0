"""Edges of answers: the first and last day of a paper, a value at its limit, who signed, and of which kind a row is.

Sources beside each question in the catalogue of questions; the edges: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.audit.unsafe.asked import YES, asks, holds
from tests.audit.unsafe.table import DAY, TESTED
from tests.fact_builders import (
    bio,
    calibration,
    closure,
    credential,
    document,
    event,
    gap,
    instrument,
    job,
    line,
    load,
    look,
    measured,
    on,
    outcome,
    sign,
    user_check,
    weekly,
)

NO, PART, NONE = "no", "in part", "no record found"
HTM, RACGP = "gb-eng-dental-htm0105", "au-racgp-2023"
IN_USE = event("2024-01-01")
WORK_DAY = "2025-03-01"
HELD = {"instruments": (instrument(calibration("2025-01-01")),)}


def told(id, title, answer, *says, regime="us-dental-cdc-2003", **more):
    return asks(id, title, never=(), answer=answer, says=says, regime=regime, **more)


def report(first=DAY, last=None, kind="pressure examination", unit=""):
    return document(kind, first, last, unit=unit)


def examined(title, answer, *papers, place=()):
    return told("pressure-examined", title, answer, regime=HTM, documents=papers, place={"documents": place})


def serviced(title, answer, *, of=None, reading=None, plan=None, **more):
    """A planned servicing of one line due each year, with a measurement."""
    made = job(
        WORK_DAY,
        outcomes=of or (outcome(WORK_DAY),),
        readings=(reading or measured(WORK_DAY),),
        **more,
    )
    lines = plan or (line(months=12),)
    return told(
        "serviced-yearly", title, answer, regime=RACGP, events=(IN_USE,), plan=lines, jobs=(made,), place=HELD
    )


def signed(title, answer, *signatures, end="released"):
    made = job(WORK_DAY, outcomes=(outcome(WORK_DAY),), signatures=signatures, signed=False, end=end)
    return told("service-log", title, answer, regime="base", jobs=(made,))


def prevented(title, answer, *says, day=WORK_DAY, done=True, reason="planned", end="released", by=sign):
    """A service job, and whether it counts as preventive maintenance."""
    of = (outcome(day),) if done else (outcome(day, what="deferred", by="Owner"),)
    made = job(day, outcomes=of, signatures=(by(day),), signed=False, end=end, reason=reason)
    return told("preventive-log", title, answer, *says, events=(IN_USE,), jobs=(made,))


def told_by_another(day):
    return replace(sign(day), given="told")


ABSENT = replace(sign(WORK_DAY, "nobody present"))
EARTH = {"of": "earth resistance"}
OTHER_LINE = (line(months=12), line("clean", "seal", "clean", months=12))
# Never done since the unit was installed on 1 January 2024: fourteen months later is the day of the work.
DUE_THEN = line("clean", "seal", "clean", months=14)
DUE_LATER = line("clean", "seal", "clean", months=15)
GROWN = bio("2025-05-07", result="growth", known="2025-05-09", ref="bad")
TWO_YEARS = {"events": (event("2020-01-01"),), "bio_tests": weekly("2023-01-04", "2025-06-25")}


def kept(title, answer, *says, place=None, **more):
    return told("two-years-of-tests", title, answer, *says, place=place, **(TWO_YEARS | more))


ROWS = [
    examined("a report that holds from today", YES, report()),
    examined("a report that holds from tomorrow", NONE, replace(report(), valid_from=on("2025-06-28"))),
    examined("a report whose last day is today", YES, report("2025-01-01", DAY)),
    examined("a report whose last day was yesterday", NO, report("2025-01-01", "2025-06-26")),
    examined("a report of the place for this unit", YES, place=(report(unit="unit-1"),)),
    examined("a report of the place for another unit", NONE, place=(report(unit="unit-2"),)),
    examined("a paper of another kind for this unit", NONE, place=(report(kind="insurance", unit="unit-1"),)),
    told("people-trained", "training that begins today", YES, bio_tests=(), regime="us-dental-cdc-2003",
         loads=(replace(load(DAY), row=replace(load(DAY).row, logged_by="A. User")),),
         place={"credentials": (credential(DAY),)}),
    serviced("a value inside its limits", YES),
    serviced("a value at its lower limit", YES, reading=measured(WORK_DAY, "134")),
    serviced("a value at its upper limit", YES, reading=measured(WORK_DAY, "137")),
    serviced("a value below", PART, reading=measured(WORK_DAY, "133.9")),
    serviced("a value above", PART, reading=measured(WORK_DAY, "137.1")),
    serviced("a value with an upper limit alone", YES, reading=measured(WORK_DAY, "0.2", None, "0.2", **EARTH)),
    serviced("a value with a lower limit alone", YES, reading=measured(WORK_DAY, "5", "5", None, **EARTH)),
    serviced("a value without any limit", PART, reading=measured(WORK_DAY, "5", None, None, **EARTH)),
    serviced("limits and no value", PART, reading=measured(WORK_DAY, None)),
    serviced("another line left out", PART, plan=OTHER_LINE,
             of=(outcome(WORK_DAY, "replace-seal", "", "inspect"),)),
    serviced("another line said not to be due", YES, plan=OTHER_LINE,
             of=(outcome(WORK_DAY), outcome(WORK_DAY, "clean", action="clean", what="not due"))),
    serviced("another line not possible, decided by somebody", YES, plan=OTHER_LINE,
             of=(outcome(WORK_DAY), outcome(WORK_DAY, "clean", action="clean", what="not possible", by="Owner"))),
    serviced("another line not possible, decided by nobody", PART, plan=OTHER_LINE,
             of=(outcome(WORK_DAY), outcome(WORK_DAY, "clean", action="clean", what="not possible"))),
    serviced("another line put off, decided by somebody", YES, plan=OTHER_LINE,
             of=(outcome(WORK_DAY), outcome(WORK_DAY, "clean", action="clean", what="deferred", by="Owner"))),
    serviced("another line put off, decided by nobody", PART, plan=OTHER_LINE,
             of=(outcome(WORK_DAY), outcome(WORK_DAY, "clean", action="clean", what="deferred"))),
    serviced("another line said not to apply", YES, plan=OTHER_LINE,
             of=(outcome(WORK_DAY), outcome(WORK_DAY, "clean", action="clean", what="not applicable"))),
    serviced("another line due on that very day and left out", PART, plan=(line(months=12), DUE_THEN)),
    serviced("another line due on the day after and left out", YES, plan=(line(months=12), DUE_LATER)),
    serviced("worked on and never concluded", NONE, end=""),
    serviced("closed as not worked on", NONE, end="not worked on"),
    signed("released and signed", YES, sign(WORK_DAY)),
    signed("signed by one, nobody else present", YES, sign(WORK_DAY), ABSENT),
    signed("nobody present", NO, ABSENT),
    signed("signed without a name", NO, replace(sign(WORK_DAY), name=" ")),
    signed("not signed", NO),
    signed("taken back by the clinic alone", YES, sign(WORK_DAY, "returned to use")),
    signed("signed in the name of somebody who did not", NO, replace(sign(WORK_DAY), given="told")),
    told("last-spore-test", "the last one failed: that is said", YES, "Last one on 2025-05-07, failed",
         bio_tests=(*TESTED[:18], GROWN)),
    told("last-spore-test", "the last one is not read", YES, "Last one with a result on 2025-06-18, passed",
         "1 newer one, of 2025-06-26",
         bio_tests=(*TESTED[:-1], bio("2025-06-26"))),
    told("spore-test-control", "one without a control", PART, regime="base",
         bio_tests=(*TESTED[:-1], replace(TESTED[-1], control_lot=None))),
    told("test-log-entries", "one not read yet, without its cycle type", PART, regime="base",
         bio_tests=(*TESTED, replace(bio("2025-06-26"), cycle_type=" "))),
    signed("signed and not concluded", NO, sign(WORK_DAY), end=""),
    prevented("a planned servicing, concluded and signed", YES),
    prevented("a repair is none", NONE, "1 service job for other reasons", reason="breakdown"),
    prevented("planned, and everything put off", NO, "0 with work done", done=False),
    prevented("planned and never concluded", NO, end=""),
    prevented("planned and closed as not worked on", NO, end="not worked on"),
    prevented("signed in the name of somebody who did not", NO, by=told_by_another),
    prevented("the last one a year ago to the day", YES, day="2024-06-27"),
    prevented("the last one a year and a day ago", PART, "more than 12 months ago", day="2024-06-26"),
    told("preventive-log", "two planned, one of them not signed", PART, "2025-03-02", events=(IN_USE,), jobs=(
        job(WORK_DAY, outcomes=(outcome(WORK_DAY),)), job("2025-03-02", outcomes=(outcome("2025-03-02"),),
                                                          signed=False))),
    told("failure-followed", "a failure of another kind is not asked about", YES, "No such failure",
         loads=(load("2025-06-02", "8", mechanical="fail"),)),
    told("out-until-proven", "a failure of another kind is, where every kind is", PART, "Failed mechanical result",
         loads=(load("2025-06-26", "8", mechanical="fail"),), bio_tests=TESTED[:-1]),
    told("test-log-entries", "each test with who ran and who read it", PART, "26 of 26", "purchase documents",
         regime="base"),
    told("test-log-entries", "one that nobody read by name", PART, regime="base",
         bio_tests=(*TESTED[:-1], bio("2025-06-25", replace(look("2025-06-26"), read_by="")))),
    told("test-log-entries", "one that a laboratory reported", PART, "26 of 26", regime="base",
         bio_tests=(*TESTED[:-1], bio("2025-06-25", replace(look("2025-06-26", report="R-1"), read_by="")))),
    told("test-log-entries", "one that nobody ran by name", PART, regime="base",
         bio_tests=(*TESTED[:-1], replace(TESTED[-1], run_by=" "))),
    told("closed-after-positive", "none is positive", "not asked here", "No positive spore test is open"),
    told("closed-after-positive", "the only unit is positive", NO, "1 positive spore test open",
         bio_tests=(*TESTED[:18], GROWN)),
    kept("a test each week for two years", YES),
    kept("a known gap of this unit, noted by the place", PART, "paper log",
         place={"gaps": (gap("2025-01-10", "2025-01-20", unit="unit-1"),)}),
    kept("a known gap of another unit", YES, place={"gaps": (gap("2025-01-10", "2025-01-20", unit="unit-2"),)}),
    kept("five weeks without a test", PART, "nothing from",
         bio_tests=(*weekly("2023-01-04", "2025-03-05"), *weekly("2025-04-16", "2025-06-25"))),
    kept("five weeks without a test, this unit closed for them", YES,
         bio_tests=(*weekly("2023-01-04", "2025-03-05"), *weekly("2025-04-16", "2025-06-25")),
         place={"closures": (closure("2025-03-06", "2025-04-15", unit="unit-1"),)}),
    kept("five weeks without a test, another unit closed for them", PART,
         bio_tests=(*weekly("2023-01-04", "2025-03-05"), *weekly("2025-04-16", "2025-06-25")),
         place={"closures": (closure("2025-03-06", "2025-04-15", unit="unit-2"),)}),
    told("water-known", "the last of the year passed, with its value", YES, regime=HTM,
         checks=(user_check("2025-06-02", "water", "fail", value="40", unit="µS/cm"),
                 user_check("2025-06-03", "water", value="10", unit="µS/cm"))),
]  # fmt: skip


@pytest.mark.parametrize("row", ROWS)
def test_both_sides_of_each_edge(row):
    holds(row)
