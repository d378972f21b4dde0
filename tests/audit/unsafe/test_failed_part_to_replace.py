"""A failed part that was to be replaced is in until another is on record; one that keeps people safe forbids."""

import pytest

from audit.judge.judgement import Word
from tests.audit.unsafe.table import PERMITS, history, holds
from tests.fact_builders import job, outcome, part, position, seen

DAY, LATER, AS_OF = "2025-06-23", "2025-06-24", "2025-06-27"
TRADE = "condition grades of the trade (3: failed); common practice, no source"
NAMES = ("relief-valve", "door-latch", "interlock", "thermal-cut-out", "vessel", "seal", "check-valve", "thing")
ALL = ("V1", "V4", "V5", "V6")


def told(words, where, *later, grade=3, decision="replace", tests=ALL, word=Word.OUT, opens=(), **more):
    held = {"findings": (seen(DAY, where, grade, decision),)} | more
    jobs = (job(DAY, reason="planned", tests=tests, **held), *later)
    never = PERMITS if word is Word.OUT else ()
    places = tuple(map(position, NAMES))
    return history(words, TRADE, as_of=AS_OF, never=never, word=word, opens=opens, positions=places, jobs=jobs)


def new(where, day=DAY, **more):
    return part(day, where, "replaced on condition", more.pop("name", where.replace("-", " ")), **more)


def visit(where, tests=ALL, **more):
    return job(LATER, reason="breakdown", tests=tests, parts=(new(where, LATER),), **more)


GOOD = Word.IN_SERVICE
OPEN = ("failed-part-not-replaced",)
ROWS = [
    told("a relief valve that failed, to be replaced, none fitted, every test ticked and released", "relief-valve"),
    told("the same, a valve fitted in the visit", "relief-valve", parts=(new("relief-valve"),), word=GOOD),
    told("the same, a seal fitted in the visit", "relief-valve", parts=(new("seal"),)),
    told("the same, a valve of quantity 0", "relief-valve", parts=(new("relief-valve", quantity=0),)),
    told("the same, its task ticked as done", "relief-valve", outcomes=(outcome(DAY, "x", "relief-valve"),)),
    told("the same, a valve fitted the day after", "relief-valve", visit("relief-valve"), word=GOOD),
    told("the same, fitted the day after without V6", "relief-valve", visit("relief-valve", ("V1", "V4"))),
    told("the same, fitted the day after, not released", "relief-valve", visit("relief-valve", end="")),
    told("a door latch that failed, to be replaced, none fitted", "door-latch"),
    told("an interlock that failed, to be replaced, none fitted", "interlock"),
    told("a cut-out that failed, to be replaced, none fitted", "thermal-cut-out"),
    told("a vessel that failed, to be replaced, none fitted", "vessel"),
    told("a thing that nobody knows, failed, to be replaced, none fitted", "thing", class_reason="known to me"),
    told("a latch at its limit, to be replaced, none fitted", "door-latch", grade=2, word=GOOD),
    told("a latch that failed and was adjusted", "door-latch", decision="adjust", word=GOOD),
    told("a seal that failed, to be replaced, none fitted: said, and no safety part", "seal", word=GOOD, opens=OPEN),
    told("a check valve that failed, to be replaced, none fitted", "check-valve", word=GOOD, opens=OPEN),
]


@pytest.mark.parametrize("row", ROWS)
def test_never_usable_by_mistake(row):
    holds(row)


@pytest.mark.parametrize(
    ("grade", "decision", "parts", "found"),
    [
        (3, "replace", (), True),
        (3, "replace", (new("seal"),), False),
        (3, "replace", (new("check-valve"),), True),
        (2, "replace", (), False),
        (3, "repair kit", (), False),
    ],
)
def test_a_failed_part_that_nobody_replaced_is_an_open_item(grade, decision, parts, found):
    row = told("x", "seal", grade=grade, decision=decision, word=GOOD, parts=parts).values[0]
    assert ("failed-part-not-replaced" in {f.rule for f in row.judged().findings}) is found
