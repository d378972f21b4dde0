"""Who belongs where, and invitations: the link once, for so many days, by whoever may; then a fact."""

from __future__ import annotations

import re
import uuid
from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from records import access, clock, inviting, log
from records.models import Account, Agreement, AgreementEnd, Invitation, Membership, MembershipEnd
from tests import world as build

from .page_form import form_of

pytestmark = pytest.mark.django_db
PHRASE = "teacup kettle bellows"


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(build.NOW):
        yield


def signed_in(world, role) -> Client:
    client = Client()
    client.force_login(world.people[role])
    return client


def made_link(answer) -> str:
    """The path of the link that the page shows."""
    found = re.search(r"<textarea[^>]*>http://testserver(/invitation/[^<]+)</textarea>", answer.content.decode())
    return found.group(1) if found else ""


def invited(world, role="operator", name="Nell New", kind="clinic", by="coordinator"):
    """(browser of who invited, the path of the link)."""
    organisation = world.clinic if kind == "clinic" else world.company
    client = signed_in(world, by)
    address = reverse(f"{kind}-invite", args=[organisation.slug])
    data = form_of(client.get(address)) | {"name": name, "role": role, "email": "nell@place.example"}
    answer = client.post(address, data)
    assert answer.status_code == 200, answer.content.decode()
    return client, made_link(answer)


def new_account(path, **more):
    client = Client()
    data = {"name": "Nell New", "username": "nell", "phrase": PHRASE, "again": PHRASE} | more
    return client, client.post(path, data)


def test_a_new_person_takes_the_role_with_a_log_in_of_their_own(world):
    _, path = invited(world)
    page = Client().get(path)
    assert "operator" in page.content.decode() and page.headers["Referrer-Policy"] == "same-origin"
    client, answer = new_account(path)
    assert (answer.status_code, answer.url) == (302, reverse("clinic", args=["first"]))
    account = Account.objects.get(username="nell")
    assert account.check_password(PHRASE)
    [row] = access.memberships(account)
    assert (row.organisation_id, row.role, row.effective_on) == (world.clinic.pk, "operator", build.TODAY)
    assert row.entry.account == world.people["coordinator"]  # who may say so said so
    assert client.get(reverse("clinic", args=["first"])).status_code == 200
    assert client.get(reverse("clinic", args=["other"])).status_code == 404
    assert "Nell New" in client.get(reverse("clinic-people", args=["first"])).content.decode()
    assert Client().get(path).status_code == 404  # taken once


def test_somebody_with_a_log_in_takes_the_role_with_it(world):
    _, path = invited(world, "technician", "Nia", "company", "dispatcher")
    client = signed_in(world, "nobody")
    assert "Nia Nobody" in client.get(path).content.decode()
    assert client.post(path).url == reverse("company", args=["keepers"])
    world.people["nobody"].refresh_from_db()
    account = Account.objects.get(username="nobody")
    assert [m.role for m in access.memberships(account)] == ["technician"]
    assert Account.objects.filter(username="nell").count() == 0


def test_the_link_is_kept_nowhere_and_shown_once(world):
    client, path = invited(world)
    token = path.split("/")[2]
    [made] = Invitation.objects.all()
    assert made.digest == inviting.digest_of(token) and len(token) == 43
    assert made.expires_on == build.TODAY + timedelta(days=14)
    assert all(token not in str(getattr(made, f.attname)) for f in made._meta.concrete_fields)
    again = client.post(
        reverse("clinic-invite", args=["first"]), {"request_key": made.ref, "name": "Nell New", "role": "operator"}
    )
    assert again.status_code == 200 and made_link(again) == "" and Invitation.objects.count() == 1
    assert token not in client.get(reverse("clinic-people", args=["first"])).content.decode()


def test_a_link_opens_on_its_last_day_and_not_after_it(world):
    _, path = invited(world)
    with clock.at(build.NOW + timedelta(days=14)):
        assert Client().get(path).status_code == 200
    with clock.at(build.NOW + timedelta(days=15)):
        assert Client().get(path).status_code == 404
        _, answer = new_account(path)
        assert answer.status_code == 404
    assert not Account.objects.filter(username="nell").exists()


