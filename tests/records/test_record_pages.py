"""What is logged on the pages is what the record shows afterwards."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from records import log
from records.models import (
    BioTest,
    Closure,
    CounterReading,
    Document,
    Entry,
    FailureCase,
    FittedPart,
    FollowUpDone,
    Job,
    Membership,
    Part,
    PartLot,
    PlanLine,
    Unit,
    UnitEvent,
    Visit,
    Voiding,
)
from records.views.base import rows_of_entry
from tests import paper_files
from tests import world as build
from tests.records.page_form import form_of
from tests.records.typed import ready, text_of, typed_bio, typed_visit

pytestmark = pytest.mark.django_db


def test_a_spore_test_is_logged_with_the_last_lot_filled_in_and_no_result(at, world):
    build.spore_test(world, build.TODAY - timedelta(days=7))
    data = form_of(at.open("log-bio", query=f"?unit={world.units[1].ref}"))
    assert data["unit"] == [str(world.units[1].ref)]
    assert data["lot"] == data["control_lot"] == [str(world.lot.ref)]
    assert data["mechanical"] == data["chemical"] == [""]
    page = at.open("read-bio", BioTest.objects.get().ref)
    assert form_of(page)["test"] == form_of(page)["control"] == [""]
    assert "at least 24 hours" in text_of(page)


def test_correcting_changes_only_what_was_changed_and_shows_both_versions(at, world):
    moment = datetime(2026, 3, 16, 12, 0, 30, tzinfo=UTC)
    test = build.spore_test(world, build.TODAY, test="", at=moment, cycle_number="C-1")
    data = form_of(at.open("correct", "biotest", test.ref)) | {"row_cycle_number": "C-2", "reason": "misread"}
    answer = at.send("correct", "biotest", test.ref, data=data)
    assert answer.status_code == 302
    new = BioTest.objects.newest().get(origin=test.origin)
    assert (new.cycle_number, new.happened_at, new.amend_reason) == ("C-2", moment, "misread")
    page = text_of(at.open("record", "biotest", test.ref))
    assert "C-1" in page and "C-2" in page and "misread" in page and "Ana Coordinator" in page


def test_two_people_correcting_one_version_are_told_of_each_other(at, world):
    args, data = ready(at, world, "correct")
    other = form_of(at.open("correct", *args)) | {"row_cycle_number": "C-3", "reason": "no, three"}
    at.send("correct", *args, data=data)
    before = Entry.objects.count()
    answer = at.send("correct", *args, data=other)
    assert answer.status_code == 422 and Entry.objects.count() == before
    assert "corrected this meanwhile" in text_of(answer) and "C-3" in text_of(answer)


def test_an_operator_cannot_correct_who_belongs_to_the_clinic(at, world):
    membership = Membership.objects.get(person=world.people["operator"].person)
    assert at.open("correct", "membership", membership.ref).status_code == 200
    before = Entry.objects.count()
    at.sign_in("operator")
    assert at.open("correct", "membership", membership.ref).status_code == 403
    with pytest.raises(log.NotYours):
        log.correct(
            by=world.people["operator"], request_key=build.key(), row=membership,
            changes={"role": "coordinator"}, reason="promotion",
        )  # fmt: skip
    assert Entry.objects.count() == before


def test_entered_in_error_stays_visible(at, world):
    args, data = ready(at, world, "void")
    at.send("void", *args, data=data)
    assert Voiding.objects.get().kind == "biotest"
    page = text_of(at.open("record", *args))
    assert "Entered in error: typed wrongly" in page
    assert reverse("correct", args=[world.clinic.slug, *args]) not in page


def test_more_rows_without_javascript_keep_what_was_typed_and_write_nothing(at, world):
    at.sign_in("technician")
    data = typed_visit(at, world, **{"jobs-0-readings-0-quantity": "pressure", "more": "jobs-0-readings"})
    before = Entry.objects.count()
    answer = at.send("log-visit", data=data)
    shown = form_of(answer)
    assert answer.status_code == 200 and Entry.objects.count() == before
    assert shown["jobs-0-readings-TOTAL_FORMS"] == ["6"]
    assert shown["jobs-0-readings-0-quantity"] == ["pressure"] and "jobs-0-readings-5-quantity" in shown
    assert "field-error" not in text_of(answer)


def test_a_full_visit_is_recorded_and_its_report_has_the_servicing_record_fields(at, world):
    """21 CFR 820.35(b) (2026): device, UDI or other identification, date, who, service, test data."""
    at.sign_in("technician")
    line = PlanLine.objects.get(unit=world.unit, code="replace-seal")
    data = typed_visit(at, world, **{
        f"jobs-0-line-{line.pk}-outcome": "done", f"jobs-0-line-{line.pk}-found": "flattened",
        "jobs-0-safe-cooled-at": "08:05", "jobs-0-safe-drained-done": "none",
        "jobs-0-safe-drained-why_not": "no drain fitted",
        "jobs-0-readings-2-quantity": "chamber temperature", "jobs-0-readings-2-unit_of_measure": "°C",
        "jobs-0-readings-2-as_found": "134.6", "jobs-0-parts-1-name": "Seal", "jobs-0-parts-1-lot": "S-9",
        "jobs-0-parts-1-lot_state": "printed", "jobs-0-parts-1-action": "replaced on plan",
        "jobs-0-parts-1-old_part": "scrapped", "jobs-0-tests-0-code": "V1", "jobs-0-tests-0-result": "pass",
        "jobs-0-counters-0-counter": "cycles", "jobs-0-counters-0-shown": "1234",
        "jobs-0-signatures-0-meaning": "released", "jobs-0-signatures-0-name": "Pat Technician",
    })  # fmt: skip
    answer = at.send("log-visit", data=data)
    assert answer.status_code == 302, text_of(answer)
    visit = Visit.objects.get()
    assert answer.url == at.address("visit", visit.ref)
    page = text_of(at.open("visit", visit.ref))
    for words in (
        "Invented Works Cassette Two", "serial INV-Unit 1", "16 Mar 2026", "Pat Technician, Keepers",
        "Replace cassette seal: done",
        "flattened", "as found 134.6 °C", "Lot: S-9", "V1 function cycle", "cycles: 1234",
        "not on this unit: no drain fitted", "done at 08:05",
        "released",
    ):  # fmt: skip
        assert words in page
    assert CounterReading.objects.get().shown == Decimal(1234)
    kinds = {r._meta.model_name for r in rows_of_entry(visit.entry)}
    assert kinds == {
        "visit", "job", "taskoutcome", "reading", "fittedpart", "verificationtest", "counterreading",
        "signature", "jobconclusion",
    }  # fmt: skip


@pytest.mark.parametrize("answer", ["no", ""], ids=["not done", "left out"])
def test_a_step_that_was_not_done_says_stop_and_is_recorded_as_answered_once_confirmed(at, world, answer):
    at.sign_in("technician")
    said = {"jobs-0-safe-zero-pressure-done": answer, "jobs-0-safe-zero-pressure-why_not": "gauge broken, vented"}
    if not answer:
        del said["jobs-0-safe-zero-pressure-why_not"]
    data = typed_visit(at, world, **said)
    refused = at.send("log-visit", data=data)
    assert refused.status_code == 422 and not Visit.objects.exists()
    assert "Unit 1: stop. Not made safe" in text_of(refused) and "zero pressure shown on the gauge" in text_of(
        refused
    )
    assert at.send("log-visit", data=data | {"confirmed": "not-made-safe"}).status_code == 302
    recorded = dict(Job.objects.get().make_safe)
    assert recorded.get("zero pressure shown on the gauge") == ("gauge broken, vented" if answer else None)
    assert recorded["cooled, safe to touch"] == "done" and len(recorded) == (10 if answer else 9)


def test_the_visit_form_asks_for_units_first_and_knows_only_its_own(at, world):
    page = at.open("log-visit")
    assert str(world.unit.ref) in text_of(page) and str(world.other_unit.ref) not in text_of(page)
    assert at.open("log-visit", query="?chosen=1").status_code == 422
    assert at.open("log-visit", query=f"?units={world.other_unit.ref}").status_code == 404
    both = at.open("log-visit", query=f"?units={world.units[0].ref}&units={world.units[1].ref}")
    assert "jobs-1-conclusion-conclusion" in form_of(both)


def test_own_stock_is_offered_and_copied(at, world):
    dan = world.people["dispatcher"]
    part = log.log_part(by=dan, request_key=build.key(), owner=world.company, name="Seal", component="seal")
    lot = log.log_part_lot(
        by=dan, request_key=build.key(), owner=world.company, part=part, receipt_lot="K-1", on=build.BEGIN
    )
    at.sign_in("technician")
    data = typed_visit(at, world, **{
        "jobs-0-parts-0-part_lot": str(lot.ref), "jobs-0-parts-0-action": "replaced on plan",
        "jobs-0-parts-0-old_part": "scrapped",
    })  # fmt: skip
    assert at.send("log-visit", data=data).status_code == 302
    fitted = FittedPart.objects.get()
    assert (fitted.name, fitted.receipt_lot, fitted.part_lot) == ("Seal", "K-1", lot)
    assert Part.objects.count() == PartLot.objects.count() == 1


@pytest.mark.parametrize("kind", [
    "appointment", "contract", "device licence", "written scheme", "posting", "job description", "commissioning",
    "quarterly test report",
])  # fmt: skip
def test_a_paper_of_each_kind_that_is_asked_for_can_be_filed(at, world, settings, tmp_path, kind):
    settings.BLOBS_DIR = tmp_path
    data = form_of(at.open("add-document")) | {
        "kind": kind, "title": "As it stands on the paper", "valid_from": "2026-01-01",
        "file": SimpleUploadedFile("paper.txt", b"invented"),
    }  # fmt: skip
    assert at.send("add-document", data=data).status_code == 302
    assert Document.objects.get().kind == kind


def test_a_paper_comes_back_as_it_was_filed(at, client, world, settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    data = form_of(at.open("add-document")) | {
        "kind": "other", "title": "Drain plan", "valid_from": "2026-01-01",
        "file": SimpleUploadedFile("../plan.html", b"<script>alert(1)</script>"),
    }  # fmt: skip
    assert at.send("add-document", data=data).status_code == 302
    paper = Document.objects.get()
    assert paper.filename == "plan.html"
    answer = at.open("document", paper.ref)
    assert answer.content == b"<script>alert(1)</script>"
    assert answer["Content-Type"] == "application/octet-stream"
    assert answer["Content-Disposition"] == 'attachment; filename="plan.html"'
    assert answer["X-Content-Type-Options"] == "nosniff"


def test_an_empty_file_is_refused(at, world):
    data = form_of(at.open("add-document")) | {
        "kind": "other", "title": "Drain plan", "valid_from": "2026-01-01", "file": SimpleUploadedFile("a.pdf", b""),
    }  # fmt: skip
    before = Entry.objects.count()
    answer = at.send("add-document", data=data)
    assert answer.status_code == 422 and Entry.objects.count() == before
    assert "The file is empty. Choose the file again." in text_of(answer) and "Drain plan" in text_of(answer)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (paper_files.with_file(), "it holds files inside it. Open it in a viewer you trust, print it to a new PDF"),
        (paper_files.locked("secret"), "can be opened with a password only"),
        (b"not a PDF", "By its name this is a PDF, but its content is not."),
    ],
)
def test_a_bad_file_is_refused_with_the_way_out(at, world, content, words):
    page = at.open("add-document")
    assert "20 MiB at most" in text_of(page) and "scripts or files inside is refused" in text_of(page)
    data = form_of(page) | {
        "kind": "other", "title": "Drain plan", "valid_from": "2026-01-01",
        "file": SimpleUploadedFile("a.pdf", content),
    }  # fmt: skip
    before = Entry.objects.count()
    answer = at.send("add-document", data=data)
    assert answer.status_code == 422 and Entry.objects.count() == before
    assert words in text_of(answer) and "Drain plan" in text_of(answer)


def test_growth_opens_a_case_and_a_follow_up_closes_its_step(at, world):
    test = build.spore_test(world, build.TODAY - timedelta(days=2), test="")
    data = form_of(at.open("read-bio", test.ref)) | {"test": "growth", "control": "growth"}
    assert at.send("read-bio", test.ref, data=data).status_code == 302
    case = FailureCase.objects.get()
    data = form_of(at.open("log-follow-up", case.ref)) | {
        "action": "withdraw", "what": "tag it", "done_on": "2026-03-16", "outcome": "tagged",
    }  # fmt: skip
    assert at.send("log-follow-up", case.ref, data=data).status_code == 302
    assert FollowUpDone.objects.get().outcome == "tagged"


def test_a_registered_unit_has_its_positions_and_plan(at, world):
    _, data = ready(at, world, "register-unit")
    assert at.send("register-unit", data=data).status_code == 302
    unit = Unit.objects.get(serial="S-9")
    assert PlanLine.objects.get(unit=unit).position.code == "seal"
    wrong = form_of(at.open("register-unit")) | {k: v for k, v in data.items() if k != "request_key"}
    answer = at.send("register-unit", data=wrong | {"serial": "S-10", "plan-1-position": "hinge"})
    assert answer.status_code == 422 and "No position above has the code “hinge”" in text_of(answer)
    assert not Unit.objects.filter(serial="S-10").exists()


def test_entries_say_late_paper_and_correction(at, world):
    build.spore_test(world, build.TODAY - timedelta(days=20), test="", paper="log book 2, page 14")
    late = build.spore_test(world, build.TODAY - timedelta(days=10), test="", cycle_number="C-1")
    log.correct(
        by=world.people["coordinator"], request_key=build.key(), row=late, changes={"cycle_number": "C-2"},
        reason="misread the display",
    )  # fmt: skip
    page = text_of(at.open("entries"))
    assert "historic, from paper: log book 2, page 14" in page
    assert "recorded late" in page and "correction: misread the display" in page


def test_where_to_go_next_is_only_ever_this_site(at, world):
    for target, goes_there in (("/company/keepers/", True), ("https://elsewhere.invalid/", False)):
        data = typed_bio(at, world, next=target)
        assert (at.send("log-bio", data=data).url == target) is goes_there


def test_closures_and_gaps_are_the_managers(at, world):
    data = form_of(at.open("log-closure")) | {"from_on": "2026-04-01", "to_on": "2026-04-10", "why": "holidays"}
    assert at.send("log-closure", data=data | {"to_on": "2026-03-01"}).status_code == 422
    assert at.send("log-closure", data=data).status_code == 302
    assert Closure.objects.get().why == "holidays"


@pytest.mark.parametrize(
    "page", ["log-bio", "log-chemical", "log-leak", "log-load", "add-indicator-lot", "register-unit", "log-gap"]
)
def test_every_field_has_its_label(at, page):
    content = at.open(page).content.decode()
    for name in form_of(at.open(page)):
        if f'type="hidden" name="{name}"' not in content and "_FORMS" not in name:
            assert f'for="id_{name}"' in content, name


@pytest.mark.parametrize(("said", "kinds"), [("", None), ("out", ["withdrawn"]), ("kept", [])])
def test_of_a_unit_that_was_not_worked_on_the_form_asks_whether_it_may_be_used_meanwhile(at, world, said, kinds):
    at.sign_in("technician")
    ended = {"conclusion": "not worked on", "reason": "room locked", "meanwhile": said}
    data = typed_visit(at, world, **{f"jobs-0-conclusion-{name}": value for name, value in ended.items()})
    answer = at.send("log-visit", data=data)
    if kinds is None:
        assert answer.status_code == 422 and "May it be used meanwhile? When nobody knows" in text_of(answer)
        assert not Visit.objects.exists()
    else:
        assert answer.status_code == 302, text_of(answer)
        assert [e.kind for e in UnitEvent.objects.filter(entry=Visit.objects.get().entry)] == kinds


def test_what_was_worked_on_is_not_said_to_be_used_meanwhile(at, world):
    at.sign_in("technician")
    line = PlanLine.objects.get(unit=world.unit, code="replace-seal")
    data = typed_visit(at, world, **{f"jobs-0-line-{line.pk}-outcome": "done", "jobs-0-conclusion-meanwhile": "kept"})
    answer = at.send("log-visit", data=data)
    assert answer.status_code == 422 and "This unit was worked on" in text_of(answer) and not Visit.objects.exists()
