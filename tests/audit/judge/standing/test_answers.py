"""The ordered rules R1 to R11. Tables: what happened, the day judged, the answer."""

from datetime import date, timedelta

import pytest

from audit.judge.evaluate import evaluate_unit
from audit.regimes import load_regime
from tests.fact_builders import (
    bio,
    case,
    check,
    clinic,
    conclude,
    document,
    event,
    gap,
    job,
    leak,
    line,
    on,
    outcome,
    part,
    placed,
    position,
    seen,
    step,
    unit,
    weekly,
)

START = event("2025-01-01")
TESTED = weekly("2025-01-01", "2025-06-25")
WORK = {"outcomes": (outcome("2025-05-01"),)}


def judge(as_of, *, regime="us-dental-cdc-2003", type="gravity", events=(), bio_tests=TESTED, place=None, **more):
    facts = unit(type=type, events=(START, *events), bio_tests=tuple(bio_tests), positions=(position(),), **more)
    return evaluate_unit(facts, clinic(facts, regime=regime, **(place or {})), load_regime(regime), on(as_of))


def answer(*args, **kwargs):
    s = judge(*args, **kwargs).standing
    return str(s.word), s.rule


X = {"findings": (seen("2025-05-01", grade=3, decision="leave"),)}
CONDEMNED = {"findings": (seen("2025-05-01", decision="condemn"),)}
OUT, WAIT, LTD = ("Out of service", "R2"), ("Waiting for proof", "R5"), ("Limited", "R7")

WORKED = [
    # name, jobs, unit type, answer on 2025-05-02
    ("routine, V1 passed", [job("2025-05-01", **WORK)], "gravity", ("In service", "R11")),
    ("routine, no V1", [job("2025-05-01", tests=(), **WORK)], "gravity", WAIT),
    ("V1 failed", [job("2025-05-01", tests=(check("2025-05-01", "V1", "fail"),), **WORK)], "gravity", WAIT),
    ("V1 not done", [job("2025-05-01", tests=(check("2025-05-01", "V1", "not done"),), **WORK)], "gravity", WAIT),
    ("no V2 with dynamic air removal", [job("2025-05-01", **WORK)], "dynamic air removal", WAIT),
    ("V1 and V2", [job("2025-05-01", tests=("V1", "V2"), **WORK)], "dynamic air removal", ("In service", "R11")),
    ("not concluded", [job("2025-05-01", end="", **WORK)], "gravity", WAIT),
    ("not released", [job("2025-05-01", end="not released", **WORK)], "gravity", WAIT),
    ("not worked on", [job("2025-05-01", end="not worked on", tests=())], "gravity", ("In service", "R11")),
    ("limited", [job("2025-05-01", end="limited", **WORK)], "gravity", LTD),
    (
        "limited, then released",
        [job("2025-05-01", end="limited", **WORK), job("2025-05-02", outcomes=(outcome("2025-05-02"),))],
        "gravity",
        ("In service", "R11"),
    ),
    (
        "missing test made good in a later job",
        [job("2025-05-01", tests=(), **WORK), job("2025-05-02", outcomes=(outcome("2025-05-02"),))],
        "gravity",
        ("In service", "R11"),
    ),
    ("significant by statement, no V4", [job("2025-05-01", class_stated="significant", **WORK)], "gravity", WAIT),
    (
        "significant, V1 and V4",
        [job("2025-05-01", class_stated="B", tests=("V1", "V4"), **WORK)],
        "gravity",
        ("In service", "R11"),
    ),
    ("relocation asks three tests", [job("2025-05-01", reason="relocation", tests=("V1", "V4"))], "gravity", WAIT),
    ("failed part left as it is", [job("2025-05-01", **X)], "gravity", OUT),
    ("the same, safety devices checked", [job("2025-05-01", tests=("V1", "V6"), **X)], "gravity", OUT),
    (
        "the same, the part replaced in a later job",
        [job("2025-05-01", **X), job("2025-05-02", parts=(part("2025-05-02"),))],
        "gravity",
        ("In service", "R11"),
    ),
    ("condemned", [job("2025-05-01", tests=("V1", "V6"), **CONDEMNED)], "gravity", OUT),
    (
        "condemned, safety devices checked in a later job",
        [job("2025-05-01", **CONDEMNED), job("2025-05-02", tests=("V1", "V6"), outcomes=(outcome("2025-05-02"),))],
        "gravity",
        OUT,
    ),
    (
        "condemned, replaced in a later job",
        [
            job("2025-05-01", end="not released", tests=("V1", "V4"), **CONDEMNED),
            job("2025-05-02", parts=(part("2025-05-02"),)),
        ],
        "gravity",
        ("In service", "R11"),
    ),
    (
        "failed part replaced on condition is no safety finding",
        [
            job(
                "2025-05-01",
                findings=(seen("2025-05-01", grade=3, decision="replace"),),
                parts=(part("2025-05-01", action="replaced on condition"),),
            )
        ],
        "gravity",
        ("In service", "R11"),
    ),
]


