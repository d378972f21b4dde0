"""A spore test counts only with its control, its hours and its day right; where the rules ask more, with that too."""

from dataclasses import replace

import pytest

from audit.facts import LotFact
from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, PLAIN, TESTED, history, holds
from tests.fact_builders import bio, look, lot

CONTROL = "CDC 2003 (MMWR 52 RR-17) VI.F item 6: a matching control of the same lot"
LABEL = "the label’s hours of incubation"
NEW_JERSEY = "N.J.A.C. 8:27-5.4: independent laboratory, full chamber, centre toward the front"
MONTANA = "ARM 37.112.131(3)(d): analysed by a certified laboratory"
NEXT_WEEK = "2025-06-30"  # the week of the last test is over
OTHER = replace(lot(), ref="lot-2", name="Another invented indicator")
SAME = replace(lot("l 1"), ref="lot-2", name="INVENTED indicator ")
UNKNOWN = LotFact("", "biological", "not known", "", None, 0, None, None)
POSITIVE = bio("2025-06-20", result="growth", known="2025-06-21")


def last(*readings, **more):
    """The tests of every week, the last of them as told."""
    return (*TESTED[:-1], bio("2025-06-25", *readings, **more))


def counts_not(told, source, *readings, **more):
    """The last test counts for nothing: its week is missed, and it is an open item."""
    tests = last(*readings, **more)
    return history(
        told, source, never=PLAIN, word=Word.OVERDUE, opens=("invalid-test",), as_of=NEXT_WEEK, bio_tests=tests
    )


def counts(told, source, *readings, **more):
    """The last test counts."""
    return history(told, source, word=Word.IN_SERVICE, as_of=NEXT_WEEK, bio_tests=last(*readings, **more))


def repeat(told, source, *readings, good=False, **more):
    """A positive test, and a repeat that counts for nothing (or, `good`, that ends the matter)."""
    tests = (*TESTED[:-1], POSITIVE, bio("2025-06-23", *readings, purpose="repeat", **more))
    return (
        history(told, source, word=Word.IN_SERVICE, bio_tests=tests)
        if good
        else history(told, source, never=PERMITS, word=Word.OUT, bio_tests=tests)
    )


def monthly(told, source, regime, word, **more):
    """Tested each month as the place asks, the test of June as told; asked on 1 July."""
    right = {"site": "laboratory", "chamber": "full", "place": "centre, toward the front"}
    months = [bio(f"2025-0{n}-10", result="pass", **right) for n in range(1, 6)]
    june = bio("2025-06-10", result="pass", **(right | more))
    opens = () if word is Word.IN_SERVICE else ("not-as-asked",)
    return history(told, source, word=word, opens=opens, regime=regime, as_of="2025-07-01", bio_tests=(*months, june))


ROWS = [
    # the control
    counts("a control of the same lot that grew", CONTROL, result="pass"),
    counts("lot and product written in another way", CONTROL, result="pass", control=SAME),
    counts_not("a control of the same lot number of another product", CONTROL, result="pass", control=OTHER),
    counts_not("a control of another lot of the same product", CONTROL, result="pass", control=lot("L2")),
    counts_not("no control", CONTROL, result="pass", control=None),
    counts_not("a control of a box that nobody knows", CONTROL, result="pass", control=UNKNOWN),
    counts_not("a box that nobody knows", CONTROL, result="pass", lot_=UNKNOWN),
    counts_not("a control that did not grow", "EN 285:1996 17.2.2.7", result="invalid"),
    counts_not(
        "a control read as grown and then as not grown",
        CONTROL,
        look("2025-06-26"),
        look("2025-06-27", control="no growth", hours="40"),
    ),
    repeat("a repeat with the control of another product", CONTROL, result="pass", control=OTHER),
    repeat("a repeat with its control", CONTROL, result="pass", good=True),
    # the day and the hours
    counts_not("read on the day before the cycle", "plain logic", look("2025-06-24")),
    counts_not("read at 7:00, run at 8:00 of that day", "plain logic", look("2025-06-25", at="07:00"), at="08:00"),
    counts_not("25 hours stated, read on the day of the cycle", LABEL, look("2025-06-25", hours="25")),
    counts_not(
        "48 hours by the label and stated, read on the day of the cycle",
        LABEL,
        look("2025-06-25", hours="48"),
        lot_=lot(hours=48),
    ),
    counts_not("24 hours stated, 3 hours after the cycle", LABEL, look("2025-06-25", at="11:00"), at="08:00"),
    counts_not("72 hours stated, read the next day", LABEL, look("2025-06-26", hours="72")),
    counts("read 24 hours after the cycle", LABEL, look("2025-06-26", at="08:00"), at="08:00"),
    counts("read the next day, 24 hours stated", LABEL, look("2025-06-26")),
    counts_not("hours neither stated nor known from times, read the next day", LABEL, look("2025-06-26", hours=None)),
    counts("hours not stated, read two days later", LABEL, look("2025-06-27", hours=None)),
    counts_not("a label without hours", LABEL, look("2025-06-26"), lot_=lot(hours=0)),
    counts_not(
        "read in the clinic the next day with the number of a report",
        LABEL,
        look("2025-06-26", hours=None, report="report 7"),
    ),
    counts(
        "the report of a laboratory",
        LABEL,
        look("2025-06-27", hours=None, report="report 7"),
        site="laboratory",
    ),
    repeat("a repeat read after 3 hours", LABEL, look("2025-06-23", hours="3")),
    repeat(
        "a repeat reported by a laboratory on the day of the cycle",
        LABEL,
        look("2025-06-23", hours=None, report="report 8"),
        site="laboratory",
    ),
    repeat("a repeat read on the day before it ran", "plain logic", look("2025-06-22")),
    history(
        "growth in a reading dated before the cycle is growth all the same",
        "the stricter evidence stands",
        never=PERMITS,
        bio_tests=last(look("2025-06-24", "growth")),
    ),
    history(
        "growth dated before its cycle: tests between the two days prove nothing of it",
        "plain logic",
        never=PERMITS,
        bio_tests=(*TESTED, bio("2025-06-26", look("2025-05-01", "growth"))),
    ),
    # what a place asks beside
    monthly("a laboratory, a full chamber, in the right place", NEW_JERSEY, "us-nj-body-art", Word.IN_SERVICE),
    monthly("read in the clinic", NEW_JERSEY, "us-nj-body-art", Word.OVERDUE, site="clinic"),
    monthly("an empty chamber", NEW_JERSEY, "us-nj-body-art", Word.OVERDUE, chamber="empty"),
    monthly("a chamber of which nothing is stated", NEW_JERSEY, "us-nj-body-art", Word.OVERDUE, chamber="not stated"),
    monthly("no place in the chamber recorded", NEW_JERSEY, "us-nj-body-art", Word.OVERDUE, place=""),
    monthly("Montana, a laboratory", MONTANA, "us-mt-body-art", Word.IN_SERVICE, chamber="empty", place=""),
    monthly("Montana, read in the clinic", MONTANA, "us-mt-body-art", Word.OVERDUE, site="clinic"),
    monthly("California, read in the clinic", "HSC 119315", "us-ca-body-art", Word.IN_SERVICE, site="clinic"),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


def test_what_the_duty_lacks_is_said():
    (row,) = monthly("told", NEW_JERSEY, "us-nj-body-art", Word.OVERDUE, site="clinic", place="").values
    said = row.judged()
    (found,) = (f for f in said.findings if f.rule == "not-as-asked")
    assert "read in the clinic" in found.message and "where in the chamber it lay is not recorded" in found.message
    assert "N.J.A.C." in str(found.source)
