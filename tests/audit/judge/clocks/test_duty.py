"""Due items of the rules. Monday 3 March 2025 begins a week; the weeks named run from Monday to Sunday."""

from datetime import date

import pytest

from audit.facts import LocalDutyFact
from audit.judge.evaluate import evaluate, evaluate_unit
from audit.regimes import load_regime
from tests.fact_builders import bio, clinic, closure, event, on, placed, row, terms, unit

WEEKLY, PATIENTS, MONTHLY = "us-dental-cdc-2003", "us-or-dental", "us-ca-body-art"
INSTALLED = (event("2025-02-24"),)
FIRST = bio("2025-02-26", result="pass")


def judge(as_of, *tests, regime=WEEKLY, closures=(), week_start=0, events=INSTALLED, local=(), **more):
    facts = unit(events=events, bio_tests=tests, **more)
    place = clinic(facts, terms=(terms(regime, week_start=week_start),), closures=closures, local_duties=local)
    return evaluate_unit(facts, place, load_regime(regime), on(as_of))


def duty(*args, code="biological-test", **kwargs):
    return next(c for c in judge(*args, **kwargs).clocks if c.code == code)


TABLE = """
2025-03-02 | weekly   |                    | ok      | 2025-03-09
2025-03-03 | weekly   |                    | due     | 2025-03-09
2025-03-09 | weekly   |                    | due     | 2025-03-09
2025-03-10 | weekly   |                    | overdue | 2025-03-09
2025-03-09 | weekly   | 2025-03-09 pass    | ok      | 2025-03-16
2025-03-10 | weekly   | 2025-03-09 growth  | overdue | 2025-03-09
2025-03-09 | weekly   | 2025-03-03 invalid | due     | 2025-03-09
2025-03-10 | weekly   | 2025-03-03 invalid | overdue | 2025-03-09
2025-03-17 | weekly   | 2025-03-10 pass    | due     | 2025-03-23
2025-03-31 | monthly  |                    | due     | 2025-03-31
2025-03-01 | monthly  |                    | due     | 2025-03-31
2025-04-01 | monthly  |                    | overdue | 2025-03-31
2025-04-01 | monthly  | 2025-03-31 pass    | due     | 2025-04-30
"""


@pytest.mark.parametrize(
    ("as_of", "kind", "test", "state", "due"),
    [[c.strip() for c in r.split("|")] for r in TABLE.strip().splitlines()],
)
def test_calendar_periods(as_of, kind, test, state, due):
    more = [bio(test.split()[0], result=test.split()[1], known=test.split()[0])] if test else []
    clock = duty(as_of, FIRST, *more, regime={"weekly": WEEKLY, "monthly": MONTHLY}[kind])
    assert (clock.state, str(clock.due_on)) == (state, due)


def test_the_week_starts_where_the_clinic_says():
    assert duty("2025-03-09", FIRST, week_start=6).state == "overdue"  # Sunday the 9th begins another week
    assert duty("2025-03-08", FIRST, week_start=6).state == "due"


def test_awaited_meets_the_week_and_falls_back_when_no_result_comes():
    waiting = bio("2025-03-05")  # 24 h and 7 days: until 13 March
    assert (duty("2025-03-13", FIRST, waiting).due_on, duty("2025-03-13", FIRST, waiting).state) == (
        date(2025, 3, 16),
        "due",
    )
    assert duty("2025-03-14", FIRST, waiting).state == "overdue"
    rules = [f.rule for f in judge("2025-03-14", FIRST, waiting).findings]
    assert "result-awaited-too-long" in rules
    assert "result-awaited-too-long" not in [f.rule for f in judge("2025-03-13", FIRST, waiting).findings]


CLOSED = [
    # closures, weeks with patients: overdue on the Monday after?, plain weekly: overdue?
    ([("2025-03-03", "2025-03-09")], False, True),
    ([("2025-03-03", "2025-03-08")], True, True),
    ([("2025-03-04", "2025-03-09")], True, True),
    ([("2025-03-01", "2025-03-06"), ("2025-03-07", "2025-03-12")], False, True),
]


@pytest.mark.parametrize(("spans", "patients", "plain"), CLOSED)
def test_a_closure_excuses_only_full_weeks_and_only_where_the_rule_speaks_of_patients(spans, patients, plain):
    closures = [closure(*s, day="2025-02-25") for s in spans]
    assert (duty("2025-03-10", FIRST, regime=PATIENTS, closures=closures).state == "overdue") is patients
    assert (duty("2025-03-10", FIRST, regime=WEEKLY, closures=closures).state == "overdue") is plain


