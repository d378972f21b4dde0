"""What a visit could not say before, from its pages to the record, the report, the unit's page and the binder.

| typed | on record |
| --- | --- |
| must be replaced, part not with me | the finding with the part to bring; the unit out of use, or limited by whom |
| the clinic has seen that it stays out of use | a signature of that meaning, which its person can sign |
| a temperature taken hot, a second instrument | both stand with the reading |
| a further reading as left | one row with as found and as left |
| spore tests, chemical indicators | rows of the entry of the visit; the spore test waits to be read |
"""

from __future__ import annotations

import re
from datetime import timedelta
from io import BytesIO

import pytest
from pypdf import PdfReader

from audit.models import VisitDraft
from audit.pages.visit.guide.job import reading_key
from audit.pages.visit.guide.proof import ways_to_end
from records import clock, log
from records.models import (
    BioTest,
    ChemicalResult,
    ConditionFinding,
    FittedPart,
    JobConclusion,
    Reading,
    Signature,
    Visit,
)
from tests import visit_world
from tests import world as build

from .test_pages import END, SAFE, SAME, Phone, everything_done, words

pytestmark = pytest.mark.django_db
AWAITED = {
    "outcome": "not possible", "reason": "no strainer in the van", "grade": "2", "found": "torn",
    "decision": "part awaited", "bring": "Strainer insert", "bring_number": "S-7",
}  # fmt: skip
LIMITED = {"conclusion": "limited", "limitation": "unwrapped loads only", "technician": "on"}
LIMITED |= {"clinic": "returned to use", "clinic_name": "Ana Coordinator"}


@pytest.fixture
def built(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    with clock.at(build.NOW):
        yield visit_world.make()


@pytest.fixture
def phone(built):
    return Phone(built).begin()


def report_of(phone) -> str:
    visit = Visit.objects.get(happened_on=build.TODAY)
    answer = phone.client.get(f"/clinic/first/visits/{visit.ref}/report.pdf")
    assert answer.status_code == 200
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages).split())


def plain(answer) -> str:
    """The words of a page in one line, without what marks them up."""
    return " ".join(re.sub("<[^>]*>", "", words(answer)).split())


# -------------------------------------------------------------------------- must be replaced, part not with me


@pytest.mark.parametrize(
    ("stopped", "missing", "awaited", "worked", "ends"),
    [
        (False, False, False, True, "released limited pending not-released"),
        (False, True, False, True, "pending not-released"),
        (True, False, False, True, "not-released"),
        (False, False, True, True, "limited not-released"),
        (False, True, True, True, "not-released"),
        (True, True, True, True, "not-released"),
        (False, False, True, False, "limited not-released not-worked-on"),
    ],
)
def test_how_a_job_may_end(stopped, missing, awaited, worked, ends):
    assert [end.replace(" ", "-") for end in ways_to_end(stopped, missing, awaited, worked)] == ends.split()


def test_with_a_part_awaited_and_a_test_missing_it_can_only_stay_out_of_use(phone):
    phone.to_the_tasks()
    assert phone.send("task-clean-strainer", **AWAITED).status_code == 302
    page = words(phone.open("end"))
    assert "To be replaced, and no part was fitted: strainer: torn" in page
    for ending in ("released", "limited", "pending"):
        refused = phone.send("end", **END | {"conclusion": ending, "limitation": "x", "acceptor": "Ana"})
        assert refused.status_code == 422 and "cannot be claimed yet" in words(refused), ending
    left = {"conclusion": "not released", "reason": "part on order", "clinic": "left out of use"}
    nameless = phone.send("end", **left)
    assert nameless.status_code == 422 and "needs the name of the person" in words(nameless)
    assert phone.send("end", **left, clinic_name="Ana Coordinator").status_code == 302
    looked = words(phone.client.get(f"{phone.root}record/"))
    assert "bring Strainer insert" in looked and "part awaited" in looked
    assert phone.record().status_code == 302
    finding = ConditionFinding.objects.get(happened_on=build.TODAY)
    assert (finding.decision, finding.part_needed, finding.part_needed_number) == (
        "part awaited", "Strainer insert", "S-7",
    )  # fmt: skip
    assert not FittedPart.objects.filter(happened_on=build.TODAY).exists()
    assert Signature.objects.get(job__happened_on=build.TODAY).meaning == "left out of use"
    unit = words(phone.client.get(f"/clinic/first/unit/{phone.built.unit.ref}/"))
    assert "Out of service" in unit and "must be replaced" in unit and "bring Strainer insert S-7" in unit
    report = report_of(phone)
    for text in ("decided: part awaited", "to bring: Strainer insert S-7", "Left out of use", "Ana Coordinator"):
        assert text in report, text


