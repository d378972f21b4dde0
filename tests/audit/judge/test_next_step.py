"""What is to be done next, by whom and by when: a table, and that what is said in short is said in full."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given

from audit.judge.evaluate import evaluate
from audit.judge.judgement import (
    Case,
    ClinicJudgement,
    Clock,
    DueKind,
    NextStep,
    State,
    Step,
    UnitJudgement,
    UnitStanding,
    Word,
)
from audit.judge.next_step import CLINIC, COMPANY, EITHER, named, next_step, open_path, short_reason, with_company
from audit.regimes.source import Source
from tests.audit.unsafe import histories

DAY = date(2026, 6, 15)
PRACTICE = Source("common practice, no source")


def standing(word=Word.IN_SERVICE, rule="R11", lifted="nothing to lift", until=None, reason="a reason"):
    return UnitStanding(word, rule, reason, None, (), lifted, until)


def due(code, state=State.DUE, on=DAY, late=None, kind=DueKind.DUTY, title="Spore test (biological indicator)"):
    return Clock(kind, code, title, state, on, late, None, "weekly", PRACTICE, subject="biological")


def step(action, title, state="open", on=None, by=None):
    return Step(action, title, state, on, (), PRACTICE, "", by)


def case(*steps, phase="requalification needed", known=DAY):
    return Case("c", "positive-bi", "Positive spore test", known, known, phase, None, 0, 3, "", steps, ())


def unit(held, clocks=(), cases=()):
    return UnitJudgement("u", "Unit", DAY, held, tuple(clocks), (), (), tuple(cases), (), ())


WITHDRAWN = step("withdraw", "Take it out", "done", DAY)
CAUSE = step("find cause", "Find the cause", by=DAY + timedelta(2))
LATE_CAUSE = step("find cause", "Find the cause", "late", by=DAY - timedelta(2))
PACKS = step("recall packs", "Recall the packs")
OUT = standing(Word.OUT, "R4", "tests: the cause found")
BY_HAND = standing(Word.OUT, "R4", "the clinic or its service company: return it with a reason")
PLAN = due("valve", State.OVERDUE, DAY - timedelta(20), DAY - timedelta(5), DueKind.PLAN, "Test safety valve")
PLAN.subject = ""

SERVICING = due("service", title="Servicing")
SERVICING.subject = "servicing"

TABLE = [
    # (what, unit, what is next)
    ("not in use asks nothing", unit(standing(Word.NOT_IN_USE, "R1"), [PLAN]), None),
    ("a failure: the first step not done, the company's where it is a technician's",
     unit(OUT, cases=[case(WITHDRAWN, CAUSE, PACKS)]), NextStep(COMPANY, "Find the cause", DAY + timedelta(2))),
    ("a step past its day says by how many", unit(OUT, cases=[case(LATE_CAUSE)]),
     NextStep(COMPANY, "Find the cause", DAY - timedelta(2), 2)),
    ("a step of the clinic", unit(OUT, cases=[case(WITHDRAWN, PACKS)]), NextStep(CLINIC, "Recall the packs")),
    ("of two failures the older one", unit(OUT, cases=[case(PACKS), case(CAUSE, known=DAY - timedelta(1))]),
     NextStep(COMPANY, "Find the cause", DAY + timedelta(2))),
    ("a failure that is over asks nothing", unit(BY_HAND, cases=[case(CAUSE, phase="returned")]),
     NextStep(EITHER, "return it with a reason")),
    ("a failure open beside a unit in use goes before what is due",
     unit(standing(), [due("bio")], [case(PACKS, phase="retest needed")]), NextStep(CLINIC, "Recall the packs")),
    ("what stops it goes before an open failure that does not",
     unit(standing(Word.OUT, "R2", "a technician: fit the part, test it, and release"), cases=[case(PACKS)]),
     NextStep(COMPANY, "fit the part, test it, and release")),
    ("after work", unit(standing(Word.WAITING, "R5", "the technician: complete V2")),
     NextStep(COMPANY, "complete V2")),
    ("a lapsed examination: whoever the law names",
     unit(standing(Word.OUT, "R3", "an examination by the person the law names, with a report in date")),
     NextStep("", "an examination by the person the law names, with a report in date")),
    ("accepted until a day: the result, by the last day that it holds",
     unit(standing(Word.LIMITED, "R6", "a negative result; a positive one takes the unit out of service",
                   until=DAY + timedelta(3))),
     NextStep(CLINIC, "enter the result of the pending spore test", DAY + timedelta(2))),
    ("overdue before what is due today", unit(standing(Word.OVERDUE, "R9"), [due("bio"), PLAN]),
     NextStep(COMPANY, "Test safety valve", DAY - timedelta(20), 6)),
    ("due today before what is ahead", unit(standing(), [
        due("far", State.OK, DAY + timedelta(1)), due("bio", on=DAY + timedelta(5))]),
     NextStep(CLINIC, "Spore test", DAY + timedelta(5))),
    ("else what is due first of all that has a day", unit(standing(), [
        due("later", State.OK, DAY + timedelta(9)), due("soon", State.DUE_SOON, DAY + timedelta(8)),
        due("never", State.OK, None)]), NextStep(CLINIC, "Spore test", DAY + timedelta(8))),
    ("a failure that was entered in error asks nothing",
     unit(standing(), [due("bio")], [case(PACKS, phase="entered in error")]), NextStep(CLINIC, "Spore test", DAY)),
    ("of what is overdue the oldest, one without a day before it", unit(standing(Word.OVERDUE, "R9"), [
        PLAN, due("old", State.OVERDUE, DAY - timedelta(30), DAY - timedelta(2), title="Older")]),
     NextStep(CLINIC, "Older", DAY - timedelta(30), 3)),
    ("of what has no evidence, what has no day at all", unit(standing(Word.OVERDUE, "R9"), [
        due("known", State.NO_EVIDENCE, DAY, title="Known"), due("never", State.NO_EVIDENCE, None, title="Never")]),
     NextStep(CLINIC, "Never", None)),
    ("an instrument is the company's", unit(standing(), [due("t", kind=DueKind.INSTRUMENT, title="Thermometer")]),
     NextStep(COMPANY, "Thermometer", DAY)),
    ("servicing is the company's", unit(standing(), [SERVICING]), NextStep(COMPANY, "Servicing", DAY)),
    ("what lifts it without anybody named", unit(standing(Word.WAITING, "R5", "an owner: sign")),
     NextStep("", "an owner: sign")),
    ("somebody named, and nothing to do", unit(standing(Word.WAITING, "R5", "the clinic")),
     NextStep("", "the clinic")),
    ("accepted without a last day", unit(standing(Word.LIMITED, "R6", "a negative result")),
     NextStep(CLINIC, "enter the result of the pending spore test", None)),
    ("not asked of this unit is never next", unit(standing(), [due("no", State.NOT_APPLICABLE)]), None),
    ("in service, and nothing is asked", unit(standing()), None),
]  # fmt: skip


@pytest.mark.parametrize(("judged", "expected"), [row[1:] for row in TABLE], ids=[row[0] for row in TABLE])
def test_the_table_of_what_is_next(judged, expected):
    assert next_step(judged) == expected


NAMES = [
    (COMPANY, "Invented Service", "Invented Service"),
    (EITHER, "Invented Service", "clinic or Invented Service"),
    (CLINIC, "Invented Service", CLINIC),
    ("whom the service company names", "Invented Service", "whom the service company names"),
    (COMPANY, "", COMPANY),
]


@pytest.mark.parametrize(("who", "company", "said"), NAMES)
def test_who_is_to_do_it_by_name(who, company, said):
    assert named(who, company) == said


def test_a_judgement_names_the_company_where_one_serves_the_clinic():
    one, nothing = replace(unit(OUT), next=NextStep(COMPANY, "Find the cause")), unit(standing())
    judged = ClinicJudgement("c", "Clinic", DAY, "base", "Base", "1", (), (one, nothing), (), (), ())
    assert with_company(judged, "") is judged
    made = with_company(judged, "Invented Service")
    assert made.units == (replace(one, next=NextStep("Invented Service", "Find the cause")), nothing)


def test_the_way_out_of_a_failure_tells_what_was_done_and_what_is_ahead():
    spared, dated = step("review", "Review", "not needed", DAY), step("repeat", "Repeat", "done", DAY)
    path = open_path(
        unit(OUT, cases=[case(WITHDRAWN, spared, dated, step("note", "Note", "done"), CAUSE)]), "Invented"
    )
    assert path.done == (WITHDRAWN, dated)
    assert path.ahead == (NextStep("Invented", "Find the cause", DAY + timedelta(2)),)
    assert open_path(unit(OUT)) is None


WELL = "no open failure, nothing overdue"
SHORT = [
    ("R11", f"{WELL}; last proof: a test; next stop: x, due 2026-06-20", "last proof: a test"),
    ("R11", f"{WELL}; no proof on record", "no proof on record"),
    ("R11", "open failure: y, nothing overdue; last proof: z", "open failure: y, nothing overdue; last proof: z"),
    ("R11", WELL, WELL),
    ("R9", "overdue since 2026-06-04: z; next stop: x", "overdue since 2026-06-04: z; next stop: x"),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "reason", "expected"), SHORT)
def test_the_reason_in_short(rule, reason, expected):
    assert short_reason(standing(rule=rule, reason=reason)) == expected


@given(histories.clinics(), histories.days)
def test_of_any_history_the_next_step_names_somebody_and_says_nothing_of_its_own(clinic, day):
    """Whoever must not use it is told what to do and who can; the words are those of the whole answer."""
    for judged in evaluate(clinic, day).units:
        held, then = judged.standing, judged.next
        assert set(judged.short.split("; ")) <= set(held.reason.split("; "))
        if held.word is Word.NOT_IN_USE:
            assert then is None
        elif not held.word.may_be_used:
            assert then is not None and then.what
            assert then.who in (CLINIC, COMPANY, EITHER) or held.rule in ("R3", "R8"), held
        if then is not None and then.days_late:
            assert then.by < day
