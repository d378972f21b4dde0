"""Visits typed without a signal and refused once there is one: one thing, one next step, in a real browser."""

from __future__ import annotations

import pytest

from audit.models import VisitDraft
from records import clock, log
from records.models import Job, JobConclusion, Reading, Visit
from tests import world as made

from .offline_page import signed_in, until
from .test_browser import browser  # noqa: F401 (fixture)
from .test_browser_visit import Finger, kettle, made_safe, phone, record_without_a_signal  # noqa: F401 (fixtures)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

TYPED = "Object.keys(localStorage).filter(k => k.startsWith('visit:')).length"


def taken_along(phone, live_server, kettle) -> str:  # noqa: F811
    """The clinic is on the device and the signal is gone. Returns the address where a visit is begun."""
    signed_in(phone, live_server, kettle.world.people["technician"])
    clinic = f"{live_server.url}/clinic/{kettle.world.clinic.slug}/"
    phone.goto(clinic)
    until(phone, "navigator.serviceWorker.controller !== null")
    phone.locator("[data-take-along]").tap()
    phone.locator(".take-along-said", has_text="On this device").wait_for(timeout=90000)
    phone.context.set_offline(True)
    return f"{clinic}visit/"


def to_the_end(phone, finger) -> None:  # noqa: F811
    """From the readings straight to the end: the unit was not worked on."""
    at = phone.url.rsplit("/", 2)[0]
    phone.goto(f"{at}/end/")
    finger.choose("conclusion", "not worked on").type("reason", "unit in use").choose(
        "meanwhile", "yes, as before"
    ).go()


def test_what_was_refused_after_leaving_is_put_right_on_one_visit_and_goes_in(phone, live_server, kettle):  # noqa: F811
    address = taken_along(phone, live_server, kettle)
    phone.goto(address)
    finger = Finger(phone)
    finger.tap(label="Kettle").go("Begin")
    finger.choose("plate", "says the same").choose("positions", "are as on record").go()
    made_safe(finger).go()
    reading = phone.locator(".visit-reading input").first.get_attribute("name")
    phone.fill(f"[name={reading}]", "134,9")
    here = phone.url
    finger.tap(button="Go on")
    wrong = phone.locator("[data-checked-here]")
    wrong.wait_for()
    assert "“134,9” is not a number" in wrong.inner_text() and phone.url == here, "it is stopped at the step"
    assert phone.locator(f"[name={reading}]").get_attribute("aria-invalid") == "true"
    to_the_end(phone, finger)  # all the same
    assert "134,9" in phone.locator("[data-visit-held]").inner_text(), "what was answered is looked through"
    record_without_a_signal(finger)
    phone.context.set_offline(False)
    phone.evaluate("void Outbox.sendAll()")
    phone.locator("h2", has_text="it needs a look").wait_for(timeout=60000)
    assert not Visit.objects.filter(happened_on=made.TODAY).exists() and VisitDraft.objects.count() == 1
    phone.goto(address)
    assert phone.locator("[data-here-only]").is_hidden(), "the visit stands once, where the server has it"
    phone.goto(f"{live_server.url}/waiting/")
    item = phone.locator(".waiting-item")
    item.get_by_role("link", name="Open the visit").click()
    phone.locator("h1", has_text="Look through and record").wait_for()
    problem = phone.locator(".problems a", has_text="Readings as found").first
    with phone.expect_navigation():
        problem.click()
    assert phone.input_value(f"[name={reading}]") == "134,9"
    phone.fill(f"[name={reading}]", "134.9")
    with phone.expect_navigation():
        phone.get_by_role("button", name="Go on").tap()
    assert "Two answers" not in phone.locator("h1").inner_text()
    phone.goto(f"{address}{VisitDraft.objects.get().ref}/record/")
    with phone.expect_navigation():
        phone.get_by_role("button", name="Record the visit").tap()
    assert "/visits/" in phone.url, phone.locator("main").inner_text()
    assert VisitDraft.objects.count() == 1 and Visit.objects.filter(happened_on=made.TODAY).count() == 1
    assert str(Reading.objects.filter(job__happened_on=made.TODAY).get().as_found.normalize()) == "134.9"
    until(phone, "OutboxStore.all().then(all => all.length === 0)")
    phone.goto(address)
    until(phone, f"({TYPED}) === 0")


def _not_due_yet(kettle) -> None:  # noqa: F811
    with clock.at(made.NOW):
        log.log_plan_line(
            by=kettle.world.people["coordinator"], request_key=made.key(), clinic=kettle.world.clinic,
            unit=kettle.unit, code="not-due-yet", title="Renew the strainer", action="replace", months=600,
            source="Invented booklet", effective_on=made.TODAY,
        )  # fmt: skip


def test_several_units_are_one_visit_without_a_signal_and_the_page_says_when_it_is_recorded(
    phone,  # noqa: F811
    live_server,
    kettle,  # noqa: F811
):
    _not_due_yet(kettle)
    address = taken_along(phone, live_server, kettle)
    kept = phone.evaluate("OutboxStore.pages().then(all => all.map(each => each.address))")
    own = {each.split("/of/")[1].split("/")[1] for each in kept if f"/of/{kettle.unit.ref}/" in each}
    assert "task-not-due-yet" in own, "a task that is not due is on the device too"
    other = kettle.world.unit
    phone.goto(address)
    finger = Finger(phone)
    finger.tap(label="Kettle").tap(label=other.label).go("Begin")
    first = phone.url.split("/of/")[1].split("/")[0]
    for _ in range(2):
        finger.choose("plate", "says the same")
        if phone.locator("fieldset#f-positions").count():
            finger.choose("positions", "are as on record")
        finger.go()
        made_safe(finger).go()
        to_the_end(phone, finger)
    assert phone.url.endswith(f"/of/{first}/record/")
    told = phone.locator("[data-visit-held] li").all_inner_texts()
    of = [sum(each.startswith(f"{label}: ") for each in told) for label in ("Kettle", other.label)]
    assert of[0] == of[1] > 2, told
    record_without_a_signal(finger)
    phone.context.set_offline(False)
    phone.evaluate("void Outbox.sendAll()")
    phone.locator("h2", has_text="Sent and recorded").wait_for(timeout=60000)
    page = phone.locator("main").inner_text()
    assert "There is no signal" not in page and "not recorded yet" not in page
    visit = Visit.objects.get(happened_on=made.TODAY)
    assert {job.unit_id for job in Job.objects.filter(visit=visit)} == {kettle.unit.pk, other.pk}
    assert JobConclusion.objects.filter(job__visit=visit, reason="unit in use").count() == 2
    assert phone.evaluate(TYPED) == 0 or phone.evaluate("VisitStore.refs().every(VisitStore.isQueued)")
