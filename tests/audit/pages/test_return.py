"""Returning a unit to use on the pages: which withdrawal it ends, and what was still missing then."""

from __future__ import annotations

from datetime import date

import pytest
from django.urls import reverse

from records import log
from records.models import FailureCase, FollowUpDone, UnitEvent
from tests import world as made
from tests.audit.pages.desk import typed_in
from tests.audit.pages.tools import signed_in, text_of

pytestmark = pytest.mark.django_db
FRIDAY = date(2026, 3, 13)


def who(world) -> dict:
    return {"by": world.people["coordinator"], "request_key": made.key(), "clinic": world.clinic}


def withdrawn(world, reason, on=FRIDAY):
    return log.log_unit_event(**who(world), unit=world.unit, kind="withdrawn", on=on, reason=reason)


def send(client, address, **typed):
    page = client.get(address)
    # The page of the entry posts to itself.
    form = next(f for f in typed_in.forms_of(page) if "request_key" in f["names"])
    values = {k: v for k, v in form["values"].items() if k != "csrfmiddlewaretoken"}
    return client.post(address, values | typed)


def address(world) -> str:
    return reverse("unit-event", args=["first", world.unit.ref])


def test_the_page_offers_the_withdrawals_that_stand_and_asks_which_one_ends(client, world):
    made.weekly_tests(world, 8)
    door, cord = withdrawn(world, "door stiff"), withdrawn(world, "cord torn")
    signed_in(client, world, "coordinator")
    typed = {"kind": "returned", "reason": "door mended", "on": made.TODAY.isoformat()}
    refused = send(client, address(world), **typed)
    assert refused.status_code == 422 and "Which withdrawal does it end?" in text_of(refused)
    assert "door stiff" in text_of(refused) and "cord torn" in text_of(refused)
    asked = send(client, address(world), **typed, ends=str(door.ref), confirmed="return-early")
    assert asked.status_code == 302
    assert UnitEvent.objects.get(kind="returned").ends == door
    choices = next(f for f in typed_in.forms_of(client.get(address(world))) if "ends" in f["names"])["choices"][
        "ends"
    ]
    assert choices == ["", str(cord.ref)], "what was ended is not offered again"


def test_a_return_before_the_proof_says_what_is_missing_and_records_it(client, world):
    out = withdrawn(world, "positive test", FRIDAY)
    made.spore_test(world, date(2026, 3, 12), test="growth")
    signed_in(client, world, "coordinator")
    typed = {"kind": "returned", "reason": "needed today", "ends": str(out.ref), "on": made.TODAY.isoformat()}
    asked = send(client, address(world), **typed)
    assert asked.status_code == 422 and "It is not proven yet: Out of service" in text_of(asked)
    assert not UnitEvent.objects.filter(kind="returned").exists()
    assert send(client, address(world), **typed, confirmed="return-early").status_code == 302
    reason = UnitEvent.objects.get(kind="returned").reason
    assert reason.startswith("needed today (was missing: Out of service: ")


def test_a_return_with_its_proof_asks_nothing(client, world):
    made.weekly_tests(world, 60)
    out = withdrawn(world, "room painted")
    signed_in(client, world, "coordinator")
    typed = {"kind": "returned", "reason": "paint dry", "ends": str(out.ref), "on": made.TODAY.isoformat()}
    assert send(client, address(world), **typed).status_code == 302
    assert UnitEvent.objects.get(kind="returned").reason == "paint dry"


@pytest.mark.parametrize("named", [True, False])
def test_a_follow_up_that_is_the_return_ends_the_withdrawal_where_the_person_says_so(client, world, named):
    made.spore_test(world, date(2026, 3, 12), test="growth")
    out = withdrawn(world, "positive test")
    case = FailureCase.objects.get()
    signed_in(client, world, "coordinator")
    typed = {
        "action": "return",
        "what": "back to use",
        "done_on": made.TODAY.isoformat(),
        "outcome": "repeat negative",
    }
    typed |= {"ends": str(out.ref)} if named else {}
    where = reverse("log-follow-up", args=["first", case.origin])
    if named:
        asked = send(client, where, **typed)
        assert asked.status_code == 422 and not FollowUpDone.objects.exists(), "both or none"
        typed["confirmed"] = "return-early"
    assert send(client, where, **typed).status_code == 302
    assert FollowUpDone.objects.count() == 1
    back = UnitEvent.objects.filter(kind="returned")
    assert [(e.ends, e.reason.split(" (")[0], e.happened_on) for e in back] == (
        [(out, "repeat negative", made.TODAY)] if named else []
    )


def test_only_a_return_that_was_done_ends_a_withdrawal(client, world):
    made.spore_test(world, date(2026, 3, 12), test="growth")
    out = withdrawn(world, "positive test")
    signed_in(client, world, "coordinator")
    where = reverse("log-follow-up", args=["first", FailureCase.objects.get().origin])
    typed = {"action": "review", "what": "look", "done_on": made.TODAY.isoformat(), "outcome": "seen"}
    refused = send(client, where, **typed, ends=str(out.ref))
    assert refused.status_code == 422 and "Only a return that was done ends a withdrawal" in text_of(refused)
    assert not UnitEvent.objects.filter(kind="returned").exists()


def test_a_follow_up_given_as_a_return_offers_it_when_it_is_done(client, world):
    made.spore_test(world, date(2026, 3, 12), test="growth")
    out = withdrawn(world, "positive test")
    case = FailureCase.objects.get()
    log.log_follow_up(**who(world), case=case, action="return", what="back to use", on=made.TODAY)
    row = case.followups.get()
    signed_in(client, world, "coordinator")
    where = reverse("follow-up-done", args=["first", row.origin])
    typed = {"outcome": "repeat negative", "ends": str(out.ref), "confirmed": "return-early"}
    assert send(client, where, **typed).status_code == 302
    assert UnitEvent.objects.get(kind="returned").ends == out and FollowUpDone.objects.count() == 1
