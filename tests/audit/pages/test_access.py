"""Who sees the pages of judgement, and that what people typed is text."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils.html import escape

from records import log
from tests import world as made
from tests.audit.pages import filled
from tests.audit.pages.tools import INSIDERS, OUTSIDERS, get, pages_of, signed_in, text_of
from tests.inline import refused

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("role", INSIDERS)
def test_people_of_the_clinic_and_its_company_see_it(client, world, role):
    signed_in(client, world, role)
    for name, args in pages_of(world):
        assert get(client, name, *args).status_code == 200, name


@pytest.mark.parametrize("role", OUTSIDERS)
def test_for_everybody_else_it_does_not_exist(client, world, role):
    signed_in(client, world, role)
    for name, args in [*pages_of(world), ("company", [world.company.slug])]:
        assert get(client, name, *args).status_code == 404, name


def test_a_unit_of_another_clinic_does_not_exist_under_ones_own(client, world):
    signed_in(client, world, "coordinator")
    assert get(client, "unit", world.clinic.slug, world.other_unit.ref).status_code == 404
    assert get(client, "unit", world.other_clinic.slug, world.other_unit.ref).status_code == 404


def test_unknown_addresses_answer_404_with_a_way_out(client, world):
    signed_in(client, world, "coordinator")
    answer = get(client, "clinic", "no-such-clinic")
    assert answer.status_code == 404
    assert reverse("home") in answer.content.decode()


def test_without_signing_in_every_page_asks_for_it(client, world):
    for name, args in [*pages_of(world), ("company", [world.company.slug]), ("home", [])]:
        address = reverse(name, args=args)
        answer = client.get(address)
        assert answer.status_code == 302, name
        assert answer.url == f"{reverse('sign-in')}?next={address}"


@pytest.mark.parametrize("role", made.COMPANY_ROLES)
def test_the_company_page_is_for_its_own_people(client, world, role):
    assert get(signed_in(client, world, role), "company", world.company.slug).status_code == 200
    assert get(client, "company", world.other_company.slug).status_code == 404
    signed_in(client, world, "coordinator")
    assert get(client, "company", world.company.slug).status_code == 404


def test_after_the_agreement_ends_the_company_no_longer_opens_the_clinic(client, world):
    agreement = log.changes.access.agreements().get(clinic=world.clinic)
    log.end_agreement(
        by=world.people["coordinator"], request_key=made.key(), agreement=agreement,
        effective_on=made.TODAY - timedelta(days=1), reason="changed company",
    )  # fmt: skip
    signed_in(client, world, "technician")
    assert get(client, "clinic", world.clinic.slug).status_code == 404
    assert world.clinic.name not in text_of(get(client, "company", world.company.slug))


def test_only_those_who_may_log_are_offered_it(client, world):
    seen = get(signed_in(client, world, "operator"), "clinic", world.clinic.slug).content.decode()
    assert reverse("log-bio", args=["first"]) in seen
    assert reverse("visit-begin", args=["first"]) not in seen
    seen = get(signed_in(client, world, "coordinator"), "clinic", world.clinic.slug).content.decode()
    assert reverse("visit-begin", args=["first"]) in seen
    unit = reverse("unit", args=["first", world.unit.ref])
    signed_in(client, world, "viewer")
    for address in (reverse("clinic", args=["first"]), unit):
        seen = client.get(address).content.decode()
        assert reverse("log-bio", args=["first"]) not in seen
        assert reverse("unit-event", args=["first", world.unit.ref]) not in seen


def test_what_people_typed_is_text_and_never_markup(client, world):
    typed = "<script>alert(1)</script>"
    log.log_unit_event(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit,
        kind="withdrawn", on=made.TODAY, reason=typed,
    )  # fmt: skip
    signed_in(client, world, "dispatcher")
    for name, args in [pages_of(world)[0], pages_of(world)[1], ("company", [world.company.slug])]:
        html = get(client, name, *args).content.decode()
        assert typed not in html, name
        assert escape(typed) in html, name


def test_pages_carry_no_script_and_no_style_of_their_own(client, world, monkeypatch):
    made.weekly_tests(world, 2)
    filled.fill(monkeypatch)
    signed_in(client, world, "dispatcher")
    for name, args in [pages_of(world)[0], pages_of(world)[1], pages_of(world)[3], ("company", [world.company.slug])]:
        html = get(client, name, *args).content.decode()
        assert refused(html) == [], name
