"""Each person's way through the pages in a real browser, at a phone's and a desk's width.

Chromium is Debian's (`/usr/bin/chromium`); without it these are skipped, or fail where the check script wants them.
"""

from __future__ import annotations

import os
import shutil
from datetime import date

import pytest

from records import clock
from records.models import BioTest, Entry
from tests import world as made

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

CHROMIUM = shutil.which("chromium")
ARGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
PASSPHRASE = "correct kettle bellows"


@pytest.fixture(scope="module")
def browser():
    if CHROMIUM is None:
        if os.environ.get("STANDING_NEEDS_CHROMIUM"):
            pytest.fail("Chromium is not installed.")
        pytest.skip("Chromium is not installed (Debian package chromium)")
    from playwright.sync_api import sync_playwright

    # The browser's own event loop makes Django refuse the database in this thread, where nothing is concurrent.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=CHROMIUM, args=ARGS)
        yield launched
        launched.close()
    del os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"]


@pytest.fixture
def world():
    with clock.at(made.NOW):
        built = made.make(units=2)
    for person in built.people.values():
        person.set_password(PASSPHRASE)
        person.save()
    clock.stand_at(made.NOW)
    yield built
    clock.stand_at(None)


@pytest.fixture(params=[360, 1280], ids=["phone", "desk"])
def page(browser, request):
    context = browser.new_context(viewport={"width": request.param, "height": 800})
    context.set_default_timeout(8000)
    opened = context.new_page()
    opened.faults = []
    opened.on("console", lambda m: opened.faults.append(m.text) if m.type == "error" else None)
    opened.on("pageerror", lambda e: opened.faults.append(str(e)))
    yield opened
    context.close()


def sign_in(page, live_server, name: str) -> None:
    page.goto(live_server.url + "/")
    page.fill("[name=username]", name)
    page.fill("[name=password]", PASSPHRASE)
    page.press("[name=password]", "Enter")
    page.wait_for_load_state()


def sideways(page) -> int:
    """By how many pixels the page is wider than the window."""
    return page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")


def test_a_coordinator_starts_a_spore_test_reads_growth_and_sees_the_unit_out_of_service(page, live_server, world):
    sign_in(page, live_server, world.people["coordinator"].username)
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
    page.locator("main form button[type=submit]").last.click()
    page.wait_for_load_state()
    assert "Nothing was recorded" not in page.locator("main").inner_text(), page.locator("main").inner_text()
    test = BioTest.objects.get()
    page.goto(f"{live_server.url}/clinic/{world.clinic.slug}/")
    page.locator(f"main a[href*='{test.ref}/read/']").first.click()
    page.wait_for_load_state()
    assert page.locator("[name=test]").input_value() == "", "no result is ever filled in"
    page.select_option("[name=test]", "growth")
    page.select_option("[name=control]", "growth")
    page.fill("[name=on]", "2026-03-16")
    page.locator("main form button[type=submit]").last.click()
    page.wait_for_load_state()
    page.goto(f"{live_server.url}/clinic/{world.clinic.slug}/")
    text = page.locator("main").inner_text()
    assert "Out of service" in text and "Open failures" in text
    assert test.readings.get().happened_on == date(2026, 3, 16)
    assert sideways(page) == 0 and page.faults == []


def test_a_technician_logs_a_visit_with_two_units_by_keyboard_and_page(page, live_server, world):
    sign_in(page, live_server, world.people["technician"].username)
    before = Entry.objects.count()
    page.goto(f"{live_server.url}/clinic/{world.clinic.slug}/visits/log/")
    for box in page.locator("[name=units]").all():
        box.check()
    page.locator("main form button[type=submit]").first.press("Enter")
    page.wait_for_load_state()
    assert sideways(page) == 0
    page.locator("main form button[type=submit]").last.click()
    page.wait_for_load_state()
    told = page.locator("main").inner_text()
    assert "Nothing was recorded" in told and "Reason" in told
    assert Entry.objects.count() == before, "a refused visit writes nothing"
    assert [f for f in page.faults if "422" not in f] == []


def test_a_draft_of_the_binder_comes_as_a_file(page, live_server, world):
    sign_in(page, live_server, world.people["coordinator"].username)
    page.goto(f"{live_server.url}/clinic/{world.clinic.slug}/binders/")
    with page.expect_download() as coming:
        page.get_by_role("link", name="A draft of the last twelve months").click()
    assert coming.value.suggested_filename.startswith("draft-not-issued-")
    assert coming.value.path().read_bytes().startswith(b"%PDF")


def test_a_binder_that_is_asked_for_says_that_it_waits(page, live_server, world, settings):
    settings.BINDER_WORKER = "none"
    sign_in(page, live_server, world.people["coordinator"].username)
    page.get_by_role("button", name="Make the binder").click()
    page.wait_for_url("**/binders/*-*/")
    assert "waits" in page.inner_text("main") or "waiting" in page.inner_text("main")


def test_a_wrong_passphrase_says_what_to_do_and_keeps_the_name(page, live_server, world):
    page.goto(live_server.url + "/")
    page.fill("[name=username]", world.people["viewer"].username)
    page.fill("[name=password]", "not this one")
    page.press("[name=password]", "Enter")
    page.wait_for_load_state()
    assert page.locator("[name=username]").input_value() == world.people["viewer"].username
    assert "coordinator" in page.locator("main").inner_text()


@pytest.mark.parametrize("where", ["", "unit/{ref}/", "entries/", "spore-tests/log/", "visits/log/?units={ref}"])
def test_no_page_scrolls_sideways_or_complains(page, live_server, world, where):
    sign_in(page, live_server, world.people["coordinator"].username)
    answer = page.goto(f"{live_server.url}/clinic/{world.clinic.slug}/{where.format(ref=world.unit.ref)}")
    assert answer.status == 200
    assert sideways(page) == 0 and page.faults == []
