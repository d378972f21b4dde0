"""A company opens a clinic that it serves; until a coordinator of the clinic takes over, and from then on."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from records import access, clock, inviting, log
from records.ledger import tamper_check
from records.models import Account, Agreement, Clinic, ClinicTerms, Entry, Membership
from tests import world as build

from .page_form import form_of
from .test_people import PHRASE, made_link, new_account
from .typed import text_of

pytestmark = pytest.mark.django_db
TERMS = {
    "programme": "dental", "address": "9 Invented Road", "time_zone": "Europe/Dublin", "week_start": 0,
    "regime": "ie",
}  # fmt: skip
TYPED = {"name": "Quay Dental", "slug": "quay", "scope": "maintenance"} | {k: str(v) for k, v in TERMS.items()}


def browser(world, role) -> Client:
    client = Client()
    client.force_login(world.people[role])
    return client


def page_of(world, role="dispatcher"):
    return browser(world, role), reverse("open-clinic", args=["keepers"])


def opened(world, **more) -> Clinic:
    fields = {"slug": "quay", "name": "Quay Dental", "effective_on": build.TODAY, "terms": TERMS} | more
    return log.open_served_clinic(
        by=world.people["dispatcher"], request_key=build.key(), company=world.company, **fields
    )


def taken_over(world, clinic, by="dispatcher") -> Account:
    """A new coordinator, by the page of the invitation."""
    _, token = inviting.invite(
        by=world.people[by], ref=build.key(), organisation=clinic, role="coordinator", name="Nell New"
    )
    answer = new_account(reverse("invitation", args=[token]))[1]
    assert answer.status_code == 302, answer.content.decode()
    return Account.objects.get(username="nell")


def test_the_page_opens_it_with_rules_and_agreement_in_one_entry(world):
    client, address = page_of(world)
    answer = client.post(address, form_of(client.get(address)) | TYPED)
    assert (answer.status_code, answer.url) == (302, reverse("clinic", args=["quay"]))
    clinic = Clinic.objects.get(slug="quay")
    [entry] = Entry.objects.filter(ledger__organisation=clinic)
    assert (entry.account, entry.logged_for_id) == (world.people["dispatcher"], world.company.pk)
    terms = ClinicTerms.objects.get(clinic=clinic)
    kept = (terms.regime, terms.time_zone, terms.week_start, terms.programme, terms.name, terms.effective_on)
    assert kept == ("ie", "Europe/Dublin", 0, "dental", "Quay Dental", build.TODAY)
    agreement = Agreement.objects.get(clinic=clinic)
    assert (agreement.company_id, agreement.scope, agreement.entry) == (world.company.pk, "maintenance", entry)
    assert not Membership.objects.filter(organisation=clinic).exists()
    assert tamper_check.verify(clinic).whole
    page = text_of(client.get(answer.url))
    assert "Nobody of Quay Dental keeps this record yet" in page
    assert reverse("clinic-invite", args=["quay"]) in page
    assert reverse("open-clinic", args=["keepers"]) in text_of(client.get(reverse("company", args=["keepers"])))


def test_sent_twice_it_is_opened_once_and_with_other_content_it_says_so(world):
    client, address = page_of(world)
    data = form_of(client.get(address)) | TYPED
    first, second = client.post(address, data), client.post(address, data)
    assert first.url == second.url and Clinic.objects.filter(slug="quay").count() == 1
    assert "already" in text_of(client.get(second.url))
    third = client.post(address, data | {"slug": "pier", "name": "Pier Dental"})
    assert third.status_code == 409
    assert "opened Quay Dental already" in text_of(third) and form_of(third)["name"] == ["Pier Dental"]
    assert not Clinic.objects.filter(slug="pier").exists()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"slug": "first"}, "“first” is taken"),
        ({"slug": "keepers"}, "“keepers” is taken"),
        ({"slug": "no good"}, "letters without accents"),
        ({"name": " "}, "is missing"),
        ({"time_zone": "dublin"}, "Did you mean Europe/Dublin?"),
        ({"time_zone": "Nowhere/Qqq"}, "Choose one such as Europe/Dublin"),
        ({"regime": "none-such"}, "not one of the answers"),
        ({"week_start": ""}, "Nothing is chosen"),
        ({"effective_on": "2026-03-17"}, "in the future"),
        ({"name": "Quay\u202eDental"}, "cannot be seen"),
    ],
)
def test_what_cannot_be_is_told_at_its_field_and_everything_typed_comes_back(world, typed, says):
    client, address = page_of(world)
    before = Clinic.objects.count(), Entry.objects.count()
    data = form_of(client.get(address)) | TYPED | typed
    answer = client.post(address, data)
    assert answer.status_code == 422 and says in text_of(answer)
    back = form_of(answer)
    kept = {k: back[k][0] for k in TYPED if k not in typed}
    assert kept == {k: v for k, v in TYPED.items() if k not in typed}
    assert (Clinic.objects.count(), Entry.objects.count()) == before


def test_everything_that_is_wrong_is_said_at_once(world):
    client, address = page_of(world)
    wrong = {"slug": "first", "time_zone": "dublin", "regime": "", "name": "", "week_start": ""}
    page = text_of(client.post(address, form_of(client.get(address)) | TYPED | wrong))
    assert all(f'id="id_{field}_error"' in page for field in wrong)
    assert "“first” is taken" in page and "Did you mean Europe/Dublin?" in page


def test_only_the_dispatcher_of_the_company_opens_one(world):
    for role in ("technician", "stores"):
        client, address = page_of(world, role)
        assert client.get(address).status_code == 403
        assert address not in text_of(client.get(reverse("company", args=["keepers"])))
    assert page_of(world, "coordinator")[0].get(page_of(world)[1]).status_code == 404
    for role in ("technician", "coordinator", "other-dispatcher"):
        with pytest.raises(log.NotYours):
            log.open_served_clinic(
                by=world.people[role], request_key=build.key(), company=world.company, slug="quay",
                name="Quay", effective_on=build.TODAY, terms=TERMS,
            )  # fmt: skip
    assert not Clinic.objects.filter(slug="quay").exists()


def test_until_a_coordinator_comes_the_company_works_there_but_sets_no_rules(world):
    clinic, dan = opened(world), world.people["dispatcher"]
    rights = access.rights(dan, clinic)
    assert (rights.company, rights.may_set_rules, rights.may_log_visit) == (world.company, False, True)
    assert build.unit_at(clinic, world.people["technician"], "One", on=build.TODAY).pk
    closed = {"from_on": build.TODAY, "to_on": build.TODAY, "why": "moved"}
    for write in (
        lambda **common: log.log_terms(effective_on=build.TODAY, name="Quay", **TERMS | {"regime": "base"}, **common),
        lambda **common: log.log_closure(**closed, **common),
        lambda **common: log.log_agreement(
            company=world.other_company, effective_on=build.TODAY, by=common["by"], clinic=common["clinic"],
            request_key=common["request_key"],
        ),
    ):  # fmt: skip
        with pytest.raises(log.NotYours):
            write(by=dan, request_key=build.key(), clinic=clinic)
    for role in ("operator", "viewer", "dispatcher"):
        with pytest.raises(log.NotYours):
            inviting.invite(by=dan, ref=build.key(), organisation=clinic, role=role, name="N")
        with pytest.raises(log.NotYours):
            log.log_membership(
                by=dan, request_key=build.key(), organisation=clinic, account=dan, role=role,
                effective_on=build.TODAY,
            )  # fmt: skip
    with pytest.raises(log.NotYours):
        inviting.invite(
            by=world.people["technician"], ref=build.key(), organisation=clinic, role="coordinator", name="N"
        )
    client = browser(world, "dispatcher")
    assert client.get(reverse("clinic-offer", args=["quay"])).status_code == 403
    assert client.get(reverse("log-terms", args=["quay"])).status_code == 403


@pytest.mark.parametrize("model", [ClinicTerms, Agreement])
def test_what_was_opened_is_corrected_by_the_clinic_alone(world, model):
    """Also after the opening the company cannot change the rules by correcting its own entry."""
    clinic = opened(world)
    row = model.objects.get(clinic=clinic)
    changes = {"regime": "base"} if model is ClinicTerms else {"scope": "all"}
    with pytest.raises(log.NotYours, match="Only the coordinator of Quay Dental"):
        log.correct(
            by=world.people["dispatcher"], request_key=build.key(), row=row, changes=dict(changes), reason="slip"
        )
    with pytest.raises(log.NotYours):
        log.void(by=world.people["dispatcher"], request_key=build.key(), row=row, reason="slip")
    nell = taken_over(world, clinic)
    new = log.correct(by=nell, request_key=build.key(), row=row, changes=dict(changes), reason="slip")
    assert new.entry.logged_for is None and {k: getattr(new, k) for k in changes} == changes
    assert tamper_check.verify(clinic).whole


def test_the_first_coordinator_takes_over_by_the_page_and_the_company_keeps_out(world):
    clinic, client = opened(world), browser(world, "dispatcher")
    people = reverse("clinic-people", args=["quay"])
    assert "Invite its coordinator" in text_of(client.get(people))
    board = text_of(client.get(reverse("company", args=["keepers"])))
    assert "Nobody of their own keeps the record yet" in board and people in board
    address = reverse("clinic-invite", args=["quay"])
    form = form_of(client.get(address))
    assert form["role"] == ["coordinator"]
    refused = client.post(address, form | {"name": "Nell", "role": "operator"})
    assert refused.status_code == 422
    links = []
    for name in ("Nell New", "Otto Other"):
        links.append(made_link(client.post(address, form_of(client.get(address)) | {"name": name})))
    assert "Otto Other" in text_of(client.get(people))
    answer = new_account(links[0])[1]
    assert (answer.status_code, answer.url) == (302, reverse("clinic", args=["quay"]))
    row = Membership.objects.get(organisation=clinic)
    assert (row.role, row.entry.logged_for_id, row.effective_on) == ("coordinator", world.company.pk, build.TODAY)
    assert Client().get(links[1]).status_code == 404  # of two, one is the first
    assert client.get(address).status_code == 403
    assert "Invite its coordinator" not in text_of(client.get(people))
    assert "keeps this record yet" not in text_of(client.get(reverse("clinic", args=["quay"])))
    nell = Account.objects.get(username="nell")
    assert nell.check_password(PHRASE) and access.rights(nell, clinic).may_set_rules
    own = Client()
    own.force_login(nell)
    assert own.get(reverse("log-terms", args=["quay"])).status_code == 200
    assert own.get(reverse("clinic-invite", args=["quay"])).status_code == 200


def test_a_clinic_that_has_had_a_coordinator_is_never_the_company_s_again(world):
    clinic = opened(world)
    nell = taken_over(world, clinic)
    [row] = access.memberships(nell)
    log.end_membership(by=nell, request_key=build.key(), membership=row, effective_on=build.TODAY, reason="left")
    assert access.handing_over(world.people["dispatcher"], clinic) is None
    with pytest.raises(log.NotYours):
        inviting.invite(
            by=world.people["dispatcher"], ref=build.key(), organisation=clinic, role="coordinator", name="N"
        )


def test_a_clinic_that_opened_itself_is_no_company_s_to_hand_over(world):
    """The first company serves the first clinic, which its own coordinator opened."""
    assert list(access.without_coordinator(world.people["dispatcher"])) == []
    assert access.handing_over(world.people["dispatcher"], world.clinic) is None
    assert [c.slug for c in [opened(world)]] == [
        c.slug for c in access.without_coordinator(world.people["dispatcher"])
    ]
    assert list(access.without_coordinator(world.people["technician"])) == []


def test_the_same_membership_sent_twice_is_one_entry(world):
    clinic, dan, nia = opened(world), world.people["dispatcher"], world.people["nobody"]
    fields = {
        "by": dan, "request_key": build.key(), "organisation": clinic, "account": nia, "role": "coordinator",
        "effective_on": build.TODAY,
    }  # fmt: skip
    first = log.log_membership(**fields)
    assert log.log_membership(**fields).pk == first.pk
    assert Entry.objects.filter(ledger__organisation=clinic).count() == 2
    with pytest.raises(log.NotYours):
        log.log_membership(**fields | {"request_key": build.key(), "account": world.people["operator"]})


def test_the_company_does_not_leave_records_that_nobody_would_see(world):
    clinic, dan = opened(world), world.people["dispatcher"]
    build.unit_at(clinic, dan, "One", on=build.TODAY)
    row = Agreement.objects.get(clinic=clinic)
    end = {"by": dan, "agreement": row, "effective_on": build.TODAY, "reason": "no more"}
    with pytest.raises(log.Refused, match="Nobody of Quay Dental has taken over yet"):
        log.end_agreement(request_key=build.key(), **end)
    taken_over(world, clinic)
    log.end_agreement(request_key=build.key(), **end)
    assert access.rights(dan, clinic) is None


def test_one_opened_by_mistake_leaves_the_board_while_nothing_else_is_recorded(world):
    clinic, dan = opened(world), world.people["dispatcher"]
    log.end_agreement(
        by=dan, request_key=build.key(), agreement=Agreement.objects.get(clinic=clinic),
        effective_on=build.TODAY, reason="opened by mistake",
    )  # fmt: skip
    assert clinic not in access.clinics_of_company(world.company)


# 22:30 in UTC on the 16th is the 17th in Sydney; 02:00 in UTC on the 17th is still the 16th in Chicago.
@pytest.mark.parametrize(
    ("moment", "zone"),
    [
        (datetime(2026, 3, 16, 22, 30, tzinfo=UTC), "Australia/Sydney"),
        (datetime(2026, 3, 17, 2, tzinfo=UTC), "America/Chicago"),
    ],
)
def test_what_is_opened_is_of_use_at_once_wherever_it_is(world, moment, zone):
    with clock.at(moment):
        client, address = page_of(world)
        answer = client.post(address, form_of(client.get(address)) | TYPED | {"time_zone": zone})
        assert answer.status_code == 302, text_of(answer)
        assert ClinicTerms.objects.get(clinic__slug="quay").effective_on == date(2026, 3, 16)
        assert client.get(answer.url).status_code == 200
        nell = taken_over(world, Clinic.objects.get(slug="quay"))
        assert access.memberships(nell).count() == 1


def test_an_earlier_first_day_is_kept(world):
    client, address = page_of(world)
    first = build.TODAY - timedelta(days=400)
    client.post(address, form_of(client.get(address)) | TYPED | {"effective_on": first.isoformat()})
    assert ClinicTerms.objects.get(clinic__slug="quay").effective_on == first


def test_pages_about_a_clinic_without_coordinator_take_few_queries(world):
    opened(world)
    client, address = page_of(world)
    pages = [address, reverse("company", args=["keepers"])]
    pages += [reverse(name, args=["quay"]) for name in ("clinic", "clinic-people", "clinic-invite")]
    for page in pages:
        assert client.get(page).status_code == 200
        with CaptureQueriesContext(connection) as taken:
            client.get(page)
        assert len(taken) <= 13, (page, len(taken))
