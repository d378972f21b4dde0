"""Slips, and what reaches the server too late: said, kept, never dropped in silence, never made a result."""

from __future__ import annotations

import json
import uuid

import pytest

from audit.models import VisitDraft
from records import clock, log
from records.models import FittedPart, JobConclusion, Photo, PlanLine, TaskOutcome, Unit, Visit
from tests import world as build
from tests.audit.pages.visit.test_pages import END, SAFE, SAME, Phone, built, everything_done, words  # noqa: F401 (fixture)
from tests.audit.pages.visit.test_photos import jpeg, outbox, recorded

pytestmark = pytest.mark.django_db


@pytest.fixture
def phone(built):  # noqa: F811
    return Phone(built).begin()


def waiting(step, data, n=1, revision=0) -> str:
    return json.dumps([{"n": str(n), "step": step, "revision": revision, "data": data}])


def send_record(phone, **data):
    head = {"on": build.TODAY.isoformat(), "revision": 0}
    return phone.client.post(f"{phone.root}record/", head | data, headers=outbox(phone))


def test_what_a_device_kept_of_a_visit_that_another_one_recorded_is_told_and_not_dropped(phone):
    where = recorded(phone)
    burnt = {"outcome": "not possible", "reason": "cord burnt, do not plug in"}
    answer = send_record(phone, waiting=waiting("task-inspect-cord", burnt))
    page = words(answer)
    assert (answer.status_code, answer["X-Outbox-Answer"]) == (410, "over"), "the queue of the device keeps it"
    assert "Inspect power cord" in page and "cord burnt, do not plug in" in page and where in page
    assert TaskOutcome.objects.get(plan_line__code="inspect-cord", happened_on=build.TODAY).outcome == "done"
    same = send_record(phone, waiting=waiting("prove", {"V1": "pass"}))
    assert same["X-Outbox-Answer"] == "recorded" and same.json()["to"] == where


def test_answers_to_a_task_that_left_the_plan_are_told_and_can_be_kept(phone):
    everything_done(phone)
    phone.send("task-inspect-cord", outcome="not possible", reason="cord burnt")
    phone.send("prove", V1="pass")
    phone.send("end", **END)
    line = PlanLine.objects.get(unit=phone.built.unit, code="inspect-cord")
    with clock.at(build.NOW):
        log.correct(
            by=phone.built.world.people["coordinator"], request_key=build.key(), row=line,
            changes={"retired": True}, reason="not on this version",
        )  # fmt: skip
    page = words(phone.client.get(f"{phone.root}record/"))
    assert "left the plan after it was answered" in page and "cord burnt" in page
    assert phone.record().status_code == 422 and not Visit.objects.filter(happened_on=build.TODAY).exists()
    orphan = {"orphan": "1/task-inspect-cord"}
    assert phone.client.post(f"{phone.root}record/", orphan | {"do": "keep"}).status_code == 302
    assert phone.draft.content["steps"]["1/extra-1"]["data"]["reason"] == "cord burnt"
    assert phone.record().status_code == 302
    kept = TaskOutcome.objects.get(happened_on=build.TODAY, plan_line=None)
    assert (kept.outcome, kept.reason) == ("not possible", "cord burnt")


def test_they_can_be_left_out_and_a_page_that_is_there_cannot(phone):
    everything_done(phone)
    phone.record(waiting=waiting("task-gone-since", {"outcome": "done"}))
    assert "1/task-gone-since" in phone.draft.content["steps"], "kept first, then asked"
    phone.client.post(f"{phone.root}record/", {"orphan": "1/task-gone-since", "do": "drop"})
    phone.client.post(f"{phone.root}record/", {"orphan": "1/safe", "do": "drop"})
    steps = phone.draft.content["steps"]
    assert "1/task-gone-since" not in steps and "1/safe" in steps


def test_a_lot_number_of_another_part_is_asked_about_and_never_taken(phone):
    phone.to_the_tasks()
    said = {"go": "done", "part_name": "Gasket 17", "lot_printed": "L-F-2", "old_part": "scrapped"}
    answer = phone.send("task-replace-gasket", **said)
    assert answer.status_code == 422 and "in own stock is “Filter F”" in words(answer)
    assert phone.send("task-replace-gasket", **said | {"lot_state": "printed"}).status_code == 302
    phone.send("prove", V1="pass")
    phone.send("end", **END)
    assert phone.record().status_code == 302
    part = FittedPart.objects.get(happened_on=build.TODAY)
    assert (part.name, part.lot, part.part_lot, part.position.code) == ("Gasket 17", "L-F-2", None, "door-gasket")


def test_the_button_done_never_speaks_over_an_outcome_that_was_chosen(phone):
    phone.to_the_tasks()
    page = words(phone.open("task-inspect-cord"))
    first = page[page.index('class="form visit-form"') :].split('type="submit"')[1]
    assert 'value="done"' not in first.split(">")[0], "Enter in a field presses the first button of the form"
    said = {"outcome": "not possible", "reason": "socket behind the unit"}
    answer = phone.send("task-inspect-cord", go="done", **said)
    assert answer.status_code == 422 and "Which is it?" in words(answer)
    assert phone.draft.content["steps"]["1/task-inspect-cord"]["data"] == said


