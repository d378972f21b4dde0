"""The coordinator's day in a real browser, each page at a phone's and a desk's width, with every tap counted."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from records import clock
from records.models import (
    Advice,
    BioReading,
    BioTest,
    FailureCase,
    FollowUpDone,
    LeakTest,
    Load,
    LoadRelease,
    UnitEvent,
    UserCheck,
)
from tests import world as made
from tests.kept import kept

from . import one_browser
from .test_browser import browser, on_a_phone_with_its_worker, page, sideways, sign_in  # noqa: F401 (fixtures)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


class Hand:
    """One hand on the page: every tap and every character typed is counted."""

    def __init__(self, sheet):
        self.page, self.taps, self.typed = sheet, 0, 0

    def tap(self, what, leaves: bool = False):
        self.taps += 1
        if leaves:
            with self.page.expect_navigation():
                what.click()
        else:
            what.click()

    def type(self, what, text: str):
        self.tap(what)
        self.page.keyboard.type(text)
        self.typed += len(text)

    def since(self) -> int:
        """Taps since it was asked last."""
        taps, self.taps = self.taps, 0
        return taps


@kept
def begun_yesterday():
    """Two units; unit 1 with a spore test run yesterday and in the incubator, nothing run in this week yet."""
    with clock.at(made.NOW):
        built = made.make(units=2)
        for unit in built.units:
            made.weekly_tests(built, 3, unit=unit)
        made.spore_test(built, date(2026, 3, 15), test="", at=made.NOW - timedelta(hours=25), cycle_number="0812")
    return built


@pytest.fixture
def world():
    built = begun_yesterday()
    clock.stand_at(made.NOW)
    yield built
    clock.stand_at(None)


@pytest.fixture
def morning(page, live_server, world):  # noqa: F811
    """Signed in on the page of the day."""
    sign_in(page, live_server, "coordinator")
    with page.expect_navigation():
        page.get_by_role("link", name="Today").first.click()
    return page


def unit_part(page, label: str, section: str = "log"):  # noqa: F811
    """The part of a section of the day that is about one unit."""
    heading = page.locator(f"section[aria-labelledby={section}] h3", has_text=label)
    return heading.locator("xpath=following-sibling::*[1]")


def small_targets(page) -> list[str]:  # noqa: F811
    """Buttons, choices and opened lines that are less than 44 pixels high."""
    return page.evaluate(
        "[...document.querySelectorAll('main button, main .choice, main .desk-open > summary, main a.button')]"
        ".filter(e => e.offsetParent && e.getBoundingClientRect().height < 44).map(e => e.textContent.trim())"
    )


def fits(page, small=lambda page: []) -> bool:  # noqa: F811
    """Whether nothing is wider than the window nor too `small`, on a desk and then on a phone, where it is left."""
    found = []
    for width in (1280, 360):
        page.set_viewport_size({"width": width, "height": 800})
        found += [sideways(page), *small(page)]
    return found == [0, 0]


def words(page) -> str:  # noqa: F811
    return page.locator("main").inner_text()


@on_a_phone_with_its_worker
def test_the_whole_day_from_sign_in_to_the_answer(morning, world):
    """Read, start, leak, checks, loads, a release later; the next day growth, step by step to the return to use."""
    page, hand = morning, Hand(morning)  # noqa: F811
    assert page.locator("main :checked").count() == page.locator("main option:checked").count(), "nothing is chosen"
    assert fits(page, small_targets)
    counted = {"read": read_the_test(page, hand), "start": start_the_next(page, hand, world)}
    counted |= {"leak": leak_test(page, hand), "checks": two_checks(page, hand)}
    counted |= {"next load": two_loads(page, hand), "release": release_later(page, hand)}
    print(f"taps: {counted}; characters typed: {hand.typed}")
    most = {"read": 3, "start": 3, "leak": 5, "checks": 5, "next load": 4, "release": 2}
    assert all(counted[name] <= most[name] for name in most), counted
    assert hand.typed <= 20 and fits(page) and page.faults == []

    clock.stand_at(made.NOW + timedelta(hours=25))
    page.reload()
    growth_leads_to_the_tag(page, hand, world)
    repeat_lets_it_return(page, hand)
    answer_on_the_telephone(page, hand, world)
    assert fits(page) and page.faults == []


def read_the_test(page, hand) -> int:  # noqa: F811
    """Yesterday's test with its control: two choices and a button."""
    reads = page.locator("section[aria-labelledby=reads]")
    hand.tap(reads.locator("input[name=test][value='no growth']"))
    hand.tap(reads.locator("input[name=control][value='growth']"))
    hand.tap(reads.get_by_role("button", name="Record the reading"), leaves=True)
    reading = BioReading.objects.order_by("-id").first()
    assert (reading.test, reading.control, reading.happened_on) == ("no growth", "growth", made.TODAY)
    return hand.since()


