"""The load form of the day: what is offered, what is only told, and what a program of the unit must reach."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal as D

import pytest
from django.urls import reverse

from records import log
from records.models import Load, Program
from tests import world as made
from tests.audit.pages.desk import typed_in
from tests.audit.pages.tools import get, signed_in, text_of

pytestmark = pytest.mark.django_db
DAY = made.TODAY - timedelta(days=2)
REACHED = {"exposure_minutes": D("4.0"), "exposure_temperature": D("134.6"), "exposure_pressure": D(210)}


@pytest.fixture
def logged(world):
    typed_in.load(world, "811", DAY, mechanical="pass", chemical="pass", loaded_by="Lou Loader", **REACHED)
    log.log_program(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit,
        name="Wrapped 134", effective_on=DAY, source="Invented manual 4", exposure_minutes=D("3.5"),
        temperature_low=D(134),
    )  # fmt: skip
    return world


def form(client, world) -> tuple[dict, object]:
    answer = get(signed_in(client, world, "operator"), "day-load", "first", world.unit.ref)
    return typed_in.form_to(answer, reverse("day-load", args=["first", world.unit.ref])), answer


def test_the_program_is_filled_in_and_names_are_offered_but_no_number_and_no_reading(client, logged):
    found, answer = form(client, logged)
    assert found["values"]["program"] == "wrapped 134"
    for name in ("cycle_number", *REACHED, "held_packs", "held_pouches", "held_cassettes", "contents", "loaded_by"):
        assert not found["values"].get(name), name
    page = answer.content.decode()
    assert '<option value="Lou Loader"></option>' in page and '<option value="wrapped 134"></option>' in page


def test_what_the_program_needs_and_last_reached_is_told_beside_the_reading(client, logged):
    seen = text_of(form(client, logged)[1])
    assert (
        "Wrapped 134 needs at least 3.5 min, from 134 °C; last logged of wrapped 134: 4 min, 134.6 °C, 210 kPa"
        in seen
    )
    assert "Read this one off the printout or display." in seen and "Last logged: 811." in seen


def test_in_the_units_that_the_clinic_writes(client, logged):
    client.cookies["as_written"] = "psi.F.dMy"
    found, answer = form(client, logged)
    assert "from 273 °F (recorded: 134 °C)" in text_of(answer)
    assert found["values"]["exposure_temperature_in"] == "°F" and found["values"]["exposure_pressure_in"] == "psi"
    typed = {"cycle_number": "812", "exposure_temperature": "275", "exposure_pressure": "31", "mechanical": "pass"}
    assert typed_in.send(client, found, **typed).status_code == 302
    row = Load.objects.get(cycle_number="812")
    assert (row.exposure_temperature, row.exposure_pressure) == (D("135.0"), D("213.7"))


def test_a_program_is_entered_on_its_page_and_stands_on_the_plan(client, world):
    signed_in(client, world, "coordinator")
    address = reverse("add-program", args=["first", world.unit.ref])
    typed = {
        "request_key": str(made.key()), "name": "wrapped 121", "exposure_minutes": "30", "temperature_low": "250",
        "temperature_low_in": "°F", "source": "Invented manual 4", "effective_on": "2026-03-10",
    }  # fmt: skip
    assert client.post(address, typed).status_code == 302
    assert Program.objects.get().temperature_low == D("121.1")
    seen = text_of(get(client, "plan", "first", world.unit.ref))
    assert "wrapped 121 : at least 30.0 min of exposure, from 121.1 °C" in seen and "Invented manual 4" in seen


def test_a_limit_out_of_the_usual_is_asked_about(client, world):
    signed_in(client, world, "coordinator")
    address = reverse("add-program", args=["first", world.unit.ref])
    typed = {"name": "wrapped", "exposure_minutes": "3.5", "temperature_low": "13.4", "source": "Invented manual"}
    typed |= {"effective_on": "2026-03-10"}
    asked = client.post(address, typed | {"request_key": str(made.key())})
    assert asked.status_code == 422 and "was 134 °C meant?" in text_of(asked) and not Program.objects.exists()
