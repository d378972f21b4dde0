"""What one fact more or less turns in an answer: whose it is, of which kind, before which day, beside which duty."""

from __future__ import annotations

from dataclasses import replace

import pytest

from audit.facts import LocalDutyFact
from audit.judge.answers.in_between import between
from audit.judge.answers.registry import OF_PLACE, OF_UNIT
from audit.judge.judgement import Step
from audit.regimes import load_regime
from tests.fact_builders import (
    air,
    bio,
    case,
    clinic,
    counter,
    credential,
    document,
    event,
    job,
    line,
    load,
    on,
    outcome,
    position,
    row,
    user_check,
    weekly,
)

from .asking import BEGIN, CDC, DAY, ask, own_unit, place_of, question

HTM, SCOTLAND, RACGP, FLORIDA = "gb-eng-dental-htm0105", "gb-sct-2024", "au-racgp-2023", "us-fl-dental"
WEEKS = weekly(BEGIN, "2025-06-23")
FAILED = bio("2025-03-03", result="growth", known="2025-03-04", ref="bad")
AGAIN = bio("2025-03-05", result="growth", known="2025-03-06", purpose="repeat")


def replied(id, one, regime, as_of=DAY, **facts):
    """The reply under a set of rules that no file holds."""
    place = place_of(clinic(one, **facts), regime, as_of)
    asked = question(id)
    return OF_UNIT[asked.answers](place, place.views[0], asked)


def own_duty(frequency, count):
    return (LocalDutyFact(row(BEGIN), on("2020-01-01"), "biological-test", frequency, count, "invented"),)


# ------------------------------------------------------------------------------------------------ what is held


@pytest.mark.parametrize(("holder", "kind", "count"), [
    ("clinic", "training", 1), ("service company", "training", 0), ("clinic", "licence", 0),
])  # fmt: skip
def test_the_training_in_a_logbook_is_that_of_the_clinic_s_people(holder, kind, count):
    held = (credential(BEGIN, holder=holder, kind=kind),)
    reply = ask("logbook-headings", own_unit(bio_tests=WEEKS), regime=HTM, credentials=held)
    assert f"training: {count};" in reply.words and ("training" in reply.gap) is (count == 0)


@pytest.mark.parametrize(("unit", "count"), [("", 1), ("unit-1", 1), ("unit-2", 0)])
def test_a_paper_of_the_place_or_of_the_unit_stands_in_its_logbook(unit, count):
    paper = document("pressure examination", BEGIN, unit=unit)
    reply = ask("logbook-headings", own_unit(bio_tests=WEEKS), regime=HTM, documents=(paper,))
    assert reply.words.endswith(f"pressure examination: {count}.")


@pytest.mark.parametrize(("reason", "tests", "count"), [
    ("installation", ("V1",), 1), ("installation", (), 0), ("planned", ("V1",), 0),
])  # fmt: skip
def test_an_installation_with_its_tests_is_a_commissioning(reason, tests, count):
    one = own_unit(jobs=(job(BEGIN, reason=reason, tests=tests, outcomes=(outcome(BEGIN),)),))
    assert f"commissioning: {count};" in ask("stages-apart", one, regime=SCOTLAND).words


@pytest.mark.parametrize(("kind", "count"), [("commissioning", 1), ("instructions", 0)])
def test_a_paper_of_commissioning_stands_under_it(kind, count):
    one = own_unit(documents=(document(kind, BEGIN, unit="unit-1"),))
    assert f"commissioning: {count};" in ask("stages-apart", one, regime=SCOTLAND).words


@pytest.mark.parametrize(("reason", "count"), [("installation", 0), ("planned", 1), ("breakdown", 1)])
def test_an_installation_is_no_maintenance(reason, count):
    one = own_unit(jobs=(job("2025-01-08", reason=reason, outcomes=(outcome("2025-01-08"),)),))
    assert ask("stages-apart", one, regime=SCOTLAND).words.endswith(f"maintenance: {count}.")


@pytest.mark.parametrize(("usable", "answer", "gap"), [
    (3, "yes", ""), (2, "yes", ""), (1, "in part", "1 more unit that may be used; "),
    (0, "no", "2 more units that may be used; "),
])  # fmt: skip
def test_two_units_that_may_be_used(usable, answer, gap):
    units = []
    for n in range(3):
        out = () if n < usable else (event("2025-06-02", "withdrawn"),)
        made = own_unit(events=(event(BEGIN), *out), bio_tests=WEEKS)
        units.append(replace(made, label=str(n), row=replace(made.row, ref=f"unit-{n}", origin=f"unit-{n}")))
    reply = ask("two-units", *units)
    assert (reply.answer, f"{usable} of 3 units" in reply.words) == (answer, True)
    assert reply.gap.startswith(gap) and bool(reply.gap) is bool(gap)