def start_the_next(page, hand, world) -> int:  # noqa: F811
    """This week's test: open it, look at what is filled in, start it."""
    job = page.locator("details.desk-open", has_text="Start the spore test, Unit 1").first
    hand.tap(job.locator("summary").first)
    assert job.locator("[name=cycle_number]").input_value() == "" and "Last logged: 0812." in job.inner_text()
    hand.type(job.locator("[name=cycle_number]"), "0813")
    assert "B-100" in job.locator("[name=lot] option:checked").inner_text()
    assert "B-100" in job.locator("[name=control_lot] option:checked").inner_text()
    hand.tap(job.get_by_role("button", name="Start the spore test"), leaves=True)
    test = BioTest.objects.get(cycle_number="0813")
    assert (test.happened_on, test.unit) == (made.TODAY, world.unit) and not test.readings.exists()
    assert test.happened_at - made.NOW < timedelta(minutes=5)
    assert "Ready to read at 17 Mar 2026" in words(page)
    return hand.since()


def leak_test(page, hand) -> int:  # noqa: F811
    """Of unit 2: the rate stands there before it is recorded, in whatever it was read."""
    hand.tap(unit_part(page, "Unit 2").get_by_role("link", name="Leak test"), leaves=True)
    hand.type(page.locator("[name=rise]"), "6")
    page.locator("[name=unit_of_measure][value=psi]").check()
    hand.tap(page.locator("[name=unit_of_measure][value=mbar]"))
    hand.type(page.locator("[name=minutes]"), "10")
    # 6 mbar over 10 minutes: 0.6 mbar or 0.06 kPa a minute. The server says it, a moment after it was typed.
    page.locator("[data-rate]", has_text="0.0600 kPa a minute, limit 0.13: pass").wait_for()
    hand.tap(page.get_by_role("button", name="Record the leak test"), leaves=True)
    assert LeakTest.objects.get().rate == Decimal("0.0600")
    return hand.since()


def two_checks(page, hand) -> int:  # noqa: F811
    """A round of two checks with one button; what was not done opens its note by itself."""
    hand.tap(unit_part(page, "Unit 2").get_by_role("link", name="Checks"), leaves=True)
    note = page.locator("[name=water_note]")
    assert not note.is_visible()
    page.locator("[name=water][value='not done']").check()
    assert note.is_visible()
    page.reload()
    hand.tap(page.locator("[name=automatic_control][value=pass]"))
    hand.tap(page.locator("[name=safety_check][value=pass]"))
    hand.tap(page.locator("[name=signs]"))
    hand.tap(page.get_by_role("button", name="Record the round"), leaves=True)
    assert [c.kind for c in UserCheck.objects.order_by("id")] == ["automatic control", "safety check"]
    return hand.since()


def two_loads(page, hand) -> int:  # noqa: F811
    """One after another, the first with its program typed; the second with all filled in, its decision left open."""
    hand.tap(unit_part(page, "Unit 2").get_by_role("link", name="Load"), leaves=True)
    hand.type(page.locator("[name=cycle_number]"), "100")
    hand.type(page.locator("[name=program]"), "wrapped")
    hand.tap(page.locator("[name=mechanical][value=pass]"))
    hand.tap(page.locator("[name=chemical][value=pass]"))
    hand.tap(page.locator("[name=decision][value=released]"))
    hand.tap(page.get_by_role("button", name="then the next load"), leaves=True)
    hand.since()
    assert "Last logged: 100." in words(page) and page.locator("[name=cycle_number]").input_value() == ""
    hand.type(page.locator("[name=cycle_number]"), "101")
    hand.tap(page.locator("[name=mechanical][value=pass]"))
    hand.tap(page.locator("[name=chemical][value=pass]"))
    assert page.locator("[name=program]").input_value() == "wrapped"
    assert page.locator("[name=implant]").is_visible() and page.locator("[name=decision]:checked").count() == 0
    hand.tap(page.get_by_role("button", name="Record the load"), leaves=True)
    assert (Load.objects.count(), LoadRelease.objects.count()) == (2, 1)
    return hand.since()


