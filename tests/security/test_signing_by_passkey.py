"""Signing with a passkey in place of the pass phrase: by who is signed in, checked by the device, once a sitting."""

from __future__ import annotations

import pytest
from django.urls import reverse

from audit.gather.read import clinic_facts
from records import log
from records.log import signatures
from records.models import DoorEvent
from tests import world as made
from tests.security.authenticator import PRESENT, Device
from tests.security.conftest import PHRASE
from tests.security.test_passkeys import added, asked, given
from tests.security.test_signatures import address, decision, of, sent, visit  # noqa: F401 (fixtures)

pytestmark = pytest.mark.django_db


@pytest.fixture
def technician(world, door, moments):
    """(browser, device): signed in, with a passkey."""
    browser, _ = door("technician")
    return browser, added(browser)


def signed_by(browser, device, row, world, name: str = "technician", phrase: str = "", **wrong):
    answer = device.give(asked(browser, "passkey-to-sign"), **wrong)
    return browser.post(address(row, world), sent(name, phrase) | {"passkey": answer})


def test_a_passkey_signs_and_is_shown_as_what_it_is(world, visit, technician):  # noqa: F811
    browser, device = technician
    row = of(visit, "released")
    assert "Sign with my passkey" in browser.get(address(row, world)).content.decode()
    answer = signed_by(browser, device, row, world)
    assert answer.status_code == 302
    signed = of(visit, "released")
    assert signatures.given(signed) == "signed" and signed.amends_id == row.pk
    assert signed.entry.account == world.people["technician"] and signed.entry.what == "signature"
    assert "signed with passkey" in browser.get(answer["Location"]).content.decode()
    (unit,) = [u for u in clinic_facts(world.clinic).units if u.label == world.unit.label]
    given_words = {s.meaning: s.given_words for job in unit.jobs for s in job.signatures}
    assert given_words["released"] == "signed with passkey"
    assert DoorEvent.objects.filter(account=world.people["technician"], what="signed with passkey").exists()


def test_the_browser_is_told_to_have_the_person_checked(world, technician):
    browser, _ = technician
    options = asked(browser, "passkey-to-sign")
    assert options["userVerification"] == "required" and options["rpId"] == "localhost"
    assert len(options["allowCredentials"]) == 1


def test_a_device_that_did_not_check_its_person_does_not_sign(world, visit, technician):  # noqa: F811
    """7.2, 17 of W3C Web Authentication Level 2 (from memory)."""
    browser, device = technician
    row = of(visit, "released")
    answer = signed_by(browser, device, row, world, flags=PRESENT)
    assert answer.status_code == 422 and "did not check that it is you" in answer.content.decode()
    assert signatures.given(of(visit, "released")) == "entered"
    last = DoorEvent.objects.filter(account=world.people["technician"]).latest("pk")
    assert last.what == "passkey refused"
    assert browser.post(address(row, world), sent("technician")).status_code == 302, "the pass phrase signs"


# Wrong answers, as at signing in.
WRONG = [
    {"challenge": "AAAA"},
    {"origin": "https://evil.example"},
    {"site": "evil.example"},
    {"signature": b"0" * 70},
]


@pytest.mark.parametrize("wrong", WRONG, ids=[next(iter(each)) for each in WRONG])
def test_what_does_not_fit_signs_nothing_even_after_a_signature(world, visit, technician, wrong):  # noqa: F811
    browser, device = technician
    row = of(visit, "released")
    answer = signed_by(browser, device, row, world, **wrong)
    assert answer.status_code == 422 and signatures.given(of(visit, "released")) == "entered"
    assert browser.post(address(row, world), sent("technician", "")).status_code == 422, "nor is the sitting proven"


def test_an_answer_signs_once(world, visit, decision, door, moments):  # noqa: F811
    browser, _ = door("operator")
    device = added(browser)
    answer = device.give(asked(browser, "passkey-to-sign"))
    row = decision
    assert browser.post(address(row, world), sent("operator", "") | {"passkey": answer}).status_code == 302
    load = log.log_load(
        by=world.people["operator"], request_key=made.key(), clinic=world.clinic, unit=world.unit, on=made.TODAY,
        cycle_number="2", program="wrapped",
    )  # fmt: skip
    again = log.release_load(
        by=world.people["operator"], request_key=made.key(), clinic=world.clinic, load=load, decision="rejected",
        reason="torn", on=made.TODAY,
    )  # fmt: skip
    refused = browser.post(address(again, world), sent("operator", "") | {"passkey": answer})
    assert refused.status_code == 422 and "used already" in refused.content.decode()
    # Once a sitting is enough, and what was given is what is shown.
    page = browser.get(address(again, world)).content.decode()
    assert "You gave your passkey in this sitting already" in page
    assert browser.post(address(again, world), sent("operator", "")).status_code == 302
    newest = type(again).objects.newest().get(origin=again.origin)
    assert signatures.given_in_words(newest) == "signed with passkey"
    # In the next sitting it is asked anew.
    fresh, _ = door("operator")
    assert given(fresh, device).status_code == 302
    assert fresh.post(address(again, world), sent("operator", "")).status_code == 422


def test_the_passkey_of_who_is_signed_in_signs_for_nobody_else(world, visit, technician):  # noqa: F811
    browser, device = technician
    row = of(visit, "returned to use")
    answer = signed_by(browser, device, row, world, name="coordinator", phrase=PHRASE)
    assert answer.status_code == 422 and "who is signed in" in answer.content.decode()
    answer = signed_by(browser, device, row, world)
    assert answer.status_code == 422, "it names the coordinator"
    assert signatures.given(of(visit, "returned to use")) == "told"


def test_another_persons_passkey_on_ones_own_page_signs_nothing(world, visit, technician, door):  # noqa: F811
    browser, device = technician
    other, _ = door("coordinator")
    theirs = added(other)
    name = next(iter(theirs.keys))
    both = Device(keys=device.keys | theirs.keys, count=9)
    answer = signed_by(browser, both, of(visit, "released"), world, of=name)
    assert answer.status_code == 422 and "does not belong to this log-in" in answer.content.decode()


def test_a_removed_passkey_signs_no_more(world, visit, technician):  # noqa: F811
    browser, device = technician
    added(browser, Device(), name="other")
    key = world.people["technician"].passkeys.order_by("pk").first()
    assert browser.post(reverse("passkey", args=[key.pk]), {"do": "remove", "now": PHRASE}).status_code == 302
    gone = next(iter(device.keys))
    assert signed_by(browser, device, of(visit, "released"), world, of=gone).status_code == 422
    assert signatures.given(of(visit, "released")) == "entered"


def test_nobody_writes_that_it_was_signed_by_passkey_but_by_signing(world, visit):  # noqa: F811
    with pytest.raises(log.Refused, match="Only signing says so"):
        log.correct(
            by=world.people["technician"], request_key=made.key(), row=of(visit, "released"),
            changes={"role": "engineer"}, reason=signatures.SIGNED_BY_PASSKEY,
        )  # fmt: skip


def test_without_a_passkey_the_page_offers_none(world, visit, door, moments):  # noqa: F811
    browser, _ = door("technician")
    page = browser.get(address(of(visit, "released"), world)).content.decode()
    assert "passkey" not in page.lower()
