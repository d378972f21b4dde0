"""A return to use is signed by its person with pass phrase where it is recorded: by hand and after a failure alike,
from the page of the response and from the form of its own (21 CFR 11.50, 11.100, 11.200)."""

from __future__ import annotations

import uuid
from datetime import date, timedelta

import pytest
from django.urls import reverse

from audit.gather.read import clinic_facts
from records import log
from records.log import signatures
from records.models import Entry, FailureCase, FollowUpDone, UnitEvent
from tests import world as made
from tests.security.conftest import PHRASE

pytestmark = pytest.mark.django_db
NEXT = "/c/first/somewhere/"


def who(world) -> dict:
    return {"by": world.people["coordinator"], "request_key": made.key(), "clinic": world.clinic}


@pytest.fixture
def out(world):
    event = {"unit": world.unit, "kind": "withdrawn", "on": made.TODAY - timedelta(days=1), "reason": "door stiff"}
    return log.log_unit_event(**who(world), **event)


@pytest.fixture
def case(world):
    made.spore_test(world, date(2026, 3, 12), test="growth")
    return FailureCase.objects.get()


def by_hand(world, out, **more) -> tuple[str, dict]:
    address = reverse("unit-event", args=[world.clinic.slug, world.unit.ref])
    typed = {"kind": "returned", "reason": "mended", "ends": str(out.ref), "confirmed": "return-early"}
    return address, typed | {"request_key": str(uuid.uuid4()), "on": made.TODAY.isoformat()} | more


def after_failure(world, case, out=None, **more) -> tuple[str, dict]:
    address = reverse("log-follow-up", args=[world.clinic.slug, case.origin])
    typed = {"action": "return", "what": "back", "done_on": made.TODAY.isoformat(), "outcome": "repeat negative"}
    typed |= {"ends": str(out.ref), "confirmed": "return-early"} if out else {}
    return address, typed | {"request_key": str(uuid.uuid4()), "on": made.TODAY.isoformat()} | more


def sign(browser, address: str, phrase: str = PHRASE):
    typed = {"request_key": str(uuid.uuid4()), "name": "coordinator", "phrase": phrase, "next": NEXT}
    return browser.post(address, typed)


def returned() -> UnitEvent:
    return UnitEvent.objects.newest().get(kind="returned")


def test_a_return_by_hand_leads_to_its_signature_and_back(world, out, door, moments):
    browser, _ = door("coordinator")
    address, typed = by_hand(world, out, next=NEXT)
    answer = browser.post(address, typed)
    asked = reverse("sign", args=[world.clinic.slug, "unitevent", returned().origin])
    assert answer.status_code == 302 and answer["Location"].split("?")[0] == asked
    assert signatures.given(returned()) == "entered"
    assert 'value="/c/first/somewhere/"' in browser.get(answer["Location"]).content.decode()
    assert sign(browser, asked, "not hers").status_code == 422 and signatures.given(returned()) == "entered"
    signed = sign(browser, asked)
    assert (signed.status_code, signed["Location"]) == (302, NEXT)
    assert signatures.given(returned()) == "signed" and returned().entry.what == "signature"
    # Sent once more, it is the same return, and what is signed is not asked for again.
    before = Entry.objects.count()
    again = browser.post(address, typed)
    assert (again["Location"], Entry.objects.count()) == (NEXT, before)


def test_what_was_proven_in_the_sitting_signs_the_next_return_at_once(world, out, door, moments):
    browser, _ = door("coordinator")
    browser.post(*by_hand(world, out))
    sign(browser, reverse("sign", args=[world.clinic.slug, "unitevent", returned().origin]))
    event = {"unit": world.unit, "kind": "withdrawn", "on": made.TODAY, "reason": "cord torn"}
    later = log.log_unit_event(**who(world), **event)
    answer = browser.post(*by_hand(world, later, next=NEXT))
    assert answer["Location"] == NEXT
    newest = UnitEvent.objects.newest().get(kind="returned", ends=later)
    assert signatures.given(newest) == "signed" and newest.reason.startswith("mended")


def test_the_return_of_a_failure_is_signed_with_that_of_the_unit_in_one_entry(world, case, out, door, moments):
    browser, _ = door("coordinator")
    answer = browser.post(*after_failure(world, case, out))
    done = FollowUpDone.objects.newest().get()
    asked = reverse("sign", args=[world.clinic.slug, "followupdone", done.origin])
    assert (answer.status_code, answer["Location"]) == (302, asked)
    page = browser.get(asked).content.decode()
    assert "the unit is returned to use after its failure" in page and "repeat negative" in page
    assert sign(browser, asked)["Location"] == NEXT
    done, back = FollowUpDone.objects.newest().get(), returned()
    assert [signatures.given(row) for row in (done, back)] == ["signed", "signed"] and done.entry == back.entry
    (unit,) = clinic_facts(world.clinic).units
    (step,) = unit.cases[0].followups
    assert (step.done_given, step.told, unit.events[-1].given) == ("signed", False, "signed")


# Done by, whether it ends the withdrawal, what is answered, what the record then says of the step.
WHOSE = [
    ("", False, 302, "entered"),
    ("ana  COORDINATOR", False, 302, "entered"),
    ("Lou Loader", False, 302, "told"),
    ("Lou Loader", True, 422, None),  # one person's word of another's return ends nothing
    ("Ana Coordinator", True, 302, "entered"),
]


@pytest.mark.parametrize(("name", "ends", "status", "given"), WHOSE)
def test_only_ones_own_return_ends_a_withdrawal_and_is_signed(world, case, out, door, name, ends, status, given):
    browser, _ = door("coordinator")
    answer = browser.post(*after_failure(world, case, out if ends else None, done_by=name))
    assert answer.status_code == status
    done = FollowUpDone.objects.newest().first()
    assert (done and signatures.given(done)) == given
    assert UnitEvent.objects.filter(kind="returned").exists() == (ends and status == 302)
    assert ("/sign/" in answer.get("Location", "")) == (given == "entered")


def test_other_steps_of_a_failure_are_not_signed(world, case, door):
    browser, _ = door("coordinator")
    answer = browser.post(*after_failure(world, case, action="review"))
    assert answer.status_code == 302 and "/sign/" not in answer["Location"]
    asked = reverse("sign", args=[world.clinic.slug, "followupdone", FollowUpDone.objects.get().origin])
    assert sign(browser, asked).status_code == 422
