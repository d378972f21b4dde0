"""What an answer says is so: its sentences, recomputed in a second, naive way over random histories."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from hypothesis import given, settings

from audit.facts import unit_by_day
from audit.judge.evaluate import evaluate
from audit.judge.judgement import State, Word
from audit.judge.situation import clinic_by_day
from tests.audit.unsafe import histories
from tests.audit.unsafe.table import history
from tests.examples import examples
from tests.fact_builders import line

OPEN = (
    "positive-test-open",
    "air-removal-open",
    "air-leak-open",
    "automatic-control-open",
    "safety-check-open",
    "case-open",
)
LATE = (State.OVERDUE, State.NO_EVIDENCE)


@settings(max_examples=examples(150))
@given(histories.clinics(), histories.days)
def test_no_open_failure_and_nothing_overdue_are_said_only_where_it_is_so(clinic, day):
    (unit,) = evaluate(clinic, day).units
    words = unit.standing.reason
    if "no open failure" in words:
        assert not [c for c in unit.cases if c.resolved_on is None], words
        assert not [f for f in unit.findings if f.rule in OPEN], words
    if "nothing overdue" in words:
        assert not [c for c in unit.clocks if c.state in LATE], words
    if unit.standing.word in (Word.IN_SERVICE, Word.OVERDUE):
        assert not [f for f in unit.findings if f.rule == "safety-finding-open"], words


@settings(max_examples=examples(100))
@given(histories.clinics(), histories.days)
def test_in_service_since_a_day_is_so_on_every_day_since(clinic, day):
    """By what had happened by the end of each of those days; the day itself may have begun otherwise."""
    last = day + timedelta(days=30)
    said = evaluate(clinic, last, brief=True).units[0].standing
    if said.word is not Word.IN_SERVICE or said.since is None:
        return
    begun = max(said.since, last - timedelta(days=25))
    for n in range((last - begun).days):
        then = evaluate(clinic, last - timedelta(days=n), brief=True).units[0].standing
        assert then.word is Word.IN_SERVICE, (said, last - timedelta(days=n), then)


@settings(max_examples=examples(100))
@given(histories.clinics(), histories.days)
def test_what_an_answer_becomes_is_what_it_is_on_that_day(clinic, day):
    known = replace(clinic_by_day(clinic, day), units=(unit_by_day(clinic.units[0], day),))
    said = evaluate(known, day, brief=True).units[0].standing
    if said.holds_until is None:
        assert said.becomes == ""
        return
    then = evaluate(known, said.holds_until, brief=True).units[0].standing
    assert str(then.word) in said.becomes and then.reason.removeprefix("overdue ")[:50] in said.becomes
    before = evaluate(known, said.holds_until - timedelta(days=1), brief=True).units[0].standing
    assert (before.word, before.rule) == (said.word, said.rule)


def test_what_is_overdue_is_said_once():
    """ "In service, overdue: overdue since" says it twice."""
    said = history("weekly", word=Word.IN_SERVICE).values[0].judged().standing
    assert said.becomes.startswith("In service, overdue since 2025-07-07 (1 day): Spore test"), said.becomes
    seven = (line(months=7, position="", day="2025-01-01"),)
    late = history("late", word=Word.OVERDUE, as_of="2025-07-08", plan=seven)
    said = late.values[0].judged().standing
    assert "overdue: overdue" not in said.becomes and "overdue overdue" not in said.becomes, said.becomes
