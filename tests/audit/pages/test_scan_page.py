"""What a scan leads to: units, boxes, part lots and parts, for whoever may see them. GTINs are those of test_gs1."""

from __future__ import annotations

import json
from datetime import date

import pytest
from django.urls import reverse

from records import log
from records.models import Entry
from records.scan.scanned import unit_of_label
from tests import world as made
from tests.budget import MOST_QUERIES

pytestmark = pytest.mark.django_db
GTIN = "09506000134352"


def scan(client, clinic, text, **more):
    return client.post(reverse("clinic-scan", args=[clinic.slug]), {"scan": text, **more})


def told(client, clinic, text) -> dict:
    answer = client.post(
        reverse("clinic-scan", args=[clinic.slug]), {"scan": text}, headers={"accept": "application/json"}
    )
    return json.loads(answer.content)


@pytest.fixture
def as_(client, world):
    def enter(role: str):
        client.force_login(world.people[role])
        return client

    return enter


def test_a_box_on_record_is_found_and_leads_to_a_spore_test(as_, world):
    client = as_("operator")
    found = told(client, world.clinic, f"]d201{GTIN}1727063010B-100")
    assert found["kind"] == "fields" and not found["ask"] and found["new"] == []
    assert [(m["kind"], m["ref"]) for m in found["matches"]] == [("indicator lot", str(world.lot.origin))]
    reading = found["readings"][0]
    assert (reading["gtin"], reading["lot"], reading["expiry"]) == (GTIN, "B-100", "2027-06-30")
    page = scan(client, world.clinic, "b-100").content.decode()
    address = f"{reverse('log-bio', args=[world.clinic.slug])}?lot={world.lot.origin}"
    assert address in page
    form = client.get(address).context["form"]
    assert str(form["lot"].value()) == str(world.lot.origin)


def test_another_day_on_the_label_than_on_record_is_said(as_, world):
    found = told(as_("operator"), world.clinic, f"]d201{GTIN}1727053110B-100")
    assert [d["code"] for d in found["doubts"]] == ["other-day"]
    assert "2027-05-31" in found["doubts"][0]["message"] and "2027-06-30" in found["doubts"][0]["message"]


def test_a_lot_that_is_not_on_record_leads_to_its_entry_with_the_fields_filled(as_, world):
    client = as_("operator")
    found = told(client, world.clinic, f"]d201{GTIN}1728013110NEW-1")
    assert found["matches"] == [] and [n["lot"] for n in found["new"]] == ["NEW-1"]
    form = client.get(found["new"][0]["address"]).context["form"]
    assert (form["lot"].value(), str(form["expiry"].value())) == ("NEW-1", "2028-01-31")
    assert told(as_("viewer"), world.clinic, "NEW-1")["new"] == [], "who may only look is not led to an entry"


def test_a_label_of_ours_leads_to_the_unit_and_its_entries(as_, world):
    client = as_("technician")
    label = f"https://anywhere.example/u/{world.unit.origin}/"
    page = scan(client, world.clinic, label)
    assert page.status_code == 200
    for address in (
        reverse("unit", args=[world.clinic.slug, world.unit.origin]),
        f"{reverse('visit-begin', args=[world.clinic.slug])}?unit={world.unit.origin}",
    ):
        assert address in page.content.decode()
    assert (
        reverse("visit-begin", args=[world.clinic.slug])
        not in scan(as_("viewer"), world.clinic, label).content.decode()
    )


@pytest.mark.parametrize("text", ["INV-Unit 1", "inv-unit 1", "Unit 1", f"(01){GTIN}(21)INV-Unit1"])
def test_a_unit_is_found_by_its_serial_and_label(as_, world, text):
    found = told(as_("viewer"), world.clinic, text)
    # Spaces are no part of a printed code, so a serial number with one is not found by it.
    expected = [] if text.startswith("(") else [("unit", str(world.unit.origin))]
    assert [(m["kind"], m["ref"]) for m in found["matches"]] == expected


def test_part_lots_are_those_of_the_own_company_alone(as_, world):
    common = {"by": world.people["stores"], "owner": world.company}
    part = log.log_part(request_key=made.key(), name="Door seal", number=GTIN, component="seal", **common)
    lot = log.log_part_lot(
        request_key=made.key(),
        part=part,
        receipt_lot="R-1",
        lot="S-77",
        on=made.BEGIN,
        expiry=date(2028, 1, 1),
        **common,
    )
    found = told(as_("technician"), world.clinic, f"]d201{GTIN}1728010110S-77")
    assert [(m["kind"], m["ref"]) for m in found["matches"]] == [
        ("part lot", str(lot.origin)), ("part", str(part.origin))
    ]  # fmt: skip
    by_receipt = told(as_("technician"), world.clinic, "r-1")["matches"][0]
    assert by_receipt["ref"] == str(lot.origin) and by_receipt["lots"] == ["R-1", "S-77"], "both whole"
    assert told(as_("coordinator"), world.clinic, f"]d201{GTIN}10S-77")["matches"] == [], "another’s store"