def the_clinic_signs(phone) -> None:
    """Its coordinator signs, in an own sitting, that it takes the unit back."""
    row = Signature.objects.in_force().get(job__happened_on=build.TODAY, meaning="returned to use")
    log.sign(by=phone.built.world.people["coordinator"], request_key=build.key(), row=row)


def test_all_else_proven_it_may_be_limited_with_what_is_allowed_and_by_whom(phone):
    phone.to_the_tasks()
    phone.send("task-clean-strainer", **AWAITED)
    phone.send("prove", V1="pass", V1_value="134.5 °C")
    assert phone.send("end", **END).status_code == 422, "released is not offered"
    nobody = phone.send("end", **LIMITED)
    assert nobody.status_code == 422 and "Who at the clinic accepts its use until then?" in words(nobody)
    assert phone.send("end", **LIMITED, acceptor="Ana Coordinator", deadline="2026-04-01").status_code == 302
    assert phone.record().status_code == 302
    ended = JobConclusion.objects.get(job__happened_on=build.TODAY)
    assert (ended.conclusion, ended.acceptor, str(ended.deadline)) == ("limited", "Ana Coordinator", "2026-04-01")
    address = f"/clinic/first/unit/{phone.built.unit.ref}/"
    told = words(phone.client.get(address))
    assert "Out of service" in told and "must be replaced" in told, "that she accepts it was only told"
    the_clinic_signs(phone)
    unit = words(phone.client.get(address))
    assert "Limited" in unit and "unwrapped loads only" in unit and "accepted by Ana Coordinator" in unit


def test_the_next_visit_that_does_not_fit_it_releases_nothing(phone):
    phone.to_the_tasks()
    phone.send("task-clean-strainer", **AWAITED)
    phone.send("end", conclusion="not released", reason="part on order")
    assert phone.record().status_code == 302
    with clock.at(build.NOW + timedelta(days=1)):
        VisitDraft.objects.all().delete()
        again = Phone(phone.built).begin()
        again.to_the_tasks()
        again.send("task-inspect-cord", go="done")
        again.send("prove", V1="pass", V1_value="134.5 °C")
        refused = again.send("end", **END)
        assert refused.status_code == 422 and "no part was fitted: strainer: torn" in words(refused)
        fitted = {"outcome": "done", "grade": "3", "found": "torn", "decision": "replace", "part_name": "Strainer",
                  "lot_printed": "S-1", "old_part": "scrapped"}  # fmt: skip
        assert again.send("task-clean-strainer", **fitted).status_code == 302
        assert "no part was fitted: strainer" not in words(again.open("end"))


def test_done_and_not_with_me_contradict_each_other(phone):
    phone.to_the_tasks()
    said = AWAITED | {"outcome": "done"}
    refused = phone.send("task-replace-gasket", **said)
    assert refused.status_code == 422 and "“Done” says that it was replaced" in words(refused)
    fitted = phone.send("task-replace-gasket", **AWAITED | {"lot_printed": "L-G-17"})
    assert fitted.status_code == 422 and "A part was fitted here" in words(fitted)
    nameless = phone.send("task-replace-gasket", **AWAITED | {"bring": ""})
    assert nameless.status_code == 422 and "Which part is to be brought?" in words(nameless)


def test_released_and_left_out_of_use_contradict_each_other(phone):
    everything_done(phone)
    phone.send("prove", V1="pass", V1_value="134.5 °C")
    refused = phone.send("end", **END | {"clinic": "left out of use"})
    assert refused.status_code == 422 and "Only one of the two is so" in words(refused)
    back = phone.send("end", conclusion="not released", reason="noise", clinic="returned to use", clinic_name="Ana")
    assert back.status_code == 422 and "nobody returns it to use" in words(back)


# -------------------------------------------------------------------------- readings


def keys(phone) -> dict:
    with clock.at(build.NOW):
        held = visit_of(phone)
    return {reading.unit_of_measure: reading_key(reading) for reading in held.readings}


