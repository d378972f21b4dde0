"""A finding "do not use" is lifted by its own part, the tests of that kind and a release; nothing else lifts it."""

from dataclasses import replace

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, history, holds
from tests.fact_builders import document, job, on, outcome, part, position, seen

DAY, LATER, LAST, AS_OF = "2025-06-23", "2025-06-24", "2025-06-25", "2025-06-27"
TRADE = "repair classes of the trade; common practice, no source"
PLACES = tuple(
    position(code) for code in ("chamber", "latch", "latch-left", "safety-valve", "seal", "sensor", "thing")
)
STOPPED = {"tests": (), "end": "not released"}


def found(where, decision="leave", letter="X", grade=3, **more):
    return {"findings": (seen(DAY, where, grade, decision, letter, **more),)}


def new(where, day=LATER, **more):
    return part(day, where, "replaced on condition", more.pop("name", where.replace("-", " ")), **more)


def told(words, *jobs, word=Word.OUT, **more):
    never = PERMITS if word is Word.OUT else ()
    return history(words, TRADE, as_of=AS_OF, never=never, word=word, positions=PLACES, jobs=jobs, **more)


def fixed(where, tests, *, day=LATER, **more):
    return job(day, reason="breakdown", tests=tests, parts=(new(where, day),), **more)