def test_things_of_another_clinic_are_not_found(as_, world):
    client = as_("coordinator")
    for text in ("INV-Stranger", "Stranger", f"https://x.example/u/{world.other_unit.origin}/"):
        assert told(client, world.clinic, text)["matches"] == []
    page = scan(client, world.clinic, f"https://x.example/u/{world.other_unit.origin}/").content.decode()
    assert "No unit of this label" in page and "Stranger" not in page


def test_an_ambiguous_scan_shows_every_reading_and_the_raw_scan(as_, world):
    client = as_("operator")
    found = told(client, world.clinic, f"]C101{GTIN}10ABC12317271231")
    assert found["ask"] and [r["lot"] for r in found["readings"]] == ["ABC12317271231", "ABC123"]
    assert found["raw"] == f"]C101{GTIN}10ABC12317271231"
    page = scan(client, world.clinic, f"]C101{GTIN}10A\x1d17271231").content.decode()
    assert f"]C101{GTIN}10A␝17271231" in page and "2027-12-31" in page


def test_a_scan_that_cannot_be_read_is_refused_with_the_reason(as_, world):
    client = as_("operator")
    for text in ("", "+A123", "]d2ZZ"):
        answer = scan(client, world.clinic, text)
        assert answer.status_code == 422 and "not read" in answer.content.decode()
    assert told(client, world.clinic, "<b>x</b>")["readings"][0]["lot"] == "<b>x</b>"
    assert "<b>x</b>" not in scan(client, world.clinic, "<b>x</b>").content.decode()


def test_nothing_is_recorded_and_few_questions_are_asked(as_, world, django_assert_max_num_queries):
    client, before = as_("operator"), Entry.objects.count()
    with django_assert_max_num_queries(MOST_QUERIES):
        told(client, world.clinic, f"]d201{GTIN}1727063010B-100")
    with django_assert_max_num_queries(MOST_QUERIES):
        client.get(reverse("clinic-scan", args=[world.clinic.slug]))
    assert Entry.objects.count() == before


def test_scanning_before_a_clinic_is_chosen(as_, world):
    client = as_("coordinator")
    assert client.get(reverse("scan")).headers["Location"] == reverse("clinic-scan", args=[world.clinic.slug])
    answer = client.post(reverse("scan"), {"scan": f"https://x.example/u/{world.unit.origin}/"})
    assert reverse("unit", args=[world.clinic.slug, world.unit.origin]) in answer.content.decode()
    answer = client.post(reverse("scan"), {"scan": "B-100", "clinic": world.clinic.slug})
    assert str(world.lot.origin) in answer.content.decode()
    assert client.post(reverse("scan"), {"scan": "B-100", "clinic": world.other_clinic.slug}).status_code == 404
    assert client.post(reverse("scan"), {"scan": ""}).status_code == 422
    assert as_("nobody").get(reverse("scan")).status_code == 200


def test_the_address_on_a_label_follows_the_unit(as_, world):
    ref = world.unit.origin
    there = reverse("unit", args=[world.clinic.slug, ref])
    for label in (str(ref), ref.hex, ref.hex[:8], ref.hex[:8].upper()):
        assert as_("viewer").get(f"/u/{label}/").headers["Location"] == there
    for role in ("other-coordinator", "nobody"):
        assert as_(role).get(f"/u/{ref}/").status_code == 404
    for label in (ref.hex[:7], "zzzzzzzz", ref.hex + "0", "x" * 200):
        assert as_("viewer").get(f"/u/{label}/").status_code == 404
    client = as_("viewer")
    client.logout()
    assert client.get(f"/u/{ref}/").headers["Location"] == f"{reverse('sign-in')}?next=/u/{ref}/"


def test_digits_that_fit_two_units_lead_nowhere(world):
    """The first digits are printed to be typed; where two units begin alike, the square still tells them apart."""
    by = world.people["coordinator"]
    assert unit_of_label(by, world.unit.origin.hex[:8])[1] == world.unit
    assert unit_of_label(by, "0" * 8) is None


def test_a_part_lot_under_a_notice_is_never_found_unmarked(as_, world):
    common = {"by": world.people["stores"], "owner": world.company}
    part = log.log_part(request_key=made.key(), name="Door seal", component="seal", **common)
    for receipt in ("R-1", "R-2"):
        log.log_part_lot(
            request_key=made.key(), part=part, receipt_lot=receipt, lot="S-" + receipt, on=made.BEGIN, **common
        )
    log.log_part_recall(
        by=world.people["technician"], request_key=made.key(), owner=world.company, part="Door seal", lot="S-R-1",
        issued_by="Invented Works", reason="cracks", action="replace", on=made.TODAY,
    )  # fmt: skip
    titles = [told(as_("technician"), world.clinic, text)["matches"][0]["title"] for text in ("S-R-1", "S-R-2")]
    assert ["in doubt by the notice of 2026-03-16" in title for title in titles] == [True, False]
