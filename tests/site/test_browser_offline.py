"""Recording without a signal, in a real browser: the network is cut in the middle, and nothing is lost or doubled."""

from __future__ import annotations

import pytest

from records.models import BioTest, Entry, Sitting, UserCheck
from tests.site.offline_page import (  # noqa: F401 (fixtures)
    badge,
    fill_check,
    let_through,
    lose_the_answer,
    open_page,
    record_and_keep,
    record_and_land,
    shot,
    sign_in_by_typing,
    signed_in,
    start,
    stop_posts,
    until,
    until_recorded,
    values,
    wait_for_badge,
    wait_until_nothing_waits,
    world,
)
from tests.site.test_browser import browser, sign_out  # noqa: F401 (fixture)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def fill_spore_test(page, address: str, cycle: str) -> None:
    page.goto(address + "spore-tests/log/")
    page.select_option("[name=unit]", index=1)
    page.fill("[name=on]", "2026-03-16")
    page.fill("[name=cycle_type]", "wrapped 134")
    page.fill("[name=cycle_number]", cycle)
    for lot in ("lot", "control_lot"):
        page.select_option(f"[name={lot}]", index=1)
    page.select_option("[name=mechanical]", "pass")
    page.select_option("[name=chemical]", "pass")


# ---------------------------------------------------------------- the network is cut


def test_cut_in_the_middle_all_is_kept_and_sent_in_order_afterwards(open_page, live_server, world):  # noqa: F811
    page = open_page()
    address = start(page, live_server, world)
    page.goto(address + "spore-tests/log/")
    fill_check(page, address, "1")
    record_and_land(page)
    wait_until_nothing_waits(page)
    assert values() == ["1"], "with a signal it is recorded at once"
    before = Entry.objects.count()
    fill_spore_test(page, address, "C-1")
    page.context.set_offline(True)
    record_and_keep(page)
    shot(page, "kept")
    keys = set()
    for value in ("2", "3"):  # twice from the same page in the store
        fill_check(page, address, value)
        assert page.locator(".kept-banner").inner_text().startswith("Page kept on this device from ")
        keys.add(page.locator("[name=request_key]").input_value())
        record_and_keep(page)
    assert len(keys) == 2 and badge(page) == "3 waiting"
    page.goto(f"{live_server.url}/waiting/")
    page.locator(".waiting-item").nth(2).wait_for()
    shot(page, "waiting")
    assert Entry.objects.count() == before
    page.context.set_offline(False)
    wait_until_nothing_waits(page)
    entries = Entry.objects.filter(ledger__organisation_id=world.clinic.pk).order_by("number")
    assert list(entries.values_list("what", flat=True))[-3:] == ["spore test started", "user check", "user check"], (
        "in the order in which they were written"
    )
    assert BioTest.objects.get().cycle_number == "C-1" and values() == ["1", "2", "3"]
    _a_lost_answer_is_asked_for_again(page, address)
    _a_late_answer_holds_up_nobody(page, address)
    assert page.faults == []


def _a_lost_answer_is_asked_for_again(page, address: str) -> None:
    fill_check(page, address, "4")
    lost = lose_the_answer(page)
    record_and_keep(page)
    assert set(lost) == {200} and values() == ["1", "2", "3", "4"]
    let_through(page)
    page.goto(address)
    wait_until_nothing_waits(page)
    assert values() == ["1", "2", "3", "4"], "the same key is the same entry"


def _a_late_answer_holds_up_nobody(page, address: str) -> None:
    fill_check(page, address, "5")
    held = []
    page.context.route(
        "**/user-checks/log/", lambda r: held.append(r) if r.request.method == "POST" else r.continue_()
    )
    page.evaluate("Outbox.patience = 300")
    record_and_keep(page)
    assert "has not answered yet" in page.locator(".kept-panel").inner_text()
    assert badge(page) == "1 waiting"
    page.evaluate(
        "OutboxStore.all().then(([item]) => OutboxStore.put({ ...item, writtenAt: '2026-03-16T14:00:00Z' }))"
    )
    held[0].continue_()
    let_through(page)
    until(page, "navigator.locks.query().then(locks => locks.held.length === 0)")
    assert values()[-1] == "5" and badge(page) == "1 waiting", "what was written anew meanwhile is not thrown away"
    page.evaluate("void Outbox.sendAll()")
    wait_until_nothing_waits(page)
    assert values()[-2:] == ["4", "5"]


# ---------------------------------------------------------------- who is signed in

HELD = '{"at": 1, "revision": 1, "data": {"note": "typed in a visit"}}'
VISIT_KEYS = "Object.keys(localStorage).filter(k => k.startsWith('visit:'))"
KEPT_PAGES = "caches.keys().then(all => all.filter(n => n.startsWith('pages-')).length)"


