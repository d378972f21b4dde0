"""Passkeys in a real browser with its own virtual authenticator, by keyboard; what is said where they cannot be."""

from __future__ import annotations

from urllib.parse import urlsplit

import pytest

from records.doors import passkeys
from records.models import LoadRelease, Passkey
from tests import world as made
from tests.site.test_browser import (  # noqa: F401 (fixtures)
    PASSPHRASE,
    browser,
    on_a_phone,
    page,
    sideways,
    sign_out,
    type_sign_in,
    world,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


class Authenticator:
    """The browser's own (WebDriver extension of Web Authentication Level 2, 11.2, over its debugging protocol)."""

    def __init__(self, page):  # noqa: F811
        self.protocol = page.context.new_cdp_session(page)
        self.protocol.send("WebAuthn.enable")
        kind = {
            "protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True,
            "isUserVerified": True, "automaticPresenceSimulation": True,
        }  # fmt: skip
        self.id = self.protocol.send("WebAuthn.addVirtualAuthenticator", {"options": kind})["authenticatorId"]

    def knows_its_person(self, yes: bool) -> None:
        self.protocol.send("WebAuthn.setUserVerified", {"authenticatorId": self.id, "isUserVerified": yes})


def decided(world):  # noqa: F811
    from records import log

    operator = world.people["operator"]
    load = log.log_load(
        by=operator, request_key=made.key(), clinic=world.clinic, unit=world.unit, on=made.TODAY, cycle_number="1",
        program="wrapped",
    )  # fmt: skip
    return log.release_load(
        by=operator, request_key=made.key(), clinic=world.clinic, load=load, decision="rejected", reason="torn",
        on=made.TODAY,
    )  # fmt: skip


def press(page, name: str) -> None:  # noqa: F811
    """By keyboard: the button has the focus, and Enter presses it."""
    button = page.get_by_role("button", name=name)
    button.wait_for()
    button.focus()
    with page.expect_navigation():
        page.keyboard.press("Enter")
    page.wait_for_load_state()


def leave(page) -> None:  # noqa: F811
    sign_out(page)
    page.locator("h1", has_text="Sign in").wait_for()


@on_a_phone
def test_a_passkey_is_made_opens_and_signs(page, live_server, world, settings):  # noqa: F811
    settings.SITE_ADDRESS = live_server.url
    row = decided(world)
    device = Authenticator(page)
    type_sign_in(page, live_server, world.people["operator"].username)
    page.goto(live_server.url + "/log-in/passkeys/")
    page.fill("[name=name]", "blue key")
    page.fill("[name=now]", PASSPHRASE)
    with page.expect_navigation():
        page.keyboard.press("Enter")
    assert sideways(page) == 0
    press(page, "Make the passkey")
    assert page.locator("h1").inner_text() == "Recovery codes", page.locator("main").inner_text()
    assert Passkey.objects.get().name == "blue key"

    # The next signing in asks for it.
    leave(page)
    type_sign_in(page, live_server, world.people["operator"].username)
    assert page.locator("h1").inner_text() == "Use your passkey" and sideways(page) == 0
    press(page, "Use a passkey")
    assert page.locator("h1").inner_text() == world.clinic.name, page.locator("main").inner_text()
    used = Passkey.objects.get()
    assert used.used_at is not None

    # It signs, unless the device does not know who holds it.
    page.goto(f"{live_server.url}/clinic/{world.clinic.slug}/records/loadrelease/{row.origin}/sign/")
    device.knows_its_person(False)
    page.get_by_role("button", name="Sign with my passkey").click()
    page.get_by_text("No passkey was given").wait_for()
    assert "Or sign with the pass phrase." in page.locator(".passkey-said").inner_text()
    device.knows_its_person(True)
    press(page, "Sign with my passkey")
    newest = LoadRelease.objects.newest().get()
    assert newest.amend_reason == "Signed by its person with passkey.", page.locator("main").inner_text()
    assert "signed with passkey" in page.locator("main").inner_text()

    # A page that was opened under another name than the site's says so, and offers what works there.
    elsewhere = live_server.url.replace("localhost", "127.0.0.1")
    settings.SITE_ADDRESS, settings.ALLOWED_HOSTS = live_server.url, ["localhost", "127.0.0.1"]
    leave(page)
    page.goto(elsewhere + "/sign-in/")
    page.fill("[name=username]", world.people["operator"].username)
    page.fill("[name=password]", PASSPHRASE)
    page.press("[name=password]", "Enter")
    page.locator("h1", has_text="Use your passkey").wait_for()
    page.locator(".passkey-said", has_text="belong to").wait_for()
    said = page.locator(".passkey-said").inner_text()
    assert f"belong to {passkeys.origin()}" in said and urlsplit(elsewhere).netloc in said
    assert "Type a code below." in said
    assert page.locator("[data-passkey] button").is_hidden() and page.locator("[name=code]").is_visible()
    assert page.faults == []
