"""People's ways through the pages in a real browser: whole stories at a phone's and a desk's width, the rest at one.

Chromium is Debian's (`/usr/bin/chromium`); without it these are skipped, or fail where the check script wants them.
"""

from __future__ import annotations

from datetime import date
from functools import cache
from importlib import import_module

import pytest
from django.conf import settings
from django.contrib.auth.hashers import make_password
from django.test import Client

from audit.issue.jobs import queue, workers
from audit.models import BinderJob
from records import clock
from records.models import Account, BioTest, Entry
from tests import world as made
from tests.site import one_browser

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

PASSPHRASE = "correct kettle bellows"
# For what does not depend on how wide the window is.
on_a_phone = pytest.mark.parametrize("page", [360], indirect=True, ids=["phone"])
on_a_desk = pytest.mark.parametrize("page", [1280], indirect=True, ids=["desk"])
# For a story that is told once and looks at its pages in both widths by itself.
WORKED = "with the worker"
on_a_phone_with_its_worker = pytest.mark.parametrize("page", [(360, WORKED)], indirect=True, ids=["phone"])


@pytest.fixture
def browser():
    return one_browser.opened()


@cache
def hashed() -> str:
    """The passphrase as it is kept: made once, because making it is slow on purpose."""
    return make_password(PASSPHRASE)


@pytest.fixture
def world():
    with clock.at(made.NOW):
        built = made.make(units=2)
    Account.objects.update(password=hashed())
    clock.stand_at(made.NOW)
    yield built
    clock.stand_at(None)


@pytest.fixture(params=[360, 1280], ids=["phone", "desk"])
def page(browser, request):
    """A page; of a story told at both widths, on the phone with the worker of the site, as a phone has it.

    The worker takes longer to install than most stories take to tell. What it does has its own tests, and so has all
    that is recorded while it is in charge (`offline_page.py`).
    """
    both = request.node.get_closest_marker("parametrize") is None
    width, worked = request.param if isinstance(request.param, tuple) else (request.param, both)
    worker = "allow" if worked and width == 360 else "block"
    context = browser.new_context(viewport={"width": width, "height": 800}, service_workers=worker)
    context.set_default_timeout(one_browser.PATIENCE)
    opened = context.new_page()
    opened.faults = []
    opened.on("console", lambda m: opened.faults.append(m.text) if m.type == "error" else None)
    opened.on("pageerror", lambda e: opened.faults.append(str(e)))
    refused = listen_for_refusals(context)
    yield opened
    context.close()
    assert refused == [], "the policy of the pages refused something that a page wanted"


def listen_for_refusals(context) -> list[str]:
    """What the Content Security Policy refuses from now on in any page of the context."""
    refused: list[str] = []
    context.expose_function("policyRefused", lambda what: refused.append(what))
    context.add_init_script(
        "document.addEventListener('securitypolicyviolation', (e) => window.policyRefused("
        "`${e.documentURI}: ${e.effectiveDirective} ${e.blockedURI} ${e.sample}`))"
    )
    return refused


def sign_in(page, live_server, name: str, path: str = "/") -> None:
    """Signed in, at that page, without typing: what signing in does has its own tests."""
    client = Client()
    client.force_login(Account.objects.get(username=name))
    cookie = client.cookies[settings.SESSION_COOKIE_NAME].value
    page.context.add_cookies([{"name": settings.SESSION_COOKIE_NAME, "value": cookie, "url": live_server.url}])
    page.goto(live_server.url + path)


def type_sign_in(page, live_server, name: str, phrase: str = PASSPHRASE) -> None:
    page.goto(live_server.url + "/")
    page.fill("[name=username]", name)
    page.fill("[name=password]", phrase)
    page.press("[name=password]", "Enter")
    page.wait_for_load_state()


def sign_out(page) -> None:
    """By the menu, as on every page."""
    page.locator("header .menu > summary").click()
    page.get_by_role("button", name="Sign out", exact=True).click()


def send_form(page) -> None:
    """Press the last button of the form, and wait for the answer: it is sent by script, which may keep it instead."""
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        page.locator("main form button[type=submit]").last.click()
    page.get_by_text("Recording …").wait_for(state="detached")
    page.wait_for_load_state()


def sideways(page) -> int:
    """By how many pixels the page is wider than the window."""
    return page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


