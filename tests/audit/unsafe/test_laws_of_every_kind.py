"""The laws of `test_laws` over histories with every kind of fact, and what an answer says counted once more there.

A few examples in an ordinary run; a deep one takes them by the hundred. The exceptions are those of `test_laws`.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from audit.facts import unit_by_day
from audit.judge.evaluate import evaluate, evaluate_under
from audit.judge.judgement import DueKind, Severity, State
from audit.judge.situation import clinic_by_day
from audit.regimes import all_regimes
from tests.audit.unsafe import changes, histories, wide_changes, wide_places
from tests.audit.unsafe.test_laws import (
    OWN,
    change_of,
    held_elsewhere,
    judged,
    of_unit,
    open_rules,
    permits_no_more,
    which,
)
from tests.examples import examples

SLOW = {"suppress_health_check": list(HealthCheck), "deadline": None}
FEW = settings(max_examples=examples(6), **SLOW)
DAY = timedelta(days=1)
LATE = (State.OVERDUE, State.NO_EVIDENCE)
ISO = r"(\d{4}-\d\d-\d\d)"


@FEW
@given(wide_places.clinics(), histories.days)
def test_nothing_breaks_down(clinic, day):
    for each in (day, histories.LAST):
        said = evaluate(clinic, each)
        assert not [f.message for f in said.units[0].findings if f.rule in ("not-judged", "rule-failed")]
        assert not [a.words for a in said.answers if "could not be answered" in a.words]


@FEW
@given(wide_places.clinics(), histories.days, which)
def test_bad_news_never_helps(clinic, day, which):
    unit = clinic.units[0]
    for every in (changes.bad_news(unit, day), wide_changes.bad_news(unit, day)):
        for told, worse in change_of(every, which):
            permits_no_more(clinic, told, of_unit(clinic, worse), day + changes.KNOWN_AFTER)


@FEW
@given(wide_places.clinics(), histories.days, which)
def test_bad_news_closes_no_open_item(clinic, day, which):
    ((told, unit),) = change_of(changes.bad_news(clinic.units[0], day), which)
    for each in (day + changes.KNOWN_AFTER, histories.LAST):
        before, after = judged(clinic, each), judged(of_unit(clinic, unit), each)
        closed = open_rules(before) - open_rules(after)
        followed = replace(clinic, terms=(clinic.terms_on(each),))
        assert closed <= held_elsewhere(followed, each, before, after), (told, each, closed)


@FEW
@given(wide_places.clinics(), histories.days, which)
def test_lost_proof_never_helps(clinic, day, which):
    unit = clinic.units[0]
    for every in (changes.lost_proof(unit), wide_changes.lost_proof(unit)):
        for told, less in change_of(every, which):
            permits_no_more(clinic, told, of_unit(clinic, less), day)


@FEW
@given(wide_places.clinics(), histories.days, which)
def test_what_is_not_known_never_helps(clinic, day, which):
    unit = clinic.units[0]
    for every in (changes.unknown(unit), wide_changes.unknown(unit)):
        for told, less in change_of(every, which):
            permits_no_more(clinic, told, of_unit(clinic, less), day)


@FEW
@given(wide_places.clinics(), histories.days, which, st.sampled_from(OWN))
def test_news_and_duties_of_the_place_never_help(clinic, day, which, duty):
    every = list(wide_changes.of_place(clinic, day))
    told, changed = every[which % len(every)]
    permits_no_more(clinic, told, changed, day)
    permits_no_more(clinic, "own duty", replace(clinic, local_duties=(*clinic.local_duties, duty)), day)


@FEW
@given(wide_places.clinics(), histories.days)
def test_no_place_asks_less_than_the_common_base(clinic, day):
    for each in (day, histories.LAST):
        base, own = (
            evaluate_under(clinic, all_regimes()[id], each).units[0].standing
            for id in ("base", clinic.terms[0].regime)
        )
        assert own.word.rank <= base.word.rank, (base, own, clinic.terms[0].regime)


# ------------------------------------------------------------------------------------------------ what is said


@FEW
@given(wide_places.clinics(), histories.days)
def test_the_sentences_of_the_answer_are_so(clinic, day):
    (said,) = evaluate(clinic, day).units
    words, unit = said.standing.reason, unit_by_day(clinic.units[0], day)
    still_open = [c for c in said.cases if c.resolved_on is None]
    late = [c for c in said.clocks if c.state in LATE]
    passed = {v.test for v in said.verdicts if v.verdict == "passed"}
    days = sorted(t.row.happened_on for t in unit.bio_tests if t.row.origin in passed)
    if said.standing.word.may_be_used:
        assert bool(still_open) == ("a failure is open" in words), words
        assert not [f.message for f in said.findings if f.severity is Severity.FORBIDS]
    assert "nothing overdue" not in words or not late
    if told := re.search(r"last proof: spore test of " + ISO, words):
        assert told[1] == days[-1].isoformat()
    assert "no proof on record" not in words or not days
    assert said.standing.since is None or said.standing.since <= day
    for case in said.cases:
        if told := re.search(r"after the last negative spore test of " + ISO, case.recall):
            failed = [t for t in unit.bio_tests if t.row.ref in {e.ref for e in case.evidence}]
            first = min(t.row.happened_on for t in failed)
            before = [d for d in days if d < first]
            assert date.fromisoformat(told[1]) >= max(before, default=date.min)
            assert date.fromisoformat(told[1]) <= first


@FEW
@given(wide_places.clinics(), histories.days)
def test_answers_contradict_neither_the_word_nor_the_open_items(clinic, day):
    said = evaluate(clinic, day + 20 * DAY)
    (unit,), answers = said.units, {a.id: a for a in said.answers}
    items = {f.rule for f in unit.findings}

    def yes(id):
        return id in answers and answers[id].answer == "yes"

    assert not [a.id for a in said.answers if a.answer == "yes" and a.gap]
    assert yes("which-units") == unit.standing.word.may_be_used
    assert str(unit.standing.word) in answers["which-units"].words
    still_open = [c for c in unit.cases if c.resolved_on is None]
    assert not (yes("packs-recalled") and still_open)
    assert not (yes("failure-followed") and [c for c in still_open if c.kind == "biological"])
    assert not (yes("out-until-proven") and still_open and unit.standing.word.may_be_used)
    assert not (yes("failed-loads-not-used") and {"released-on-failure", "released-without-result"} & items)
    assert not (yes("spore-test-each-period") and "missed-week" in items)
    assert not (yes("cycle-numbers") and [rule for rule in items if rule.startswith("cycle-number")])
    plan = [c for c in unit.clocks if c.kind is DueKind.PLAN and c.state in LATE]
    assert not (yes("maintained") and plan)
    # What was missed stands in the coverage too.
    kept = [x for c in unit.coverage for x in c.lapses if x.result in ("missed", "invalid", "met late")]
    for found in unit.findings:
        if found.rule in ("missed-week", "missed-duty"):
            start, end = map(date.fromisoformat, re.search(f"from {ISO} to {ISO}", found.message).groups())
            assert [x for x in kept if x.start <= end and x.end >= start], found.message


@FEW
@given(wide_places.clinics(), histories.days)
def test_loads_run_while_it_was_withdrawn_are_told(clinic, day):
    last = day + 20 * DAY
    (said,), unit = evaluate(clinic, last).units, unit_by_day(clinic.units[0], last)
    tests = {(t.row.happened_on, t.cycle_number) for t in (*unit.bio_tests, *unit.air_removal) if t.cycle_number}
    told = {e.ref for f in said.findings if f.rule.startswith("load") for e in f.evidence}
    for load in unit.loads:
        ran = load.row.happened_on
        out = any(first < ran and (end is None or ran < end) for first, end in said.withdrawn)
        assert not out or load.row.ref in told or (ran, load.cycle_number) in tests, load


@FEW
@given(wide_places.clinics(), histories.days)
def test_what_an_answer_becomes_is_what_it_is_on_that_day(clinic, day):
    known = replace(clinic_by_day(clinic, day), units=(unit_by_day(clinic.units[0], day),))

    def on(each):
        return evaluate(known, each, brief=True).units[0].standing

    said = on(day)
    if said.holds_until is None:
        assert all((on(day + n * DAY).word, on(day + n * DAY).rule) == (said.word, said.rule) for n in (1, 7, 40))
        return
    then, before = on(said.holds_until), on(said.holds_until - DAY)
    assert str(then.word) in said.becomes and then.reason.removeprefix("overdue ")[:50] in said.becomes
    assert (before.word, before.rule) == (said.word, said.rule)
