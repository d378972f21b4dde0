"""The log of loads on screen, as a table and in the binder: the same lines, and who released yesterday's cycle."""

from __future__ import annotations

import csv
from datetime import timedelta
from decimal import Decimal as D
from io import BytesIO, StringIO

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from audit.binder.contents import binder_contents
from audit.binder.pdf import render
from audit.exchange import codec
from audit.gather.read import clinic_facts
from audit.judge.evaluate import evaluate
from records import log
from tests import world as made
from tests.audit.binder.paper import texts
from tests.audit.pages.tools import get, signed_in, text_of

pytestmark = pytest.mark.django_db
YESTERDAY = made.TODAY - timedelta(days=1)
REACHED = {"exposure_minutes": D("4.0"), "exposure_temperature": D("134.6"), "exposure_pressure": D(210)}
HELD = {"held_packs": 3, "held_pouches": 12, "packs": "dry", "pack_condition": "intact", "contents": "hygiene kits"}


def who(world, role="coordinator"):
    return {"by": world.people[role], "request_key": made.key(), "clinic": world.clinic}


def load(world, number, on=YESTERDAY, role="coordinator", **more):
    passed = {"mechanical": "pass", "chemical": "pass", "loaded_by": "Lou Loader"} | HELD | REACHED
    said = {"unit": world.unit, "on": on, "cycle_number": number, "program": "wrapped"} | passed | more
    return log.log_load(**who(world, role), **said)


@pytest.fixture
def day(world):
    """Yesterday: one load released at once, one released today by the operator, one rejected for wet packs."""
    load(world, "811", decision="released")
    later = load(world, "812", at=made.NOW - timedelta(hours=26))
    log.release_load(**who(world, "operator"), load=later, decision="released", on=made.TODAY, at=made.NOW)
    load(world, "813", packs="wet", decision="rejected", reason="dried and run again")
    return world


def rows(answer) -> list[dict]:
    text = answer.content.decode("utf-8-sig")
    return list(csv.DictReader(StringIO(text)))


def test_who_released_yesterdays_cycle_is_read_on_the_page(client, day):
    seen = text_of(get(signed_in(client, day, "viewer"), "loads", "first"))
    at = seen.index("812")
    line = seen[at : seen.index("811", at)]
    for words in ("15 Mar 2026", "wrapped", "3 packs, 12 pouches; hygiene kits", "4 min, 134.6 °C, 210 kPa", "pass",
                  "dry", "Lou Loader", "Released by Pat Operator, 16 Mar 2026"):  # fmt: skip
        assert words in line, words
    assert "813" in seen[:at] and "packs came out wet; rejected: dried and run again" in seen[:at].lower()


def test_and_in_the_binder_with_the_record_of_the_decision(day):
    facts = clinic_facts(day.clinic)
    judged = evaluate(facts, made.TODAY)
    binder = binder_contents(facts, judged, from_on=made.BEGIN, to_on=made.TODAY)
    page = next(text for text in texts(render(binder)) if "One line a cycle. P: program" in text)
    (loaded,) = [x for u in facts.units for x in u.loads if x.cycle_number == "812"]
    assert "LL = Lou Loader" in page.replace("\u00a0", " ") and "PO = Pat Operator" in page.replace("\u00a0", " ")
    line = page.replace("\u00a0", " ").split("812 15 Mar", 1)[1].split("Cycle 813", 1)[0]
    assert "4 134.6 210 ✓ ✓ 3/12/–" in line and "PO 16 Mar 2026" in line
    assert f"{loaded.released_row.number} {loaded.row.number}" in line


def test_the_table_holds_each_load_and_each_field(client, day):
    answer = get(signed_in(client, day, "viewer"), "loads-file", "first")
    assert answer["Content-Type"].startswith("text/csv") and "loads-first-" in answer["Content-Disposition"]
    found = {row["cycle"]: row for row in rows(answer)}
    assert list(found) == ["811", "812", "813"], "oldest first"
    row = found["812"]
    assert (row["wrapped packs"], row["pouches"], row["cassettes"]) == ("3", "12", "")
    assert (row["exposure min"], row["exposure °C"], row["exposure kPa gauge"]) == ("4", "134.6", "210")
    assert (row["loaded by"], row["decided by"], row["decision"]) == ("Lou Loader", "Pat Operator", "released")
    assert (row["packs"], row["wrapping"], row["out of the ordinary"]) == ("dry", "intact", "")
    assert found["813"]["packs"] == "wet" and "rejected: dried and run again" in found["813"]["out of the ordinary"]


def test_a_text_that_a_table_would_take_for_a_formula_is_a_text(client, world):
    load(world, "811", contents="=1+1")
    (row,) = rows(get(signed_in(client, world, "viewer"), "loads-file", "first"))
    assert row["contents"] == "'=1+1"


def test_only_what_is_out_of_the_ordinary_is_asked_for(client, day):
    seen = text_of(get(signed_in(client, day, "viewer"), "loads", "first", odd="1"))
    assert "1 load, the newest first" in seen and "813" in seen and "812" not in seen


def test_the_page_writes_units_as_the_clinic_does(client, day):
    signed_in(client, day, "viewer").cookies["as_written"] = "psi.F.dMy"
    seen = text_of(get(client, "loads", "first"))
    assert "274.3 °F (recorded: 134.6 °C)" in seen and "psi (recorded: 210 kPa)" in seen


def test_the_open_format_carries_what_a_load_held_and_reached(day):
    facts = clinic_facts(day.clinic)
    written = codec.export_of(facts)
    (told,) = [x for u in written["clinic"]["units"] for x in u["loads"] if x["cycle_number"] == "812"]
    assert (told["held_pouches"], told["exposure_temperature"], told["loaded_by"]) == (12, "134.6", "Lou Loader")
    assert (told["decided_by"], "given" in told) == ("Pat Operator", False)
    assert codec.read_history(written) == facts


def test_an_empty_log_says_who_fills_it(client, world):
    seen = text_of(get(signed_in(client, world, "viewer"), "loads", "first"))
    assert "No load is on record. Each cycle with goods in it is logged by who runs it" in seen
    assert rows(get(client, "loads-file", "first")) == []


def test_the_files_hold_what_the_page_was_filtered_to(client, day):
    signed_in(client, day, "viewer")
    assert [row["cycle"] for row in rows(get(client, "loads-file", "first", odd="1"))] == ["813"]
    unit = str(day.unit.ref)
    assert [row["cycle"] for row in rows(get(client, "loads-file", "first", unit=unit))] == ["811", "812", "813"]
    assert rows(get(client, "loads-file", "first", unit=str(made.key()))) == []
    before = (YESTERDAY - timedelta(days=1)).isoformat()
    assert rows(get(client, "loads-file", "first", as_of=before)) == []
    assert get(client, "loads-file", "first", as_of="never").status_code == 400
    page = get(client, "loads", "first", odd="1").content.decode()
    assert reverse("loads-book", args=["first"]) + "?odd=1" in page
    book = load_workbook(BytesIO(get(client, "loads-book", "first", odd="1").content)).active
    assert [row[0].value for row in book.iter_rows()] == ["cycle", "813"]