def test_what_does_not_open_says_the_same_whatever_the_reason(world):
    client, path = invited(world)
    [made] = Invitation.objects.all()
    answer = client.post(reverse("clinic-withdraw", args=["first", made.ref]))
    assert answer.status_code == 302
    pages = {Client().get(p).content for p in (path, reverse("invitation", args=["unknown"]))}
    assert len(pages) == 1 and Client().get(path).status_code == 404


def test_whoever_may_no_longer_invite_has_no_invitation_standing(world):
    second = Client()
    log.log_membership(
        by=world.people["coordinator"], request_key=uuid.uuid4(), organisation=world.clinic,
        account=world.people["nobody"], role="coordinator", effective_on=build.BEGIN,
    )  # fmt: skip
    _, path = invited(world, by="nobody")
    assert second.get(path).status_code == 200
    row = access.memberships(world.people["nobody"]).get()
    log.end_membership(
        by=world.people["coordinator"],
        request_key=uuid.uuid4(),
        membership=row,
        effective_on=build.TODAY,
        reason="left",
    )
    assert second.get(path).status_code == 404


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"username": "coordinator"}, "taken"),
        ({"username": "no good"}, "other characters"),
        ({"again": "something else here"}, "differ"),
        ({"phrase": "short", "again": "short"}, "too short"),
        ({"name": ""}, "missing"),
    ],
)
def test_a_log_in_that_cannot_be_is_told_and_nothing_is_made(world, typed, says):
    _, path = invited(world)
    before = Account.objects.count()
    _, answer = new_account(path, **typed)
    assert answer.status_code == 422 and says in answer.content.decode()
    assert Account.objects.count() == before and PHRASE not in answer.content.decode()
    assert Client().get(path).status_code == 200  # still open


def test_who_belongs_already_is_told_and_the_link_stays_open(world):
    _, path = invited(world, "viewer")
    answer = signed_in(world, "viewer").post(path)
    assert answer.status_code == 422 and "already" in answer.content.decode()
    assert Client().get(path).status_code == 200


def test_a_role_of_the_other_kind_of_place_cannot_be_given(world):
    client = signed_in(world, "coordinator")
    address = reverse("clinic-invite", args=["first"])
    answer = client.post(address, form_of(client.get(address)) | {"name": "X", "role": "technician"})
    assert answer.status_code == 422 and not Invitation.objects.exists()


def test_ending_what_somebody_may_do_needs_a_day_and_a_reason_and_keeps_what_was(world):
    client = signed_in(world, "coordinator")
    row = access.memberships(world.people["operator"]).get()
    address = reverse("clinic-end-membership", args=["first", row.ref])
    page = form_of(client.get(address))
    assert page["effective_on"] == ["2026-03-16"]
    assert client.post(address, page | {"reason": ""}).status_code == 422
    assert client.post(address, page | {"reason": "x", "effective_on": "2024-12-31"}).status_code == 422
    assert client.post(address, page | {"reason": "moved away"}).status_code == 302
    end = MembershipEnd.objects.get()
    assert (end.effective_on, end.reason) == (build.TODAY, "moved away")
    assert not access.memberships(world.people["operator"]).exists()
    shown = client.get(reverse("clinic-people", args=["first"])).content.decode()
    assert "moved away" in shown and "who belonged here before" in shown


def test_the_last_who_says_who_belongs_stays(world):
    client = signed_in(world, "coordinator")
    row = access.memberships(world.people["coordinator"]).get()
    address = reverse("clinic-end-membership", args=["first", row.ref])
    answer = client.post(address, form_of(client.get(address)) | {"reason": "retired"})
    assert answer.status_code == 422 and "Invite another" in answer.content.decode()
    assert access.memberships(world.people["coordinator"]).exists()


