"""Sittings: how long they last, who sees and ends them, and what a changed pass phrase does to them."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from records.doors import reset
from records.models import Account, DoorEvent, Sitting
from tests.security.conftest import PHRASE, is_in

pytestmark = pytest.mark.django_db
NEW = "seven lids under the bench"


def test_a_sitting_ends_when_it_is_not_used_and_lasts_while_it_is(world, door, moments, settings):
    settings.SITTING_IDLE, settings.SITTING_LONGEST = timedelta(minutes=30), timedelta(hours=12)
    browser, _ = door("coordinator")
    for _ in range(5):
        moments.pass_by(minutes=29)
        assert is_in(browser)
    moments.pass_by(minutes=31)
    assert not is_in(browser)


def test_no_sitting_lasts_longer_than_the_longest_however_much_it_is_used(world, door, moments, settings):
    settings.SITTING_IDLE, settings.SITTING_LONGEST = timedelta(hours=2), timedelta(hours=12)
    browser, _ = door("coordinator")
    for _ in range(11):
        moments.pass_by(hours=1)
        assert is_in(browser)
    moments.pass_by(hours=1, seconds=1)
    assert not is_in(browser)


def test_what_has_ended_is_cleared_away_at_the_next_signing_in(world, door, moments):
    door("coordinator")
    door("operator")
    moments.pass_by(days=2)
    door("coordinator")
    assert sorted(Sitting.objects.values_list("account__username", flat=True)) == ["coordinator", "operator"]


def test_what_a_device_asks_by_itself_keeps_no_sitting_alive(world, door, moments, settings):
    settings.SITTING_IDLE = timedelta(minutes=30)
    browser, _ = door("coordinator")
    for _ in range(3):
        moments.pass_by(minutes=11)
        browser.get(reverse("waiting-state"))
    assert not is_in(browser)


def test_looking_at_a_page_writes_nothing_most_of_the_time(world, door, moments):
    browser, _ = door("coordinator")
    address = reverse("clinic", args=[world.clinic.slug])
    browser.get(address)
    with CaptureQueriesContext(connection) as taken:
        browser.get(address)
    assert not [q for q in taken if not q["sql"].startswith("SELECT")]
    moments.pass_by(minutes=6)
    with CaptureQueriesContext(connection) as taken:
        browser.get(address)
    assert [q["sql"].split()[0] for q in taken if not q["sql"].startswith("SELECT")] == ["UPDATE"]


def test_one_sees_where_one_is_signed_in_and_ends_it(world, door, moments):
    here, _ = door("coordinator", HTTP_USER_AGENT="Invented Firefox Windows")
    moments.pass_by(minutes=1)
    there, _ = door("coordinator", HTTP_USER_AGENT="Invented Safari iPhone", REMOTE_ADDR="192.0.2.5")
    page = here.get(reverse("my-log-in")).content.decode()
    assert "Firefox on Windows" in page and "Safari on iPhone" in page and "192.0.2.5" in page
    assert not any(key in page for key in Sitting.objects.values_list("session_key", flat=True))
    other = Sitting.objects.order_by("began_at").last()
    assert here.post(reverse("end-sitting"), {"which": other.handle}).status_code == 302
    assert is_in(here) and not is_in(there)
    assert DoorEvent.objects.filter(what="sitting ended").count() == 1


def test_nobody_ends_the_sitting_of_another(world, door, moments):
    mine, _ = door("coordinator")
    theirs, _ = door("operator")
    target = Sitting.objects.get(account__username="coordinator")
    theirs.post(reverse("end-sitting"), {"which": target.handle})
    theirs.post(reverse("end-sitting"), {"which": target.session_key})
    theirs.post(reverse("end-sitting"), {"which": "others"})
    assert is_in(mine)


def test_a_changed_pass_phrase_ends_every_other_sitting(world, door, moments):
    here, _ = door("coordinator")
    there, _ = door("coordinator")
    sent = {"now": PHRASE, "phrase": NEW, "again": NEW}
    assert here.post(reverse("change-pass-phrase"), sent).status_code == 302
    assert is_in(here) and not is_in(there)
    assert is_in(door("coordinator", NEW)[0])
    assert b"do not fit" in door("coordinator", PHRASE)[1].content


# What is typed, which field it stands at, what is said.
REFUSED = [
    ({"now": "not the one of now"}, "now", "do not fit together"),
    ({"now": ""}, "now", ""),
    ({"phrase": "elevenchars", "again": "elevenchars"}, "phrase", "12 characters"),
    ({"phrase": "password1234567", "again": "password1234567x"}, "again", "The two differ"),
    ({"phrase": "1q2w3e4r5t6y", "again": "1q2w3e4r5t6y"}, "phrase", "too common"),
    ({"phrase": "coordinator-1", "again": "coordinator-1"}, "phrase", "too similar"),
]


@pytest.mark.parametrize(("typed", "field", "said"), REFUSED, ids=[f"{n}" for n, _ in enumerate(REFUSED)])
def test_a_new_pass_phrase_is_refused_with_the_reason(world, door, moments, typed, field, said):
    browser, _ = door("coordinator")
    answer = browser.post(reverse("change-pass-phrase"), {"now": PHRASE, "phrase": NEW, "again": NEW} | typed)
    assert answer.status_code == 422
    assert any(said in message for message in answer.context["form"].errors[field])
    assert Account.objects.get(username="coordinator").check_password(PHRASE)


def test_the_page_that_changes_it_is_no_way_to_guess_it(world, door, moments):
    browser, _ = door("coordinator")
    for _ in range(6):
        sent = {"now": "not the one of now", "phrase": NEW, "again": NEW}
        answer = browser.post(reverse("change-pass-phrase"), sent)
    assert b"Too many tries" in answer.content
    assert b"Too many tries" in browser.post(reverse("change-pass-phrase"), sent | {"now": PHRASE}).content


# --------------------------------------------------------------------------------------------------- forgotten


def link_in(message) -> str:
    return next(line for line in message.body.splitlines() if "/forgotten/" in line).removeprefix(
        "http://localhost:8000"
    )


def test_a_link_by_mail_opens_once_and_ends_every_sitting(world, door, moments):
    old, _ = door("coordinator")
    browser = Client(HTTP_HOST="localhost")
    browser.post(reverse("forgotten"), {"name": "coordinator"})
    (message,) = mail.outbox
    assert message.to == ["coordinator@place.example"]
    link = link_in(message)
    assert browser.get(link).status_code == 200
    assert browser.post(link, {"phrase": "short", "again": "short"}).status_code == 422
    assert browser.post(link, {"phrase": NEW, "again": NEW})["Location"] == reverse("sign-in")
    assert not is_in(old) and not is_in(browser), "it signs nobody in"
    again = browser.get(link)
    assert again.status_code == 404, "and opens no second time"
    assert "This link opens nothing" in again.content.decode() and reverse("forgotten") in again.content.decode()
    assert is_in(door("coordinator", NEW)[0])
    what = DoorEvent.objects.filter(account__username="coordinator").values_list("what", flat=True)
    assert "reset asked for" in what and "pass phrase reset" in what
    told = mail.outbox[-1]
    assert told.subject == "Your log-in: pass phrase reset" and "127.0.0.1" in told.body and NEW not in told.body


def test_the_answer_is_the_same_whether_or_not_there_is_such_a_name(world, moments):
    Account.objects.filter(username="operator").update(email="")
    answers = {
        Client().post(reverse("forgotten"), {"name": name}).content for name in ("viewer", "operator", "no-one")
    }
    assert len(answers) == 1 and len(mail.outbox) == 1


def test_a_mail_address_that_was_just_changed_gets_no_link(world, door, moments):
    browser, _ = door("operator")
    browser.post(reverse("my-mail"), {"every": "never", "email": "thief@place.example"})
    Client().post(reverse("forgotten"), {"name": "operator"})
    assert [(m.to, m.subject) for m in mail.outbox] == [
        (["operator@place.example"], "Your log-in: mail address changed"),
    ]  # fmt: skip
    moments.pass_by(hours=25)
    Client().post(reverse("forgotten"), {"name": "operator"})
    assert [m.to for m in mail.outbox][1:] == [["thief@place.example"]]


def test_links_are_asked_for_so_often_and_no_more(world, moments):
    for _ in range(6):
        Client().post(reverse("forgotten"), {"name": "operator"})
    assert len(mail.outbox) == 3
    answers = [Client().post(reverse("forgotten"), {"name": f"n{n}"}).status_code for n in range(10)]
    assert answers[-1] == 429 and answers[0] == 200


def test_a_made_up_link_opens_nothing_and_guessing_is_stopped(world, moments):
    good = reset.address_for(world.people["viewer"]).partition("/forgotten/")[2]
    named, token, _ = good.split("/")
    for each in (f"{named}/{token[:-1]}x", f"AAAA/{token}", "x/y", f"{named}/"):
        assert Client().get(f"/forgotten/{each}").status_code in (301, 404)
    for _ in range(60):
        Client().get(reverse("reset-pass-phrase", args=[named, "x-y"]))
    assert Client().get(reverse("reset-pass-phrase", args=[named, token])).status_code == 429


def test_an_administrator_hands_out_a_link_and_never_knows_the_pass_phrase(world, door, moments):
    Account.objects.filter(username="coordinator").update(is_staff=True, is_superuser=True)
    chief, _ = door("coordinator")
    viewer = world.people["viewer"]
    address = reverse("admin:records_account_door", args=[viewer.pk])
    assert address in chief.get(reverse("admin:records_account_change", args=[viewer.pk])).content.decode()
    page = chief.post(address, {"do": "link"}).content.decode()
    link = page.partition("http://localhost:8000")[2].partition("<")[0].strip()
    browser = Client()
    assert browser.post(link, {"phrase": NEW, "again": NEW}).status_code == 302
    assert is_in(door("viewer", NEW)[0])
    assert "reset link made" in DoorEvent.objects.filter(account=viewer).values_list("what", flat=True)
    chief.post(address, {"do": "sittings"})
    assert not Sitting.objects.filter(account=viewer).exists()


def test_nobody_else_makes_such_a_link(world, door, moments):
    viewer = world.people["viewer"]
    address = reverse("admin:records_account_door", args=[viewer.pk])
    browser, _ = door("coordinator")
    assert browser.post(address, {"do": "link"}).status_code == 302, "sent to sign in as an administrator"
    Account.objects.filter(username="coordinator").update(is_staff=True)
    assert browser.post(address, {"do": "link"}).status_code == 403, "looking at records is not looking after log-ins"
    assert not DoorEvent.objects.filter(what="reset link made").exists()
