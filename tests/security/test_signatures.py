"""Signatures (21 CFR 11.50, 11.70, 11.100, 11.200): by their person with pass phrase, and shown as what they are."""

from __future__ import annotations

import pytest
from django.urls import reverse

from audit.exchange.codec import BadFile, export_of, read_history
from audit.gather.read import clinic_facts
from records import inviting, log
from records.log import signatures
from records.models import Account, DoorEvent, Entry, LoadRelease, Membership, Signature
from tests import world as made
from tests.security.conftest import PHRASE

pytestmark = pytest.mark.django_db


@pytest.fixture
def visit(world):
    """A visit of the technician, who names the coordinator as returning the unit to use."""
    job = {"unit": world.unit, "reason": "planned", "contamination": "declared clean"}
    job["conclusion"] = {"conclusion": "released"}
    job["signatures"] = [
        {"meaning": "released", "name": "Pat Technician", "role": "technician"},
        {"meaning": "returned to use", "name": "Ana Coordinator", "role": "coordinator"},
        {"meaning": "nobody present", "reason": "closed"},
    ]
    return log.log_visit(
        by=world.people["technician"], request_key=made.key(), clinic=world.clinic, on=made.TODAY, jobs=[job]
    )


@pytest.fixture
def decision(world):
    load = log.log_load(
        by=world.people["operator"], request_key=made.key(), clinic=world.clinic, unit=world.unit, on=made.TODAY,
        cycle_number="1", program="wrapped",
    )  # fmt: skip
    return log.release_load(
        by=world.people["operator"], request_key=made.key(), clinic=world.clinic, load=load, decision="rejected",
        reason="torn", on=made.TODAY,
    )  # fmt: skip


def of(visit, meaning: str) -> Signature:
    return Signature.objects.newest().get(job__visit=visit, meaning=meaning)


def address(row, world) -> str:
    return reverse("sign", args=[world.clinic.slug, row._meta.model_name, row.origin])


def sent(name: str, phrase: str = PHRASE) -> dict:
    return {"request_key": made.key(), "name": name, "phrase": phrase}


def test_what_is_typed_in_a_visit_is_told_and_not_signed(world, visit):
    assert [signatures.given(of(visit, m)) for m in ("released", "returned to use", "nobody present")] == [
        "entered", "told", "",
    ]  # fmt: skip
    assert signatures.given_in_words(of(visit, "returned to use")) == "told by Pat Technician, not signed"


def test_who_is_signed_in_signs_with_the_pass_phrase(world, visit, door, moments):
    browser, _ = door("technician")
    row = of(visit, "released")
    page = browser.get(address(row, world)).content.decode()
    assert "Pat Technician" in page and "the work is done and the unit released" in page
    answer = browser.post(address(row, world), sent("technician"))
    assert answer.status_code == 302
    signed = of(visit, "released")
    assert signatures.given(signed) == "signed" and signed.amends_id == row.pk
    # 11.50: name, moment and meaning; 11.100: under the account of nobody else.
    assert (str(signed.signed_by), signed.meaning) == ("Pat Technician", "released")
    assert signed.entry.account == world.people["technician"] and signed.entry.what == "signature"
    shown = browser.get(answer["Location"]).content.decode()
    assert "signed with pass phrase" in shown
    assert DoorEvent.objects.filter(account=world.people["technician"], what="signed with pass phrase").exists()


def test_the_pass_phrase_is_asked_once_a_sitting_and_anew_in_the_next(world, visit, decision, door, moments):
    browser, _ = door("operator")
    row = decision
    assert browser.post(address(row, world), sent("operator", "")).status_code == 422
    assert signatures.given(LoadRelease.objects.newest().get()) == "entered"
    assert browser.post(address(row, world), sent("operator")).status_code == 302
    assert signatures.given(LoadRelease.objects.newest().get()) == "signed"
    load = log.log_load(
        by=world.people["operator"], request_key=made.key(), clinic=world.clinic, unit=world.unit, on=made.TODAY,
        cycle_number="2", program="wrapped",
    )  # fmt: skip
    again = log.release_load(
        by=world.people["operator"], request_key=made.key(), clinic=world.clinic, load=load, decision="rejected",
        reason="torn", on=made.TODAY,
    )  # fmt: skip
    fresh, _ = door("operator")
    assert fresh.post(address(again, world), sent("operator", "")).status_code == 422
    assert browser.post(address(again, world), sent("operator", "")).status_code == 302


def test_another_person_signs_on_the_same_device_with_their_own(world, visit, door, moments):
    browser, _ = door("technician")
    row = of(visit, "returned to use")
    assert browser.post(address(row, world), sent("coordinator", "not the one of hers")).status_code == 422
    assert browser.post(address(row, world), sent("technician")).status_code == 422, "it names somebody else"
    assert signatures.given(of(visit, "returned to use")) == "told"
    assert browser.post(address(row, world), sent("coordinator")).status_code == 302
    signed = of(visit, "returned to use")
    assert signatures.given(signed) == "signed" and signed.entry.account == world.people["coordinator"]
    assert signed.entry.logged_for is None
    # The sitting stays the technician's, and proves nothing of the coordinator's next signature.
    assert browser.get(reverse("my-log-in")).context["user"] == world.people["technician"]
    answer = browser.post(address(of(visit, "released"), world), sent("coordinator", ""))
    assert answer.status_code == 422


