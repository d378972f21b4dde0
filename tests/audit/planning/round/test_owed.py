"""What is owed out of what was found, in the trade's words, and until when: example tables. Common practice."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from audit import facts as f
from audit.judge.evaluate import evaluate
from audit.planning.round import clinic_work
from tests import fact_builders as build

TODAY = date(2025, 6, 20)
INSTALLED = build.installed("2024-01-01")


def owed(as_of: date = TODAY, **more) -> list:
    """What is owed of a unit with these facts, plan lines and duties left out."""
    more["events"] = (INSTALLED, *more.get("events", ()))
    place = build.clinic(build.unit(**more))
    work = clinic_work(place, evaluate(place, as_of))
    return [item for item in work.items if item.state == "open item"]


def kinds(as_of: date = TODAY, **more) -> list[str]:
    return [item.id.partition(":")[0] for item in owed(as_of, **more)]


def fault(day="2025-06-10", *, withdrawal="", settled=""):
    done = f.FaultSettledFact(build.row(settled), "a towel was in the door", "Ana Example") if settled else None
    return f.FaultFact(
        build.row(day), reported_by="Rae Reception", how="telephone", what="it hisses", withdrawal=withdrawal,
        kept_because="" if withdrawal else "Ana Example: only the drying", settled=done,
    )  # fmt: skip


OUT = build.event("2025-06-10", kind="withdrawn", reason="it drips")
OUT_FOR_FAULT = build.event("2025-06-10", kind="withdrawn", reason="fault reported: it hisses")
BACK = replace(build.event("2025-06-12", kind="returned", reason="a towel"), ends=OUT.row.origin)
JOB = "2025-06-11"


def came(day=JOB, end="released", *, deadline=None, reason="breakdown", **more):
    conclusion = replace(build.conclude(day, end, "", "Ana Example" if deadline else "", deadline), reason="told why")
    return replace(build.job(day, reason=reason, conclusion=conclusion, **more), worked_by="Pat Technician")


def spores(day, result=""):
    return build.bio(day, result=result, known=(date.fromisoformat(day) + timedelta(days=1)).isoformat())


# ---------------------------------------------------------------------------- what a failure asks of the company

AIR_FAILED = {"type": "dynamic air removal", "air_removal": (build.air("2025-06-09", "fail"),)}
# what came after an air-removal test that failed; which of these steps are owed to a technician
STEPS = [
    ("nothing", {}, ["step"]),
    ("a technician came and nothing done is on record", {"jobs": (came(),)}, ["step"]),
    ("a technician mended it", {"jobs": (came(class_stated="B"),)}, []),
    (
        "a technician mended it and left it out of use",
        {"jobs": (came(end="not released", class_stated="B"),)},
        ["step", "return"],
    ),
    ("entered as done on the path", {"cases": "find cause"}, []),
    ("a repeat passed without anybody looking", {"air_removal": "2025-06-10"}, ["step"]),
]


@pytest.mark.parametrize(("more", "expected"), [row[1:] for row in STEPS], ids=[row[0] for row in STEPS])
def test_an_inspection_by_the_company_is_owed_until_it_is_done(more, expected):
    (failed,) = AIR_FAILED["air_removal"]
    facts = AIR_FAILED | more
    if isinstance(more.get("cases"), str):
        step = build.step("2025-06-10", more["cases"], done="2025-06-10", outcome="a worn gasket")
        facts["cases"] = (build.case(failed.row.origin, "2025-06-09", step, kind="air removal"),)
    if isinstance(more.get("air_removal"), str):
        facts["air_removal"] = (failed, build.air(more["air_removal"]))
    assert kinds(**facts) == expected


def test_an_inspection_by_the_company_is_named_with_its_unit_and_wanted_at_once():
    (item,) = owed(**AIR_FAILED)
    assert item.title.startswith("Inspection by a technician: ") and "air-removal" in item.title
    assert item.day is None and item.overdue and item.out, "the unit may not be used meanwhile"
    assert item.unit == "unit-1" and item.id.startswith("step:")


def test_one_failure_owes_one_inspection_and_two_failures_of_two_kinds_two():
    both = AIR_FAILED | {"checks": (build.user_check("2025-06-10", "safety check", "fail"),)}
    ids = [item.id for item in owed(**both)]
    assert len(ids) == len(set(ids)) == 2


def test_a_positive_spore_test_owes_the_cause_once_its_repeat_failed():
    first, repeat = spores("2025-06-09", "growth"), spores("2025-06-11", "growth")
    assert kinds(bio_tests=(first,)) == []
    assert kinds(bio_tests=(first, repeat)) == ["step"]


# ---------------------------------------------------------------------------- what the newest job left over

# the jobs and what came after; what is owed on 20 June
RETURNS = [
    ("released", {"jobs": (came(),)}, []),
    ("not released", {"jobs": (came(end="not released"),)}, ["return"]),
    ("not released, then released", {"jobs": (came(end="not released"), came("2025-06-12"))}, []),
    ("released, then not", {"jobs": (came(), came("2025-06-12", "not released"))}, ["return"]),
    ("a breakdown not worked on", {"jobs": (came(end="not worked on", tests=()),)}, ["return"]),
    ("planned work not worked on", {"jobs": (came(end="not worked on", tests=(), reason="planned"),)}, []),
    ("a breakdown not worked on, and a fault open", {
        "jobs": (came(end="not worked on", tests=()),), "faults": (fault(),)}, ["fault"]),
    ("a spore test runs", {"jobs": (came(end="pending", deadline="2025-06-21"),),
                           "bio_tests": (spores("2025-06-12"),)}, ["return"]),
    ("no spore test was begun", {"jobs": (came(end="pending", deadline="2025-06-21"),)}, ["return"]),
    ("it passed", {"jobs": (came(end="pending", deadline="2025-06-21"),),
                   "bio_tests": (spores("2025-06-12", "pass"),)}, []),
    ("one of the same day, no times", {"jobs": (came(end="pending", deadline="2025-06-21"),),
                                       "bio_tests": (spores(JOB, "pass"),)}, ["return"]),
    ("it passed and another runs", {"jobs": (came(end="pending", deadline="2025-06-21"),),
                                    "bio_tests": (spores("2025-06-12", "pass"), spores("2025-06-14"))}, ["return"]),
    ("one before the work passed", {"jobs": (came(end="pending", deadline="2025-06-21"),),
                                    "bio_tests": (spores("2025-06-09", "pass"),)}, ["return"]),
    ("pending, then released", {"jobs": (came(end="pending", deadline="2025-06-21"), came("2025-06-13"))}, []),
]  # fmt: skip


@pytest.mark.parametrize(("facts", "expected"), [row[1:] for row in RETURNS], ids=[row[0] for row in RETURNS])
def test_a_return_visit_is_owed_until_a_later_job_or_the_result(facts, expected):
    assert kinds(**facts) == expected


@pytest.mark.parametrize(
    ("deadline", "late"), [("2025-06-21", False), ("2025-06-20", False), ("2025-06-19", True), (None, True)]
)
def test_a_running_test_has_the_day_that_was_accepted_and_is_late_after_it(deadline, late):
    (item,) = owed(jobs=(came(end="pending", deadline=deadline),))
    assert (item.day, item.overdue) == (date.fromisoformat(deadline) if deadline else None, late)
    assert item.title.startswith("Return visit: a spore test runs since the work of 2025-06-11")
    assert ("to be known by" in item.title) is bool(deadline)


def test_a_return_visit_says_when_why_and_who_was_there():
    (item,) = owed(jobs=(came(end="not released"),))
    assert item.title == "Return visit: left out of use on 2025-06-11, told why"
    assert (item.day, item.overdue, item.note, item.last_by) == (None, True, "by Pat Technician", "Pat Technician")


# ---------------------------------------------------------------------------- parts that failed

FAILED = build.seen(JOB, "seal", grade=3, decision="replace")
FITTED = build.part("2025-06-13", "seal")


def test_a_failed_part_is_owed_with_the_part_to_bring_until_another_is_fitted():
    before = build.part("2025-05-05", "seal", name="Invented seal", lot="P0")
    past = replace(build.job("2025-05-05"), parts=(before,))
    place = {"positions": (build.position(),), "fits": (build.fit(),)}
    left = replace(came(), findings=(FAILED,))
    (item,) = [i for i in owed(jobs=(past, left), **place) if i.id.startswith("failed")]
    assert item.title == "Replace what failed: seal"
    assert [(need.name, need.why) for need in item.needs] == [("Invented seal", "failed when seen on 2025-06-11")]
    renewed = replace(build.job("2025-06-13"), parts=(FITTED,))
    assert "failed" not in kinds(jobs=(past, left, renewed), **place)


# ---------------------------------------------------------------------------- taken out of service by hand

WITHDRAWN = [
    ("taken out", {"events": (OUT,)}, ["out"]),
    ("taken out and returned", {"events": (OUT, BACK)}, []),
    ("returned, but another withdrawal stands",
     {"events": (OUT, BACK, build.event("2025-06-13", kind="withdrawn", reason="it drips again"))}, ["out"]),
    ("taken out with a fault", {"events": (OUT_FOR_FAULT,), "faults": (fault(withdrawal=OUT_FOR_FAULT.row.origin),)},
     ["fault"]),
    ("taken out and left out of use", {"events": (OUT,), "jobs": (came(end="not released"),)}, ["return"]),
    ("a fault settled, the unit not returned",
     {"events": (OUT_FOR_FAULT,), "faults": (fault(withdrawal=OUT_FOR_FAULT.row.origin, settled="2025-06-12"),)},
     ["out"]),
]  # fmt: skip


@pytest.mark.parametrize(("facts", "expected"), [row[1:] for row in WITHDRAWN], ids=[row[0] for row in WITHDRAWN])
def test_a_withdrawal_is_owed_a_look_and_no_reason_is_named_twice(facts, expected):
    assert kinds(**facts) == expected


def test_a_withdrawal_says_since_when_and_why():
    (item,) = owed(events=(OUT,))
    assert item.title == "Taken out of service on 2025-06-10: it drips"
    assert item.note == "ask the clinic what is wanted" and item.out


def test_nothing_after_the_day_is_owed_or_settles_anything():
    """As known on a day: what came later changes nothing of it."""
    facts = {"jobs": (came(end="not released"), came("2025-06-19"))}
    assert kinds(date(2025, 6, 10), **facts) == [] == kinds(date(2025, 6, 19), **facts)
    assert kinds(date(2025, 6, 18), **facts) == ["return"]