@pytest.mark.parametrize(("name", "jobs", "type", "expected"), WORKED, ids=[w[0] for w in WORKED])
def test_after_work(name, jobs, type, expected):
    assert answer("2025-05-02", jobs=tuple(jobs), type=type) == expected


def test_the_technician_may_raise_the_class_but_never_lower_it():
    plan = (line(repair_class="B"),)
    assert answer("2025-05-02", plan=plan, jobs=(job("2025-05-01", class_stated="A", **WORK),)) == WAIT


@pytest.mark.parametrize(("negatives", "expected"), [(0, WAIT), (2, WAIT), (3, ("In service", "R11"))])
def test_major_work_asks_three_negative_tests_in_a_row(negatives, expected):
    """ST79:2006 Table 8."""
    tests = [*weekly("2025-01-01", "2025-04-30")]
    tests += [bio(date(2025, 5, 2) + timedelta(days=n), result="pass", known="2025-05-05") for n in range(negatives)]
    jobs = (job("2025-05-01", class_stated="major", tests=("V1", "V4"), **WORK),)
    assert answer("2025-05-05", bio_tests=tests, jobs=jobs) == expected


PENDING = {"acceptor": "C. Manager", "deadline": "2025-05-10"}


@pytest.mark.parametrize(
    ("as_of", "accepted", "expected"),
    [
        ("2025-05-02", PENDING, ("Limited", "R6")),
        ("2025-05-10", PENDING, ("Limited", "R6")),
        ("2025-05-11", PENDING, WAIT),
        ("2025-05-02", PENDING | {"acceptor": ""}, WAIT),
        ("2025-05-02", PENDING | {"deadline": None}, WAIT),
    ],
)
def test_a_pending_result_needs_an_acceptor_and_holds_to_its_deadline(as_of, accepted, expected):
    done = job("2025-05-01", conclusion=conclude("2025-05-01", "pending", **accepted), **WORK)
    assert answer(as_of, jobs=(done,), bio_tests=weekly("2025-01-01", "2025-04-30")) == expected


def test_the_pending_result_ends_it_either_way():
    done = job("2025-05-01", conclusion=conclude("2025-05-01", "pending", **PENDING), **WORK)
    for result, expected in (("pass", ("In service", "R11")), ("growth", ("Out of service", "R4"))):
        tests = (*weekly("2025-01-01", "2025-04-30"), bio("2025-05-01", result=result, purpose="after repair"))
        assert answer("2025-05-03", jobs=(done,), bio_tests=tests) == expected


EVENTS = [
    ([event("2025-05-01", "withdrawn", "smell of burning")], ("Out of service", "R4")),
    ([event("2025-05-01", "withdrawn"), event("2025-05-02", "returned", "checked")], ("In service", "R11")),
    ([event("2025-05-01", "decommissioned")], ("Not in use", "R1")),
    ([event("2025-05-01", "loaner out")], ("Not in use", "R1")),
    ([event("2025-05-01", "decommissioned"), event("2025-05-02", "installed")], ("In service", "R11")),
]


@pytest.mark.parametrize(("events", "expected"), EVENTS)
def test_events(events, expected):
    assert answer("2025-05-02", events=tuple(events)) == expected


def test_stored_as_a_spare():
    stored = (placed("2025-01-01"), placed("2025-05-01", "stored as spare"))
    assert answer("2025-04-30", placements=stored) == ("In service", "R11")
    assert answer("2025-05-01", placements=stored) == ("Not in use", "R1")


@pytest.mark.parametrize(
    ("as_of", "expected"), [("2025-05-31", ("In service", "R11")), ("2025-06-01", ("Out of service", "R3"))]
)
def test_the_last_valid_day_of_the_pressure_examination(as_of, expected):
    papers = (document("pressure examination", "2024-04-01", "2025-05-31"),)
    assert answer(as_of, documents=papers) == expected
    newer = (*papers, document("pressure examination", "2025-05-20", "2026-07-31"))
    assert answer(as_of, documents=newer) == ("In service", "R11")


