"""Spore tests on the page Today: started, read, sent to a laboratory."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from records import clock, log
from records.models import (
    BioReading,
    BioTest,
    Document,
    Entry,
    FailureCase,
)
from tests import world as made
from tests.audit.pages.desk import typed_in
from tests.audit.pages.desk.opened_day import at, day, of_unit, opened
from tests.audit.pages.tools import get, text_of

pytestmark = pytest.mark.django_db


def test_a_spore_test_is_started_as_it_stands_with_lots_cycle_and_time_filled_in_and_no_result(client, world):
    made.spore_test(world, date(2026, 3, 2), cycle_number="0811", cycle_type="wrapped 134")
    form = typed_in.form_to(day(client, world), of_unit(world, "day-start"))
    filled = form["values"]
    assert filled["lot"] == filled["control_lot"] == str(world.lot.ref)
    # 14:00 UTC on 16 March 2026 is 9:00 in Chicago, daylight time since 8 March (IANA time zone data).
    assert (filled["cycle_type"], filled["on"], filled["at"]) == ("wrapped 134", "2026-03-16", "09:00")
    assert "cycle_number" not in filled, "a number that nobody read is no number of a cycle"
    assert "Last logged: 0811." in text_of(day(client, world))
    answer = typed_in.send(client, form, cycle_number="0812")
    assert (answer.status_code, answer.url) == (302, at(world, "day"))
    row = BioTest.objects.get(cycle_number="0812")
    assert (row.unit, row.lot, row.control_lot) == (world.unit, world.lot, world.lot)
    assert (row.happened_on, row.happened_at) == (made.TODAY, made.NOW)
    assert (row.mechanical, row.chemical) == ("not recorded", "not recorded")
    assert (row.purpose, row.site, row.chamber, row.implant) == ("routine", "clinic", "not stated", False)
    assert row.run_by.value == "Ana Coordinator"
    assert not row.readings.exists()
    seen = text_of(client.get(at(world, "day")))
    # The label of the invented lot asks for 24 hours: ready the next day at the same hour.
    assert "Incubating" in seen and "Ready to read at 17 Mar 2026, 09:00" in seen


def test_the_same_form_sent_twice_is_recorded_once_and_with_other_content_not_at_all(client, world):
    made.spore_test(world, date(2026, 3, 2), cycle_number="811")
    form = typed_in.form_to(day(client, world), of_unit(world, "day-start"))
    assert typed_in.send(client, form).status_code == 302
    before = Entry.objects.count()
    again = typed_in.send(client, form)
    assert again.status_code == 302
    assert "already recorded" in text_of(client.get(again.url))
    other = typed_in.send(client, form, cycle_number="999")
    assert other.status_code == 409 and "999" in text_of(other)
    assert Entry.objects.count() == before


def test_a_form_sent_late_from_a_queue_is_the_same_entry_however_late(client, world):
    """The time is part of the form, so that a repeated sending hours later is no other entry."""
    made.spore_test(world, date(2026, 3, 2))
    form = typed_in.form_to(day(client, world), of_unit(world, "day-start"))
    assert typed_in.send(client, form, ticking="1").status_code == 302
    with clock.at(made.NOW + timedelta(hours=5)):
        assert typed_in.send(client, form, ticking="1").status_code == 302
        assert typed_in.send(client, form).status_code == 302
    assert BioTest.objects.filter(happened_on=made.TODAY).count() == 1


def test_an_expired_lot_is_asked_about_and_what_was_typed_is_kept(client, world):
    old = log.log_indicator_lot(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, kind="biological",
        name="Invented spore ampoule", lot="B-99", on=made.BEGIN, incubation_hours=24, expiry=date(2026, 3, 1),
    )  # fmt: skip
    form = opened(client, world, "day-start")
    typed = {"lot": str(old.ref), "control_lot": str(old.ref), "cycle_type": "wrapped", "cycle_number": "77"}
    refused = typed_in.send(client, form, **typed)
    assert refused.status_code == 422 and BioTest.objects.count() == 0
    assert "B-99 expired on 2026-03-01" in text_of(refused)
    kept = typed_in.form_to(refused, of_unit(world, "day-start"))
    assert {n: kept["values"][n] for n in typed} == typed
    assert "confirmed" in kept["names"] and "confirmed" not in kept["values"]
    assert kept["values"]["request_key"] == form["values"]["request_key"]
    assert typed_in.send(client, kept, confirmed="expired-lot").status_code == 302
    assert BioTest.objects.get().lot == old


def test_without_a_box_the_lot_is_asked_and_nothing_is_guessed(client, world):
    form = opened(client, world, "day-start")
    assert form["values"].get("lot", "") == ""
    assert form["choices"]["lot"] == ["", str(world.lot.ref)]
    refused = typed_in.send(client, form, cycle_type="wrapped")
    assert refused.status_code == 422 and "The lot is not known" in text_of(refused)


def test_a_repeat_asks_for_gauges_indicators_and_chamber(client, world):
    form = opened(client, world, "day-start", query="?purpose=repeat")
    assert form["values"]["purpose"] == "repeat" and form["values"].get("chamber", "") == ""
    lots = {"lot": str(world.lot.ref), "control_lot": str(world.lot.ref), "cycle_type": "wrapped"}
    refused = typed_in.send(client, form, **lots)
    assert refused.status_code == 422
    assert text_of(refused).count("A test after a failure may count only with this") == 4  # at the top and beside
    assert typed_in.send(client, form, **lots, chamber="full", mechanical="pass", chemical="pass").status_code == 302
    row = BioTest.objects.get()
    assert (row.purpose, row.chamber, row.mechanical, row.chemical) == ("repeat", "full", "pass", "pass")


@pytest.mark.parametrize(
    ("changed", "at_hour"), [({}, made.NOW + timedelta(hours=2)), ({"on": "2026-03-13"}, made.NOW)],
    ids=["hours later", "for another day"],
)  # fmt: skip
def test_a_time_that_nobody_meant_is_asked_about_once(client, world, changed, at_hour):
    made.spore_test(world, date(2026, 3, 2))
    form = typed_in.form_to(day(client, world), of_unit(world, "day-start"))
    with clock.at(at_hour):
        refused = typed_in.send(client, form, **changed)
        assert refused.status_code == 422 and "stood open since 09:00" in text_of(refused)
        kept = typed_in.form_to(refused, of_unit(world, "day-start"))
        assert typed_in.send(client, kept).status_code == 302
    assert BioTest.objects.order_by("-id").first().happened_at.astimezone(ZoneInfo("America/Chicago")).hour == 9


def test_test_and_control_are_read_together_and_counted_from_run_to_reading(client, world):
    run = made.spore_test(world, date(2026, 3, 15), test="", at=made.NOW - timedelta(hours=25))
    form = typed_in.form_to(day(client, world), at(world, "day-read", run.origin))
    assert form["choices"]["test"] == form["choices"]["control"] == ["growth", "no growth", "no result"]
    assert typed_in.send(client, form).status_code == 422
    answer = typed_in.send(client, form, test="no growth", control="growth")
    assert (answer.status_code, answer.url) == (302, at(world, "day"))
    row = BioReading.objects.get()
    assert (row.bio_test, row.test, row.control) == (run, "no growth", "growth")
    assert (row.happened_on, row.happened_at, row.known_on) == (made.TODAY, made.NOW, made.TODAY)
    assert (row.incubated_hours, row.read_by.value) == (None, "Ana Coordinator")
    page = get(client, "unit", "first", world.unit.ref)
    assert page.context["tests"]["rows"][0]["verdict"].verdict == "passed"


def test_no_growth_before_the_labels_hours_is_asked_about_and_growth_is_not(client, world):
    run = made.spore_test(world, made.TODAY, test="", at=made.NOW - timedelta(hours=3))
    address = at(world, "day-read", run.origin)
    form = typed_in.form_to(day(client, world), address)
    early = typed_in.send(client, form, test="no growth", control="growth")
    assert early.status_code == 422 and "3.0 h" in text_of(early)
    assert typed_in.form_to(early, address)["values"]["test"] == "no growth"
    assert not BioReading.objects.exists()
    assert typed_in.send(client, form, test="growth", control="growth").status_code == 302


def test_the_hours_are_asked_at_once_where_the_hour_of_the_run_is_not_known(client, world):
    run = made.spore_test(world, date(2026, 3, 15), test="")
    page = day(client, world)
    asked = page.content.decode().split("desk-more")[0].rsplit("<form", 1)[-1]
    assert "incubated_hours" in asked and "not known, so say how long" in asked
    form = typed_in.form_to(page, at(world, "day-read", run.origin))
    assert typed_in.send(client, form, test="no growth", control="growth", incubated_hours="24").status_code == 302
    assert BioReading.objects.get().incubated_hours == Decimal(24)


def test_growth_opens_the_guided_response(client, world):
    run = made.spore_test(world, date(2026, 3, 15), test="", at=made.NOW - timedelta(hours=25))
    form = typed_in.form_to(day(client, world), at(world, "day-read", run.origin))
    answer = typed_in.send(client, form, test="growth", control="growth")
    case = FailureCase.objects.get(opened_by=run.origin)
    assert (answer.status_code, answer.url) == (302, at(world, "response", case.origin))
    page = client.get(at(world, "day"))
    assert "Failures: what to do now" in text_of(page)
    assert at(world, "response", case.origin) in page.content.decode()


def test_a_laboratorys_report_is_entered_with_number_days_and_file(client, world, settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    run = made.spore_test(world, date(2026, 3, 4), test="", site="laboratory")
    page = day(client, world)
    assert "Sent, awaited" in text_of(page) and "Enter the laboratory’s report" in text_of(page)
    address = at(world, "day-read", run.origin)
    form = typed_in.form_to(page, address)
    assert form["at"]["enctype"] == "multipart/form-data" and "at" not in form["names"]
    assert form["choices"]["control"] == ["growth", "no growth", "no result", "not stated"]
    said = {"test": "no growth", "control": "not stated", "on": "2026-03-12", "known_on": "2026-03-16"}
    refused = typed_in.send(client, form, **said)
    assert refused.status_code == 422 and not BioReading.objects.exists()
    paper = SimpleUploadedFile("report.txt", b"Invented Lab, report 2231", "text/plain")
    report = {"report": "Invented Lab, report 2231", "paper_file": paper}
    answer = typed_in.send(client, form, **said, **report)
    assert answer.status_code == 302, text_of(answer)
    row = BioReading.objects.get()
    assert (row.happened_on, row.known_on, row.happened_at) == (date(2026, 3, 12), made.TODAY, None)
    assert (row.test, row.control, row.report) == ("no growth", "not stated", "Invented Lab, report 2231")
    filed = Document.objects.get()
    assert (filed.kind, filed.unit, filed.title) == ("laboratory report", world.unit, "Invented Lab, report 2231")
    assert (filed.valid_from, filed.size) == (date(2026, 3, 12), 25)


def test_a_report_whose_file_is_refused_is_not_recorded_either(client, world, settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    run = made.spore_test(world, date(2026, 3, 4), test="", site="laboratory")
    form = typed_in.form_to(day(client, world), at(world, "day-read", run.origin))
    paper = SimpleUploadedFile("report.pdf", b"%PDF-1.7 and nothing after it", "application/pdf")
    said = {"test": "growth", "control": "growth", "on": "2026-03-12", "report": "Invented Lab, report 2"}
    answer = typed_in.send(client, form, **said, paper_file=paper)
    assert answer.status_code == 422
    assert not BioReading.objects.exists() and not FailureCase.objects.exists() and not Document.objects.exists()