# ------------------------------------------------------------------------------------------------ failures


def test_a_recall_that_was_asked_names_the_decision_that_is_still_to_come():
    facts = {"bio_tests": (*WEEKS, FAILED, AGAIN), "cases": (case("bad", "2025-03-04"),)}
    reply = ask("packs-recalled", own_unit(loads=(load("2025-03-01", "1"), load("2025-03-02", "2")), **facts))
    assert reply.answer == "no" and "the recall after the failure of 2025-03-03" in reply.gap
    assert "a decision about 2 loads affected: " in reply.gap


@pytest.mark.parametrize(("last", "proof"), [
    ({}, "spore test of 2025-06-23: passed"),
    ({"checks": (user_check("2025-06-25"),)}, "the newest of 79, 2025-06-25"),
])  # fmt: skip
def test_where_nothing_failed_the_newest_result_is_the_proof(last, proof):
    reply = ask("out-until-proven", own_unit(bio_tests=WEEKS, **last))
    assert (reply.answer, [e.text for e in reply.evidence]) == ("yes", [proof])


def test_records_that_begin_late_show_nothing_of_before():
    tests = weekly("2025-01-06", "2025-06-23")
    reply = ask("out-until-proven", own_unit(bio_tests=tests))
    told = "records of such tests begin on 2025-01-06; what was before is not known"
    assert reply.answer == "in part" and reply.gap.startswith(told)
    assert reply.words.startswith("No such failure is on record among 25 results on record since 2025-01-06: ")
    assert reply.words.endswith(f"out of use for. R{told[1:]}.")


@pytest.mark.parametrize(("wrong", "counted"), [
    ({"result": "growth"}, True), ({"result": "pass", "mechanical": "fail"}, True),
    ({"result": "pass", "chemical": "fail"}, True), ({"result": "pass"}, False),
])  # fmt: skip
def test_a_failure_that_the_rules_ask_nothing_after_is_told(wrong, counted):
    rules = replace(load_regime(CDC), failure=())
    one = own_unit(bio_tests=(*WEEKS, bio("2025-03-04", known="2025-03-05", **wrong)))
    reply = replied("out-until-proven", one, rules)
    assert ("1 failed result without a case (2025-03-04)" in reply.gap) is counted
    assert (reply.answer == "yes") is not counted


@pytest.mark.parametrize(("out", "answer"), [(False, "yes"), (True, "no")])
def test_another_unit_is_proven_only_while_it_may_be_used(out, answer):
    bad = own_unit(bio_tests=(*[t for t in WEEKS if t.row.happened_on < on("2025-06-20")], bio(
        "2025-06-23", result="growth", known="2025-06-24")))  # fmt: skip
    events = (event(BEGIN), *((event("2025-06-25", "withdrawn"),) if out else ()))
    other = own_unit(bio_tests=WEEKS, events=events)
    other = replace(other, label="2", row=replace(other.row, ref="unit-2", origin="unit-2"))
    assert ask("closed-after-positive", bad, other).answer == answer


@pytest.mark.parametrize(("last", "answer"), [("pass", "yes"), ("growth", "no"), ("invalid", "yes"), ("", "yes")])
def test_another_unit_is_proven_by_its_last_test_with_a_result(last, answer):
    """Under rules by which one positive test does not take a unit out."""
    rules = load_regime(CDC)
    path = next(p for p in rules.failure if p.kind == "biological")
    rules = replace(rules, failure=(replace(path, withdraws=False),))
    bad = own_unit(bio_tests=(*WEEKS, bio("2025-06-25", result="growth", known="2025-06-26")))
    other = own_unit(bio_tests=(*WEEKS, bio("2025-06-26", result=last, known="2025-06-27")))
    other = replace(other, label="2", row=replace(other.row, ref="unit-2", origin="unit-2"))
    place = place_of(clinic(bad, other), rules)
    reply = OF_PLACE["another_proven"](place, question("closed-after-positive"))
    assert reply.answer == answer, reply.words


def test_a_look_back_of_no_case_asks_no_decision_of_a_recall():
    """A failed mechanical result without a case row: its look-back stands for itself."""
    facts = {"bio_tests": (*WEEKS, FAILED, AGAIN), "loads": (load("2025-02-28", "1", mechanical="fail"),)}
    reply = ask("packs-recalled", own_unit(**facts))
    assert "the recall after" in reply.gap and "a decision about" not in reply.gap