def test_of_two_who_manage_one_stays_though_the_other_s_end_lies_ahead(world):
    ana, second = world.people["coordinator"], build.account("second", "Sol", "Second")
    log.log_membership(
        by=ana, request_key=build.key(), organisation=world.clinic, account=second, role="coordinator",
        effective_on=build.BEGIN,
    )  # fmt: skip
    own, other = access.memberships(ana).get(), access.memberships(second).get()
    inviting.end_membership(
        by=ana, request_key=build.key(), membership=other, effective_on=date(2026, 4, 1), reason="moves away"
    )
    with pytest.raises(log.Refused, match="Invite another"):
        inviting.end_membership(
            by=ana, request_key=build.key(), membership=own, effective_on=date(2026, 5, 1), reason="retires"
        )
    assert access.memberships(second).exists()


def test_a_log_in_name_that_somebody_took_meanwhile_is_told(world, monkeypatch):
    _, path = invited(world)
    build.account("nell", "Other", "Nell")
    monkeypatch.setattr("records.forms.people.NewAccountForm.clean_username", lambda form: "nell")
    _, answer = new_account(path)
    assert answer.status_code == 422 and "is taken" in answer.content.decode()
    assert Invitation.objects.get(taken_at=None) and Account.objects.filter(username="nell").count() == 1


# ------------------------------------------------------------------------------------------------ agreements


def offered(world, kind, by):
    organisation = {"clinic": world.other_clinic, "company": world.company}[kind]
    client = signed_in(world, by)
    address = reverse(f"{kind}-offer", args=[organisation.slug])
    return made_link(client.post(address, form_of(client.get(address)) | {"name": "all sterilizers"}))


def test_a_company_offers_and_the_clinic_s_coordinator_accepts(world):
    path = offered(world, "company", "dispatcher")
    assert "Sign in to accept" in Client().get(path).content.decode()
    assert Client().post(path).status_code == 200 and not Agreement.objects.filter(clinic=world.other_clinic).exists()
    client = signed_in(world, "other-coordinator")
    answer = client.post(path, form_of(client.get(path)) | {"effective_on": "2026-03-01"})
    assert (answer.status_code, answer.url) == (302, reverse("clinic", args=["other"]))
    row = Agreement.objects.get(clinic=world.other_clinic)
    assert (row.company_id, row.effective_on, row.scope) == (world.company.pk, date(2026, 3, 1), "all sterilizers")
    assert row.entry.account == world.people["other-coordinator"]
    assert signed_in(world, "technician").get(reverse("clinic", args=["other"])).status_code == 200
    assert client.get(path).status_code == 404


def test_a_clinic_invites_and_the_company_s_dispatcher_accepts(world):
    path = offered(world, "clinic", "other-coordinator")
    client = signed_in(world, "dispatcher")
    assert client.post(path, form_of(client.get(path))).url == reverse("company", args=["keepers"])
    row = Agreement.objects.get(clinic=world.other_clinic)
    assert row.company_id == world.company.pk and row.entry.account == world.people["other-coordinator"]


@pytest.mark.parametrize("role", ["technician", "operator", "nobody", "dispatcher"])
def test_who_manages_no_other_side_cannot_accept(world, role):
    path = offered(world, "company", "dispatcher")
    client = signed_in(world, role)
    before = Agreement.objects.count()
    typed = {"request_key": uuid.uuid4(), "side": world.other_clinic.ref, "effective_on": "2026-03-16"}
    answer = client.post(path, typed)
    assert answer.status_code == 200 and "You manage no clinic" in answer.content.decode()
    assert Agreement.objects.count() == before


def test_a_coordinator_cannot_accept_for_a_clinic_of_others(world):
    path = offered(world, "company", "dispatcher")
    third = build.clinic_of(world.people["coordinator"], "third", "Third Clinic")
    client = signed_in(world, "coordinator")
    page = form_of(client.get(path))
    assert page["side"] == [str(third.ref)]  # the first clinic has the agreement already
    assert client.post(path, page | {"side": world.other_clinic.ref}).status_code == 422
    assert not Agreement.objects.filter(clinic__in=[third, world.other_clinic]).exists()


