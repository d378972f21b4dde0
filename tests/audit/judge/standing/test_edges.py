"""The edges of the answers: which row decides, from which day, and what does not."""

from dataclasses import replace

import pytest

from audit.judge.evaluate import evaluate_unit
from audit.regimes import load_regime
from tests.audit.judge.standing_of import START, TESTED, standing
from tests.fact_builders import (
    bio,
    case,
    check,
    clinic,
    document,
    event,
    gap,
    job,
    line,
    load,
    on,
    outcome,
    part,
    placed,
    seen,
    step,
    unit,
    user_check,
)

WORK = {"outcomes": (outcome("2025-05-01"),)}


def test_not_in_use_before_it_begins_and_in_use_on_that_day():
    """On the register from 2024-01-01."""
    assert standing("2023-12-31", events=(), bio_tests=()).rule == "R1"
    assert standing("2024-01-01", events=(), bio_tests=()).rule == "R11"


def test_an_event_says_by_whom_and_why():
    told = standing("2025-06-25", events=(START, event("2025-06-02", "decommissioned", "worn out", "A. Manager")))
    assert told.reason == "decommissioned on 2025-06-02 by A. Manager: worn out"
    assert standing("2025-06-25", events=(START, event("2025-06-02", "decommissioned"))).reason == (
        "decommissioned on 2025-06-02"
    )


def test_a_safety_finding_since_the_first_of_them():
    found = tuple(
        job(day, tests=(), findings=(seen(day, decision="condemn"),)) for day in ("2025-05-01", "2025-06-01")
    )
    said = standing("2025-06-25", jobs=found)
    assert (said.rule, said.since, len(said.proof)) == ("R2", on("2025-05-01"), 2)


def test_out_from_the_day_after_the_last_valid_one():
    papers = (
        document("pressure examination", "2024-06-01", "2025-05-31", unit="unit-1"),
        document("insurance", "2025-06-10", "2030-01-01", unit="unit-1"),
    )
    assert standing("2025-05-31", documents=papers).rule == "R11"
    said = standing("2025-06-25", documents=papers)
    assert (said.rule, said.since) == ("R3", on("2025-06-01"))
    renewed = (*papers, document("pressure examination", "2025-06-25", "2026-06-24", unit="unit-1"))
    assert standing("2025-06-25", documents=renewed).rule == "R11"  # valid from the day itself


def test_a_legal_examination_too_long_ago_rests_on_its_report():
    """Health and Safety Authority, Ireland: at most 14 months, self-generating."""
    report = document("pressure examination", "2024-01-09", unit="unit-1")
    said = standing("2025-06-25", documents=(report,), regime="ie", events=(event("2023-01-09"),), bio_tests=())
    assert (said.rule, said.since) == ("R3", on("2025-03-10"))
    assert [e.ref for e in said.proof] == [report.row.ref]
    never = standing("2025-06-25", regime="ie", events=(event("2023-01-09"),), bio_tests=())
    assert never.rule == "R3"


@pytest.mark.parametrize("repeat", [False, True])
def test_a_failed_repeat_is_named(repeat):
    tests = [bio("2025-06-23", result="growth", known="2025-06-23")]
    tests += [bio("2025-06-24", result="growth", known="2025-06-24", purpose="repeat")] if repeat else []
    said = standing("2025-06-25", bio_tests=(*TESTED[:-1], *tests))
    assert said.rule == "R4" and ("the repeat failed too" in said.reason) is repeat


def test_a_return_that_was_asked_for_and_not_done_undoes_no_withdrawal():
    failed = bio("2025-05-12", result="growth", known="2025-05-12")
    proof = bio("2025-05-13", result="pass", known="2025-05-14", purpose="repeat")
    asked = case(failed.row.origin, "2025-05-12", step("2025-05-15", "return"))
    events = (START, event("2025-05-12", "withdrawn"))
    said = standing("2025-06-25", events=events, bio_tests=(*TESTED, failed, proof), cases=(asked,))
    assert said.rule == "R4" and "taken out of service" in said.reason


