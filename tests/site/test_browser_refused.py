"""What the server does not take of what waited: kept, shown beside what stands, with a way out for each."""

from __future__ import annotations

import json
import re
from types import SimpleNamespace

import pytest
from django.template.loader import render_to_string

from records import log
from records.models import Membership
from tests import world as made
from tests.site.offline_page import (  # noqa: F401 (fixtures)
    badge,
    fill_check,
    let_through,
    lose_the_answer,
    open_page,
    press_record,
    record_and_keep,
    record_and_land,
    shot,
    start,
    until,
    values,
    wait_for_badge,
    wait_until_nothing_waits,
    world,
)
from tests.site.test_browser import browser  # noqa: F401 (fixture)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_what_the_server_does_not_take_waits_for_a_person_with_a_way_out(open_page, live_server, world):  # noqa: F811
    page = open_page()
    address = start(page, live_server, world, "operator")
    _refused_at_once_is_shown_at_its_fields(page, address)
    _refused_later_opens_filled(page, live_server, address)
    _conflicts_stand_side_by_side(page, live_server, address)
    _the_rest_of_a_visit_waits_for_what_was_refused(page, live_server, address)
    _a_role_that_ended_keeps_what_was_typed(page, live_server, address, world)
    assert page.faults == []


def _refused_at_once_is_shown_at_its_fields(page, address: str) -> None:
    fill_check(page, address, "not a number")
    with page.expect_navigation():
        press_record(page)
    assert "Nothing was recorded yet" in page.locator("main").inner_text()
    assert page.locator("[name=value]").input_value() == "not a number"
    page.fill("[name=value]", "1")
    record_and_land(page)
    wait_until_nothing_waits(page)
    assert values() == ["1"]


def _refused_later_opens_filled(page, live_server, address: str) -> None:
    fill_check(page, address, "not a number")
    page.context.set_offline(True)
    record_and_keep(page)
    page.context.set_offline(False)
    wait_for_badge(page, "needs a look")
    page.goto(f"{live_server.url}/waiting/")
    assert "is not a number" in page.locator(".waiting-item").inner_text()
    shot(page, "needs-a-look")
    page.get_by_role("link", name="Open the form").click()
    page.get_by_role("heading", name="Typed on this device, not recorded yet").wait_for()
    typed = {name: page.locator(f"[name={name}]").input_value() for name in ("value", "signed_by", "result")}
    assert typed == {"value": "not a number", "signed_by": "Ana Coordinator", "result": "pass"}
    shot(page, "opened-again")
    page.fill("[name=value]", "2")
    record_and_land(page)
    wait_until_nothing_waits(page)
    assert values() == ["1", "2"]


def _conflicts_stand_side_by_side(page, live_server, address: str) -> None:
    """Recorded with its answer lost, then written anew on the device under the same key."""
    fill_check(page, address, "3")
    lose_the_answer(page)
    record_and_keep(page)
    page.context.set_offline(True)
    page.goto(f"{live_server.url}/waiting/")
    page.get_by_role("link", name="Open the form").click()
    page.get_by_role("heading", name="Typed on this device, not recorded yet").wait_for()
    page.fill("[name=value]", "4")
    record_and_keep(page)
    let_through(page)
    assert badge(page) == "1 waiting", "it took the place of the first"
    page.context.set_offline(False)
    wait_for_badge(page, "needs a look")
    page.goto(f"{live_server.url}/waiting/")
    page.locator(".side-by-side dl").nth(1).wait_for()
    stands, typed = (page.locator(".side-by-side > div").nth(n).inner_text() for n in (0, 1))
    assert "What stands" in stands and "Entry" in stands and re.search(r"Value\s+3\b", stands)
    assert "What you typed" in typed and re.search(r"Value read\s+4\b", typed)
    assert values() == ["1", "2", "3"]
    shot(page, "conflict")
    page.get_by_role("button", name="Delete …").click()
    page.get_by_role("button", name="Keep it").click()
    assert page.evaluate("OutboxStore.all().then(all => all.length)") == 1, "it is deleted only after asking"
    page.get_by_role("button", name="Record as an entry of its own").click()
    wait_until_nothing_waits(page)
    assert values() == ["1", "2", "3", "4"]


QUEUE = """async (entries) => {
    const words = [];
    const form = document.querySelector("form[data-outbox]");
    for (const [label, value, group] of entries) {
        const key = crypto.randomUUID();
        const changed = { request_key: key, value };
        const fields = [...new FormData(form)].filter(([name]) => name !== "csrfmiddlewaretoken");
        const mine = fields.map(([name, was]) => [name, changed[name] ?? was]);
        words.push((await Outbox.queue({ label, key, group, address: form.action, fields: mine })).word);
    }
    return words;
}"""