def test_the_clinic_ends_an_agreement_with_day_and_reason(world):
    client = signed_in(world, "coordinator")
    row = Agreement.objects.get(clinic=world.clinic)
    address = reverse("clinic-end-agreement", args=["first", row.ref])
    page = form_of(client.get(address)) | {"reason": "another company"}
    assert client.post(address, page | {"effective_on": "2024-01-01"}).status_code == 422
    assert client.post(address, page).status_code == 302
    assert signed_in(world, "technician").get(reverse("clinic", args=["first"])).status_code == 404
    assert "another company" in client.get(reverse("clinic-people", args=["first"])).content.decode()


def test_the_company_ends_an_agreement_in_its_own_name_and_keeps_what_it_logged(world):
    row = Agreement.objects.get(clinic=world.clinic, company=world.company)
    with clock.at(build.NOW - timedelta(days=30)):
        job = {"unit": world.unit, "reason": "planned", "contamination": "declared clean"}
        job["conclusion"] = {"conclusion": "released"}
        visit = log.log_visit(
            by=world.people["technician"], request_key=build.key(), clinic=world.clinic, on=clock.today(), jobs=[job]
        )
    client = signed_in(world, "dispatcher")
    people = reverse("company-people", args=["keepers"])
    address = reverse("company-end-agreement", args=["keepers", row.ref])
    assert address in client.get(people).content.decode()
    page = form_of(client.get(address))
    assert client.post(address, page | {"reason": ""}).status_code == 422
    assert client.post(address, page | {"reason": "no", "effective_on": "2024-01-01"}).status_code == 422
    page |= {"reason": "too far to drive", "effective_on": "2026-03-20"}
    assert client.post(address, page).status_code == 302
    end = AgreementEnd.objects.get(agreement=row)
    assert (end.clinic_id, end.effective_on) == (world.clinic.pk, date(2026, 3, 20))
    assert end.entry.ledger.organisation_id == world.clinic.pk and end.entry.logged_for_id == world.company.pk
    theirs = signed_in(world, "viewer").get(reverse("clinic-people", args=["first"]))
    assert "too far to drive" in theirs.content.decode()
    technician = signed_in(world, "technician")
    assert technician.get(reverse("clinic", args=["first"])).status_code == 200  # until the day before
    assert address not in client.get(people).content.decode()
    with clock.at(build.NOW + timedelta(days=4)):  # its first day without
        assert technician.get(reverse("clinic", args=["first"])).status_code == 404
        assert technician.get(reverse("visit", args=["first", visit.ref])).status_code == 200
        assert signed_in(world, "viewer").get(reverse("visit", args=["first", visit.ref])).status_code == 200


@pytest.mark.parametrize("role", ["technician", "stores", "operator", "other-coordinator", "nobody"])
def test_nobody_else_ends_an_agreement(world, role):
    row = Agreement.objects.get(clinic=world.clinic, company=world.company)
    with pytest.raises(log.NotYours):
        log.end_agreement(
            by=world.people[role], request_key=build.key(), agreement=row, effective_on=build.TODAY, reason="no"
        )
    assert not AgreementEnd.objects.exists()


def test_people_without_access_to_manage_see_no_invitation_and_no_button(world):
    invited(world)
    seen = signed_in(world, "viewer").get(reverse("clinic-people", args=["first"])).content.decode()
    assert "Nell New" not in seen and "nell@place.example" not in seen and "Invite somebody" not in seen
    assert "Ana Coordinator" in seen


def test_every_membership_in_the_list_is_a_fact(world):
    page = signed_in(world, "coordinator").get(reverse("clinic-people", args=["first"]))
    rows = {line["row"].pk for line in page.context["members"]}
    assert rows == set(Membership.objects.filter(organisation=world.clinic).values_list("pk", flat=True))
