"""The pictures on a unit's page: drawn of its record, said in words, with links to the rows, in the units chosen."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from audit.gather.read import clinic_facts
from audit.pages.values_in_chosen_units import as_written
from records import log
from records.models import Job
from records.writing import preferences
from records.writing.preferences import Written
from tests import world as made
from tests.audit.binder.paper import spaced
from tests.audit.pages.tools import get, signed_in, text_of

pytestmark = pytest.mark.django_db


def page_of(client, world, role="technician", **query) -> str:
    return get(signed_in(client, world, role), "unit", world.clinic.slug, world.unit.ref, **query).content.decode()


def images(html: str) -> list[str]:
    return re.findall(r'<svg class="pic".*?</svg>', html, re.S)


def test_time_line_strips_charts_and_counters_are_drawn(client, world):
    made.weekly_tests(world, 5)
    made.seal_replaced(world, date(2026, 2, 3))
    html = page_of(client, world)
    told = [spaced(re.search(r"<desc[^>]*>(.*?)</desc>", svg, re.S)[1]) for svg in images(html)]
    for words in (
        "Time line of Unit 1", "3 Feb 2026 planned, routine", "Spore test (biological indicator), 17 Mar 2024 to",
        "Chamber temperature in °C: 1 reading, 3 Feb 2026 as found 134.6, as left 134.9 °C; limit ≥ 134 and ≤ 137",
        "Counter of cycles, life total: 1200 on 3 Feb 2026",
    ):  # fmt: skip
        assert any(words in each for each in told), (words, told)
    assert " style=" not in html and "<style" not in html
    names = re.findall(r' id="([^"]+)"', html)
    assert len(names) == len(set(names)), "each name once on the page"


def test_what_the_time_line_shows_leads_to_the_rows(client, world):
    made.seal_replaced(world, date(2026, 2, 3))
    html = page_of(client, world)
    section = html[html.index("The same in words") :]
    job = Job.objects.get()
    assert reverse("record", args=["first", "job", job.origin]) in section
    assert reverse("record", args=["first", "fittedpart", job.fittedparts.get().origin]) in section


def test_they_end_on_the_day_of_the_page(client, world):
    made.seal_replaced(world, date(2026, 2, 3))
    html = page_of(client, world, as_of="2026-02-02")
    assert "Cassette seal, lot S-9" not in " ".join(images(html))
    assert "3 Feb 2024</time> to <time" in html and "No reading is on record in these months" in html


def test_a_unit_without_a_history_is_told_what_makes_the_pictures(client, world):
    seen = text_of(get(signed_in(client, world, "viewer"), "unit", world.clinic.slug, world.unit.ref))
    for words in (
        "No reading is on record in these months", "No counter was read in these months",
        "A spore test is entered when its cycle is run", "A visit is entered by whoever did the work",
    ):  # fmt: skip
        assert words in seen, words


def test_readings_are_drawn_and_listed_in_the_unit_that_was_chosen(client, world):
    made.seal_replaced(world, date(2026, 2, 3))
    client.cookies[preferences.COOKIE] = preferences.cookie_of(Written("psi", "F", "Mdy"))
    html = page_of(client, world)
    chart = next(svg for svg in images(html) if "Chamber temperature" in svg)
    # 134.6 × 1.8 + 32 = 274.28; 134 × 1.8 + 32 = 273.2 (NIST SP 811 B.8).
    assert "in °F: 1 reading" in chart and "as found 274.3" in chart and "≥ 273" in chart
    seen = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))
    assert "274.3 °F (recorded: 134.6 °C)" in seen and "Feb 3, 2026" in seen


def test_a_reading_within_its_limits_stays_within_them_in_other_units(world):
    made.seal_replaced(world, date(2026, 2, 3))
    unit = clinic_facts(world.clinic).units[0]
    (told,) = as_written(unit, Written(temperature="F")).jobs[0].readings
    assert told.unit_of_measure == "°F" and told.lower < told.as_found < told.as_left < told.upper
    assert as_written(unit, Written()) == unit, "the usual way changes nothing"


def test_checks_by_the_user_with_a_value_are_drawn(client, world):
    for n, value in enumerate(("134.1", "134.4")):
        log.log_user_check(
            by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit,
            on=made.TODAY - timedelta(days=9 - n), kind="thermometer comparison", result="pass",
            value=Decimal(value), unit_of_measure="°C", signed_by="Ana Coordinator",
        )  # fmt: skip
    told = map(spaced, images(page_of(client, world)))
    assert any("Thermometer comparison, user check in °C: 2 readings" in svg for svg in told)


def test_the_clinic_without_units_and_the_company_without_clinics_teach_what_to_do(client, world):
    empty = made.clinic_of(world.people["coordinator"], "empty", "Empty Clinic")
    seen = get(signed_in(client, world, "coordinator"), "clinic", empty.slug)
    assert "the maintenance part of its maker’s instructions" in text_of(seen)
    assert reverse("register-unit", args=["empty"]) in seen.content.decode()
    told = text_of(get(signed_in(client, world, "other-dispatcher"), "company", "strangers"))
    assert "There is no clinic here yet. Two ways lead to one" in told
    assert "My calendar" in told
