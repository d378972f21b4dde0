"""Work by somebody whose credential did not hold. Common practice, no source."""

import pytest

from audit.judge.judgement import Severity
from tests.audit.judge.rules.judged import items, one
from tests.fact_builders import credential, job, outcome

RULE = "credential-not-valid"


def work(*days, **more):
    done = {"outcomes": (outcome("2025-06-01"),)} | more
    return {"jobs": tuple(job(d, **done) for d in days or ("2025-06-01",))}


def held(*spans, **more):
    more = {"person": "A. Technician", "holder": "service company"} | more
    return {"place": {"credentials": tuple(credential(*s, **more) for s in spans)}}


@pytest.mark.parametrize(
    ("spans", "raised"),
    [
        ([("2024-01-01", "2025-05-31")], True),
        ([("2024-01-01", "2025-06-01")], False),  # the last valid day is still valid
        ([("2024-01-01", None)], False),
        ([("2025-06-01", None)], False),
        ([("2025-06-02", None)], True),
        ([("2020-01-01", "2021-01-01"), ("2025-01-01", "2026-01-01")], False),
        ([("2020-01-01", "2021-01-01"), ("2025-06-02", None)], True),
        ([], False),  # none on record says nothing here
    ],
)
def test_held_on_the_day_of_the_work(spans, raised):
    assert bool(items(rule=RULE, **work(), **held(*spans))) is raised


def test_the_name_is_compared_without_case_and_spaces():
    assert len(items(rule=RULE, **work(), **held(("2024-01-01", "2025-01-01"), person="a.  TECHNICIAN"))) == 1
    assert items(rule=RULE, **work(), **held(("2024-01-01", "2025-01-01"), person="B. Technician")) == []


def test_each_kind_on_its_own():
    lapsed = credential("2024-01-01", "2025-01-01", person="A. Technician")
    valid = credential("2024-01-01", person="A. Technician", kind="licence")
    said = one(rule=RULE, **work(), place={"credentials": (lapsed, valid)})
    assert "training" in said.message and "ended on 2025-01-01" in said.message


def test_to_be_put_right_for_the_newest_work_only():
    said = items(rule=RULE, **work("2025-03-01", "2025-06-01"), **held(("2024-01-01", "2025-01-01")))
    assert [f.severity for f in said] == [Severity.PUT_RIGHT, Severity.NOTE]
    begins = one(rule=RULE, **work(), **held(("2025-06-02", None)))
    assert begins.severity is Severity.NOTE and "begins only on 2025-06-02" in begins.message


def test_where_nothing_was_done_nobody_worked():
    assert items(rule=RULE, **work(outcomes=(), end="not worked on"), **held(("2024-01-01", "2025-01-01"))) == []


def test_the_newest_of_those_that_ended_or_the_first_that_begins_is_named():
    ended = held(("2023-01-01", "2024-01-01"), ("2024-01-01", "2025-05-31"), ("2020-01-01", "2021-01-01"))
    assert "ended on 2025-05-31" in one(rule=RULE, **work(), **ended).message
    begins = held(("2025-06-10", None), ("2025-06-05", None))
    assert "begins only on 2025-06-05" in one(rule=RULE, **work(), **begins).message
    said = items(rule=RULE, **work("2025-03-01", "2025-06-01"), **held(("2024-01-01", "2025-01-01")))
    assert [(str(f.since), f.severity) for f in said] == [
        ("2025-06-01", Severity.PUT_RIGHT),
        ("2025-03-01", Severity.NOTE),
    ]
