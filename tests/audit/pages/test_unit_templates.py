"""Pages of templates: an edition made and amended, a unit registered from one, a later edition taken over by hand."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from records import clock
from records.log.template_content import content_of, followed
from records.models import Entry, PlanLine, Unit, UnitFromTemplate, UnitTemplate
from tests import world as build
from tests.budget import MOST_QUERIES
from tests.records import template_world as made
from tests.records.page_form import form_of

from .tools import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(build.NOW):
        yield


@pytest.fixture
def edition(world):
    parts = made.parts_of(world)
    return made.template_of(world, parts, [made.kit_of(world, parts)])


def signed(world, role="technician") -> Client:
    client = Client()
    client.force_login(world.people[role])
    return client


def address(name, *args) -> str:
    return reverse(name, args=["first" if name in OF_CLINIC else "keepers", *args])


OF_CLINIC = ("register-from", "take-edition", "plan", "unit", "register-unit")


def test_a_template_is_made_on_its_page_with_its_rows(world):
    parts = made.parts_of(world)
    made.kit_of(world, parts)
    client = signed(world)
    sent = form_of(client.get(address("add-template")))
    sent |= {
        "name": "Two", "maker": "Invented Works", "model": "Cassette Two", "equipment_type": "cassette",
        "chamber_litres": "2.0", "source": "Invented manual", "source_edition": "3", "kit_0": "on",
        "positions-0-code": "seal", "positions-0-name": "Cassette seal", "positions-0-component": "seal",
        "plan-0-code": "replace-seal", "plan-0-title": "Replace it", "plan-0-position": "seal",
        "plan-0-action": "replace", "plan-0-months": "24", "plan-0-cycles": "1000",
        "parts-0-part": str(parts["Cassette seal"].ref), "parts-0-position": "seal", "parts-0-quantity": "1",
        "readings-0-quantity": "chamber temperature", "readings-0-unit_of_measure": "°C", "readings-0-lower": "134",
        "readings-0-limit_source": "Invented manual, section 9",
    }  # fmt: skip
    refused = client.post(address("add-template"), sent | {"plan-0-position": "lid", "plan-0-months": "0"})
    assert refused.status_code == 422 and not UnitTemplate.objects.exists()
    page = text_of(refused)
    assert "No position has the code “lid”" in page and "due always" in page
    assert 'value="Invented manual"' in refused.content.decode()
    for _ in range(2):  # the second tap changes nothing
        answer = client.post(address("add-template"), sent)
        assert answer.status_code == 302
    template = UnitTemplate.objects.get()
    content = content_of(template)
    (line,) = content.lines
    assert (line.months, line.cycles, line.position.code, line.source, line.edition) == (
        24, 1000, "seal", "Invented manual", "3",
    )  # fmt: skip
    assert [len(x) for x in (content.positions, content.parts, content.kits, content.readings)] == [1, 1, 1, 1]
    assert content.positions[0].always and answer["Location"] == address("template", template.ref)
    shown = text_of(client.get(answer["Location"]))
    for words in ("every 24 months, every 1000 cycles", "Kit: Two-year kit", "chamber temperature, °C, from 134"):
        assert words in shown


def test_the_next_edition_starts_with_the_rows_of_the_one_before(world, edition):
    client = signed(world)
    at = address("amend-template", edition.ref)
    sent = form_of(client.get(at))
    assert [sent[n] for n in ("plan-0-code", "plan-0-months", "kit_0")] == [["replace-seal"], ["24"], ["on"]]
    without = client.post(at, sent)
    assert without.status_code == 422 and "This is missing" in text_of(without)
    sent |= {"plan-0-months": "12", "changed": "Invented bulletin 4", "positions-2-optional": "on"}
    sent |= {name: "" for name in sent if name.startswith("plan-2-")}  # the electrical test is blanked: left out
    assert client.post(at, sent).status_code == 302
    later = UnitTemplate.objects.order_by("pk").last()
    assert (later.edition, later.instead_of, later.changed) == (2, edition, "Invented bulletin 4")
    assert [(x.code, x.months) for x in content_of(later).lines] == [
        ("replace-seal", 12), ("replace-air-filter", 24),
    ]  # fmt: skip
    assert "There is a later edition" in text_of(client.get(address("template", edition.ref)))


def test_a_unit_of_a_known_model_is_registered_with_few_answers(world, edition):
    client = signed(world)
    assert address("register-from", edition.ref) in client.get(address("register-unit")).content.decode()
    at = address("register-from", edition.ref)
    sent = form_of(client.get(at)) | {"label": "New", "serial": "INV-N1", "room": "Cellar", "cycles": "12"}
    refused = client.post(at, sent)
    assert refused.status_code == 422 and "Nothing is chosen" in text_of(refused)  # the battery not every unit has
    sent |= {"fit_battery": "none"}
    for _ in range(2):
        assert client.post(at, sent).status_code == 302
    unit = Unit.objects.get(serial="INV-N1")
    assert PlanLine.objects.filter(unit=unit).count() == 3
    page = text_of(client.get(address("unit", unit.ref)))
    assert "From template Cassette Two, edition 1, of Keepers" in page
    assert "1 unit from it" in text_of(client.get(address("templates")))


def test_a_later_edition_is_offered_and_taken_difference_by_difference(world, edition):
    unit = made.registered(world, edition)
    plan = [made.PLAN[0] | {"months": 12}, made.PLAN[1]]
    parts = [{"part": p.part, "quantity": 1, "position": "seal"} for p in content_of(edition).parts]
    later = made.template_of(world, instead_of=edition, changed="Invented bulletin 4", plan=plan, parts=parts)
    client = signed(world)
    assert "1 unit stands at an older edition" in text_of(client.get(address("template", later.ref)))
    assert "Edition 2 is there" in text_of(client.get(address("plan", unit.ref)))
    at = address("take-edition", unit.ref)
    page = client.get(at)
    for words in ("Replace cassette seal: changed", "every 24 months", "every 12 months", "Invented bulletin 4"):
        assert words in text_of(page)
    sent = form_of(page)
    assert sent["take_0"] == ["on"] and "take_1" not in sent  # what would be given up is ticked by a person only
    stale = client.post(at, sent | {"keys": "line:other"})
    assert stale.status_code == 422 and "changed meanwhile" in text_of(stale)
    before = Entry.objects.count()
    for _ in range(2):
        assert client.post(at, sent).status_code == 302
    assert Entry.objects.count() == before + 1
    assert followed(unit).edition == 2 and followed(unit).kept == ["line:electrical"]
    assert "As it was on this unit stayed: line:electrical" in text_of(client.get(address("plan", unit.ref)))
    assert "older edition" not in text_of(client.get(address("template", later.ref)))


def test_a_unit_whose_plate_has_no_template_is_told_so(world):
    page = signed(world).get(address("take-edition", world.unit.ref))
    assert "No template for Invented Works Cassette Two may be used here" in text_of(page)


@pytest.mark.parametrize(
    ("role", "status"),
    [
        ("technician", 200),
        ("coordinator", 200),
        ("other-coordinator", 404),
        ("other-dispatcher", 404),
        ("nobody", 404),
    ],
)
def test_who_registers_from_it(world, edition, role, status):
    assert signed(world, role).get(address("register-from", edition.ref)).status_code == status


def test_a_company_that_does_not_service_the_clinic_shows_no_template_there(world):
    theirs = made.template_of(world, by=world.people["other-dispatcher"], owner=world.other_company)
    for role in ("coordinator", "technician"):
        assert signed(world, role).get(address("register-from", theirs.ref)).status_code == 404
    assert signed(world).get(address("template", theirs.ref)).status_code == 404


def test_units_of_clinics_that_are_not_served_any_more_are_not_told(world, edition):
    from records import log
    from records.models import Agreement

    made.registered(world, edition)
    assert UnitFromTemplate.objects.count() == 1
    log.end_agreement(
        by=world.people["coordinator"], request_key=build.key(), effective_on=build.TODAY, reason="ended",
        agreement=Agreement.objects.get(clinic=world.clinic, company=world.company),
    )  # fmt: skip
    assert "First Clinic" not in text_of(signed(world).get(address("template", edition.ref)))


def test_the_pages_ask_the_database_little(world, edition):
    unit = made.registered(world, edition)
    client = signed(world)
    for at in (
        address("templates"), address("template", edition.ref), address("amend-template", edition.ref),
        address("register-from", edition.ref), address("take-edition", unit.ref), address("plan", unit.ref),
    ):  # fmt: skip
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert client.get(at).status_code == 200
        assert len(asked) <= MOST_QUERIES, (at, len(asked))
