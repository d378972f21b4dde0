"""Signing in: how often it may be tried, who may, and what is noted of it."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from records import inviting, log
from records.doors import throttle
from records.models import Account, DoorEvent, Membership
from tests import world as made
from tests.security.conftest import PHRASE, is_in

pytestmark = pytest.mark.django_db
WRONG = "another long phrase"


def events(name: str = "coordinator") -> list[str]:
    rows = DoorEvent.objects.filter(account__username=name).order_by("pk")
    return list(rows.values_list("what", flat=True))


def held(answer) -> bool:
    return b"Too many tries" in answer.content


def test_five_that_do_not_fit_hold_the_name_back_for_that_address_and_waiting_helps(world, door, moments):
    for _ in range(throttle.MOST_OF_BOTH):
        browser, answer = door("coordinator", WRONG)
        assert b"do not fit together" in answer.content and not held(answer)
    browser, answer = door("coordinator")
    assert held(answer) and not is_in(browser), "the right one is not even looked at"
    assert b"for 15 minutes" in answer.content
    for _ in range(50):
        door("coordinator", WRONG)
    assert events().count("held back") == 1, "trying on and on fills nothing"
    moments.pass_by(minutes=14)
    assert held(door("coordinator")[1]), "and what is tried meanwhile does not count"
    moments.pass_by(minutes=1, seconds=1)
    browser, answer = door("coordinator")
    assert answer.status_code == 302 and is_in(browser)
    assert events()[-1] == "signed in"


def test_a_name_held_at_one_address_gets_in_at_another(world, door, moments):
    for _ in range(throttle.MOST_OF_BOTH):
        door("coordinator", WRONG, REMOTE_ADDR="192.0.2.9")
    assert held(door("coordinator", REMOTE_ADDR="192.0.2.9")[1])
    assert door("coordinator", REMOTE_ADDR="192.0.2.10")[1].status_code == 302
    assert door("operator", REMOTE_ADDR="192.0.2.9")[1].status_code == 302


def test_a_name_that_is_tried_from_everywhere_is_held_for_all(world, door, moments):
    for n in range(throttle.MOST_OF_NAME):
        door("coordinator", WRONG, REMOTE_ADDR=f"192.0.2.{n}")
    assert held(door("coordinator", REMOTE_ADDR="198.51.100.1")[1])
    moments.pass_by(hours=1, seconds=1)
    assert door("coordinator", REMOTE_ADDR="198.51.100.1")[1].status_code == 302


def test_an_address_that_tries_many_names_is_held_for_all(world, door, moments):
    for n in range(throttle.MOST_OF_ADDRESS):
        door(f"nobody-{n}", WRONG, REMOTE_ADDR="192.0.2.9")
    assert held(door("coordinator", REMOTE_ADDR="192.0.2.9")[1])
    assert door("coordinator", REMOTE_ADDR="192.0.2.10")[1].status_code == 302


def test_getting_in_begins_the_count_anew(world, door, moments):
    for _ in range(3):
        for _ in range(throttle.MOST_OF_BOTH - 1):
            door("coordinator", WRONG)
        assert door("coordinator")[1].status_code == 302


def test_who_writes_its_own_proxy_header_is_still_known_by_its_address(world, door, moments, settings):
    for n in range(throttle.MOST_OF_BOTH):
        door("coordinator", WRONG, HTTP_X_FORWARDED_FOR=f"203.0.113.{n}")
    assert held(door("coordinator", HTTP_X_FORWARDED_FOR="203.0.113.99")[1])
    settings.BEHIND_PROXY = True
    forged = "203.0.113.1, 198.51.100.7"  # the last one is what the proxy wrote
    for n in range(throttle.MOST_OF_BOTH):
        door("operator", WRONG, HTTP_X_FORWARDED_FOR=f"203.0.113.{n}, 198.51.100.7")
    assert held(door("operator", HTTP_X_FORWARDED_FOR=forged)[1])
    assert door("operator", HTTP_X_FORWARDED_FOR="198.51.100.7, 198.51.100.8")[1].status_code == 302


def test_nothing_says_whether_a_name_is_there(world, door, moments):
    there, not_there = door("coordinator", WRONG)[1], door("no-such-name", WRONG)[1]
    assert there.status_code == not_there.status_code == 200
    cut = [
        a.content.decode().partition('name="username"')[0].split("csrfmiddlewaretoken")[0] for a in (there, not_there)
    ]
    assert cut[0] == cut[1]
    assert not DoorEvent.objects.filter(name__contains="no-such").exists(), "what was typed is kept as a digest only"


def test_the_administrator_s_site_has_no_door_of_its_own(world, door, moments):
    Account.objects.filter(username="coordinator").update(is_staff=True, is_superuser=True)
    answer = Client().post("/admin/login/?next=/admin/", {"username": "coordinator", "password": PHRASE})
    assert answer.status_code == 302 and answer["Location"] == reverse("sign-in") + "?next=/admin/"
    browser, _ = door("coordinator")
    assert browser.get("/admin/").status_code == 200


def test_who_left_gets_in_only_while_something_of_theirs_is_left_to_open(world, door, moments):
    """`viewer` logged nothing, `operator` did; both leave. A membership that begins later counts as belonging."""
    by = {"by": world.people["coordinator"]}
    log.log_load(
        by=world.people["operator"], request_key=made.key(), clinic=world.clinic, unit=world.unit, on=made.TODAY,
        cycle_number="1", program="wrapped",
    )  # fmt: skip
    for role in ("viewer", "operator"):
        assert door(role)[1].status_code == 302
        row = Membership.objects.get(person=Account.objects.get(username=role).person)
        inviting.end_membership(
            **by, request_key=made.key(), membership=row, effective_on=made.TODAY, reason="left"
        )  # fmt: skip
    browser, answer = door("viewer")
    assert b"This log-in was closed" in answer.content and not is_in(browser)
    assert b"This log-in was closed" not in door("viewer", WRONG)[1].content, "said only to who knows the pass phrase"
    assert "closed" in events("viewer")
    assert door("operator")[1].status_code == 302, "what somebody logged stays open to them"
    assert door("nobody")[1].status_code == 302, "who never belonged anywhere waits for an invitation"


def test_a_log_in_that_is_switched_off_ends_at_once(world, door, moments):
    browser, _ = door("coordinator")
    assert is_in(browser)
    Account.objects.filter(username="coordinator").update(is_active=False)
    assert not is_in(browser)
    assert b"This log-in was closed" in door("coordinator")[1].content


def test_its_person_and_who_manages_the_place_read_what_happened(world, door, moments):
    door("operator", WRONG, HTTP_USER_AGENT="Invented Firefox Windows", REMOTE_ADDR="192.0.2.77")
    browser, _ = door("operator")
    own = browser.get(reverse("my-log-in")).content.decode()
    assert "refused" in own and "Firefox on Windows, 192.0.2.77" in own and "signed in" in own
    chief, _ = door("coordinator")
    seen = chief.get(reverse("clinic-sign-ins", args=[world.clinic.slug])).content.decode()
    assert "192.0.2.77" in seen and "Pat Operator" in seen
    stranger, _ = door("other-coordinator")
    assert stranger.get(reverse("clinic-sign-ins", args=[world.clinic.slug])).status_code == 404
    theirs = stranger.get(reverse("clinic-sign-ins", args=[world.other_clinic.slug])).content.decode()
    assert "192.0.2.77" not in theirs
    assert browser.get(reverse("clinic-sign-ins", args=[world.clinic.slug])).status_code == 403


def test_what_is_too_old_is_forgotten(world, door, moments):
    door("operator", WRONG)
    door("no-such-name", WRONG)
    moments.pass_by(days=401)
    door("operator")
    door("no-such-name", WRONG)
    assert events("operator") == ["signed in"]
    assert DoorEvent.objects.filter(account=None).count() == 1