def visit_of(phone):
    from types import SimpleNamespace

    from audit.pages.opened import opened
    from audit.pages.visit.drafts import DraftedVisit
    from records import access
    from records.forms import EntryContext
    from records.log import may_be_logged

    account, clinic = phone.built.world.people["technician"], may_be_logged.clinic_with_zone("first")
    ground = EntryContext(clinic, account, access.rights(account, clinic), may_be_logged.zone_today(clinic))
    request = SimpleNamespace(GET={}, user=account, headers={})
    return DraftedVisit(request, ground, phone.draft, opened(request, ground, str(phone.built.unit.ref))).units[1]


def test_hot_readings_and_several_instruments_stand_with_their_readings(phone):
    phone.send("identify", **SAME)
    page = words(phone.open("safe"))
    assert "measured before it is cooled" in page and f"{phone.root}1/found/" in page
    hot, cold = keys(phone)["°C"], keys(phone)["kPa"]
    typed = {
        "instrument": "Logger L1", "calibration_due": "2026-12-01", "instrument2": "Gauge G2",
        "calibration_due2": "2026-08-01", hot: "133.1", f"{hot}_hot": "on", cold: "209", f"{cold}_with": "2",
    }  # fmt: skip
    nameless = phone.send("found", **typed | {"instrument2": ""})
    assert nameless.status_code == 422 and "taken with the second instrument. Enter its name" in words(nameless)
    assert phone.send("found", **typed).url.endswith("/1/safe/"), "made safe next, where it was measured first"
    assert phone.send("safe", **SAFE).status_code == 302
    phone.send("task-inspect-cord", go="done")
    phone.send("prove", **{hot: "134.6", cold: "210", "V1": "pass"})
    assert phone.send("end", **END).status_code == 302
    assert phone.record().status_code == 302
    rows = {r.unit_of_measure: r for r in Reading.objects.filter(happened_on=build.TODAY)}
    assert (rows["°C"].found_while, rows["°C"].instrument) == ("before cool-down", "Logger L1")
    assert (rows["kPa"].found_while, rows["kPa"].instrument, str(rows["kPa"].calibration_due)) == (
        "", "Gauge G2", "2026-08-01",
    )  # fmt: skip
    report = report_of(phone)
    assert "before cool-down" in report and "Gauge G2" in report and "Logger L1" in report


L1, G2, N4, NONE = ("L1", "2026-12-01"), ("G2", "2026-08-01"), ("N4", "2027-01-01"), ("", "None")


@pytest.mark.parametrize(
    ("found", "left", "first", "second"),
    [
        # as found, with which · as left, with which · on record: the instrument, that of as left where another
        (("133", ""), ("134.6", ""), L1, NONE),
        (("133", ""), ("134.6", "1"), L1, NONE),
        (("133", ""), ("134.6", "2"), L1, G2),
        (("133", ""), ("134.6", "4"), L1, N4),
        (("133", "2"), ("134.6", "1"), G2, L1),
        (("", "2"), ("134.6", "4"), N4, NONE),
        (("134.2", "2"), ("", "4"), G2, NONE),
    ],
)
def test_as_left_is_taken_with_another_instrument_than_as_found(phone, found, left, first, second):
    phone.to_the_tasks()
    phone.send("task-inspect-cord", go="done")
    key = keys(phone)["°C"]
    named = {"instrument": L1[0], "calibration_due": L1[1], "instrument2": G2[0], "calibration_due2": G2[1]}
    phone.send("found", **named, **{key: found[0], f"{key}_with": found[1]})
    other = {"instrument4": N4[0], "calibration_due4": N4[1]} if left[1] == "4" else {}
    phone.send("prove", **{key: left[0], f"{key}_with": left[1], "V1": "pass", "V1_value": "134.5 °C"}, **other)
    phone.send("end", **END)
    assert phone.record().status_code == 302
    row = Reading.objects.get(happened_on=build.TODAY)
    assert (row.instrument, str(row.calibration_due)) == first
    assert (row.instrument_left, str(row.calibration_due_left)) == second