def release_later(page, hand) -> int:  # noqa: F811
    """The load that waits on the day: a choice and a button."""
    waits = page.locator("section[aria-labelledby=loads]")
    assert "Cycle 101 of 16 Mar 2026" in waits.inner_text() and waits.locator(":checked").count() == 0
    assert fits(page, small_targets)
    hand.tap(waits.locator("[name=decision][value=released]"))
    hand.tap(waits.get_by_role("button", name="Record the decision"), leaves=True)
    assert LoadRelease.objects.filter(decision="released").count() == 2 and waits.count() == 0
    return hand.since()


def growth_leads_to_the_tag(page, hand, world) -> None:  # noqa: F811
    reads = page.locator("section[aria-labelledby=reads]")
    hand.tap(reads.locator("input[name=test][value='growth']"))
    hand.tap(reads.locator("input[name=control][value='growth']"))
    hand.tap(reads.get_by_role("button", name="Record the reading"), leaves=True)
    assert f"/response/{FailureCase.objects.get().origin}/" in page.url
    assert "Out of service" in page.locator(".answer").inner_text()
    now = page.locator("[aria-current=step]")
    assert now.count() == 1 and "Take the unit out of service" in now.inner_text()
    assert fits(page, small_targets)
    hand.tap(now.get_by_role("button", name="Take it out of service"), leaves=True)
    assert hand.since() == 4
    assert UnitEvent.objects.get(kind="withdrawn").reason == "Positive spore test, 2026-03-16"
    # Who, when and proof of the next step.
    assert "Review the process" in now.inner_text()
    hand.tap(now.locator("summary", has_text="It is done"))
    hand.type(now.locator("[name=outcome]:visible"), "cassette overloaded")
    hand.tap(now.get_by_role("button", name="Record that it is done"), leaves=True)
    done = FollowUpDone.objects.get()
    assert (done.done_by, done.outcome) == (world.people["coordinator"].full_name, "cassette overloaded")
    hand.tap(page.get_by_role("link", name="A page for the wall"), leaves=True)
    assert page.get_by_role("button", name="Print this page").is_visible()
    page.emulate_media(media="print")
    assert page.get_by_text("What to do now").is_visible() and not page.locator("[data-print]").is_visible()
    assert page.pdf(format="A4").startswith(b"%PDF")
    page.emulate_media(media="screen")
    page.go_back()


def repeat_lets_it_return(page, hand) -> None:  # noqa: F811
    now = page.locator("[aria-current=step]")
    assert "Repeat the test" in now.inner_text()
    hand.tap(now.locator("summary", has_text="Start the spore test"))
    now.locator("[name=chamber]").select_option("full")
    hand.tap(now.locator("[name=mechanical][value=pass]"))
    hand.tap(now.locator("[name=chemical][value=pass]"))
    hand.tap(now.get_by_role("button", name="Start the spore test"), leaves=True)
    assert BioTest.objects.filter(purpose="repeat").count() == 1
    clock.stand_at(made.NOW + timedelta(hours=50))
    page.reload()
    reads = page.locator("section[aria-labelledby=reads]")
    hand.tap(reads.locator("input[name=test][value='no growth']"))
    hand.tap(reads.locator("input[name=control][value='growth']"))
    hand.tap(reads.get_by_role("button", name="Record the reading"), leaves=True)
    assert "This failure is closed: returned on 18 Mar 2026" in words(page)
    hand.type(page.locator("[name=reason]:visible").last, "repeat negative")
    hand.tap(page.get_by_role("button", name="Record its return to use"), leaves=True)
    assert UnitEvent.objects.get(kind="returned").reason == "repeat negative"


def answer_on_the_telephone(page, hand, world) -> None:  # noqa: F811
    hand.tap(page.get_by_role("link", name="Today").first, leaves=True)
    hand.since()
    hand.tap(page.get_by_role("link", name="Is it all right to use?").first, leaves=True)
    hand.tap(page.get_by_role("link", name="Unit 1"), leaves=True)
    answer = page.locator("section.answer").inner_text()
    assert "In service" in answer and "Changes" in answer and "Proof" in answer
    hand.tap(page.locator("[name=how][value=telephone]"))
    hand.tap(page.locator("[name=told_as][value=shown]"))
    hand.tap(page.get_by_role("button", name="Record the advice"), leaves=True)
    assert hand.since() == 5
    row = Advice.objects.get()
    assert row.answer == "In service" and row.told.startswith("In service: ") and row.unit == world.unit
    assert "Advice given" in words(page)