CRACK = found("chamber")
LEFT = job(DAY, **found("latch"), **STOPPED)
ROWS = [
    told("cracked chamber left, V6 ticked and released at once", job(DAY, tests=("V1", "V4", "V6"), **CRACK)),
    told("cracked chamber left, V10 and V6 ticked, no repair", job(DAY, tests=("V1", "V4", "V6", "V10"), **CRACK)),
    told(
        "cracked chamber left, every test passed in a later visit, no repair",
        job(DAY, **CRACK, **STOPPED),
        job(LATER, tests=("V1", "V4", "V6", "V10"), outcomes=(outcome(LATER),)),
    ),
    told(
        "cracked chamber replaced in a later visit with V6 and without V10",
        job(DAY, **CRACK, **STOPPED),
        fixed("chamber", ("V1", "V4", "V6")),
    ),
    told(
        "cracked chamber replaced, V10 passed: the spore tests of major work are still to come",
        job(DAY, **CRACK, **STOPPED),
        fixed("chamber", ("V1", "V4", "V10")),
        word=Word.WAITING,
    ),
    told(
        "cracked chamber replaced, the examiner's report of the day after",
        job(DAY, **CRACK, **STOPPED),
        fixed("chamber", ("V1", "V4")),
        word=Word.WAITING,
        documents=(document("pressure examination", LAST, "2026-08-01"),),
    ),
    told(
        "cracked chamber replaced, the examiner's report from before the repair",
        job(DAY, **CRACK, **STOPPED),
        fixed("chamber", ("V1", "V4")),
        documents=(document("pressure examination", DAY, "2026-08-01"),),
    ),
    told(
        "cracked chamber replaced, a paper of another kind of the day after",
        job(DAY, **CRACK, **STOPPED),
        fixed("chamber", ("V1", "V4")),
        documents=(document("insurance", LAST, "2026-08-01"),),
    ),
    told("failed latch left, V6 and V1 at once", job(DAY, tests=("V1", "V6"), **found("latch", letter="A"))),
    told("failed latch left, the seal renewed with V1 and V6", LEFT, fixed("seal", ("V1", "V4", "V6"))),
    told("failed latch left, latch renewed without V6", LEFT, fixed("latch", ("V1", "V4"))),
    told("failed latch left, latch renewed with V6, not released", LEFT, fixed("latch", ("V1", "V4", "V6"), end="")),
    told(
        "failed latch left, latch renewed with V1 and V6, released",
        LEFT,
        fixed("latch", ("V1", "V4", "V6")),
        word=Word.IN_SERVICE,
    ),
    told(
        "failed latch left, latch renewed, V6 a day later, released then",
        LEFT,
        fixed("latch", ("V1", "V4"), end="not released"),
        job(LAST, tests=("V1", "V4", "V6"), outcomes=(outcome(LAST, what="not due"),)),
        word=Word.IN_SERVICE,
    ),
    told(
        "V6 passed the day before the finding, latch renewed without it",
        job("2025-06-20", tests=("V1", "V6")),
        LEFT,
        fixed("latch", ("V1", "V4")),
    ),
    told(
        "failed latch left, adjusted in a later visit with V1 and V6",
        LEFT,
        job(LATER, tests=("V1", "V4", "V6"), findings=(seen(LATER, "latch", 1, "adjust"),)),
        word=Word.IN_SERVICE,
    ),
    told(
        "failed latch left, adjusted in a later visit and still failed (grade 3)",
        LEFT,
        job(LATER, tests=("V1", "V4", "V6"), findings=(seen(LATER, "latch", 3, "adjust"),)),
    ),
    told("condemned seal still fitted, released", job(DAY, **found("seal", "condemn", "A", 2))),
    told(
        "condemned seal, another visit that changes nothing on it",
        job(DAY, **found("seal", "condemn", "A", 2), **STOPPED),
        fixed("latch", ("V1", "V4", "V6")),
    ),
    told(
        "condemned seal, its task ticked as done without a part on record",
        job(DAY, **found("seal", "condemn", "A", 2), **STOPPED),
        job(LATER, tests=("V1", "V4", "V6"), outcomes=(outcome(LATER),)),
    ),
    told(
        "condemned seal, a part of quantity 0 (the old one was kept)",
        job(DAY, **found("seal", "condemn", "A", 2), **STOPPED),
        job(LATER, tests=("V1", "V4"), parts=(new("seal", quantity=0),)),
    ),
    told(
        "condemned seal, a new one fitted in a later visit",
        job(DAY, **found("seal", "condemn", "A", 2), **STOPPED),
        fixed("seal", ("V1", "V4")),
        word=Word.IN_SERVICE,
    ),
    told(
        "condemned seal, a new one fitted in the same visit",
        job(DAY, tests=("V1", "V4"), parts=(new("seal", DAY),), **found("seal", "condemn", "A", 2)),
        word=Word.IN_SERVICE,
    ),
    told(
        "two findings, latch and safety valve, the latch alone renewed",
        job(DAY, findings=(seen(DAY, "latch", 3), seen(DAY, "safety-valve", 3)), **STOPPED),
        fixed("latch", ("V1", "V4", "V6")),
    ),
    told(
        "two findings, latch and safety valve, both renewed",
        job(DAY, findings=(seen(DAY, "latch", 3), seen(DAY, "safety-valve", 3)), **STOPPED),
        job(LATER, tests=("V1", "V4", "V6"), parts=(new("latch"), new("safety-valve"))),
        word=Word.IN_SERVICE,
    ),
    told(
        "a finding without a position, the part of that name renewed",
        job(DAY, **found("", component="door latch"), **STOPPED),
        job(LATER, tests=("V1", "V4", "V6"), parts=(new("", name="Door latch, Model One"),)),
        word=Word.IN_SERVICE,
    ),
    told(
        "a finding without a position, a part of another name renewed",
        job(DAY, **found("", component="door latch"), **STOPPED),
        job(LATER, tests=("V1", "V4", "V6"), parts=(new("", name="door hinge"),)),
    ),
    told(
        "“do not use” stated as the class, V6 and a release in the same visit",
        job(DAY, class_stated="X", tests=("V1", "V4", "V6"), parts=(new("seal", DAY),)),
    ),
    told(
        "“do not use” stated as the class, repaired and released in a later visit",
        job(DAY, class_stated="X", **STOPPED),
        fixed("latch", ("V1", "V4", "V6")),
        word=Word.IN_SERVICE,
    ),
    told(
        "“do not use” stated beside a finding on the latch, the latch renewed without V6",
        job(DAY, class_stated="X", **found("latch"), **STOPPED),
        fixed("latch", ("V1", "V4")),
    ),
    told(
        "“do not use” stated beside a finding on the latch, renewed with V6",
        job(DAY, class_stated="X", **found("latch"), **STOPPED),
        fixed("latch", ("V1", "V4", "V6")),
        word=Word.IN_SERVICE,
    ),
    told(
        "a thing that nobody knows condemned and renewed with V6 alone",
        job(DAY, **found("thing", "condemn"), **STOPPED),
        fixed("thing", ("V6",)),
    ),
    told(
        "latch renewed at 09:00, found broken at 14:00 of the day",
        fixed("latch", ("V1", "V4", "V6"), day=DAY, arrived="09:00", departed="10:00"),
        job(DAY, **found("latch"), **STOPPED, arrived="14:00", departed="15:00"),
    ),
    told(
        "latch renewed and found broken on one day without times",
        job(DAY, **found("latch"), **STOPPED),
        fixed("latch", ("V1", "V4", "V6"), day=DAY),
    ),
]

