"""The rate of a leak test is computed by the writer alone: what the page shows before it is sent is its number."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.contrib.staticfiles import finders
from django.urls import reverse

from records.models import LeakTest
from tests.audit.pages.desk import typed_in
from tests.audit.pages.tools import signed_in

pytestmark = pytest.mark.django_db


def address(world) -> str:
    return reverse("day-leak", args=[world.clinic.slug, world.unit.ref])


def looked_at(client, world, role="coordinator", **typed):
    return signed_in(client, world, role).get(address(world), {"limit": "0.13", "look": "1"} | typed)


# A rate is rounded up, so that none above its limit is shown at it: 0.00625, 0.00045 and 0.00025; 0.1333220; and
# 2.601 kPa over 20 minutes, 0.13005 kPa a minute.
# NIST SP 811, B.8: 1 psi = 6.894757 kPa; a millimetre of mercury 0.133322 kPa.
RATES = [
    ("0.025", "kPa", "4", "0.0063", "pass"),
    ("0.009", "kPa", "20", "0.0005", "pass"),
    ("0.025", "mbar", "10", "0.0003", "pass"),
    ("13", "mbar", "10", "0.1300", "pass"),
    ("13.1", "mbar", "10", "0.1310", "fail"),
    ("0.013", "bar", "10", "0.1300", "pass"),
    ("10", "mmHg", "10", "0.1334", "fail"),
    ("2.601", "kPa", "20", "0.1301", "fail"),
    ("2.6", "kPa", "20", "0.1300", "pass"),
    ("0.2", "psi", "10", "0.1379", "fail"),
]


@pytest.mark.parametrize(("rise", "measure", "minutes", "rate", "result"), RATES)
def test_the_rate_on_the_page_is_the_one_that_is_recorded(client, world, rise, measure, minutes, rate, result):
    typed = {"rise": rise, "unit_of_measure": measure, "minutes": minutes}
    looked = looked_at(client, world, **typed)
    assert looked.json() == {"rate": rate, "limit": "0.13", "result": result}
    assert looked.headers["Cache-Control"] == "private, no-store" and not LeakTest.objects.exists()
    form = typed_in.form_to(client.get(address(world)), address(world))
    assert typed_in.send(client, form, **typed, seen_rate=rate).status_code == 302
    row = LeakTest.objects.get()
    assert (row.rate, row.result) == (Decimal(rate), result)


@pytest.mark.parametrize("lacks", ["rise", "unit_of_measure", "minutes", "limit"])
def test_no_rate_is_said_of_what_is_not_typed_yet(client, world, lacks):
    typed = {"rise": "13", "unit_of_measure": "mbar", "minutes": "10"} | {lacks: ""}
    answer = looked_at(client, world, **typed)
    assert answer.status_code == 200 and answer.json() == {}


@pytest.mark.parametrize(("role", "status"), [("viewer", 403), ("other-coordinator", 404)])
def test_who_may_not_log_a_test_is_told_no_rate(client, world, role, status):
    assert looked_at(client, world, role, rise="13", unit_of_measure="mbar", minutes="10").status_code == status


def test_no_script_computes_a_rate():
    with open(finders.find("audit/desk.js"), encoding="utf-8") as file:
        script = file.read()
    part = script[script.index("const showRate") : script.index("const keepBoxesTogether")]
    assert "fetch(" in part
    # Nothing turns what was typed into a number, and nothing multiplies, divides or rounds one.
    arithmetic = r"Number\(|parseFloat|parseInt|toFixed|Math\.|BigInt| / | \* | % | \+[a-z]"
    assert re.findall(arithmetic, part) == []
    assert re.findall(r"toFixed|0\.133|6\.89|kpa-", script) == []