@pytest.mark.parametrize(
    ("as_of", "rule"), [("2025-06-29", "R10"), ("2027-06-15", "R8")], ids=["gap noted", "something worse"]
)
def test_a_known_gap_is_noted_unless_something_worse_holds(as_of, rule):
    assert answer(as_of, gaps=(gap("2025-02-01", "2025-03-01"),))[1] == rule


@pytest.mark.parametrize(("as_of", "rule"), [("2027-02-28", "R10"), ("2027-03-01", "R11")])
def test_a_gap_counts_for_24_months(as_of, rule):
    assert answer(as_of, regime="base", bio_tests=(), gaps=(gap("2025-02-01", "2025-03-01"),))[1] == rule


def test_plan_overdue_and_duty_overdue_rank():
    plan = (line(months=3),)
    assert answer("2025-04-01", plan=plan) == ("In service", "R11")
    assert answer("2025-04-02", plan=plan) == ("In service, overdue", "R9")
    assert answer("2025-07-07", plan=plan) == ("In service, overdue", "R8")


def test_a_failed_leak_test_until_a_passing_one():
    dynamic = {"type": "dynamic air removal"}
    assert answer("2025-05-01", leaks=(leak("2025-05-01", "fail"),), **dynamic) == ("Out of service", "R4")
    assert answer("2025-05-02", leaks=(leak("2025-05-01", "fail"), leak("2025-05-02")), **dynamic)[1] == "R11"
    assert answer("2025-05-01", leaks=(leak("2025-05-01", "fail"),))[1] == "R11"  # gravity: not applicable


def failing(*after, steps=(), events=(), **more):
    tests = (*weekly("2025-01-01", "2025-04-30"), bio("2025-05-05", result="growth", ref="bad"), *after)
    cases = (case("bad", "2025-05-06", *steps),)
    return {"bio_tests": tests, "cases": cases, "events": events} | more


def test_out_of_service_from_the_day_the_failure_is_known():
    assert answer("2025-05-05", **failing()) == ("In service", "R11")
    said = judge("2025-05-06", **failing()).standing
    assert (said.word, said.since) == ("Out of service", date(2025, 5, 6))


def test_a_test_already_incubating_is_not_the_repeat():
    assert answer("2025-05-09", **failing(bio("2025-05-06", result="pass", known="2025-05-08"))) == (
        "Out of service",
        "R4",
    )
    repeat = bio("2025-05-06", result="pass", known="2025-05-08", purpose="repeat")
    assert answer("2025-05-09", **failing(repeat)) == ("In service", "R11")


def test_another_cycle_type_does_not_count():
    other = bio("2025-05-07", result="pass", cycle_type="unwrapped")
    assert answer("2025-05-09", **failing(other)) == ("Out of service", "R4")


def test_a_return_signed_without_its_proof_does_not_return_the_unit():
    said = judge("2025-05-09", **failing(steps=(step("2025-05-07", "return", done="2025-05-07"),)))
    assert said.standing.rule == "R4"
    assert "return-without-proof" in [f.rule for f in said.findings]


def test_withdrawn_with_the_case_and_returned_with_it():
    withdrawn = (event("2025-05-06", "withdrawn", "Positive spore test, 2025-05-05"),)
    repeat = bio("2025-05-07", result="pass")
    assert answer("2025-05-09", **failing(repeat, events=withdrawn)) == ("Out of service", "R4")
    signed = (step("2025-05-08", "return", done="2025-05-08"),)
    assert answer("2025-05-09", **failing(repeat, events=withdrawn, steps=signed)) == ("In service", "R11")


def test_a_case_whose_result_was_corrected_is_entered_in_error():
    facts = failing()
    tests = tuple(
        t if t.row.origin != "bad" else bio("2025-05-05", result="pass", ref="bad") for t in facts["bio_tests"]
    )
    said = judge("2025-05-07", **(facts | {"bio_tests": tests}))
    assert (said.standing.rule, said.cases[0].phase) == ("R11", "entered in error")


def test_later_failures_open_cases_of_their_own():
    said = judge("2025-05-25", **failing(bio("2025-05-07", result="pass"), bio("2025-05-19", result="growth")))
    assert [(str(c.failed_on), c.phase) for c in said.cases] == [
        ("2025-05-19", "retest needed"),
        ("2025-05-05", "returned"),
    ]


def test_every_standing_says_why_and_names_its_proof():
    for said in (judge("2025-05-09", **failing()).standing, judge("2025-05-02").standing):
        assert said.reason and said.proof and said.lifted_by
