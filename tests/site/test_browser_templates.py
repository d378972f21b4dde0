"""A unit of a known model on the register from a phone: how many taps it takes, and what is on record."""

from __future__ import annotations

import pytest

from records import clock
from records.models import CounterReading, Fit, PlanLine, Unit, UnitFromTemplate
from tests import world as made
from tests.records import template_world

from .test_browser import browser, sign_in  # noqa: F401 (browser is a fixture)
from .test_browser_visit import Finger, phone  # noqa: F401 (phone is a fixture)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
MOST_TAPS = 14  # fewer than 15


@pytest.fixture
def world():
    with clock.at(made.NOW):
        built = made.make()
        parts = template_world.parts_of(built)
        template_world.template_of(built, parts, [template_world.kit_of(built, parts)])
    clock.stand_at(made.NOW)
    yield built
    clock.stand_at(None)


def test_a_unit_of_a_known_model_takes_fewer_than_fifteen_taps(phone, live_server, world):  # noqa: F811
    sign_in(phone, live_server, world.people["technician"].username)
    phone.goto(f"{live_server.url}/clinic/{world.clinic.slug}/set-up/")
    finger = Finger(phone)
    finger.tap(link="Put a unit on the register")
    phone.wait_for_url(lambda address: "/units/register/" in address)
    finger.tap(link="Cassette Two")
    phone.locator("[name=fit_battery]").wait_for()
    finger.type("label", "New").type("serial", "INV-N1").type("room", "Cellar").type("cycles", "412")
    phone.locator("[name=fit_battery]").select_option("none")
    finger.taps += 2  # the list is opened, and one of it is tapped
    finger.go("Record")
    assert "/unit/" in phone.url and phone.faults == []
    print(f"taps: {finger.taps}, typed characters: {finger.typed}")
    assert finger.taps <= MOST_TAPS
    unit = Unit.objects.get(serial="INV-N1")
    assert dict(Fit.objects.filter(unit=unit).values_list("position__code", "state")) == template_world.FITS
    assert {line.code for line in PlanLine.objects.filter(unit=unit)} == {x["code"] for x in template_world.PLAN}
    assert CounterReading.objects.get(unit=unit).shown == 412
    assert UnitFromTemplate.objects.get(unit=unit).edition == 1
    assert "From template Cassette Two, edition 1" in phone.locator("main").inner_text()
