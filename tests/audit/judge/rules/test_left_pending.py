"""Work concluded as pending, of which every result is known by now: the report of it says otherwise."""

import pytest

from audit.judge.judgement import Severity
from tests.audit.unsafe.table import BEGUN, history
from tests.audit.unsafe.test_classes_add_up import EARLY, PLACES, RENEWED, SPORES, WHOLE
from tests.fact_builders import bio, conclude, job, outcome

DAY = "2025-06-23"
PENDING = conclude(DAY, "pending", acceptor="C. Manager", deadline="2025-07-30")
MINOR = {"tests": ("V1",), "outcomes": (outcome(DAY),)}
ONE = (bio("2025-06-24", result="pass", known="2025-06-26"),)
AWAITED = (bio("2025-06-26"),)
GROWN = (bio("2025-06-24", result="growth", known="2025-06-26"),)


def items(*spores, as_of="2025-06-27", visits=(), **more):
    visits = visits or (job(DAY, **({"tests": WHOLE, "conclusion": PENDING} | RENEWED | more)),)
    one = history("pending", never=(), opens=("unknown-fit",), as_of=as_of, jobs=visits, events=(BEGUN,),
                  positions=PLACES, bio_tests=(*EARLY, *spores))  # fmt: skip
    return [f for f in one.values[0].judged().findings if f.rule == "left-pending"]


# what was asked of the work, the spore tests after it, whether the item is there
TABLE = [
    ("major work, none of three", {}, (), False),
    ("major work, one of three", {}, ONE, False),
    ("major work, three of three", {}, SPORES, True),
    ("routine work, none", {"parts": (), **MINOR}, (), False),
    ("routine work, one", {"parts": (), **MINOR}, ONE, True),
    ("routine work, one awaited", {"parts": (), **MINOR}, AWAITED, False),
    ("routine work, one positive", {"parts": (), **MINOR}, GROWN, False),
    ("released, one", {"parts": (), "conclusion": conclude(DAY), **MINOR}, ONE, False),
    ("not released, one", {"parts": (), "conclusion": conclude(DAY, "not released"), **MINOR}, ONE, False),
    ("all spores, another test left out", {"tests": ("V1",)}, SPORES, False),
]


@pytest.mark.parametrize(("told", "more", "spores", "is_there"), TABLE, ids=[row[0] for row in TABLE])
def test_once_all_is_known(told, more, spores, is_there):
    assert bool(items(*spores, **more)) is is_there, told


def test_it_comes_on_the_day_the_result_was_known():
    assert not items(*ONE, as_of="2025-06-25", parts=(), **MINOR)
    (item,) = items(*ONE, as_of="2025-06-26", parts=(), **MINOR)
    assert item.message == (
        "work of 2025-06-23: still concluded as pending, although the spore tests it awaited are negative"
    )
    assert item.severity is Severity.NOTE and "correct the conclusion" in item.way_out


def test_several_are_one_item():
    later = "2025-06-24"
    end = conclude(later, "pending", acceptor="C. Manager", deadline="2025-07-30")
    visits = (
        job(DAY, tests=("V1",), outcomes=(outcome(DAY),), conclusion=PENDING),
        job(later, tests=("V1",), outcomes=(outcome(later),), conclusion=end),
    )
    (item,) = items(bio("2025-06-25", result="pass", known="2025-06-26"), visits=visits)
    assert "work of 2025-06-23, 2025-06-24:" in item.message and len(item.evidence) == 2


@pytest.mark.parametrize(
    ("end", "day", "is_there"),
    [("released", "2025-06-25", False), ("limited", "2025-06-25", False), ("not released", "2025-06-25", True),
     ("", "2025-06-25", True), ("released", "2025-06-20", True)],
)  # fmt: skip
def test_a_later_visit_that_released_the_unit_concludes_it_too(end, day, is_there):
    visits = (
        job(DAY, tests=("V1",), outcomes=(outcome(DAY),), conclusion=PENDING),
        job(day, tests=("V1",), outcomes=(outcome(day),), end=end),
    )
    assert bool(items(bio("2025-06-26", result="pass", known="2025-06-27"), visits=visits)) is is_there