@pytest.fixture
def phone(browser):  # noqa: F811
    """One page at a phone's width, without the worker of the site: it would fetch past what is routed here."""
    context = browser.new_context(viewport={"width": 360, "height": 800}, service_workers="block")
    context.set_default_timeout(one_browser.PATIENCE)
    yield context.new_page()
    context.close()


def test_a_reminder_comes_when_incubation_is_complete_and_a_kept_page_asks_day_and_time(phone, live_server, world):
    with clock.at(made.NOW):
        at = made.NOW - timedelta(hours=23, minutes=50)
        made.spore_test(world, date(2026, 3, 15), test="", at=at, unit=world.units[1])
    page = phone  # noqa: F811
    page.clock.install()
    sign_in(page, live_server, "coordinator", "/clinic/first/day/")
    item = page.locator("li[data-ready]")
    assert "Incubating" in item.inner_text() and not page.title().startswith("Ready")
    page.clock.fast_forward("05:00")
    assert "Incubating" in item.inner_text(), "five of the ten minutes have passed"
    page.clock.fast_forward("06:00")
    page.locator("[data-reminder].note").wait_for()
    assert "Unit 2: the spore test of 15 Mar 2026 is ready to read." in page.locator("[data-reminder]").inner_text()
    assert page.title().startswith("Ready to read") and "Read it now" in item.inner_text()
    assert item.locator("[name=test]").first.is_visible()

    # The same page out of the store of the device, opened with a network that leads nowhere.
    def as_kept(route):
        answer = route.fetch()
        body = answer.text().replace("<html ", '<html data-kept-at="2026-03-15T14:00:00.000Z" ', 1)
        route.fulfill(response=answer, body=body)

    page.route("**/clinic/first/day/", as_kept)
    page.goto(f"{live_server.url}/clinic/first/day/")
    assert page.locator("html[data-kept-at]").count() == 1
    form = page.locator("section[aria-labelledby=reads] form").first
    assert page.evaluate("navigator.onLine") and form.locator("[name=at]").input_value() == ""
    assert form.locator("[name=ticking]").input_value() == "" and form.locator("[name=on]").is_visible()
    form.locator("input[name=test][value='no growth']").check()
    assert (form.locator("[name=at]").input_value(), form.locator("[name=ticking]").input_value()) == ("", "")
    assert "without signal: ask before you rely on it" in page.locator(".quick").inner_text()


def test_everything_works_without_script(browser, live_server, world):  # noqa: F811
    context = browser.new_context(viewport={"width": 360, "height": 800}, java_script_enabled=False)
    page = context.new_page()  # noqa: F811
    sign_in(page, live_server, "coordinator", "/clinic/first/day/")
    job = page.locator("details.desk-open", has_text="Start the spore test, Unit 1").first
    job.locator("summary").first.click()
    job.locator("[name=cycle_number]").fill("0813")
    job.get_by_role("button", name="Start the spore test").click()
    page.wait_for_load_state()
    assert BioTest.objects.get(cycle_number="0813").happened_at is not None
    page.goto(f"{live_server.url}/clinic/first/day/{world.unit.ref}/air-leak-test/")
    page.fill("[name=rise]", "6")
    page.check("[name=unit_of_measure][value=mbar]")
    page.fill("[name=minutes]", "10")
    page.get_by_role("button", name="Record the leak test").click()
    page.wait_for_load_state()
    assert not LeakTest.objects.exists() and "The rate is 0.0600 kPa a minute" in page.locator("main").inner_text()
    page.get_by_role("button", name="Record the leak test").click()
    page.wait_for_load_state()
    assert LeakTest.objects.get().rate == Decimal("0.0600")
    context.close()


def test_without_a_signal_a_leak_test_shows_no_rate_and_is_recorded_with_it_when_sent(phone, live_server, world):
    page = phone  # noqa: F811
    sign_in(page, live_server, "coordinator", f"/clinic/first/day/{world.unit.ref}/air-leak-test/")
    page.fill("[name=rise]", "6")
    page.check("[name=unit_of_measure][value=mbar]")
    # The network leads nowhere, though the device doesn't know it.
    page.route("**/air-leak-test/?look*", lambda route: route.abort())
    page.fill("[name=minutes]", "10")
    page.locator("[data-rate]", has_text="it is computed when this is sent").wait_for()
    assert "kPa a minute" not in page.locator("[data-rate]").inner_text()
    page.get_by_role("button", name="Record the leak test").click()
    page.wait_for_url("**/clinic/first/day/")
    assert LeakTest.objects.get().rate == Decimal("0.0600")