VACUUM = {"type": "dynamic air removal"}
CHAMBER_RENEWED = (job(DAY, **CRACK, **STOPPED), fixed("chamber", ("V1", "V4")))
CONDEMNED = job(DAY, **found("seal", "condemn", "A", 2), **STOPPED)


def report(first, unit="", **more):
    """The examiner's report, as a paper of the unit or, of one that is named, of the place."""
    made = replace(document("pressure examination", LAST, "2026-08-01", unit=unit), valid_from=on(first))
    return {"place": {"documents": (made,)}} if unit else {"documents": (made,)}


ROWS += [
    told("failed latch, no decision on record", job(DAY, tests=("V1", "V6"), **found("latch", "", "A"))),
    told(
        "failed latch, adjusted at once with V1 and V6",
        job(DAY, tests=("V1", "V6"), **found("latch", "adjust", "A")),
        word=Word.IN_SERVICE,
    ),
    told(
        "failed latch, adjusted at once, not tested yet: it waits, and is no finding left open",
        job(DAY, tests=(), **found("latch", "adjust", "A")),
        word=Word.WAITING,
    ),
    told(
        "“do not use” stated as the class, a seal renewed with V1 and V6: it waits for V4 and no more",
        job(DAY, class_stated="X", **STOPPED),
        job(LATER, tests=("V1", "V6"), parts=(new("seal"),)),
        word=Word.WAITING,
    ),
    told(
        "a thing that nobody knows, renewed without the tests of major work",
        job(DAY, **found("thing", "condemn"), **STOPPED),
        fixed("thing", ("V1", "V6")),
    ),
    told(
        "worn latch (grade 2) left as it is",
        job(DAY, tests=("V1", "V6"), **found("latch", "leave", "A", 2)),
        word=Word.IN_SERVICE,
    ),
    told(
        "failed latch renewed with V1 and V6, released with a limitation",
        LEFT,
        fixed("latch", ("V1", "V4", "V6"), end="limited"),
    ),
    told("condemned seal of a vacuum unit, renewed without V2", CONDEMNED, fixed("seal", ("V1", "V4")), **VACUUM),
    told(
        "condemned seal of a vacuum unit, renewed with V2",
        CONDEMNED,
        fixed("seal", ("V1", "V2", "V4")),
        word=Word.IN_SERVICE,
        **VACUUM,
    ),
    told("cracked chamber replaced, the report of the very day", *CHAMBER_RENEWED, **report(LATER)),
    told("cracked chamber replaced, a report that holds from tomorrow", *CHAMBER_RENEWED, **report("2025-06-28")),
    told("the same, from today", *CHAMBER_RENEWED, word=Word.WAITING, **report(AS_OF)),
    told(
        "the same, a paper of the place for this unit", *CHAMBER_RENEWED, word=Word.WAITING, **report(LAST, "unit-1")
    ),
    told("the same, a paper of the place for another unit", *CHAMBER_RENEWED, **report(LAST, "unit-2")),
    told(
        "a vacuum pump at the place of the seal: the graver of the two decides",
        job(DAY, **found("seal", component="vacuum pump"), **STOPPED),
        job(LATER, tests=("V1", "V2", "V3", "V6"), parts=(new("seal", name="vacuum pump"),)),
    ),
]

STATED = job(DAY, class_stated="X", **STOPPED)
ALL = ("V1", "V4", "V6")


