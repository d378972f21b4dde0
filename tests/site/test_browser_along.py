"""What a device keeps to be looked at and filled in without a signal, in a real browser."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from records import clock
from records.models import Document, UserCheck
from tests import world as made
from tests.site.offline_page import (  # noqa: F401 (fixtures)
    fill_check,
    open_page,
    record_and_keep,
    record_and_land,
    shot,
    signed_in,
    start,
    until,
    world,
)
from tests.site.test_browser import browser  # noqa: F401 (fixture)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

# A page of the take-along that the server does not name any more.
LEFT_OVER = "([address, along]) => OutboxStore.keepPage(Outbox.account, address, '<html></html>', 'Left over', along)"
AGED = """async (href) => {
    const [name] = (await caches.keys()).filter(n => n.startsWith('pages-'));
    const cache = await caches.open(name);
    const kept = await cache.match(OutboxStore.addressOf(href));
    const headers = new Headers(kept.headers);
    headers.set('X-Kept-At', String(Date.now() - 14 * 24 * 3600 * 1000 - 1000));
    await cache.put(OutboxStore.addressOf(href), new Response(await kept.text(), { headers }));
}"""


def take_along(page) -> str:
    page.get_by_role("button", name="Take along for today").click()
    said = page.locator(".take-along-said", has_text="They are removed when you sign out")
    said.wait_for(timeout=60000)
    return said.inner_text()


def test_what_was_taken_along_opens_without_a_signal(open_page, live_server, world):  # noqa: F811
    with clock.at(made.NOW):
        made.spore_test(world, made.TODAY - timedelta(days=4), test="growth")
    page = open_page()
    slug, unit, company = world.clinic.slug, world.units[1].ref, world.company.slug
    address = start(page, live_server, world, "technician")
    page.goto(f"{live_server.url}/company/{company}/")
    along = reverse("take-along-company", args=[company])
    page.evaluate(LEFT_OVER, [f"{address}unit/left-over/", along])
    said = take_along(page)
    assert re.match(r"On this device: \d\d pages of Keepers, \d+\.\d MB, from \d+ \w+ \d{4}", said), said
    assert "1 page that no longer belong" in said and "could not be fetched" not in said
    shot(page, "taken-along")
    page.context.set_offline(True)
    paths = [
        reverse("clinic", args=[slug]), reverse("unit", args=[slug, unit]), reverse("round", args=[company]),
        reverse("round-parts", args=[company, "2026-03-16"]), reverse("day-load", args=[slug, unit]),
        f"{reverse('log-visit', args=[slug])}?units={unit}", f"{reverse('log-bio', args=[slug])}?unit={unit}",
    ]  # fmt: skip
    for path in paths:
        page.goto(live_server.url + path)
        banner = page.locator(".kept-banner").inner_text()
        assert re.match(r"Page kept on this device from \d+ \w+ \d{4}, \d\d:\d\d, shown without a signal\.", banner)
        assert page.locator("link[rel=stylesheet]").evaluate("l => l.sheet !== null"), "with its style"
        shot(page, f"kept-{paths.index(path)}")
    assert page.locator("[name=unit]").input_value() == str(unit), "chosen by the address"
    page.goto(f"{live_server.url}/rules/")
    assert "this page is not on this device" in page.locator("h1").inner_text()
    page.locator("[data-kept-list] a", has_text=world.clinic.name).first.wait_for()
    assert page.locator("[data-kept-list] a[href*='spore-tests/log/']").count() == 0, "forms stand apart"
    assert page.locator("[data-kept-forms] a[href*='/log/']").count() > 3
    shot(page, "no-signal")
    page.goto(page.locator("main a[href*='/response/']").first.get_attribute("href"))
    assert page.locator(".kept-banner").is_visible(), "the guided response to the failure too"
    page.evaluate(AGED, address)
    page.goto(address)
    assert "this page is not on this device" in page.locator("h1").inner_text(), "after fourteen days"
    assert page.faults == []


def test_rows_added_on_the_spot_and_a_file_wait_and_come_back(
    open_page,  # noqa: F811
    live_server,
    world,  # noqa: F811
    settings,
    tmp_path,
):
    settings.BLOBS_DIR = tmp_path / "blobs"
    page = open_page()
    address = start(page, live_server, world, "technician")
    page.goto(address + "papers/add/")
    page.goto(f"{address}visits/log/?units={world.unit.ref}")
    page.context.set_offline(True)
    name = _type_into_a_new_row(page)
    page.get_by_role("button", name="Record the visit").last.click()
    page.get_by_role("heading", name="Kept on this device, not recorded yet").wait_for()
    _a_paper_with_its_file(page, address, tmp_path)
    page.goto(f"{live_server.url}/waiting/")
    page.context.set_offline(False)
    until(page, "document.getElementById('outbox').textContent === '1 needs a look'")
    assert Document.objects.get().title == "Invented paper", "what was refused holds up nothing else"
    page.locator(".waiting-item").get_by_role("link", name="Open the form").click()
    page.get_by_role("heading", name="Typed on this device, not recorded yet").wait_for()
    assert page.locator(f"[name='{name}']").input_value() == "typed by hand"
    assert page.faults == []


def _type_into_a_new_row(page) -> str:
    """The name of the field in the added row."""
    group = page.locator("[data-rows]").first
    prefix = group.get_attribute("data-rows")
    page.locator("details").filter(has=group).locator("summary").first.click()
    group.locator("button[name=more]").click()
    rows = int(page.locator(f"[name={prefix}-TOTAL_FORMS]").input_value())
    last = group.locator(f"[name^='{prefix}-{rows - 1}-'][type=text]").first
    last.fill("typed by hand")
    return last.get_attribute("name")


def _a_paper_with_its_file(page, address: str, tmp_path) -> None:
    paper = tmp_path / "paper.txt"
    paper.write_text("An invented paper.")
    page.goto(address + "papers/add/")
    page.select_option("[name=kind]", index=1)
    page.fill("[name=title]", "Invented paper")
    page.fill("[name=valid_from]", "2026-03-01")
    page.set_input_files("input[type=file]", str(paper))
    record_and_keep(page)


def test_without_a_database_in_the_browser_or_without_script_a_form_is_sent_as_ever(
    open_page,  # noqa: F811
    live_server,
    world,  # noqa: F811
):
    address = f"{live_server.url}/clinic/{world.clinic.slug}/"
    page = open_page()
    page.add_init_script("IDBFactory.prototype.open = () => { throw new Error('switched off'); }")
    signed_in(page, live_server, world.people["coordinator"])
    fill_check(page, address, "1")
    record_and_land(page)
    plain = open_page(java_script_enabled=False)
    signed_in(plain, live_server, world.people["coordinator"])
    fill_check(plain, address, "2")
    record_and_land(plain)
    assert UserCheck.objects.count() == 2
