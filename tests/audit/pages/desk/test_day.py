"""Today: what the page shows, fills in and records, row by row."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from records import clock, log
from records.models import (
    AirRemovalTest,
    BioReading,
    BioTest,
    ChemicalResult,
    Document,
    Entry,
    FailureCase,
    LeakTest,
    Load,
    LoadRelease,
    UserCheck,
)
from tests import world as made
from tests.audit.pages.desk import typed_in
from tests.audit.pages.tools import INSIDERS, OUTSIDERS, get, signed_in, text_of
from tests.budget import MOST_QUERIES

pytestmark = pytest.mark.django_db
LOGGING = tuple(role for role in INSIDERS if role != "viewer")
KINDS = ("day-start", "day-air-removal", "day-leak", "day-checks", "day-chemical", "day-load")


def at(world, name, ref=None):
    return reverse(name, args=[world.clinic.slug, *([] if ref is None else [ref])])


def of_unit(world, name):
    return at(world, name, world.unit.ref)


def day(client, world, role="coordinator"):
    return signed_in(client, world, role).get(at(world, "day"))


def opened(client, world, name, role="coordinator", query=""):
    """The form of one kind on its own page."""
    address = of_unit(world, name)
    return typed_in.form_to(signed_in(client, world, role).get(address + query), address)


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
    assert "Unit 1 : In service" in text_of(answer)
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


# ------------------------------------------------------------------------------------------------ spore tests


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


# ------------------------------------------------------------------------------------------------ the other entries


def test_an_air_removal_test_is_recorded_and_its_failure_opens_the_response(client, world):
    typed_in.load(world, "S-0099")
    form = opened(client, world, "day-air-removal", role="operator")
    assert "cycle_number" not in form["values"] and form["choices"]["result"] == ["pass", "fail"]
    refused = typed_in.send(client, form)
    assert refused.status_code == 422 and "Last logged: S-0099." in text_of(refused)
    answer = typed_in.send(client, form, result="fail", cycle_number="S-0100")
    row = AirRemovalTest.objects.get()
    assert (row.result, row.cycle_number, row.chamber, row.lot) == ("fail", "S-0100", "empty", None)
    assert (row.happened_at, row.run_by.value) == (made.NOW, "Pat Operator")
    assert answer.url == at(world, "response", FailureCase.objects.get(kind="air removal").origin)


def test_a_leak_rate_is_shown_before_it_is_recorded(client, world):
    form = opened(client, world, "day-leak")
    typed = {"rise": "13", "unit_of_measure": "mbar", "minutes": "10"}
    looked = typed_in.send(client, form, **typed)
    # 13 mbar are 1.3 kPa; over 10 minutes 0.13 kPa a minute, at the limit, which is included ("not more than").
    assert looked.status_code == 422 and LeakTest.objects.count() == 0
    assert "The rate is 0.1300 kPa a minute, the limit 0.13: pass" in text_of(looked)
    kept = typed_in.form_to(looked, of_unit(world, "day-leak"))
    assert {n: kept["values"][n] for n in typed} == typed and kept["values"]["seen_rate"] == "0.1300"
    other = typed_in.send(client, kept, rise="14")
    assert other.status_code == 422 and "0.1400" in text_of(other), "another rise has another rate to be looked at"
    assert typed_in.send(client, kept).status_code == 302
    row = LeakTest.objects.get()
    assert (row.rise, row.unit_of_measure, row.minutes) == (Decimal("13.000"), "mbar", Decimal("10.0"))
    assert (row.rate, row.limit, row.result) == (Decimal("0.1300"), Decimal("0.1300"), "pass")


def test_a_rise_in_psi_is_recorded_in_kilopascals_and_judged_by_the_rate_shown(client, world):
    form = opened(client, world, "day-leak")
    # NIST SP 811, B.8: 1 psi = 6.894757 kPa; 0.2 psi are 1.379 kPa, over 10 minutes 0.1379 kPa a minute.
    looked = typed_in.send(client, form, rise="0.2", unit_of_measure="psi", minutes="10")
    assert "The rate is 0.1379 kPa a minute, the limit 0.13: fail" in text_of(looked)
    kept = typed_in.form_to(looked, of_unit(world, "day-leak"))
    assert (kept["values"]["rise"], kept["values"]["unit_of_measure"]) == ("0.2", "psi")
    assert typed_in.send(client, kept).url == at(world, "response", FailureCase.objects.get(kind="air leak").origin)
    row = LeakTest.objects.get()
    assert (row.rise, row.unit_of_measure, row.rate) == (Decimal("1.379"), "kPa", Decimal("0.1379"))


def test_a_leak_test_without_unit_or_duration_says_what_is_missing(client, world):
    form = opened(client, world, "day-leak")
    seen = text_of(typed_in.send(client, form, rise="1.3"))
    assert "Measured in : Nothing is chosen" in seen and "Over how many minutes : This is missing" in seen
    negative = typed_in.send(client, form, rise="-1", unit_of_measure="kPa", minutes="0")
    assert negative.status_code == 422 and "A leak lets the pressure rise" in text_of(negative)


def test_the_limit_of_the_last_leak_test_is_filled_in_with_its_source(client, world):
    typed_in.leak(world, date(2026, 3, 3), limit=Decimal("0.1"), limit_source="Invented manual, section 12")
    filled = opened(client, world, "day-leak")["values"]
    assert (filled["limit"], filled["limit_source"]) == ("0.1000", "Invented manual, section 12")


def test_a_round_of_checks_is_recorded_as_entries_in_order_and_what_was_not_chosen_is_not(client, world):
    form = opened(client, world, "day-checks")
    before = Entry.objects.count()
    assert "Nothing is chosen" in text_of(typed_in.send(client, form))
    typed = {"automatic_control": "pass", "water": "not done", "cycle_number": "812", "signs": "on"}
    refused = typed_in.send(client, form, **typed)
    assert refused.status_code == 422 and "needs its reason" in text_of(refused)
    assert Entry.objects.count() == before, "a round is recorded whole or not at all"
    assert typed_in.form_to(refused, of_unit(world, "day-checks"))["values"]["automatic_control"] == "pass"
    answer = typed_in.send(client, form, **typed, water_note="the meter is at the workshop")
    assert answer.status_code == 302
    first, second = UserCheck.objects.order_by("entry__number")
    assert (first.kind, first.result, first.cycle_number) == ("automatic control", "pass", "812")
    assert (second.kind, second.result, second.note) == ("water", "not done", "the meter is at the workshop")
    assert first.signed_by.value == second.signed_by.value == "Ana Coordinator"
    assert second.entry.number == first.entry.number + 1 and Entry.objects.count() == before + 2
    again = typed_in.send(client, form, **typed, water_note="the meter is at the workshop")
    assert again.status_code == 302 and Entry.objects.count() == before + 2
    more = typed_in.send(client, form, **typed, water_note="the meter is at the workshop", safety_check="pass")
    assert more.status_code == 409 and Entry.objects.count() == before + 2
    fewer = typed_in.send(client, form, automatic_control="pass", cycle_number="812", signs="on")
    assert fewer.status_code == 409 and Entry.objects.count() == before + 2


def test_a_check_that_nobody_signed_is_asked_about_and_a_failed_one_opens_the_response(client, world):
    form = opened(client, world, "day-checks")
    asked = typed_in.send(client, form, safety_check="fail")
    assert asked.status_code == 422 and "Nobody signed this check" in text_of(asked)
    assert "confirmed" in typed_in.form_to(asked, of_unit(world, "day-checks"))["names"]
    answer = typed_in.send(client, form, safety_check="fail", signed_by="Sam Other")
    assert UserCheck.objects.get().signed_by.value == "Sam Other"
    assert answer.url == at(world, "response", FailureCase.objects.get(kind="safety check").origin)


def test_a_value_read_goes_with_the_measure_it_was_read_in_last_time(client, world):
    log.log_user_check(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit,
        on=date(2026, 3, 9), kind="water", result="pass", value=Decimal("3.1"), unit_of_measure="µS/cm",
        signed_by="Ana Coordinator",
    )  # fmt: skip
    form = opened(client, world, "day-checks")
    assert form["values"]["water_unit_of_measure"] == "µS/cm" and "water_value" not in form["values"]
    assert typed_in.send(client, form, water="pass", water_value="4.25", signs="on").status_code == 302
    row = UserCheck.objects.order_by("-id").first()
    assert (row.value, row.unit_of_measure) == (Decimal("4.250"), "µS/cm")


def test_a_chemical_indicator_is_recorded_for_the_cycle_logged_last(client, world):
    box = typed_in.chemical_box(world)
    typed_in.load(world, "815")
    form = opened(client, world, "day-chemical")
    assert form["values"]["cycle_number"] == "815"
    answer = typed_in.send(client, form, type="5", result="pass", where="inside the pack", lot=str(box.ref))
    assert answer.status_code == 302
    row = ChemicalResult.objects.get()
    assert (row.type, row.result, row.cycle_number, row.where, row.lot) == (5, "pass", "815", "inside the pack", box)


def test_a_load_is_logged_with_its_decision_and_the_next_one_at_once(client, world):
    typed_in.load(world, "0099", mechanical="pass", chemical="pass", decision="released", contents="packs 1 to 4")
    form = opened(client, world, "day-load", role="operator")
    assert form["values"]["program"] == "wrapped 134" and "cycle_number" not in form["values"]
    assert "contents" not in form["values"], "what was in the last load is not what is in this one"
    typed = {"cycle_number": "0100", "contents": "packs 5 to 9", "mechanical": "pass", "chemical": "fail"}
    unsaid = typed_in.send(client, form, **typed, decision="rejected")
    assert unsaid.status_code == 422 and Load.objects.count() == 1
    reason = {"decision": "rejected", "reason": "strip in pack 7 failed"}
    answer = typed_in.send(client, form, **typed, **reason, again="1")
    # What failed in it comes first; the next load has its form there as well.
    case = FailureCase.objects.get(kind="chemical")
    assert (answer.status_code, answer.url) == (302, at(world, "response", case.origin))
    row, decision = Load.objects.get(cycle_number="0100"), LoadRelease.objects.order_by("-id").first()
    assert (row.mechanical, row.chemical, row.contents) == ("pass", "fail", "packs 5 to 9")
    assert (decision.load, decision.decision, decision.reason) == (row, "rejected", "strip in pack 7 failed")
    assert decision.decided_by.value == "Pat Operator" and decision.entry == row.entry
    following = client.get(of_unit(world, "day-load"))
    assert "cycle_number" not in typed_in.form_to(following, of_unit(world, "day-load"))["values"]
    assert "Last logged: 0100." in text_of(following)
    assert "Cycle 0100, wrapped 134: rejected; packs 5 to 9" in text_of(following)


def test_a_load_released_after_a_failed_check_says_why_and_one_may_wait_for_its_decision(client, world):
    form = opened(client, world, "day-load")
    typed = {"cycle_number": "1", "program": "wrapped", "mechanical": "fail", "decision": "released"}
    refused = typed_in.send(client, form, **typed)
    assert refused.status_code == 422 and "Something failed in this cycle" in text_of(refused)
    assert typed_in.send(client, form, cycle_number="1", program="wrapped").status_code == 302
    assert Load.objects.count() == 1 and not LoadRelease.objects.exists()
    passing = opened(client, world, "day-load")
    typed = {"cycle_number": "2", "program": "wrapped", "mechanical": "pass", "decision": "released"}
    asked = typed_in.send(client, passing, **typed)
    assert asked.status_code == 422 and "Nothing is recorded of this cycle’s chemical indicators" in text_of(asked)
    typed |= {"chemical": "pass"}
    assert typed_in.send(client, passing, **typed, again="1").url == of_unit(world, "day-load")


@pytest.mark.parametrize("name", ["day-air-removal", "day-leak", "day-start"])
def test_of_a_unit_that_may_not_be_used_it_is_asked_at_once_why_a_test_was_run(client, world, name):
    routine = opened(client, world, name)
    assert routine["values"]["purpose"] == "routine"
    who = {"by": world.people["coordinator"], "request_key": made.key(), "clinic": world.clinic}
    log.log_unit_event(**who, unit=world.unit, kind="withdrawn", on=made.TODAY, reason="door stiff")
    asked = opened(client, world, name)
    assert asked["values"].get("purpose", "") == "", "nothing is chosen: the person says why"
    assert "after repair" in asked["choices"]["purpose"]
    page = client.get(of_unit(world, name)).content.decode()
    assert page.index('name="purpose"') < page.index("<summary>More"), "it stands in the open"
