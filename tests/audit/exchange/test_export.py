"""What is exported of a clinic reads back as the same facts, and a job holds what a servicing record must.

Source of the fields: 21 CFR 820.35(b) as amended effective 2 February 2026: the name of the device; any UDI or UPC
and any other device identification; the date of service; the individual(s) who serviced; the service performed; any
test and inspection data. It binds makers; for an independent servicer it is good practice.
"""

from __future__ import annotations

import json
from datetime import date

import pytest
from django.core.management import call_command

from audit.exchange import codec
from audit.gather.read import clinic_facts
from audit.judge.evaluate import evaluate
from records import clock
from tests import world as made

pytestmark = pytest.mark.django_db


@pytest.fixture
def world():
    with clock.at(made.NOW):
        built = made.make(units=2)
        made.weekly_tests(built, 3)
        made.seal_replaced(built, date(2026, 2, 3))
        yield built


@pytest.fixture
def exported(world, tmp_path):
    path = tmp_path / "first.json"
    call_command("export", "first", out=str(path))
    return json.loads(path.read_text(encoding="utf-8"))


def test_an_exported_job_holds_every_field_of_a_servicing_record(exported):
    unit = next(u for u in exported["clinic"]["units"] if u["jobs"])
    job = unit["jobs"][0]
    assert (unit["maker"], unit["model"]) == ("Invented Works", "Cassette Two")  # (1) the name of the device
    assert "udi" in unit and unit["serial"] == "INV-Unit 1"  # (2) UDI or UPC, other identification
    assert job["row"]["happened_on"] == "2026-02-03"  # (3) the date of service
    assert job["worked_by"] == "Pat Technician" and job["servicer"] == "Keepers"  # (4) who serviced
    assert job["outcomes"][0]["action"] == "replace" and job["parts"][0]["lot"] == "S-9"  # (5) service performed
    assert job["readings"][0]["as_found"] == "134.6" and job["tests"][0]["code"] == "V1"  # (6) test data


def test_what_is_exported_reads_back_as_the_same_facts_and_the_same_answer(world, exported):
    facts = clinic_facts(world.clinic)
    again = codec.from_json(type(facts), exported["clinic"])
    assert again == facts
    assert evaluate(again, made.TODAY) == evaluate(facts, made.TODAY)


def test_an_export_to_a_folder_that_is_not_there_says_so_and_ends_with_two(world, tmp_path, capsys):
    with pytest.raises(SystemExit) as ended:
        call_command("export", "first", out=str(tmp_path / "no" / "where.json"))
    assert ended.value.code == 2
    assert "cannot be written" in capsys.readouterr().err
