"""The guided response: each step as the rules' path says, what it records, and what is still missing."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.urls import reverse

from records import clock, log
from records.models import (
    AirRemovalTest,
    BioReading,
    BioTest,
    ChemicalResult,
    Entry,
    FailureCase,
    FollowUp,
    FollowUpDone,
    UnitEvent,
)
from tests import world as made
from tests.audit.pages.desk import typed_in
from tests.audit.pages.tools import INSIDERS, OUTSIDERS, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def case(world):
    """A positive test run on Friday, read on Saturday, with two loads after the last negative test."""
    made.spore_test(world, date(2026, 3, 6))
    fine = {"mechanical": "pass", "chemical": "pass", "decision": "released"}
    typed_in.load(world, "0811", date(2026, 3, 9), contents="packs 1 to 3", **fine)
    typed_in.load(world, "0812", date(2026, 3, 12), contents="packs 4 to 6", **fine)
    made.spore_test(world, date(2026, 3, 13), test="growth", cycle_type="wrapped 134")
    return FailureCase.objects.get()


def response(client, world, case, role="coordinator"):
    return signed_in(client, world, role).get(reverse("response", args=["first", case.origin]))


def actions_of(answer) -> dict:
    return {f["at"].get("action"): f for f in typed_in.forms_of(answer) if "data-outbox" in f["at"]}


@pytest.mark.parametrize("role", INSIDERS)
def test_people_of_the_clinic_see_the_steps_and_who_may_log_gets_the_forms(client, world, case, role):
    answer = response(client, world, case, role)
    assert answer.status_code == 200 and "Step by step" in text_of(answer)
    assert bool(actions_of(answer)) == (role != "viewer")


@pytest.mark.parametrize("role", OUTSIDERS)
def test_for_everybody_else_it_does_not_exist(client, world, case, role):
    assert response(client, world, case, role).status_code == 404
    assert client.get(reverse("response-wall", args=["first", case.origin])).status_code == 404


def test_it_says_what_to_do_now_why_with_its_source_and_what_is_missing(client, world, case):
    seen = text_of(response(client, world, case))
    assert "Out of service" in seen and "Still missing before it may return" in seen
    # CDC 2003 (MMWR 52 RR-17) VI.F: out of service, review, repeat, in this order.
    order = [seen.index(w) for w in ("Take the unit out of service", "Review the process", "Repeat the test in the")]
    assert order == sorted(order)
    assert "Also open: Take the unit out of service Review the process" in seen
    assert "Do this now." in seen and "Why: CDC 2003 (MMWR 52 RR-17) VI.F" in seen
    assert "Still missing before it may return: 1 more passing repeat(s)" in seen


def test_the_loads_affected_are_named_by_their_numbers(client, world, case):
    seen = text_of(response(client, world, case)).split("Loads affected")[1]
    assert "0811" in seen and "0812" in seen and "2 loads" in seen
    assert "after 6 Mar 2026, up to and with" in seen


def test_taking_it_out_of_service_is_one_tap_with_its_reason_filled_in(client, world, case):
    answer = response(client, world, case)
    address = reverse("unit-event", args=["first", world.unit.ref])
    form = actions_of(answer)[address]
    sent = typed_in.send(client, form, reason="Positive spore test of 13 March")
    assert sent.status_code == 302 and sent.url == reverse("response", args=["first", case.origin])
    event = UnitEvent.objects.get(kind="withdrawn")
    assert (event.reason, event.happened_on) == ("Positive spore test of 13 March", made.TODAY)
    assert address not in actions_of(client.get(sent.url)), "what is done is not asked again"


def test_a_step_is_done_by_whom_when_and_shown_by_what(client, world, case):
    address = reverse("log-follow-up", args=["first", case.origin])
    forms = [f for f in typed_in.forms_of(response(client, world, case)) if f["at"].get("action") == address]
    review = [f for f in forms if f["values"]["action"] == "review"]
    done = next(f for f in review if "outcome" in f["names"])
    assert "outcome" not in done["values"]
    refused = typed_in.send(client, done)
    assert refused.status_code == 422 and not FollowUp.objects.exists()
    sent = typed_in.send(client, done, done_by="Pat Operator", outcome="cassette overloaded, see log book page 14")
    assert sent.status_code == 302
    set_, finished = FollowUp.objects.get(), FollowUpDone.objects.get()
    assert (set_.action, set_.case) == ("review", case) and set_.what.startswith("Review the process")
    assert (finished.followup, finished.done_by, finished.happened_on) == (set_, "Pat Operator", made.TODAY)
    assert finished.outcome == "cassette overloaded, see log book page 14"
    assert "cassette overloaded" in text_of(client.get(sent.url))
    before = Entry.objects.count()
    again = typed_in.send(client, done, done_by="Pat Operator", outcome="cassette overloaded, see log book page 14")
    assert again.status_code == 302 and Entry.objects.count() == before


def test_a_step_given_to_somebody_waits_and_is_then_done(client, world, case):
    address = reverse("log-follow-up", args=["first", case.origin])
    forms = [f for f in typed_in.forms_of(response(client, world, case)) if f["at"].get("action") == address]
    give = next(f for f in forms if f["values"]["action"] == "review" and "owner" in f["names"])
    sent = typed_in.send(client, give, what="Look through the printouts", owner="Pat Operator", due_on="2026-03-20")
    assert sent.status_code == 302
    page = client.get(sent.url)
    assert "Set: Look through the printouts, Pat Operator, by 20 Mar 2026" in text_of(page).replace(" ,", ",")
    done = actions_of(page)[reverse("follow-up-done", args=["first", FollowUp.objects.get().origin])]
    assert typed_in.send(client, done, outcome="nothing unusual").status_code == 302
    assert FollowUpDone.objects.get().outcome == "nothing unusual"


def test_the_repeat_is_started_from_its_step_read_there_and_lets_the_unit_return(client, world, case):
    start = actions_of(response(client, world, case))[reverse("day-start", args=["first", world.unit.ref])]
    assert (start["values"]["purpose"], start["values"]["cycle_type"]) == ("repeat", "wrapped 134")
    sent = typed_in.send(client, start, chamber="full", mechanical="pass", chemical="pass")
    assert sent.status_code == 302 and sent.url == reverse("response", args=["first", case.origin])
    repeat = BioTest.objects.get(purpose="repeat")
    page = client.get(sent.url)
    assert "Spore tests that are in" in text_of(page)
    read_at = reverse("day-read", args=["first", repeat.origin])
    with clock.at(made.NOW + timedelta(hours=25)):
        read = actions_of(client.get(sent.url))[read_at]
        answer = typed_in.send(client, read, test="no growth", control="growth")
        assert answer.status_code == 302 and BioReading.objects.get(bio_test=repeat).test == "no growth"
        closed = client.get(answer.url)
        assert "This failure is closed: returned on 17 Mar 2026" in text_of(closed)
        back = actions_of(closed)[reverse("unit-event", args=["first", world.unit.ref])]
        assert back["values"]["kind"] == "returned" and back["values"].get("reason", "") == ""
        assert typed_in.send(client, back).status_code == 422, "a return needs its reason"
        signing = typed_in.send(client, back, reason="repeat negative")
        assert signing.status_code == 302 and "/sign/" in signing.url, "whoever returned it signs it, from here too"
    assert UnitEvent.objects.get(kind="returned").reason == "repeat negative"


def test_a_repeat_that_grows_asks_the_cause_and_three_tests_in_an_empty_chamber(client, world, case):
    made.spore_test(world, date(2026, 3, 14), test="growth", cycle_type="wrapped 134", purpose="repeat")
    answer = response(client, world, case)
    seen = text_of(answer)
    # CDC 2003 (MMWR 52 RR-17) VI.F and narrative pp. 24-25: cause, then three negative tests, chamber empty; recall.
    assert "Inspect, repair or find the exact cause" in seen and "Three negative tests in a row" in seen
    assert "the cause found or repaired" in seen and "Recall: everything since the last negative test" in seen
    starts = [f for f in typed_in.forms_of(answer) if f["at"].get("action", "").endswith("/spore-test/")]
    assert [f["values"]["purpose"] for f in starts] == ["requalification"]


def test_a_notice_to_an_authority_has_its_last_day(client, world, case):
    log.log_terms(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, effective_on=date(2026, 3, 1),
        name="First Clinic", programme="body art", address="1 Invented Street", time_zone="America/Denver",
        week_start=0, regime="us-mt-body-art",
    )  # fmt: skip
    answer = response(client, world, case)
    # ARM 37.112.131: within one business day. Known on Saturday 14 March 2026, so by Monday the 16th.
    assert "Tell the health authority" in text_of(answer) and "due by 16 Mar 2026" in text_of(answer)
    wall = client.get(reverse("response-wall", args=["first", case.origin]))
    assert "Tell the health authority , due by 16 Mar 2026" in text_of(wall)


def test_the_page_for_the_wall_says_what_to_do_now_and_has_no_forms(client, world, case):
    signed_in(client, world, "viewer")
    answer = client.get(reverse("response-wall", args=["first", case.origin]))
    seen = text_of(answer)
    for words in ("Out of service", "What to do now", "Take the unit out of service", "Who:", "When:", "0811", "0812",
                  "Still missing before it may return: 1 more passing repeat(s)", "outrank"):  # fmt: skip
        assert words in seen, words
    assert "Inspect, repair or find the exact cause" not in seen, "only what is open stands there"
    assert [f for f in typed_in.forms_of(answer) if f["at"].get("action") != reverse("sign-out")] == []


def test_a_failed_air_removal_test_asks_a_technician_first_and_is_repeated_from_its_step(client, world):
    log.log_air_removal(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit,
        on=date(2026, 3, 13), result="fail",
    )  # fmt: skip
    case = FailureCase.objects.get()
    answer = response(client, world, case)
    # CDC 2008 (Guideline for Disinfection and Sterilization): not used until inspected and it passes.
    assert "Inspection by a technician" in text_of(answer)
    form = actions_of(answer)[reverse("day-air-removal", args=["first", world.unit.ref])]
    assert typed_in.send(client, form, result="pass").status_code == 302
    assert AirRemovalTest.objects.count() == 2


def failed_strip(world):
    return log.log_chemical(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit,
        on=date(2026, 3, 13), type=5, result="fail", cycle_number="812",
    )  # fmt: skip


def test_a_failure_without_a_case_row_is_found_by_what_failed(client, world):
    row = failed_strip(world)
    who = {"by": world.people["coordinator"], "request_key": made.key()}
    log.void(**who, row=FailureCase.objects.get(), reason="kept on another list")
    signed_in(client, world, "coordinator")
    address = reverse("response", args=["first", row.origin])
    assert address in client.get(reverse("day", args=["first"])).content.decode()
    answer = client.get(address)
    assert answer.status_code == 200 and "has no case of its own" in text_of(answer)
    form = actions_of(answer)[reverse("day-chemical", args=["first", world.unit.ref])]
    assert typed_in.send(client, form, type="5", result="pass", cycle_number="813").status_code == 302
    assert ChemicalResult.objects.count() == 2


def test_a_failing_chemical_indicator_leads_to_its_load_its_review_and_its_end(client, world):
    # CDC 2003 (MMWR 52 RR-17) VI.F: packs are not used when mechanical or chemical results point to failure.
    row = typed_in.load(world, "812", date(2026, 3, 13), contents="packs 7 to 9")
    failed_strip(world)
    case = FailureCase.objects.get(kind="chemical")
    answer = response(client, world, case)
    seen = text_of(answer)
    assert "The load of the failed cycle" in seen and "packs 7 to 9" in seen and "Review the load" in seen
    assert "In service" not in seen.split("Step by step")[1]
    decide = actions_of(answer)[reverse("day-release", args=["first", row.origin])]
    assert "decision" not in decide["values"]
    sent = typed_in.send(client, decide, decision="rejected", reason="strip in pack 7 failed")
    assert sent.status_code == 302 and sent.url == reverse("response", args=["first", case.origin])
    page = client.get(sent.url)
    assert "Rejected 16 Mar 2026" in text_of(page).replace("Rejected  ", "Rejected ")
    review = next(
        f for f in typed_in.forms_of(page)
        if f["values"].get("action") == "review" and "outcome" in f["names"]
    )  # fmt: skip
    assert typed_in.send(client, review, outcome="pack overloaded; packs run again").status_code == 302
    again = actions_of(client.get(sent.url))[reverse("day-chemical", args=["first", world.unit.ref])]
    answer = typed_in.send(client, again, type="5", result="pass", cycle_number="813")
    assert "This failure is closed: passed on 16 Mar 2026" in text_of(client.get(answer.url))
    assert not [line for line in text_of(client.get(reverse("day", args=["first"]))).split() if line == "812"]


def test_a_load_that_failed_leads_to_its_own_response_and_the_next_load_ends_it(client, world):
    address = reverse("day-load", args=["first", world.unit.ref])
    form = typed_in.form_to(signed_in(client, world, "coordinator").get(address), address)
    typed = {"cycle_number": "900", "program": "wrapped 134", "mechanical": "fail"}
    sent = typed_in.send(client, form, **typed, decision="rejected", reason="aborted at plateau")
    case = FailureCase.objects.get(kind="mechanical")
    assert sent.url == reverse("response", args=["first", case.origin])
    page = client.get(sent.url)
    assert "A cycle with passing mechanical results afterwards" in text_of(page)
    again = actions_of(page)[address]
    with clock.at(made.NOW + timedelta(hours=1)):
        passing = {"cycle_number": "901", "program": "wrapped 134", "mechanical": "pass", "chemical": "pass"}
        done = typed_in.send(client, again, **passing, at="10:00", decision="released")
        assert done.status_code == 302 and done.url == sent.url
        assert "This failure is closed" in text_of(client.get(sent.url))


def test_the_case_row_of_a_repeat_that_grew_too_leads_to_the_same_response(client, world, case):
    test = made.spore_test(world, date(2026, 3, 14), test="growth", cycle_type="wrapped 134", purpose="repeat")
    second = FailureCase.objects.get(opened_by=test.origin)
    answer = response(client, world, second)
    assert answer.status_code == 200 and "Three negative tests in a row" in text_of(answer)