def looked(*findings, **more):
    """A later visit with these findings, every test passed, released."""
    return job(LATER, tests=ALL, findings=findings, outcomes=(outcome(LATER, what="not due"),), **more)


ROWS += [
    told("“do not use” stated as the class, a later visit that repairs nothing", STATED, looked()),
    told(
        "“do not use” stated as the class, the seal adjusted in a later visit",
        STATED,
        looked(seen(LATER, "latch", 1, "leave"), seen(LATER, "seal", 1, "adjust")),
        word=Word.IN_SERVICE,
    ),
    told("the same, and it failed all the same", STATED, looked(seen(LATER, "seal", 3, "adjust"))),
    told("the same, looked at and left", STATED, looked(seen(LATER, "seal", 1, "leave"))),
    told("the same, a part of quantity 0", STATED, looked(parts=(new("seal", quantity=0),))),
    told(
        "the same, one part of quantity 0 and one fitted",
        STATED,
        looked(parts=(new("seal", quantity=0), new("latch"))),
        word=Word.IN_SERVICE,
    ),
    told("failed latch, the seal adjusted in a later visit", LEFT, looked(seen(LATER, "seal", 1, "adjust"))),
    told("failed latch, looked at again and left", LEFT, looked(seen(LATER, "latch", 1, "leave"))),
    told("failed latch, cleaned and still not to be used", LEFT, looked(seen(LATER, "latch", 1, "clean", "X"))),
    told(
        "failed latch, the latch at the other side renewed",
        LEFT,
        looked(parts=(new("latch-left", name="latch"),)),
    ),
    told(
        "failed latch, a part without a place and named so renewed",
        LEFT,
        looked(parts=(new("", name="door latch"),)),
        word=Word.IN_SERVICE,
    ),
    told(
        "a finding at the latch in words that name nothing, a part without a place renewed",
        job(DAY, **found("latch", component="sticks"), **STOPPED),
        looked(parts=(new("", name="latch"),)),
        word=Word.IN_SERVICE,
    ),
    told(
        "a finding without a place, the part at the place of that name renewed",
        job(DAY, **found("", component="door latch"), **STOPPED),
        looked(parts=(new("latch", name="latch"),)),
        word=Word.IN_SERVICE,
    ),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


NAMES = [
    # what the finding names, the part that was renewed, whether it is that one
    ("door latch", "Door-Latch", True),
    ("latch", "door latch", True),
    ("door latch", "latch", True),
    ("latch", "seal", False),
    ("door latch", "door", False),
    ("lock pin", "latch", False),
    ("flux thing", "flux thing", True),
    ("flux thing", "thing", False),
    ("thing", "flux thing", False),
    ("", "", False),
    ("latch", "", False),
]


@pytest.mark.parametrize(("finding", "name", "same"), NAMES)
def test_without_a_place_the_name_says_which_part_it_is(finding, name, same):
    """The words of one among those of the other, of one kind. Common practice, no source."""
    jobs = (
        job(DAY, **found("", component=finding), **STOPPED),
        job(LATER, tests=("V1", "V4", "V5", "V6", "V10"), parts=(new("", name=name),)),
    )
    row = history("names", as_of=AS_OF, not_says=("nothing of the kind",), positions=PLACES, jobs=jobs).values[0]
    assert (row.judged().standing.rule != "R2") is same


def test_each_open_finding_is_an_item_with_its_own_way_out():
    jobs = (job(DAY, findings=(seen(DAY, "latch", 3), seen(DAY, "chamber", 3)), **STOPPED),)
    said = history("two", as_of=AS_OF, word=Word.OUT, positions=PLACES, jobs=jobs).values[0].judged()
    ways = {f.way_out for f in said.findings if f.rule == "safety-finding-open"}
    first = "replace or repair that part; then pass V1 function cycle, readings compared, "
    assert ways == {
        f"{first}V6 interlock, safety valve, cut-outs, and a release",
        f"{first}V4 calibration check, V10 statutory examination, and a release",
    }
    assert "and 1 more" in said.standing.reason