# Who signs what of the visit, and whether it is taken: names that fit, and people who belong where it is signed.
WHO = [
    ("operator", "returned to use", False),  # it names the coordinator
    ("other-coordinator", "returned to use", False),
    ("nobody", "released", False),
    ("coordinator", "nobody present", False),
    ("coordinator", "returned to use", True),
    ("technician", "released", True),
]


@pytest.mark.parametrize(("role", "meaning", "taken"), WHO)
def test_only_who_is_named_and_belongs_signs(world, visit, role, meaning, taken):
    row = of(visit, meaning)
    try:
        log.sign(by=world.people[role], request_key=made.key(), row=row)
    except log.Refused:
        assert not taken
    else:
        assert taken
    assert (signatures.given(of(visit, meaning)) == "signed") == taken


def test_who_left_signs_no_more(world, visit):
    row = Membership.objects.get(person=Account.objects.get(username="technician").person)
    inviting.end_membership(
        by=world.people["dispatcher"], request_key=made.key(), membership=row, effective_on=made.TODAY, reason="left"
    )
    with pytest.raises(log.NotYours):
        log.sign(by=world.people["technician"], request_key=made.key(), row=of(visit, "released"))


def test_nobody_writes_that_it_was_signed_but_by_signing(world, visit):
    with pytest.raises(log.Refused, match="Only signing says so"):
        log.correct(
            by=world.people["technician"], request_key=made.key(), row=of(visit, "released"),
            changes={"role": "engineer"}, reason=signatures.SIGNED,
        )  # fmt: skip


def test_what_is_corrected_after_it_was_signed_is_signed_no_more(world, visit):
    technician = world.people["technician"]
    log.sign(by=technician, request_key=made.key(), row=of(visit, "released"))
    log.correct(
        by=technician, request_key=made.key(), row=of(visit, "released"), changes={"role": "engineer"}, reason="typo"
    )
    assert signatures.given(of(visit, "released")) == "entered"


def test_signing_twice_is_signing_once(world, visit):
    technician, key = world.people["technician"], made.key()
    row = of(visit, "released")
    first = log.sign(by=technician, request_key=key, row=row)
    assert log.sign(by=technician, request_key=key, row=row) == first
    before = Entry.objects.count()
    for again in (row, first):
        with pytest.raises(log.Refused):
            log.sign(by=technician, request_key=made.key(), row=again)
    assert Entry.objects.count() == before


def test_what_is_copied_from_paper_is_shown_as_copied(world):
    job = {"unit": world.unit, "reason": "planned", "contamination": "declared clean"}
    job["conclusion"] = {"conclusion": "released"}
    job["signatures"] = [{"meaning": "released", "name": "Pat Technician"}]
    paper = log.log_visit(
        by=world.people["technician"], request_key=made.key(), clinic=world.clinic, on=made.TODAY, jobs=[job],
        paper="book 1, page 3",
    )  # fmt: skip
    assert signatures.given_in_words(of(paper, "released")) == "copied from paper by Pat Technician"


def test_judgement_binder_and_pages_tell_it_alike(world, visit, door, moments):
    log.sign(by=world.people["technician"], request_key=made.key(), row=of(visit, "released"))
    (unit,) = [u for u in clinic_facts(world.clinic).units if u.label == world.unit.label]
    given = {s.meaning: s.given_words for job in unit.jobs for s in job.signatures}
    told = "told by Pat Technician, not signed"
    assert given == {"released": "signed with pass phrase", "returned to use": told, "nobody present": ""}
    browser, _ = door("coordinator")
    report = browser.get(reverse("visit", args=[world.clinic.slug, visit.ref])).content.decode()
    assert "signed with pass phrase" in report and told in report
    # The visit offers to sign what waits for it, and nothing else.
    waiting = address(of(visit, "returned to use"), world)
    assert waiting in report and report.count("/sign/") == 1


def test_a_signature_of_another_clinic_is_not_there(world, visit, door, moments):
    browser, _ = door("other-coordinator")
    row = of(visit, "returned to use")
    assert browser.get(address(row, world)).status_code == 404
    elsewhere = reverse("sign", args=[world.other_clinic.slug, "signature", row.origin])
    assert browser.get(elsewhere).status_code == 404
    assert browser.get(reverse("sign", args=[world.other_clinic.slug, "visit", visit.origin])).status_code == 404


def test_a_file_cannot_claim_that_something_was_signed(world, visit):
    log.sign(by=world.people["technician"], request_key=made.key(), row=of(visit, "released"))
    file = export_of(clinic_facts(world.clinic))
    jobs = [job for unit in file["clinic"]["units"] for job in unit["jobs"]]
    signature = next(s for job in jobs for s in job["signatures"] if s["name"] == "Pat Technician")
    assert signature["given"] == "signed"
    read = [s for u in read_history(file).units for j in u.jobs for s in j.signatures if s.name == "Pat Technician"]
    assert {s.given_words for s in read} == {"signed, as the file says that was read"}, (
        "nothing here has seen it signed"
    )
    signature["given"] = "signed with pass phrase"
    with pytest.raises(BadFile, match="given.*must be one of"):
        read_history(file)