def _the_rest_of_a_visit_waits_for_what_was_refused(page, live_server, address: str) -> None:
    fill_check(page, address, "5")
    sent = [("Photo", "not a number", "visit-a"), ("Visit", "6", "visit-a"), ("Another visit", "5", "visit-b")]
    assert page.evaluate(QUEUE, sent) == ["refused", "held", "recorded"]
    page.goto(f"{live_server.url}/waiting/")
    page.get_by_text("Waits for the one above of the same visit").wait_for()
    shot(page, "held")
    page.locator(".waiting-item").first.get_by_role("button", name="Delete …").click()
    page.get_by_role("button", name="Delete it for good").click()
    page.locator(".waiting-item h2", has_text="Photo").wait_for(state="detached")
    page.get_by_role("button", name="Send now").click()
    wait_until_nothing_waits(page)
    assert values()[-2:] == ["5", "6"]


def _a_role_that_ended_keeps_what_was_typed(page, live_server, address: str, world) -> None:  # noqa: F811
    recorded = values()
    fill_check(page, address, "7")
    page.context.set_offline(True)
    record_and_keep(page)
    log.end_membership(
        by=world.people["coordinator"], request_key=made.key(), effective_on=made.TODAY, reason="left",
        membership=Membership.objects.get(role="operator", organisation_id=world.clinic.pk),
    )  # fmt: skip
    page.context.set_offline(False)
    wait_for_badge(page, "needs a look")
    page.goto(f"{live_server.url}/waiting/")
    said = page.locator(".waiting-item").inner_text()
    assert "no such page for you" in said and "Save it as a file" in said
    with page.expect_download() as coming:
        page.get_by_role("button", name="Save all as a file").click()
    saved = json.loads(coming.value.path().read_text())
    assert ["value", "7"] in saved["entries"][0]["fields"] and saved["entries"][0]["state"] == "look"
    page.goto(address)
    until(page, "a => OutboxStore.findPage(a).then(page => page === null)", address)  # it is no page for them now
    _who_may_only_look_is_told(page, live_server, world)
    _a_visit_changed_or_finished_elsewhere(page, world)
    assert values() == recorded


def _who_may_only_look_is_told(page, live_server, world) -> None:  # noqa: F811
    log.log_membership(
        by=world.people["coordinator"], request_key=made.key(), organisation=world.clinic, role="viewer",
        account=world.people["operator"], effective_on=made.TODAY,
    )  # fmt: skip
    page.goto(f"{live_server.url}/waiting/")
    page.get_by_role("button", name="Try again").click()
    page.get_by_text("your role may not record this").wait_for()
    assert "may look, but not record" in page.locator(".waiting-item").inner_text()
    shot(page, "may-only-look")


AGAIN = "OutboxStore.all().then(all => Promise.all(all.map(item => OutboxStore.put({ ...item, state: 'waiting' }))))"


def _a_visit_changed_or_finished_elsewhere(page, world) -> None:  # noqa: F811
    """What waits is answered as a visit is that another device changed, and as one that is finished."""
    lines = [
        {"label": "Cycles", "there": "6000", "mine": "5012", "differs": True},
        {"label": "Plate", "there": "says the same", "mine": "says the same", "differs": False},
    ]
    context = {"lines": lines, "clinic": world.clinic, "unit": world.unit, "draft": SimpleNamespace(ref="a"), "n": 1}
    both = render_to_string("audit/visit/conflict.html", context)
    _answered(page, 409, "conflict", both)
    page.locator(".side-by-side").wait_for()
    there, mine = (page.locator(".side-by-side > div").nth(n).inner_text() for n in (0, 1))
    assert "Kept already" in there and "6000" in there and "What you typed" in mine and "5012" in mine
    assert page.get_by_role("link", name="Open the form").is_visible()
    shot(page, "visit-conflict")
    _answered(page, 410, "over", "")
    page.get_by_text("this was finished already, and nothing was added to it").wait_for()
    assert "Look at what was recorded." in page.locator(".waiting-item").inner_text()


def _answered(page, status: int, word: str, body: str) -> None:
    page.evaluate(AGAIN)
    answer = {"status": status, "headers": {"X-Outbox-Answer": word, "Content-Type": "text/html"}, "body": body}
    page.context.route("**/user-checks/log/", lambda route: route.fulfill(**answer))
    page.get_by_role("button", name="Send now").click()
    page.locator(".waiting-item", has_text="Needs a look").wait_for()
    let_through(page)
