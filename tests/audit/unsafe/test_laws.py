"""Nothing bad, nothing lost, nothing stricter and nothing unknown ever makes an answer permit more.

Over random histories under every set of rules on file, on several days each. The exceptions, each with its reason:

- A spore test that is added counts as awaited until it is read: that it failed is bad news from the day it was known.
- Whether a unit was used on a day is read from its cycles: where rules ask a test on each day of use, a cycle that is
  no longer on record asks none. So no cycle is taken away, but what it proved is.
- A person's statement that a test was run because of the work is contradicted by a time that shows it came first.
  Without that time nothing contradicts it, so no time is taken from such a test.
- A result recorded as failed is bad news; that it is "not recorded" instead takes bad news away.
- Of open items alone: a step left undone of a failure that was over is told by itself; where the news opens that
  failure anew, the open failure holds it. And a duty that an event brings before use is owed from the return to use:
  where the news is that the work was not released, that item forbids use, and what the event asks rests till then.
  A load run while the unit was out counts once, as run after a failure before as run while it was withdrawn.
  A spore test is a use: where each day of use asks its test, one that failed is the next day of use, and the day
  before that went without stays told as missed, while the unit is out.
  And hours of use that are not known since a test of the very day are none where the news puts the unit out on it.
  What falls due only after the news has put the unit out falls due at its return.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from audit.facts import ClinicFacts
from audit.judge.clocks.duties import EVENT
from audit.judge.clocks.used_days import EACH_DAY
from audit.judge.evaluate import evaluate
from audit.judge.judgement import DueKind, Severity, State, UnitJudgement, UnitStanding, Word
from audit.regimes import all_regimes
from tests.audit.unsafe import changes, histories
from tests.examples import examples

OWN = [
    histories.own_duty(*each)
    for each in (
        ("biological-test", "day-of-use", 1),
        ("biological-test", "calendar-month", 1),
        ("biological-test", "rolling-days", 3),
        ("air-removal-test", "day-of-use", 1),
        ("servicing", "rolling-months", 6),
        ("pressure-examination", "rolling-months", 12),
        ("safety-check", "day-of-use", 1),
    )
]
LEAST = min(word.rank for word in Word)
# Which of the changes there are is tried: as a number, so that nothing is drawn once a history stands.
which = st.integers(0, 2**16)


def one_of(changes, which: int):
    """One of the changes; nothing where there is none."""
    every = list(changes)
    return [every[which % len(every)]] if every else []


def change_of(every, which: int):
    """As `one_of`, and made."""
    return [(told, make()) for told, make in one_of(every, which)]


def standing(clinic: ClinicFacts, day: date) -> UnitStanding:
    return evaluate(clinic, day, brief=True).units[0].standing


def days_from(day: date) -> tuple[date, ...]:
    return (day, day + timedelta(days=1), day + timedelta(days=9), histories.LAST)


def permits_no_more(clinic: ClinicFacts, told: str, changed: ClinicFacts, day: date) -> None:
    """On that day, the next, nine days on and long after. What permits least of all permits no more than anything."""
    for each in days_from(day):
        after = standing(changed, each)
        if after.word.rank == LEAST:
            continue
        before = standing(clinic, each)
        assert after.word.rank <= before.word.rank, (
            f"{told}, on {each}: {before.word} ({before.rule}: {before.reason}) became "
            f"{after.word} ({after.rule}: {after.reason}) under {clinic.terms[0].regime}"
        )


NOT_RELEASED = "not released after work"
OPEN_FAILURES = {
    "positive-test-open", "air-removal-open", "air-leak-open", "automatic-control-open", "safety-check-open",
    "air-detector-open", "wet-packs-open", "case-open",
}  # fmt: skip


def judged(clinic: ClinicFacts, day: date) -> UnitJudgement:
    (unit,) = evaluate(clinic, day).units
    return unit


def open_rules(unit: UnitJudgement) -> set[str]:
    return {f.rule for f in unit.findings if f.severity is not Severity.NOTE}


def missed(unit: UnitJudgement) -> set[str]:
    return {f.message for f in unit.findings if f.rule == "missed-week"}


def overdue(unit: UnitJudgement) -> set[str]:
    return {c.code for c in unit.clocks if c.kind is DueKind.DUTY and c.state is State.OVERDUE}


def held_elsewhere(clinic: ClinicFacts, day: date, before: UnitJudgement, after: UnitJudgement) -> set[str]:
    """The rules whose items another item of the news holds, see above."""
    news = open_rules(after) - open_rules(before)
    held = {"step-open"} if news & OPEN_FAILURES else set()
    held |= {"loads-while-withdrawn"} if "loads-while-out" in news else set()
    regime = all_regimes()[clinic.terms[0].regime].on(day)
    of_event = {d.id for d in regime.duties if d.every == EVENT}
    resting = {c.code for c in after.clocks if c.state is State.NOT_APPLICABLE and NOT_RELEASED in c.note}
    if "not-released" in news and overdue(before) - overdue(after) <= of_event & resting:
        assert not after.standing.word.may_be_used
        held.add("duty-overdue")
    of_use = {d.id for d in regime.duties if d.every in EACH_DAY}
    gone = overdue(before) - overdue(after)
    if gone and gone <= of_use and news & OPEN_FAILURES and missed(before) <= missed(after):
        assert not after.standing.word.may_be_used
        held.add("duty-overdue")
    since, due = after.standing.since, {c.code: c.overdue_on for c in before.clocks if c.kind is DueKind.DUTY}
    if gone and not after.standing.word.may_be_used and since and all(due[code] > since for code in gone):
        held.add("duty-overdue")
    unknown = without_evidence(before) - without_evidence(after)
    if unknown and unknown <= begun_on(before, day) and news & OPEN_FAILURES:
        assert not after.standing.word.may_be_used
        held.add("no-evidence")
    return held


def without_evidence(unit: UnitJudgement) -> set[str]:
    return {c.code for c in unit.clocks if c.kind is DueKind.DUTY and c.state is State.NO_EVIDENCE}


def begun_on(unit: UnitJudgement, day: date) -> set[str]:
    """The duties that count from a test of that very day: no hour of use lies between, if the unit is out on it."""
    return {c.code for c in unit.clocks if c.counts_from is not None and day.isoformat() in c.counts_from.text}


def of_unit(clinic: ClinicFacts, unit) -> ClinicFacts:
    return replace(clinic, units=(unit,))


@settings(max_examples=examples(300))
@given(histories.clinics(), histories.days, which)
def test_bad_news_never_helps(clinic, day, which):
    ((told, unit),) = change_of(changes.bad_news(clinic.units[0], day), which)
    permits_no_more(clinic, told, of_unit(clinic, unit), day + changes.KNOWN_AFTER)


@settings(max_examples=examples(100))
@given(histories.clinics(), histories.days, which)
def test_bad_news_closes_no_open_item(clinic, day, which):
    """By the rule that opened it: what is told of several rows may be told of more of them."""
    ((told, unit),) = change_of(changes.bad_news(clinic.units[0], day), which)
    for each in (day + changes.KNOWN_AFTER, histories.LAST):
        before, after = judged(clinic, each), judged(of_unit(clinic, unit), each)
        closed = open_rules(before) - open_rules(after)
        assert closed <= held_elsewhere(clinic, each, before, after), (told, each, closed, clinic.terms[0].regime)


@settings(max_examples=examples(300))
@given(histories.clinics(), histories.days, which)
def test_lost_proof_never_helps(clinic, day, which):
    for told, unit in change_of(changes.lost_proof(clinic.units[0]), which):
        permits_no_more(clinic, told, of_unit(clinic, unit), day)


@settings(max_examples=examples(200))
@given(histories.clinics(), histories.days, which)
def test_what_is_not_known_never_helps(clinic, day, which):
    for told, unit in change_of(changes.unknown(clinic.units[0]), which):
        permits_no_more(clinic, told, of_unit(clinic, unit), day)


@settings(max_examples=examples(200))
@given(histories.clinics(), histories.days, st.sampled_from(OWN))
def test_a_duty_of_the_clinic_s_own_never_helps(clinic, day, duty):
    told = f"own duty {duty.duty} {duty.every}"
    permits_no_more(clinic, told, replace(clinic, local_duties=(*clinic.local_duties, duty)), day)


@settings(max_examples=examples(100))
@given(histories.clinics(), histories.days, which)
def test_a_late_reading_is_no_better_than_no_test(clinic, day, which):
    """Long after it should have been read, as far as what it proves goes: the cycle itself ran all the same."""
    unit = clinic.units[0]
    early = [t for t in unit.bio_tests if t.row.happened_on < histories.LAST - timedelta(days=40)]
    for test in [*one_of(early, which), *one_of(early, which // 7)]:
        unread = changes.without(unit, "bio_tests", test, replace(test, readings=()))
        useless = changes.without(unit, "bio_tests", test, replace(test, readings=(), control_lot=None))
        late, none = (standing(of_unit(clinic, each), histories.LAST) for each in (unread, useless))
        assert late.word.rank <= none.word.rank, (late, none)