def test_a_coordinator_starts_a_spore_test_reads_growth_and_sees_the_unit_out_of_service(page, live_server, world):
    type_sign_in(page, live_server, world.people["coordinator"].username)
    assert page.locator("h1").inner_text() == world.clinic.name
    page.get_by_role("link", name="Start a spore test").first.click()
    page.select_option("[name=unit]", label=page.locator("[name=unit] option").nth(1).inner_text())
    page.fill("[name=on]", "2026-03-13")
    page.fill("[name=cycle_type]", "wrapped 134")
    for lot in ("lot", "control_lot"):
        page.select_option(f"[name={lot}]", index=1)
    page.select_option("[name=mechanical]", "pass")
    page.select_option("[name=chemical]", "pass")
    assert page.locator("[name=test]").count() == 0, "a test is started without a result"
    send_form(page)
    assert "Nothing was recorded" not in page.locator("main").inner_text(), page.locator("main").inner_text()
    test = BioTest.objects.get()
    page.goto(f"{live_server.url}/clinic/{world.clinic.slug}/")
    page.locator(f"main a[href*='{test.ref}/read/']").first.click()
    page.wait_for_load_state()
    assert page.locator("[name=test]").input_value() == "", "no result is ever filled in"
    page.select_option("[name=test]", "growth")
    page.select_option("[name=control]", "growth")
    page.fill("[name=on]", "2026-03-16")
    send_form(page)
    page.goto(f"{live_server.url}/clinic/{world.clinic.slug}/")
    text = page.locator("main").inner_text()
    assert "Out of service" in text and "Open failures" in text
    assert test.readings.get().happened_on == date(2026, 3, 16)
    assert sideways(page) == 0 and page.faults == []


def test_a_technician_logs_a_visit_with_two_units_by_keyboard_and_page(page, live_server, world):
    before = Entry.objects.count()
    sign_in(page, live_server, world.people["technician"].username, f"/clinic/{world.clinic.slug}/visits/log/")
    for box in page.locator("[name=units]").all():
        box.check()
    page.locator("main form button[type=submit]").first.press("Enter")
    page.wait_for_load_state()
    assert sideways(page) == 0
    send_form(page)
    page.get_by_text("Nothing was recorded").first.wait_for()
    assert "Reason" in page.locator("main").inner_text()
    assert Entry.objects.count() == before, "a refused visit writes nothing"
    assert [f for f in page.faults if "422" not in f] == []


@on_a_desk
def test_a_binder_comes_as_a_draft_and_is_followed_while_it_is_made(
    page, live_server, world, settings, monkeypatch, tmp_path
):  # fmt: skip
    settings.BINDER_WORKER, settings.DATA_DIR = "none", tmp_path
    monkeypatch.setattr(import_module("audit.pages.binders"), "REFRESH_SECONDS", 0.5)
    sign_in(page, live_server, world.people["coordinator"].username, f"/clinic/{world.clinic.slug}/binders/")
    page.get_by_role("link", name="Make a draft").click()
    page.get_by_role("button", name="Make the draft").click()
    page.wait_for_url("**/binders/*-*/")
    page.get_by_text("It waits for its turn").wait_for()
    workers.work_off()
    with page.expect_download() as coming:
        page.get_by_role("link", name="Download the draft").click()
    assert coming.value.suggested_filename.startswith("draft-not-issued-")
    assert coming.value.path().read_bytes().startswith(b"%PDF")

    page.goto(f"{live_server.url}/clinic/{world.clinic.slug}/")
    page.locator("#binder > summary").click()
    page.get_by_role("button", name="Make the binder").click()
    page.wait_for_url("**/binders/*-*/")
    page.get_by_text("It waits for its turn").wait_for()
    page.evaluate("window.opened_once = true")
    page.locator("main a", has_text="the list of binders").focus()

    at_work = {"worker": queue.this_worker(), "heartbeat": clock.now(), "attempts": 1}
    BinderJob.objects.update(state="running", done=3, total=7, what="laying out", **at_work)
    page.locator("progress[value='3']").wait_for()
    assert page.evaluate("document.activeElement.textContent") == "the list of binders", "the focus stays"
    with page.expect_event("requestfailed"):
        page.context.set_offline(True)
    BinderJob.objects.update(state="failed", problem="An invented fault.")
    page.context.set_offline(False)
    page.get_by_text("An invented fault.").wait_for()
    assert page.title().startswith("Binder not made") and page.locator("h1").inner_text() == "The binder was not made"
    assert page.evaluate("window.opened_once"), "the page was changed, not opened anew"
    assert [fault for fault in page.faults if "ERR_INTERNET_DISCONNECTED" not in fault] == []


@on_a_phone
def test_a_wrong_passphrase_says_what_to_do_and_keeps_the_name(page, live_server, world):
    name = world.people["viewer"].username
    type_sign_in(page, live_server, name, "not this one")
    assert page.locator("[name=username]").input_value() == name
    assert "coordinator" in page.locator("main").inner_text()
