"""What everybody has, in a real browser at a phone's and a desk's width: finding, calendar, mail, units, pictures."""

from __future__ import annotations

from datetime import date

import pytest
from icalendar import Calendar

from audit.models import CalendarFeed, MailDigest
from records import clock
from tests import world as made
from tests.site.test_browser import browser, on_a_desk, on_a_phone, page, sideways, sign_in, world  # noqa: F401 (fixtures)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def open_page(page, live_server, path: str) -> None:  # noqa: F811
    page.goto(live_server.url + path)
    fits(page)


def fits(page) -> None:  # noqa: F811
    assert sideways(page) == 0 and page.faults == []


@on_a_phone
def test_a_calendar_is_made_fetched_without_signing_in_and_ended(page, live_server, world, browser):  # noqa: F811
    sign_in(page, live_server, world.people["technician"].username, "/calendar/")
    fits(page)
    page.get_by_role("button", name="Make the address").click()
    address = page.locator("#address").input_value()
    assert sideways(page) == 0
    stranger = browser.new_context()
    answer = stranger.request.get(address)
    assert answer.status == 200 and Calendar.from_ical(answer.body()).walk("VEVENT")
    page.get_by_role("button", name="End the address").click()
    page.wait_for_load_state()
    assert "was ended" in page.locator(".messages").inner_text()
    assert stranger.request.get(address).status == 404 and not CalendarFeed.objects.exists()
    stranger.close()
    assert page.faults == []


@on_a_desk
def test_days_and_units_are_chosen_and_shown(page, live_server, world):  # noqa: F811
    with clock.at(made.NOW):
        made.seal_replaced(world, date(2026, 2, 3))
    sign_in(page, live_server, world.people["coordinator"].username, "/preferences/")
    fits(page)
    for choice in ("03/09/2026, month first", "°F", "psi"):
        page.get_by_label(choice, exact=True).check()
    page.get_by_role("button", name="Keep this").click()
    open_page(page, live_server, f"/clinic/first/unit/{world.unit.origin}/?open=1")
    text = page.locator("main").inner_text()
    assert "02/03/2026" in text and "274.3 °F (recorded: 134.6 °C)" in text
    picture = page.locator("svg.pic").first
    assert picture.get_attribute("role") == "img" and picture.bounding_box()["width"] > 300
    open_page(page, live_server, "/clinic/first/indicator-lots/add/")
    assert page.locator("[name=incubation_low] + span").inner_text() == "°F"


@on_a_phone
def test_a_picture_is_read_a_lot_is_found_and_mail_is_chosen(page, live_server, world):  # noqa: F811
    with clock.at(made.NOW):
        made.spore_test(world, date(2026, 3, 9))
    sign_in(page, live_server, world.people["operator"].username, f"/clinic/first/unit/{world.unit.origin}/?open=1")
    fits(page)
    tall = page.locator("svg.pic text.cell-letter").last.evaluate("e => e.getBoundingClientRect().height")
    assert tall >= 9, "the letters of a picture can be read on a telephone"
    page.get_by_role("link", name="Find", exact=True).click()
    page.fill("#q", "B-100")
    page.press("#q", "Enter")
    page.get_by_role("link", name="Spore test with lot B-100").click()
    page.wait_for_load_state()
    assert "/records/biotest/" in page.url
    open_page(page, live_server, "/mail/")
    page.get_by_label("once a week").check()
    page.get_by_role("button", name="Keep this").click()
    assert "Where should the mail go?" in page.locator(".problems").inner_text()
    page.fill("[name=email]", "o@clinic.example")
    page.get_by_role("button", name="Keep this").click()
    page.wait_for_load_state()
    assert MailDigest.objects.get().every == "week" and sideways(page) == 0
