"""What costs much, or makes a key, is asked for so often and no more; and nobody guesses addresses of secrets."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from django.test import Client
from django.urls import reverse

from records.doors import often
from records.models import Taken
from tests.security.conftest import is_in

pytestmark = pytest.mark.django_db


# Address, arguments by the world, how often an hour, method.
LIMITED = [
    ("make-binder", lambda w: [w.clinic.slug], 30, "post"),
    ("make-draft", lambda w: [w.clinic.slug], 30, "post"),
    ("clinic-invite", lambda w: [w.clinic.slug], 60, "post"),
    ("clinic-offer", lambda w: [w.clinic.slug], 60, "post"),
    ("my-calendar", lambda w: [], 20, "post"),
]


@pytest.mark.parametrize(("name", "args", "most", "method"), LIMITED, ids=[row[0] for row in LIMITED])
def test_so_often_and_no_more_and_for_nobody_else(world, door, moments, name, args, most, method):
    browser, _ = door("coordinator")
    address = reverse(name, args=args(world))
    assert {getattr(browser, method)(address).status_code for _ in range(most)} & {429} == set()
    answer = getattr(browser, method)(address)
    assert answer.status_code == 429 and b"Nothing that is on record is lost" in answer.content
    assert browser.get(address).status_code == 200, "looking is not limited"
    other, _ = door("operator")
    assert getattr(other, method)(address).status_code != 429
    moments.pass_by(hours=1)
    assert getattr(browser, method)(address).status_code != 429


# Kinds of addresses that are keys, with one that is none.
GUESSED = [
    lambda n: reverse("inspect", args=[f"{n:043d}"]),
    lambda n: reverse("invitation", args=[f"{n:043d}"]),
    lambda n: reverse("calendar-file", args=[f"{n:043d}"]),
]


@pytest.mark.parametrize("address", GUESSED, ids=["inspect", "invitation", "calendar"])
def test_addresses_of_secrets_are_not_guessed(world, moments, address):
    found = [Client().get(address(n)).status_code for n in range(62)]
    assert found[:60] == [404] * 60 and found[60:] == [429] * 2
    assert Client().get(address(1), REMOTE_ADDR="192.0.2.8").status_code == 404, "others are not in the way"
    moments.pass_by(hours=1)
    assert Client().get(address(1)).status_code == 404


def test_counting_keeps_nothing_of_hours_gone_by_whoever_asked(world, moments):
    moments.now = datetime(2026, 3, 16, 12, 30, tzinfo=UTC)
    for who in ("somebody", "somebody", "somebody else", "a third"):
        often.is_too_often("a thing", who, 5)
        often.is_too_often("a thing a day", who, 5, 24 * often.HOUR)
        moments.pass_by(hours=1)
    assert Taken.objects.count() == 4, "of the last hour one, and three of this day"
    moments.pass_by(days=1)
    often.is_too_often("a thing", "somebody", 5)
    assert Taken.objects.count() == 1
    assert not often.is_too_often("a thing", "a third", 1)
    assert often.is_too_often("a thing", "a third", 1)


def test_what_a_device_sends_by_itself_is_never_turned_away_for_being_much(world, door, moments):
    """A day's typing that waited for a signal comes all at once."""
    browser, _ = door("coordinator")
    address = reverse("log-leak", args=[world.clinic.slug])
    assert {browser.post(address).status_code for _ in range(80)} == {422}
    assert is_in(browser)
