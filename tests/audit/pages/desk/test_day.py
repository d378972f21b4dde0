"""Today: who may, what the page shows, and what of it is filled in."""

from __future__ import annotations

from datetime import date

import pytest

from records.models import (
    Entry,
)
from tests import world as made
from tests.audit.pages.desk import typed_in
from tests.audit.pages.desk.opened_day import at, day, of_unit, opened
from tests.audit.pages.tools import INSIDERS, OUTSIDERS, get, signed_in, text_of
from tests.budget import MOST_QUERIES

pytestmark = pytest.mark.django_db
LOGGING = tuple(role for role in INSIDERS if role != "viewer")
KINDS = ("day-start", "day-air-removal", "day-leak", "day-checks", "day-chemical", "day-load")


# ------------------------------------------------------------------------------------------------ who may


@pytest.mark.parametrize("role", INSIDERS)
def test_people_of_the_clinic_and_its_company_see_the_day_and_only_who_may_log_gets_forms(client, world, role):
    made.spore_test(world, date(2026, 3, 2))
    made.spore_test(world, date(2026, 3, 14), test="")
    answer = day(client, world, role)
    assert answer.status_code == 200
    forms = [f for f in typed_in.forms_of(answer) if "data-outbox" in f["at"]]
    assert bool(forms) == (role in LOGGING)
    assert ("Log something" in text_of(answer)) == (role in LOGGING)
    assert "Spore tests to read" in text_of(answer)


@pytest.mark.parametrize("role", OUTSIDERS)
def test_for_everybody_else_neither_the_day_nor_its_entries_exist(client, world, role):
    signed_in(client, world, role)
    assert client.get(at(world, "day")).status_code == 404
    for name in KINDS:
        assert client.get(of_unit(world, name)).status_code == 404, name
        assert client.post(of_unit(world, name)).status_code == 404, name


def test_a_viewer_is_told_that_the_role_may_only_look(client, world):
    signed_in(client, world, "viewer")
    for name in KINDS:
        assert client.post(of_unit(world, name)).status_code == 403, name
    assert Entry.objects.filter(account=world.people["viewer"]).count() == 0


def test_a_unit_of_another_clinic_is_not_one_of_the_day(client, world):
    signed_in(client, world, "coordinator")
    for name in KINDS:
        assert client.get(at(world, name, world.other_unit.ref)).status_code == 404
        assert client.post(at(world, name, world.other_unit.ref)).status_code == 404


# ------------------------------------------------------------------------------------------------ what is shown


def test_the_day_says_of_each_unit_in_one_line_whether_it_may_be_used(client, world):
    made.weekly_tests(world, 3)
    answer = day(client, world)
    assert "Unit 1 In service" in text_of(answer)
    assert f"{at(world, 'may-be-used')}?unit={world.unit.ref}" in answer.content.decode()


def test_nothing_that_is_a_result_is_chosen_beforehand_on_any_form(client, world):
    made.spore_test(world, date(2026, 3, 2))
    made.spore_test(world, date(2026, 3, 14), test="")
    typed_in.load(world, "0812", mechanical="pass", chemical="pass", decision="released")
    typed_in.leak(world, date(2026, 3, 3))
    forms = [f for f in typed_in.forms_of(day(client, world)) if "data-outbox" in f["at"]]
    forms += [opened(client, world, name) for name in KINDS]
    asked = {"result", "test", "control", "mechanical", "chemical", "decision", "unit_of_measure", "signs", "implant",
             "automatic_control", "safety_check", "thermometer_comparison", "water"}  # fmt: skip
    assert len(forms) >= 8
    assert {name for form in forms for name in form["names"]} >= asked
    for form in forms:
        assert not asked & set(form["values"]), form["at"]["action"]
        assert form["values"]["request_key"] and form["at"]["data-outbox"]


def test_every_field_of_the_day_has_its_own_id(client, world):
    made.spore_test(world, date(2026, 3, 2))
    made.spore_test(world, date(2026, 3, 13), test="")
    made.spore_test(world, date(2026, 3, 14), test="")
    ids = typed_in.ids_of(day(client, world))
    assert len(ids) > 30 and len(ids) == len(set(ids))


def test_the_number_of_queries_does_not_grow_with_units_and_forms(client, django_assert_max_num_queries):
    def taken(world):
        with django_assert_max_num_queries(200) as counted:
            assert day(client, world).status_code == 200
        return len(counted.captured_queries)

    world = made.make(units=1)
    made.spore_test(world, date(2026, 3, 2))
    taken(world)  # the facts are read once and kept
    small = taken(world)
    for n in (2, 3):
        unit = made.unit_at(world.clinic, world.people["coordinator"], f"Unit {n}")
        made.spore_test(world, date(2026, 3, 2), unit=unit)
        made.spore_test(world, date(2026, 3, 14), test="", unit=unit)
    taken(world)
    assert taken(world) == small <= MOST_QUERIES


def test_a_day_gone_by_is_shown_and_takes_no_entry(client, world):
    made.spore_test(world, date(2026, 3, 2))
    answer = get(signed_in(client, world, "coordinator"), "day", "first", as_of="2026-03-10")
    assert answer.status_code == 200
    assert [f for f in typed_in.forms_of(answer) if "data-outbox" in f["at"]] == []