# ------------------------------------------------------------------------------------------------ in between


def in_between(path=None, *, steps=None, loads=(), resolved=True, counters=()):
    """The positive test of 3 March, proven on 12 March where it is; with another path and steps where named."""
    rules = load_regime(CDC)
    again = bio("2025-03-10", result="pass", known="2025-03-12", purpose="repeat")
    kept = [t for t in WEEKS if not on("2025-03-03") <= t.row.happened_on]
    one = own_unit(bio_tests=(*kept, FAILED, *((again,) if resolved else ())), loads=loads, counters=counters)
    place = place_of(clinic(one), rules)
    if path is not None:
        failure = tuple(replace(p, **path) if p.kind == "biological" else p for p in rules.failure)
        place = replace(place, regime=replace(rules, failure=failure))
    (case,) = place.views[0].said.cases
    if steps is not None:
        case = replace(case, steps=steps)
    return between(place, place.views[0], case)


OUT = Step("withdraw", "Take it out", "done", None, (), load_regime(CDC).failure[0].source, "")
BACK = replace(OUT, action="return", title="Return it")


@pytest.mark.parametrize(("path", "steps", "kept_out"), [
    ({"withdraws": True}, (), True), ({"withdraws": False}, (OUT,), True), ({"withdraws": False}, (), False),
    ({"withdraws": False}, (OUT, BACK), True), ({"withdraws": False}, (BACK,), False),
])  # fmt: skip
def test_a_kind_stops_a_unit_by_its_rule_or_by_a_step(path, steps, kept_out):
    found = in_between(path, steps=steps)
    assert found.withdraws is kept_out
    assert ("do not ask that it be kept out" in found.words) is not kept_out


RUN = (counter("2025-03-05", 100), counter("2025-03-08", 103))
DOUBT = (load("2025-03-04", "7"),)  # the day it was known, no time


@pytest.mark.parametrize(("facts", "order", "unlogged"), [
    ({}, False, False), ({"loads": DOUBT}, True, False), ({"counters": RUN}, False, True),
    ({"loads": DOUBT, "counters": RUN}, True, True),
])  # fmt: skip
@pytest.mark.parametrize("resolved", [True, False])
def test_what_is_not_known_of_the_time_between_is_said(facts, order, unlogged, resolved):
    found = in_between({"withdraws": False}, steps=(), resolved=resolved, **facts)
    for text in (found.words, found.gap):
        assert ("the order of 1 load of the day" in text) is order
        assert ("3 cycles in between not logged" in text) is unlogged
    assert ("Positive spore test, 2025-03-03: not proven yet, " in found.gap) is not resolved
    assert found.words.count("not proven yet") == (not resolved), "of what is not proven the span tells"
    assert "what became of" not in found.gap


def test_loads_in_between_are_asked_about_where_the_rules_keep_nothing_out():
    ran = (load("2025-03-06", "8"), load("2025-03-07", "9"))
    assert "what became of 2 loads in between" in in_between({"withdraws": False}, steps=(), loads=ran).gap
    assert "what became of" not in in_between(loads=ran).gap


# ------------------------------------------------------------------------------------------------ service, testing


def test_a_log_in_which_every_job_is_signed_lacks_nothing():
    assert ask("service-log", own_unit(jobs=(job("2025-01-08"),))).gap == ""
    assert ask("service-log", own_unit(jobs=(job("2025-01-08", signed=False),))).gap.startswith(
        "conclusion, or who released it"
    )


def test_a_line_of_the_plan_that_cannot_be_computed_counts_with_those_due():
    """A line of cycles of which no reading tells was not decided about: no full servicing."""
    own = job("2025-03-01", outcomes=(outcome("2025-03-01", "other"),))
    one = own_unit(
        jobs=(own,), plan=(line("other", months=24), line(months=None, cycles=500)), positions=(position(),)
    )
    reply = ask("serviced-yearly", one, regime=RACGP)
    assert "nothing done or decided on 2025-03-01 about" in reply.gap


@pytest.mark.parametrize(("tests", "checks", "answer"), [
    ((), (), "no record found"),
    ((bio("2025-06-25", result="invalid"),), (), "no"),
])  # fmt: skip
def test_nothing_that_counts_is_no_where_something_was_done(tests, checks, answer):
    reply = ask("spore-test-each-period", own_unit(bio_tests=tests, checks=checks))
    assert reply.answer == answer


