"""Sheets on paper from the pages: chosen on a form, handed out as a file, refused with the way out."""

from __future__ import annotations

import pytest
from django.urls import reverse

from audit.issue.blank_forms import print_sheets
from tests import world as made
from tests.audit.binder.paper import texts
from tests.audit.pages.tools import get, signed_in, text_of

pytestmark = pytest.mark.django_db


def test_the_pages_of_clinic_and_unit_lead_there(client, world):
    signed_in(client, world, "viewer")
    where = reverse("sheets", args=["first"])
    assert f'href="{where}"' in get(client, "clinic", "first").content.decode()
    assert f'href="{where}?unit={world.unit.ref}"' in get(client, "unit", "first", world.unit.ref).content.decode()
    chosen = get(client, "sheets", "first", unit=world.unit.ref).content.decode()
    assert chosen.count(f'value="{world.unit.ref}" selected') == 3, "chosen for each kind of sheet"


@pytest.mark.parametrize("kind", ["day", "week", "visit"])
def test_the_file_is_the_one_the_command_writes(client, world, kind):
    from audit.gather.read import clinic_facts

    signed_in(client, world, "operator")
    answer = get(client, "sheets-file", "first", kind, on="2026-03-16", page="a4")
    again = print_sheets(clinic_facts(world.clinic), kind, today=made.TODAY, on=made.TODAY, page="a4")
    assert answer.content == again.body and answer["Content-Type"] == "application/pdf"
    assert f"{kind}-sheets-first-2026-03-16.pdf" in answer["Content-Disposition"]
    assert "no-store" in answer["Cache-Control"]


def test_a_blank_day_makes_a_stock(client, world):
    answer = get(signed_in(client, world, "operator"), "sheets-file", "first", "day", on="", unit=world.unit.ref)
    assert "Day sheet, Unit 1, ____" in texts(answer.content)[0] and "undated" in answer["Content-Disposition"]


@pytest.mark.parametrize(
    ("query", "status", "says"),
    [
        ({"on": "soon"}, 400, "not a day that can be read"),
        ({"on": "2030-01-01"}, 400, "has not come yet"),
        ({"page": "a5"}, 404, ""),
        ({"unit": "another"}, 404, ""),
    ],
)
def test_what_cannot_be_printed_is_said(client, world, query, status, says):
    answer = get(signed_in(client, world, "operator"), "sheets-file", "first", "day", **query)
    assert answer.status_code == status and says in text_of(answer)


def test_another_kind_of_sheet_does_not_exist(client, world):
    assert get(signed_in(client, world, "operator"), "sheets-file", "first", "month").status_code == 404


def test_a_place_without_units_is_told_what_to_do(client, world):
    from records import log

    log.log_unit_event(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit,
        kind="decommissioned", on=made.TODAY, reason="worn out",
    )  # fmt: skip
    answer = get(signed_in(client, world, "operator"), "sheets-file", "first", "day")
    assert answer.status_code == 400 and "Register a unit" in text_of(answer)