TORONTO = "ca-toronto-personal-services"
USED = tuple(load(f"2025-06-{day:02d}") for day in range(1, 26))
PASSES = tuple(bio("2025-06-01", result="pass", known="2025-06-01") for _ in range(3))


def test_the_oldest_event_that_waits_is_named_with_what_is_missing():
    """Toronto Public Health, BodySafe: three passes before use after a move and after a repair."""
    moved = event("2025-06-20", "relocated")
    renewed = job("2025-06-22", parts=(part("2025-06-22"),))
    begin = event("2025-06-01")
    more = {"regime": TORONTO, "loads": USED, "bio_tests": PASSES}
    said = standing("2025-06-25", events=(begin, moved), **more)
    assert (str(said.word), said.rule, said.since) == ("Waiting for proof", "R5", on("2025-06-20"))
    assert " after relocated on 2025-06-20: " in said.reason and "3 more" in said.reason
    assert [e.ref for e in said.proof] == [moved.row.ref]
    both = standing("2025-06-25", events=(begin, moved), jobs=(renewed,), **more)
    assert both.rule == "R5" and len(both.proof) == 2
    assert both.since == on("2025-06-20") and "relocated" in both.reason


def test_a_look_that_found_nothing_to_do_keeps_a_limitation():
    limited = job("2025-05-01", end="limited", **WORK)
    looked = job("2025-06-01", tests=(), end="not worked on", signed=False)
    assert standing("2025-06-25", jobs=(limited, looked)).rule == "R7"


def test_the_last_proof_of_work_is_work():
    done = job("2025-05-01", **WORK)
    looked = job("2025-06-01", tests=(), end="not worked on", signed=False)
    said = standing("2025-06-25", jobs=(done, looked))
    assert said.rule == "R11" and done.row.ref in {e.ref for e in said.proof}
    assert looked.row.ref not in {e.ref for e in said.proof}
    assert said.since == on("2025-05-01")


def test_the_next_stop_is_the_first_to_come():
    plan = (line("b", months=24, position=""), line("a", months=12, position=""))
    tests = (*TESTED, bio("2025-06-26", result="pass"))
    assert "next stop: Spore test" in standing("2025-06-25", plan=plan, bio_tests=tests).reason
    said = standing("2025-06-25", regime="base", plan=plan)
    assert "next stop: a, due 2026-01-01" in said.reason


@pytest.mark.parametrize(
    ("events", "since"),
    [
        ((START,), "2025-01-01"),
        ((START, event("2025-04-01", "relocated")), "2025-04-03"),  # the first test passed there, known
        ((START, event("2025-04-01", "withdrawn"), event("2025-04-03", "returned")), "2025-04-03"),
        ((), "2025-01-02"),  # on record since 2024, and no result was known until then: overdue before
    ],
)
def test_in_service_since(events, since):
    said = standing("2025-06-25", events=events, placements=(placed("2025-01-01"),))
    assert (said.rule, said.since) == ("R11", on(since) if since else None)


def test_where_nothing_is_asked_and_nobody_installed_it_since_when_is_not_known():
    assert standing("2025-06-25", regime="base", events=()).since is None


def test_what_never_stopped_the_unit_begins_nothing():
    """A failed chemical indicator asks a review, not a withdrawal."""
    bad = bio("2025-05-14", result="pass", known="2025-05-14", mechanical="fail")
    good = bio("2025-05-15", result="pass", known="2025-05-15")
    said = standing("2025-06-25", bio_tests=(*TESTED, bad, good))
    assert (said.rule, said.since) == ("R11", on("2025-01-01"))


@pytest.mark.parametrize(
    ("whose", "first", "rule"),
    [
        ("", "2025-05-01", "R10"),
        ("unit-1", "2025-05-01", "R10"),
        ("unit-2", "2025-05-01", "R11"),
        ("", "2025-06-25", "R10"),
    ],
)
def test_a_known_gap_of_the_place_or_of_this_unit(whose, first, rule):
    noted = gap(first, "2025-06-25", "2025-06-01", unit=whose)
    assert standing("2025-06-25", place={"gaps": (noted,)}).rule == rule


