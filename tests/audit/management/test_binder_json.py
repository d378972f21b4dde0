"""`manage.py binder --json`: the contents as data, and that they are what the file carries."""

from __future__ import annotations

import json
from datetime import timedelta
from functools import partial
from io import BytesIO

import pytest

from audit.binder.sections import to_json
from records import clock
from tests import world as build

pytestmark = pytest.mark.django_db

PERIOD = ("--from", "2026-01-01", "--to", "2026-03-31")


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.tested_for_seven_weeks()


@pytest.fixture
def binder(command):
    return partial(command, "binder")


def test_nothing_but_the_contents_is_printed(world, binder):
    status, out, error = binder(world.clinic.slug, *PERIOD, "--json")
    told = json.loads(out)
    assert (status, error) == (0, "")
    assert told["kind"] == "Binder" and told["from_on"] == "2026-01-01" and told["as_of"] == "2026-03-16"
    assert [each["id"] for each in told["sections"] if each["level"] == 1] == [
        "cover", "answers", "open-items", "clinic", "unit-1", "loads", "changes", "appendices", "seal", "method",
        "index",
    ]  # fmt: skip


def test_the_ledgers_of_clinic_and_company_and_the_rules_are_in_it(world, binder):
    told = json.loads(binder(world.clinic.slug, *PERIOD, "--json")[1])
    assert [head["organisation"] for head in told["heads"]] == [str(world.clinic.ref), str(world.company.ref)]
    (rules,) = told["rules"]
    assert rules["id"] == "us-dental-cdc-2003" and rules["first"] == "2026-01-01" and rules["last"] == "2026-03-16"
    assert rules["edition"] and rules["valid_from"]
    printed = json.dumps(told["sections"])
    assert all(head["hash"] in printed.replace(" ", "") for head in told["heads"])  # printed in groups of eight


def test_the_file_carries_the_very_bytes_that_are_written(world, binder, tmp_path):
    import pikepdf

    written, file = tmp_path / "contents.json", tmp_path / "binder.pdf"
    binder(world.clinic.slug, *PERIOD, "--json", "--out", written)
    binder(world.clinic.slug, *PERIOD, "--unsigned", "--out", file)
    with pikepdf.open(BytesIO(file.read_bytes())) as pdf:
        inside = pdf.attachments["contents.json"].get_file().read_bytes()
    assert inside == written.read_bytes()
    assert json.loads(inside)["kind"] == "Binder"


def test_it_is_what_to_json_makes_of_the_contents(world, binder):
    from datetime import date

    from audit.issue.make import contents
    from audit.issue.wish import Wish

    made, _ = contents(world.clinic, Wish(date(2026, 1, 1), date(2026, 3, 31)))
    assert json.loads(binder(world.clinic.slug, *PERIOD, "--json")[1]) == to_json(made)


def test_the_status_is_1_where_something_forbids_use(world, binder):
    build.spore_test(world, build.TODAY - timedelta(days=1), test="growth")
    status, out, _ = binder(world.clinic.slug, *PERIOD, "--json")
    assert status == 1 and json.loads(out)["forbidding"] >= 1


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "--out is missing"),
        (("--json", "--all", "anyone"), "--json is for one clinic"),
    ],
)
def test_what_would_go_nowhere_is_refused(world, binder, arguments, says):
    clinic = () if "--all" in arguments else (world.clinic.slug,)
    status, out, error = binder(*clinic, *PERIOD, *arguments)
    assert (status, out) == (2, "") and says in error