def test_an_instrument_of_as_left_has_a_name_and_both_stand_wherever_the_reading_does(phone):
    phone.to_the_tasks()
    phone.send("task-inspect-cord", go="done")
    key = keys(phone)["°C"]
    phone.send("found", **{key: "133.2", "instrument": "Logger L1", "calibration_due": "2026-12-01"})
    proven = {"V1": "pass", "V1_value": "134.5 °C", key: "134.6"}
    for chosen, told in (("3", "The third instrument has no name"), ("4", "With which instrument?")):
        refused = phone.send("prove", **proven, **{f"{key}_with": chosen})
        assert refused.status_code == 422 and told in words(refused)
    other = {f"{key}_with": "4", "instrument4": "Gauge G2", "calibration_due4": "2026-01-01"}
    assert phone.send("prove", **proven, **other).status_code == 302
    phone.send("end", **END)
    both = "Logger L1, calibration due 1 Dec 2026; as left with Gauge G2, calibration due 1 Jan 2026"
    assert both in plain(phone.client.get(f"{phone.root}record/"))
    assert phone.record().status_code == 302
    report = report_of(phone)
    assert "Logger L1" in report and "Gauge G2" in report
    assert f"{both} (expired on that day)" in plain(phone.client.get(f"/clinic/first/unit/{phone.built.unit.ref}/"))


def test_a_further_reading_is_one_row_as_found_and_as_left(phone):
    phone.to_the_tasks()
    nameless = phone.send("prove", x0="0.05")
    assert nameless.status_code == 422 and "This reading has no name yet" in words(nameless)
    phone.send("found", x0_quantity="earth bond", x0_unit_of_measure="Ω", x0_as_found="0.21")
    assert "earth bond, Ω" in words(phone.open("prove"))
    assert phone.send("prove", x0="0.05", V1="pass", V1_value="134.5 °C").status_code == 302
    phone.send("task-inspect-cord", go="done")
    phone.send("end", **END)
    assert phone.record().status_code == 302
    row = Reading.objects.get(happened_on=build.TODAY)
    assert (row.quantity, str(row.as_found), str(row.as_left)) == ("earth bond", "0.2100", "0.0500")


# -------------------------------------------------------------------------- tests in a cycle


def test_spore_tests_and_indicators_of_the_visit_are_rows_of_its_entry_and_stand_in_its_report(phone):
    lots = {
        kind: log.log_indicator_lot(
            by=phone.built.world.people["coordinator"], request_key=build.key(), clinic=phone.built.world.clinic,
            kind=kind, name=f"Invented {kind}", lot=f"B-{kind}", on=build.TODAY, **more,
        )
        for kind, more in (("biological", {"incubation_hours": 24}), ("chemical", {"chemical_type": 5}))
    }  # fmt: skip
    phone.to_the_tasks()
    phone.send("task-inspect-cord", go="done")
    run = {"b0_lot": str(lots["biological"].origin), "b0_control": str(lots["biological"].origin)}
    bare = phone.send("prove", **run)
    assert bare.status_code == 422 and "In which cycle was it run?" in words(bare)
    run |= {"b0_cycle_type": "wrapped", "b0_cycle": "4711", "b0_purpose": "after repair", "b0_chamber": "empty",
            "b0_site": "clinic", "b0_mechanical": "pass", "b0_chemical": "pass", "b0_at": "08:30"}  # fmt: skip
    card = {"c0_type": "5", "c0_result": "pass", "c0_lot": str(lots["chemical"].origin), "c0_where": "in the pack"}
    assert phone.send("prove", V1="pass", V1_value="134.5 °C", **run, **card).status_code == 302
    phone.send("end", **END | {"conclusion": "pending", "acceptor": "Ana", "deadline": "2026-03-20"})
    looked = words(phone.client.get(f"{phone.root}record/"))
    assert "run, to be" in looked and "Chemical indicator of type 5" in looked
    answer = phone.record()
    assert answer.status_code == 302, words(answer)
    visit = Visit.objects.get(happened_on=build.TODAY)
    test, indicator = BioTest.objects.get(cycle_number="4711"), ChemicalResult.objects.get(where="in the pack")
    assert test.entry_id == indicator.entry_id == visit.entry_id
    assert test.happened_at is not None and test.lot == lots["biological"]
    address = f"/clinic/first/unit/{phone.built.unit.ref}/"
    assert "Waiting for proof" in words(phone.client.get(address)), "that she accepts it was only told"
    the_clinic_signs(phone)
    unit = words(phone.client.get(address))
    assert "Limited" in unit and "spore test pending after work" in unit
    report = report_of(phone)
    for text in ("Spore test (biological indicator)", "B-biological", "4711", "Chemical indicator, type 5"):
        assert text in report, text