def test_a_gap_counts_since_it_was_noted_or_since_the_unit_is_back_where_that_is_later():
    noted = {"place": {"gaps": (gap("2025-05-01", "2025-06-25", "2025-06-01"),)}}
    assert standing("2025-06-25", **noted).since == on("2025-06-01")
    back = (START, event("2025-06-05", "withdrawn"), event("2025-06-10", "returned"))
    assert standing("2025-06-25", events=back, **noted).since == on("2025-06-10")
    assert standing("2025-06-25", events=(), regime="base", **noted).since == on("2025-06-01")


def test_of_two_events_the_older_one_is_named_whatever_it_is():
    planned, moved = job("2025-06-20", parts=(part("2025-06-20"),)), event("2025-06-22", "relocated")
    more = {"regime": TORONTO, "loads": USED, "bio_tests": PASSES, "jobs": (planned,)}
    said = standing("2025-06-25", events=(event("2025-06-01"), moved), **more)
    assert (said.rule, said.since, len(said.proof)) == ("R5", on("2025-06-20"), 2)
    assert "relocated" not in said.reason


def test_the_way_back_names_what_lacks_a_value_and_what_is_missing():
    sensor = (part("2025-06-20", "temperature-sensor", "replaced on condition", "temperature sensor"),)
    made = job("2025-06-20", tests=(check("2025-06-20", "V4", value=""),), parts=sensor)
    first = "V1 function cycle, readings compared"
    end = "; then release the unit, and the clinic returns it to use"
    said = standing("2025-06-25", jobs=(made,))
    assert said.lifted_by == (
        "the technician: record values with V4 calibration check; then complete V1 function cycle, readings compared"
        + end
    )
    failed = job("2025-06-20", tests=(check("2025-06-20", "V1", "fail"), "V4"), parts=sensor)
    assert standing("2025-06-25", jobs=(failed,)).lifted_by == f"the technician: pass {first}{end}"


def test_in_plain_words_where_nothing_is_wrong():
    said = standing("2025-06-25").reason
    assert said.startswith(
        "no open failure, nothing overdue; last proof: spore test of 2025-06-18: passed; next stop: "
    )
    silent = standing("2025-06-25", regime="base", bio_tests=()).reason
    assert silent.startswith(
        "no open failure, nothing overdue of what is asked here (these rules name no frequency of "
    )
    assert "; no proof on record" in silent


def test_of_the_tests_of_today_the_first_is_named_and_the_others_counted():
    """HTM 01-05 (2013) 11.12: signed before return to use; a second such test, invented."""
    htm = load_regime("gb-eng-dental-htm0105")
    first = next(d for d in htm.duties if d.every == "day-of-use" and d.forbids)
    second = replace(first, id="second", subject="water", title="Second test")
    done = (user_check("2025-06-24"), user_check("2025-06-24", "water"), user_check("2025-06-24", "safety check"))

    def said(*duties, checks=done, as_of="2025-06-25"):
        held, rules = unit(events=(START,), checks=checks), replace(htm, duties=duties)
        return evaluate_unit(held, clinic(held, regime="base"), rules, on(as_of)).standing

    one, both = said(first), said(first, second)
    assert one.reason == f"today's test is not done: {first.title} due before the first load today"
    assert both.reason == f"{one.reason} and 1 more"
    assert [e.ref for e in one.proof] == [done[0].row.ref]
    assert [e.ref for e in both.proof] == [c.row.ref for c in done[:2]]
    other = replace(first, id="other", subject="safety check", every="calendar-week", forbids=False)
    assert [e.ref for e in said(first, other).proof] == [done[0].row.ref]
    assert said(first, second, checks=done[:1]).proof == one.proof, "the second was never done"