def test_a_closure_of_one_unit_excuses_nothing():
    shut = [closure("2025-03-03", "2025-03-09", day="2025-02-25", unit="unit-1")]
    assert duty("2025-03-10", FIRST, regime=PATIENTS, closures=shut).state == "overdue"


def local(every, count=1):
    return (LocalDutyFact(row("2025-02-24"), date(2025, 2, 24), "biological-test", every, count, "own policy"),)


@pytest.mark.parametrize(("as_of", "state"), [("2025-03-11", "ok"), ("2025-03-12", "due"), ("2025-03-13", "overdue")])
def test_rolling_days_as_the_published_case_of_14_days(as_of, state):
    """Tested 14 days ago is due today, overdue on day 15 (Toronto Public Health: at least every 2 weeks)."""
    own = local("rolling-days", 14)
    assert duty(as_of, FIRST, regime=MONTHLY, local=own, code="biological-test-own").state == state


def test_a_rule_of_the_clinic_stands_beside_those_followed_with_a_due_day_of_its_own():
    for every, day, state in (("calendar-week", "2025-03-09", "overdue"), ("calendar-month", "2025-03-31", "due")):
        own = duty("2025-03-10", FIRST, local=local(every), code="biological-test-own")
        assert (own.state, str(own.due_on)) == (state, day)
        theirs = duty("2025-03-10", FIRST, local=local(every))
        assert (theirs.state, str(theirs.due_on)) == ("overdue", "2025-03-09")
    several = (*local("rolling-days", 14), *local("rolling-days", 5))
    clocks = judge("2025-03-10", FIRST, local=several).clocks
    days = {c.code: str(c.due_on) for c in clocks if c.code.startswith("biological")}
    assert days == {
        "biological-test": "2025-03-09",
        "biological-test-own": "2025-03-12",
        "biological-test-own-2": "2025-03-03",
    }


def test_a_rule_of_the_clinic_that_is_not_known_is_named():
    facts = unit(events=INSTALLED, bio_tests=(FIRST,))
    said = evaluate(clinic(facts, local_duties=local("now and then")), date(2025, 3, 10))
    assert [f.rule for f in said.findings] == ["local-rule-not-used"]
    assert not evaluate(clinic(facts, local_duties=local("calendar-month")), date(2025, 3, 10)).findings


def test_base_rules_ask_no_frequency():
    assert judge("2026-01-01", regime="base").clocks == ()


@pytest.mark.parametrize(
    "more",
    [
        {"placements": (placed("2025-02-27", "stored as spare"),)},
        {"events": (*INSTALLED, event("2025-03-01", "withdrawn", "broken"))},
        {"events": (*INSTALLED, event("2025-03-01", "decommissioned"))},
    ],
)
def test_what_falls_due_while_a_unit_is_out_of_use_is_not_due(more):
    assert (
        duty("2025-03-20", FIRST, bio("2025-02-27", result="pass"), regime=MONTHLY, **more).state == "not applicable"
    )
    assert [w.result for w in judge("2025-03-20", FIRST, **more).weeks][-1] == "exempt"


def test_after_an_event_california_asks_one_test():
    """California Health and Safety Code 119315: after initial installation."""

    def clock(as_of, *tests):
        clocks = judge(as_of, *tests, regime=MONTHLY).clocks
        return next(c for c in clocks if c.id == "duty:biological-test-after-event").state

    assert clock("2025-02-24") == "due"
    assert clock("2025-02-25") == "overdue"
    assert clock("2025-03-20", FIRST) == "ok"
    assert clock("2025-03-20", bio("2025-02-23", result="pass")) == "overdue"
    assert clock("2025-03-20", bio("2025-02-26", result="invalid")) == "overdue"


def test_the_strip_of_weeks():
    tests = (
        FIRST,
        bio("2025-03-05", result="growth"),
        bio("2025-03-07", result="pass", purpose="repeat"),
        bio("2025-03-12", result="invalid"),
        bio("2025-03-26", result="pass"),
        bio("2025-04-02"),
    )
    cells = judge("2025-04-07", *tests).weeks
    assert [c.result for c in cells] == ["passed", "failed", "invalid", "missed", "passed", "awaited", "open"]
    assert (cells[0].start, cells[-1].end) == (date(2025, 2, 24), date(2025, 4, 13))


def test_the_strip_of_a_monthly_duty_marks_the_last_week_of_a_missed_month():
    cells = judge("2025-05-05", FIRST, bio("2025-04-10", result="pass"), regime=MONTHLY).weeks
    assert [str(c.start) for c in cells if c.result == "missed"] == ["2025-03-31"]


def test_the_strip_is_never_longer_than_80_weeks():
    cells = judge("2030-01-01", FIRST).weeks
    assert len(cells) == 80 and cells[-1].start == date(2029, 12, 31)