def test_a_reading_left_outside_its_limits_is_said_before_it_is_released(phone):
    everything_done(phone)
    names = [name for name in phone.open("prove").context["form"].fields if name.startswith("k")]
    temperature = next(n for n in names if "temperature" in phone.open("prove").context["form"].fields[n].label)
    refused = phone.send("prove", V1="pass", **{temperature: "100"})
    assert refused.status_code == 422 and "outside its limits: V1 is no pass" in words(refused)
    for step in ("prove", "end"):
        assert "chamber temperature as left 100 °C, limits 134 to 137" in words(phone.open(step))
    assert phone.record().status_code == 422 and not JobConclusion.objects.filter(job__happened_on=build.TODAY)
    other = {"quantity": "conductivity", "unit_of_measure": "µS/cm", "upper": "15", "limit_source": "Invented"}
    phone.send("found", **{f"x0_{name}": value for name, value in other.items()}, x0_as_found="20")
    phone.send("prove", V1="pass", **{temperature: "135"}, x0="20")
    bare = phone.send("end", **END)
    assert bare.status_code == 422 and "Say why it is released all the same" in words(bare)
    assert phone.send("end", **END | {"reason": "logger was cold"}).status_code == 302
    assert "as left 20 µS/cm" in words(phone.client.get(f"{phone.root}record/"))
    assert phone.record().status_code == 302
    assert JobConclusion.objects.get(job__happened_on=build.TODAY).reason == "logger was cold"
    phone2 = Phone(phone.built)
    VisitDraft.objects.all().delete()
    everything_done(phone2.begin())
    phone2.send("prove", V1="pass", **{temperature: "134"})
    assert "Outside its limits" not in words(phone2.open("end")), "a limit itself is within"


def test_a_visit_goes_on_without_a_unit_that_left_the_clinic(built):  # noqa: F811
    world = built.world
    phone = Phone(built).begin(built.unit, world.unit)
    everything_done(phone)
    phone.send("prove", V1="pass")
    phone.send("end", **END)
    phone.send("identify", 2, photo=jpeg(), **SAME)
    label = Unit.objects.get(ref=world.unit.ref).label
    draft = phone.draft
    draft.units[1] = str(world.other_unit.ref)  # as if it stood at the other clinic now
    draft.save()
    page = words(phone.client.get(f"{phone.root}record/"))
    assert f"Record the visit without {label}" in page
    assert phone.record().status_code == 422
    assert phone.client.post(f"{phone.root}record/", {"leave_out": "2"}).status_code == 302
    assert phone.record().status_code == 302
    assert Visit.objects.get(happened_on=build.TODAY).jobs.count() == 1 and Photo.objects.count() == 0


def test_begun_twice_with_one_form_it_is_one_visit(built):  # noqa: F811
    phone = Phone(built)
    sent = {"units": [str(built.unit.ref)], "request_key": str(uuid.uuid4())}
    first, again = phone.client.post(phone.start, sent), phone.client.post(phone.start, sent)
    assert first.url == again.url and VisitDraft.objects.count() == 1
    other = phone.client.post(phone.start, sent | {"units": [str(built.world.unit.ref)]})
    assert other.url != first.url and VisitDraft.objects.count() == 2


def test_a_page_is_kept_whatever_is_wrong_with_its_photo(phone):
    phone.send("identify", **SAME)
    data = SAFE | {"complaint": "door squeaks"}
    broken = jpeg()
    broken.file.seek(0)
    content = bytearray(broken.file.read())
    content[200:] = b"\xff" * len(content[200:])
    from django.core.files.uploadedfile import SimpleUploadedFile

    answer = phone.send("safe", photo=SimpleUploadedFile("a.jpg", bytes(content), "image/jpeg"), **data)
    assert answer.status_code == 422
    assert phone.draft.content["steps"]["1/safe"]["data"]["complaint"] == "door squeaks"


def test_too_much_text_at_the_head_is_refused_in_words(phone):
    everything_done(phone)
    answer = phone.record(report_number="x" * 5001)
    assert answer.status_code == 422 and "5000 characters" in words(answer)


def test_a_choice_that_is_not_needed_can_be_taken_back(phone):
    phone.to_the_tasks()
    phone.send("task-inspect-latch", outcome="done", grade="2", found="bent", decision="adjust")
    page = words(phone.open("task-inspect-latch"))
    assert 'data-none><input type="radio" name="decision" value=""> no answer' in page
    assert phone.send("task-inspect-latch", outcome="done", grade="", found="", decision="").status_code == 302
    assert phone.draft.content["steps"]["1/task-inspect-latch"]["data"] == {"outcome": "done"}