@pytest.mark.parametrize(("forbids", "rule"), [(True, "R5"), (False, "R8")])
def test_tests_after_an_event_keep_it_waiting_only_where_the_rules_forbid_use_before(forbids, rule):
    toronto = load_regime(TORONTO)
    duty = next(d for d in toronto.duties if d.id == "biological-test-after-event")
    rules = replace(toronto, duties=(replace(duty, forbids=forbids),))
    held = unit(events=(event("2025-06-01"), event("2025-06-20")), bio_tests=PASSES, loads=USED)
    assert evaluate_unit(held, clinic(held, regime="base"), rules, on("2025-06-25")).standing.rule == rule


def test_a_visit_without_its_conclusion_is_covered_by_the_release_of_a_later_one():
    first = job("2025-05-01", end="", outcomes=(outcome("2025-05-01"),))
    later = job("2025-05-02", outcomes=(outcome("2025-05-02"),))
    said = standing("2025-06-25", jobs=(first, later))
    assert (said.rule, said.since) == ("R11", on("2025-05-02"))
    assert later.row.ref in {e.ref for e in said.proof} and first.row.ref not in {e.ref for e in said.proof}
    after = standing("2025-06-25", jobs=(replace(later, row=replace(later.row, happened_on=on("2025-04-30"))), first))
    assert after.rule == "R5" and "work started, not concluded" in after.reason


def test_a_report_that_holds_only_from_a_later_day_renews_nothing_yet():
    old = document("pressure examination", "2024-06-01", "2025-05-31", unit="unit-1")
    new = replace(document("pressure examination", "2025-06-20", "2026-06-30"), valid_from=on("2025-07-01"))
    assert standing("2025-06-25", documents=(old, new)).rule == "R3"
    assert standing("2025-06-25", documents=(old, replace(new, valid_from=on("2025-06-25")))).rule == "R11"


@pytest.mark.parametrize(("forbids", "rule"), [(True, "R3"), (False, "R9")])
def test_a_legal_examination_that_is_late_stops_it_only_where_the_rules_forbid_use_without(forbids, rule):
    """Health and Safety Authority, Ireland: at most 14 months; without the prohibition: invented."""
    ireland = load_regime("ie")
    duty = next(d for d in ireland.duties if d.subject == "pressure examination")
    held = unit(events=(event("2023-01-09"),), documents=(document("pressure examination", "2024-01-09"),))
    rules = replace(ireland, duties=(replace(duty, forbids=forbids),))
    assert evaluate_unit(held, clinic(held, regime="base"), rules, on("2025-06-25")).standing.rule == rule


def test_how_many_failed_is_said_only_where_one_does_not_stop_it():
    grown = bio("2025-06-23", result="growth", known="2025-06-23")
    assert "failed before one was proven" not in standing("2025-06-25", bio_tests=(*TESTED[:-1], grown)).reason
    loads = tuple(load(f"2025-06-{n}", str(n), mechanical="fail") for n in (22, 23, 24))
    said = standing("2025-06-25", bio_tests=TESTED[:-1], loads=loads)
    assert (said.rule, said.since) == ("R4", on("2025-06-23"))
    assert said.reason.endswith("; 3 failed before one was proven again")
    alone = standing("2025-06-25", bio_tests=TESTED[:-1], loads=loads[:1])
    assert alone.rule == "R11" and "a failure is open" in alone.reason


@pytest.mark.parametrize(("subject", "rule"), [("safety check", "R8"), ("validation report", "R9")])
def test_a_check_that_is_late_is_a_test_and_a_paper_is_not(subject, rule):
    htm = load_regime("gb-eng-dental-htm0105")
    duty = next(d for d in htm.duties if d.subject == subject)
    rules = replace(htm, duties=(replace(duty, forbids=False),))
    held = unit(events=(event("2023-01-02"),))
    assert evaluate_unit(held, clinic(held, regime="base"), rules, on("2025-06-25")).standing.rule == rule
