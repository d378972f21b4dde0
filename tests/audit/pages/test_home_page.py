"""The first page, signing in and out."""

from __future__ import annotations

import pytest
from django.urls import reverse

from records import log
from records.models import Account
from tests import world as made
from tests.audit.pages.tools import get, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("role", "name", "of"),
    [
        ("coordinator", "clinic", "clinic"),
        ("operator", "clinic", "clinic"),
        ("technician", "company", "company"),
        ("dispatcher", "company", "company"),
    ],
)
def test_home_leads_to_the_one_place_there_is(client, world, role, name, of):
    answer = get(signed_in(client, world, role), "home")
    assert answer.status_code == 302
    assert answer.url == reverse(name, args=[getattr(world, of).slug])


def test_home_of_somebody_in_two_clinics_lists_both_with_their_answers(client, world):
    log.log_membership(
        by=world.people["other-coordinator"], request_key=made.key(), organisation=world.other_clinic,
        account=world.people["operator"], role="operator", effective_on=made.BEGIN,
    )  # fmt: skip
    answer = get(signed_in(client, world, "operator"), "home")
    assert answer.status_code == 200
    seen = text_of(answer)
    assert "First Clinic" in seen and "Other Clinic" in seen
    assert "1 In service, overdue" in seen


def test_home_of_somebody_who_belongs_nowhere_says_what_to_do(client, world):
    answer = get(signed_in(client, world, "nobody"), "home")
    assert answer.status_code == 200
    assert "ask its coordinator to record your membership" in text_of(answer)


def test_signing_in_leads_on_and_an_error_names_the_way_out(client, world):
    Account.objects.create_user("ina", password="a long invented phrase")
    page = reverse("sign-in")
    wrong = client.post(page, {"username": "ina", "password": "wrong"})
    assert wrong.status_code == 200
    assert "do not fit together" in text_of(wrong) and "ask whoever runs this site" in text_of(wrong)
    assert 'value="ina"' in wrong.content.decode()
    right = client.post(page, {"username": "ina", "password": "a long invented phrase", "next": "/"})
    assert right.status_code == 302 and right.url == "/"
    away = client.post(page + "?next=https://elsewhere.example/", {"username": "ina", "password": "x"})
    assert "elsewhere.example" not in (away.headers.get("Location") or "")


def test_signing_out_takes_a_post(client, world):
    signed_in(client, world, "coordinator")
    assert client.get(reverse("sign-out")).status_code == 405
    assert client.post(reverse("sign-out")).url == reverse("sign-in")
    assert get(client, "home").status_code == 302
