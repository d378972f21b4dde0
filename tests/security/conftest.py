"""The small world with a pass phrase for everybody, and real moments that a test moves itself."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.contrib.auth.hashers import make_password
from django.test import Client
from django.urls import reverse

from records import clock
from records.doors import mailing
from records.models import Account
from tests import world as made

PHRASE = "correct kettle bellows"


class Moments:
    """The real moment as the door sees it."""

    def __init__(self) -> None:
        self.now = datetime.now(UTC)

    def pass_by(self, **span) -> None:
        self.now += timedelta(**span)


@pytest.fixture
def moments(monkeypatch):
    one = Moments()
    monkeypatch.setattr(clock, "real", lambda: one.now)
    return one


@pytest.fixture(autouse=True)
def mail_at_once(monkeypatch):
    """A mail leaves in the same breath."""
    monkeypatch.setattr(mailing, "send_apart", lambda message: message.send())


@pytest.fixture
def world(settings):
    """Hashing takes no time here; what a hash costs is not tested."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    with clock.at(made.NOW):
        built = made.make()
        hashed = make_password(PHRASE)
        for person in built.people.values():
            person.password, person.email = hashed, f"{person.username}@place.example"
        Account.objects.bulk_update(built.people.values(), ["password", "email"])
        yield built


@pytest.fixture
def door(world):
    """Sign in as somebody: `door("coordinator")` answers (browser, answer)."""

    def tried(name: str, phrase: str = PHRASE, browser: Client | None = None, **headers):
        browser = browser or Client()
        answer = browser.post(reverse("sign-in"), {"username": name, "password": phrase}, **headers)
        return browser, answer

    return tried


def is_in(browser: Client) -> bool:
    return browser.get(reverse("my-log-in")).status_code == 200
