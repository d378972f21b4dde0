"""Nothing in the log opens a door."""

from __future__ import annotations

import io
import logging

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from audit.site.logs import WithoutSecrets, without_secrets
from records import inviting
from tests.security.conftest import PHRASE

SECRET = "aB3_-" * 8 + "xyz"
# An address that opens something by itself, and how it stands in the log.
ADDRESSES = [
    (f"/inspect/{SECRET}/", "/inspect/…/"),
    (f"/inspect/{SECRET}/binder.pdf", "/inspect/…/binder.pdf"),
    (f"/invitation/{SECRET}/", "/invitation/…/"),
    (f"/calendar/{SECRET}.ics", "/calendar/….ics"),
    (f"/forgotten/MQ/{SECRET}/", "/forgotten/MQ/…/"),
    (f"https://standing.example/invitation/{SECRET}/?x=1", "https://standing.example/invitation/…/?x=1"),
    ("/clinic/first/visits/log/", "/clinic/first/visits/log/"),
    ("/calendar/", "/calendar/"),
]


@pytest.mark.parametrize(("address", "logged"), ADDRESSES)
def test_the_secret_part_of_an_address_is_left_out(address, logged):
    assert without_secrets(f'WARNING "GET {address} HTTP/1.1" 404') == f'WARNING "GET {logged} HTTP/1.1" 404'


def test_every_address_with_a_token_is_left_out():
    """Whichever the site has: a new kind of secret address is found here."""
    from django.urls import get_resolver

    def walked(patterns, before=""):
        for each in patterns:
            here = before + str(each.pattern)
            yield from walked(each.url_patterns, here) if hasattr(each, "url_patterns") else [here]

    tokens = [each for each in walked(get_resolver().url_patterns) if "token>" in each]
    assert len(tokens) == 5
    for each in tokens:
        address = "/" + each.replace("<str:named>", "MQ").replace("<str:token>", SECRET).replace(
            "<slug:token>", SECRET
        )
        assert SECRET not in without_secrets(address), each


def test_every_line_is_written_so():
    """No handler of the site writes by another formatter, and none of Django's own is left in its place."""
    formatters = settings.LOGGING["formatters"]
    for handler in settings.LOGGING["handlers"].values():
        assert formatters[handler["formatter"]]["()"] == "audit.site.logs.WithoutSecrets"
    assert {"django", "django.server"} <= set(settings.LOGGING["loggers"])


@pytest.fixture
def logged():
    """What is written of what is logged."""
    out = io.StringIO()
    handler = logging.StreamHandler(out)
    handler.setFormatter(WithoutSecrets("%(levelname)s %(name)s: %(message)s"))
    names = ("django", "django.server", "audit", "records")
    for name in names:
        logging.getLogger(name).addHandler(handler)
    yield out.getvalue
    for name in names:
        logging.getLogger(name).removeHandler(handler)


@pytest.mark.django_db
def test_a_page_that_fails_or_is_not_there_says_so_without_its_secret(world, logged, monkeypatch):
    Client().get(f"/invitation/{SECRET}/")

    def fails(token):
        raise RuntimeError(f"at /invitation/{token}/")

    monkeypatch.setattr(inviting, "find", fails)
    Client(raise_request_exception=False).get(f"/invitation/{SECRET}/")
    logging.getLogger("django.server").info('"GET /calendar/%s.ics HTTP/1.1" 200', SECRET)
    said = logged()
    assert "Not Found: /invitation/…/" in said and "RuntimeError: at /invitation/…/" in said
    assert "/calendar/….ics" in said and SECRET not in said


@pytest.mark.django_db
def test_no_pass_phrase_is_logged(world, door, moments, logged):
    door("coordinator", "a wrong pass phrase of mine")
    door("typed-my-phrase-here-by-mistake", PHRASE)
    browser, _ = door("coordinator")
    browser.post(reverse("change-pass-phrase"), {"now": PHRASE, "phrase": "short", "again": "short"})
    said = logged()
    for secret in ("a wrong pass phrase of mine", PHRASE, "typed-my-phrase"):
        assert secret not in said