def test_signed_out_or_another_person_loses_and_shows_nothing(open_page, live_server, world):  # noqa: F811
    page = open_page()
    ana, olu = world.people["coordinator"], world.people["other-coordinator"]
    address = start(page, live_server, world)
    _an_expired_session_goes_on_after_signing_in(page, address, ana)
    _signing_out_asks_and_says_what_stays(page, address)
    _nothing_of_the_one_before_is_shown_or_sent(page, live_server, address, world, olu)
    _signed_out_without_a_signal_the_server_is_told_later(page, live_server)
    signed_in(page, live_server, ana)
    page.goto(address)
    wait_until_nothing_waits(page)
    assert page.evaluate(VISIT_KEYS) == ["visit:a:1/found"], "it is back for whom it was typed"
    check = UserCheck.objects.order_by("entry__number").last()
    assert str(check.value.normalize()) == "41.5" and check.entry.account == ana
    assert page.faults == []


def _an_expired_session_goes_on_after_signing_in(page, address: str, ana) -> None:
    fill_check(page, address, "1")
    Sitting.objects.all().delete()
    record_and_keep(page)
    panel = page.locator(".kept-panel")
    assert "You are signed out" in panel.inner_text() and values() == []
    shot(page, "signed-out")
    panel.get_by_role("link", name="Sign in to send it").click()
    sign_in_by_typing(page, ana)
    page.get_by_text("Sent and recorded: Log a user check").wait_for()
    wait_until_nothing_waits(page)
    assert values() == ["1"]


def _signing_out_asks_and_says_what_stays(page, address: str) -> None:
    fill_check(page, address, "41.5")
    stop_posts(page)
    record_and_keep(page)
    page.evaluate("(held) => localStorage.setItem('visit:a:1/found', held)", HELD)
    sign_out(page)
    page.get_by_text("1 entry and 1 page of a visit of yours are only on this device").wait_for()
    shot(page, "sign-out-asks")
    page.get_by_role("button", name="Sign out all the same").click()
    page.get_by_role("heading", name="Sign in").wait_for()
    wait_for_badge(page, "1 waiting on this device: sign in to send")
    page.go_back()
    assert "First Clinic" not in page.locator("body").inner_text(), "nor by going back"
    page.goto(address)
    let_through(page)
    assert page.evaluate(KEPT_PAGES) == 0 and page.evaluate(VISIT_KEYS) == []


def _nothing_of_the_one_before_is_shown_or_sent(page, live_server, address: str, world, olu) -> None:  # noqa: F811
    # Ana's session ended without signing out: her pages are here when Olu signs in, whose first page never comes.
    signed_in(page, live_server, world.people["coordinator"])
    stop_posts(page)
    page.goto(address)
    Sitting.objects.all().delete()
    page.goto(f"{live_server.url}/sign-in/")
    page.context.route(f"{live_server.url}/", lambda route: route.abort())
    sign_in_by_typing(page, olu)
    page.wait_for_load_state()
    page.context.set_offline(True)
    page.goto(address)
    assert world.clinic.name not in page.locator("body").inner_text()
    page.context.set_offline(False)
    page.context.unroute(f"{live_server.url}/")
    let_through(page)
    page.goto(f"{live_server.url}/waiting/")
    page.get_by_text("1 entry of another log-in on this device").wait_for()
    assert page.locator(".waiting-item").count() == 0 and "41.5" not in page.locator("body").inner_text()
    assert page.evaluate(VISIT_KEYS) == []
    page.evaluate("Outbox.sendAll()")
    assert values() == ["1"]


def _signed_out_without_a_signal_the_server_is_told_later(page, live_server) -> None:
    own = f"{live_server.url}/clinic/other/"
    page.goto(own)
    page.context.set_offline(True)
    sign_out(page)
    page.get_by_text("The server could not be told yet").wait_for()
    assert page.locator("h1").inner_text() == "Signed out on this device"
    shot(page, "signed-out-without-signal")
    assert page.evaluate(KEPT_PAGES) == 0 and Sitting.objects.count() == 1
    page.goto(own)
    assert "Other Clinic" not in page.locator("body").inner_text()
    page.context.set_offline(False)
    page.goto(own)
    page.get_by_role("heading", name="Sign in").wait_for()
    assert Sitting.objects.count() == 0, "the session is over on the server too"


def test_with_the_page_closed_the_worker_sends_it(open_page, live_server, world):  # noqa: F811
    page = open_page(background=True)
    address = start(page, live_server, world)
    fill_check(page, address, "1")
    page.context.set_offline(True)
    record_and_keep(page)
    page.goto("about:blank")
    assert UserCheck.objects.count() == 0
    page.context.set_offline(False)
    until_recorded(page, UserCheck.objects, 1)