def test_one_duty_met_late_and_another_never_is_no_plain_no():
    """Each calendar week, missed; of its own at most 400 days, met late."""
    tests = (bio(BEGIN, result="invalid"), bio("2025-06-25", result="pass"))
    reply = ask("spore-test-each-period", own_unit(bio_tests=tests), local_duties=own_duty("rolling-days", 400))
    assert reply.answer == "in part"


def test_a_result_awaited_too_long_is_said_where_a_newer_one_is_awaited():
    late, waits = bio("2025-06-11"), bio("2025-06-25")
    kept = [t for t in WEEKS if t.row.happened_on < on("2025-06-09")]
    reply = ask("spore-test-each-period", own_unit(bio_tests=(*kept, late, waits)))
    assert "A result is awaited for too long." in reply.words
    fine = ask("spore-test-each-period", own_unit(bio_tests=(*WEEKS[:-1], waits)))
    assert fine.answer == "yes" and "is awaited" not in fine.words


def test_where_spore_tests_alone_are_asked_about_no_other_test_is_a_result():
    one = own_unit(air_removal=(air("2025-06-25"),), type="dynamic air removal")
    assert ask("failure-followed", one).answer == "no record found"
    assert ask("out-until-proven", one).answer == "in part", "any test with a result, but the records begin late"


def read_hours(*told):
    return {"counters": tuple(counter(day, shown, counter="hours") for day, shown in told)}


def ran(numbers, minutes=("30",) * 78):
    """A load each week with the tests of the unit, each with its number and minutes."""
    tests = WEEKS[: len(numbers)]
    return {"loads": tuple(load(t.row.happened_on, str(n), minutes=m)
                           for t, n, m in zip(tests, numbers, minutes, strict=False))}  # fmt: skip


RUNS_ON = tuple(range(1, len(WEEKS) + 1))
HOURS = [
    # in use since 1 January 2024, asked on 30 June 2025: at most 31 days at either end are let pass
    (read_hours(("2024-02-01", 1), ("2025-05-30", 90)), True),
    (read_hours(("2024-02-02", 1), ("2025-05-30", 90)), False),
    (read_hours(("2024-02-01", 1), ("2025-05-29", 90)), False),
    (read_hours(("2024-02-01", 1)), False),
    (read_hours(("2023-12-01", 100), ("2023-12-31", 2), ("2025-06-01", 90)), True),  # it fell before the use
    (read_hours(("2023-12-01", 100), ("2024-01-15", 2), ("2025-06-01", 90)), False),  # what ran before is not known
    (ran(RUNS_ON), True),
    (ran(RUNS_ON, (*("30",) * 77, None)), False),
    (ran((*RUNS_ON[:-1], RUNS_ON[-1] + 6)), False),  # six are not in the log, of which two may be tests
    ({}, False),
]


@pytest.mark.parametrize(("facts", "known"), HOURS)
def test_where_the_hours_of_the_whole_time_are_not_known_it_is_said(facts, known):
    """Florida Administrative Code 64B5-25.003: 40 hours of use or 30 days."""
    reply = ask("spore-test-hours-or-days", own_unit(bio_tests=WEEKS, **facts), regime=FLORIDA)
    assert ("hours of use are not known: counted by days alone" in reply.words.casefold()) is not known, reply.words


def test_loads_in_doubt_that_nobody_decided_about_count_where_no_recall_is_asked():
    """An air-removal test failed and passed again: no recall is asked, and what was run since the last good one is
    in doubt until somebody decides."""
    tests = (air("2025-03-03"), air("2025-03-10", "fail", at="07:30"), air("2025-03-11"))
    facts = {
        "bio_tests": WEEKS,
        "air_removal": tests,
        "cases": (case(tests[1].row.ref, "2025-03-10", kind="air removal"),),
    }
    held = own_unit(type="dynamic air removal", loads=(load("2025-03-05", "1"),), **facts)
    reply = ask("packs-recalled", held)
    assert reply.answer == "in part" and "a decision about 1 load affected: failed air-removal test" in reply.gap


@pytest.mark.parametrize(("count", "told"), [(0, "3 missing between them."), (2, "3 missing between them; 2 more")])
def test_cycles_without_a_number_stand_beside_the_numbers_that_are_missing(count, told):
    without = tuple(load(f"2025-03-0{n + 6}", "") for n in range(count))
    held = own_unit(loads=(load("2025-03-05", "1"), load("2025-03-12", "5"), *without))
    assert told in ask("cycle-numbers", held).words
