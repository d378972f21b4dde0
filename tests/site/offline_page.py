"""A browser whose network can be cut, signed in without typing, and what the stories without a signal do in it."""

from __future__ import annotations

import os
import time

import pytest
from django.conf import settings
from django.test import Client

from records import clock
from records.models import UserCheck
from tests import programs
from tests import world as made
from tests.site import one_browser

SHOTS = os.environ.get("STANDING_SHOTS", "")  # a folder for pictures, to look at
PASSPHRASE = "correct kettle bellows"
PHONE, DESK = 360, 1280
# What the worker sends by itself passes by the test's own cuts of the network.
WITHOUT_SYNC = "Object.defineProperty(ServiceWorkerRegistration.prototype, 'sync', { get: () => undefined })"


@pytest.fixture
def world(settings):
    """Two units, with the clock standing still for the live server too. A passphrase costs no time here."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    with clock.at(made.NOW):
        built = made.make(units=2)
    clock.stand_at(made.NOW)
    yield built
    clock.stand_at(None)


@pytest.fixture
def open_page(browser, live_server):
    """A page in a browser of its own, at a phone's width, as `open_page(**context)`.

    With `background` in a whole Chromium, whose worker goes on when the page is closed.
    """
    contexts, launched = [], []

    def opened(background: bool = False, **more):
        of = browser
        if background:
            whole = programs.wanted("chromium")
            of = browser.browser_type.launch(executable_path=whole, args=one_browser.ARGS)
            launched.append(of)
        context = of.new_context(viewport={"width": PHONE, "height": 800}, **more)
        context.set_default_timeout(one_browser.PATIENCE)
        if not background:
            context.add_init_script(WITHOUT_SYNC)
        contexts.append(context)
        page = context.new_page()
        page.faults = []
        page.on("pageerror", lambda e: page.faults.append(str(e)))
        page.on("console", lambda m: page.faults.append(m.text) if "Content Security Policy" in m.text else None)
        return page

    yield opened
    for each in (*contexts, *launched):
        each.close()


def signed_in(page, live_server, account) -> None:
    """Signed in by the cookie of a session."""
    client = Client()
    client.force_login(account)
    name = settings.SESSION_COOKIE_NAME
    page.context.add_cookies([{"name": name, "value": client.cookies[name].value, "url": live_server.url}])


def start(page, live_server, world, role="coordinator") -> str:
    """Signed in, with the worker in charge of the page. Returns the address of the clinic's page."""
    signed_in(page, live_server, world.people[role])
    address = f"{live_server.url}/clinic/{world.clinic.slug}/"
    page.goto(address)
    until(page, "navigator.serviceWorker.controller !== null")
    return address


def sign_in_by_typing(page, account) -> None:
    """On the page to sign in. The passphrase is set here."""
    account.set_password(PASSPHRASE)
    account.save()
    page.fill("[name=username]", account.username)
    page.fill("[name=password]", PASSPHRASE)
    page.press("[name=password]", "Enter")


def shot(page, name: str) -> None:
    """Pictures at both widths, if asked for; and neither may be wider than the window."""
    for width in (DESK, PHONE):
        page.set_viewport_size({"width": width, "height": 800})
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        assert wide == 0, f"{name} is {wide} px too wide at {width}"
        if SHOTS:
            page.screenshot(path=f"{SHOTS}/{name}-{width}.png", full_page=True)


def until(page, expression: str, arg=None, seconds: int = 60) -> None:
    """Wait until the expression is true on the page. The library's own waiting is refused by the pages' policy."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        try:
            if page.evaluate(expression, arg):
                return
        except Exception as gone:
            # Only: the page went on to another one in the middle of the question.
            if "context was destroyed" not in str(gone) and "navigation" not in str(gone):
                raise
        page.wait_for_timeout(50)
    pytest.fail(f"Never true in {seconds} seconds: {expression}. The page says: {page.locator('body').inner_text()}")


def until_recorded(page, rows, count: int, seconds: int = 60) -> None:
    """Wait until so many of the rows are on record; for when no page is open that could say so."""
    end = time.monotonic() + seconds
    while rows.count() != count and time.monotonic() < end:
        page.wait_for_timeout(100)
    assert rows.count() == count


def values() -> list[str]:
    """What was read at each check on record, in the order of its entry."""
    return [str(check.value.normalize()) for check in UserCheck.objects.order_by("entry__number")]


def fill_check(page, address: str, value: str) -> None:
    page.goto(address + "user-checks/log/")
    page.evaluate(
        """([value]) => {
            const set = (name, to) => { document.querySelector(`[name=${name}]`).value = to; };
            for (const name of ["unit", "kind"]) document.querySelector(`select[name=${name}]`).selectedIndex = 1;
            set("result", "pass"); set("on", "2026-03-16"); set("signed_by", "Ana Coordinator");
            set("value", value); set("unit_of_measure", "°C");
        }""",
        [value],
    )


def press_record(page) -> None:
    page.get_by_role("button", name="Record", exact=True).click()


def record_and_keep(page) -> None:
    press_record(page)
    page.get_by_role("heading", name="Kept on this device, not recorded yet").wait_for()


def record_and_land(page) -> None:
    with page.expect_navigation():
        press_record(page)
    assert "Recorded as entry" in page.locator("main").inner_text(), page.locator("main").inner_text()


def lose_the_answer(page) -> list[int]:
    """The server records what is sent, but its answer never arrives, however often the device tries again.

    Until `let_through`. Returns the statuses that got lost.
    """
    lost = []

    def swallow(route):
        if route.request.method == "POST":
            lost.append(route.fetch().status)
            route.abort("connectionreset")
        else:
            route.continue_()

    page.context.route("**/user-checks/log/", swallow)
    return lost


def stop_posts(page) -> None:
    page.context.route("**/user-checks/log/", lambda r: r.abort() if r.request.method == "POST" else r.continue_())


def let_through(page) -> None:
    page.context.unroute("**/user-checks/log/")


def badge(page) -> str:
    return page.locator("#outbox").inner_text()


def wait_for_badge(page, words: str) -> None:
    until(page, "words => document.getElementById('outbox').textContent.includes(words)", words)


def wait_until_nothing_waits(page) -> None:
    until(page, "OutboxStore.all().then(all => all.length === 0 && document.getElementById('outbox').hidden)")
