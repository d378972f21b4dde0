"""`manage.py status`: the standing of every unit in plain lines or JSON, and how the command ends."""

from __future__ import annotations

import json
from datetime import timedelta
from functools import partial

import pytest

from records import clock, log
from records import models as m
from tests import world as build

pytestmark = pytest.mark.django_db


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.tested_for_seven_weeks()


@pytest.fixture
def status(command):
    return partial(command, "status")


def test_a_clinic_whose_units_may_be_used(world, status):
    code, out, err = status("first")
    assert (code, err) == (0, "")
    assert "First Clinic, 2026-03-16. Rules: " in out
    assert "Unit 1: In service" in out and "Proof: " in out and "Next: Clinic: " in out
    assert "Local codes, the maker's instructions and licensed practice outrank this." in out
    assert "Stranger" not in out


def test_a_unit_that_may_not_be_used_ends_with_one(world, status):
    build.spore_test(world, build.TODAY - timedelta(days=1), test="growth")
    code, out, _ = status("first")
    assert code == 1 and "Unit 1: Out of service" in out


def test_all_clinics_when_none_is_named(world, status):
    code, out, _ = status()
    assert "First Clinic" in out and "Other Clinic" in out and "Stranger" in out
    assert code == 0
    other = {"by": world.people["other-coordinator"], "request_key": build.key(), "clinic": world.other_clinic}
    log.log_unit_event(**other, unit=world.other_unit, kind="withdrawn", on=build.TODAY, reason="it leaks")
    code, out, _ = status()
    assert code == 1 and "Stranger: Out of service" in out
    assert status("first")[0] == 0


def test_json_holds_every_unit_with_its_reason_and_proof(world, status):
    code, out, _ = status("first", "--json")
    (clinic,) = json.loads(out)
    assert code == 0 and clinic["name"] == "First Clinic" and clinic["as_of"] == "2026-03-16"
    (unit,) = clinic["units"]
    assert unit["unit"] == str(world.unit.ref)
    assert unit["standing"]["word"] == "In service" and unit["standing"]["reason"] and unit["standing"]["proof"]


def test_another_day_and_what_was_known_by_a_moment(world, status):
    code, out, _ = status("first", "--as-of", "2026-05-31")
    assert code in (0, 1) and "First Clinic, 2026-05-31" in out
    with clock.at(build.NOW + timedelta(hours=2)):
        build.spore_test(world, build.TODAY - timedelta(days=1), test="growth")
        assert status("first")[0] == 1
        code, out, _ = status("first", "--known-at", "2026-03-16T15:00+00:00")
    assert code == 0 and "Unit 1: In service" in out


def test_an_empty_register_says_what_to_do(status):
    code, out, _ = status()
    assert code == 0 and "manage.py demo" in out


def test_a_clinic_without_units(world, status):
    m.Clinic.objects.create(slug="empty", name="Empty")
    code, out, _ = status("empty")
    assert code == 0 and "No unit is on the register." in out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["nowhere"], ["“nowhere”", "Known: first, other"]),
        (["first", "--as-of", "16.3.2026"], ["--as-of", "“16.3.2026”", "year-month-day"]),
        (["first", "--as-of", "2026-02-30"], ["“2026-02-30”", "year-month-day"]),
        (["first", "--known-at", "yesterday"], ["--known-at", "“yesterday”", "offset"]),
        (["first", "--known-at", "2026-03-16T09:30"], ["“2026-03-16T09:30”", "offset"]),
    ],
)
def test_bad_input_says_what_why_and_the_way_out(world, status, arguments, words):
    code, out, err = status(*arguments)
    assert (code, out) == (2, "")
    assert [w for w in words if w not in err] == []


def test_an_unknown_clinic_on_an_empty_register(status):
    code, _, err = status("first")
    assert code == 2 and "None is on the register yet" in err
