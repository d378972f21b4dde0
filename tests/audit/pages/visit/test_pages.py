"""The pages of a visit without script: kept, left and taken up, two devices, the wrong unit, proof before release."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from io import BytesIO

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from audit.models import VisitDraft
from audit.pages.visit.guide.steps import SAFE_STEPS
from records import clock, log
from records.models import (
    ConditionFinding,
    Entry,
    FittedPart,
    Job,
    JobConclusion,
    PlanLine,
    TaskOutcome,
    Unit,
    Visit,
)
from tests import visit_world
from tests import world as build

pytestmark = pytest.mark.django_db

SAFE = {"reason": "planned", "contamination": "declared clean"} | {step.field: "on" for step in SAFE_STEPS}
SAME = {"plate": "same", "positions": "same"}
END = {
    "conclusion": "released", "technician": "on", "clinic": "returned to use", "clinic_name": "Ana Coordinator",
}  # fmt: skip


class Phone:
    """One signed-in browser with its visit."""

    def __init__(self, built, role="technician"):
        self.built, self.client = built, Client()
        self.client.force_login(built.world.people[role])
        self.start = f"/clinic/{built.world.clinic.slug}/visit/"

    @property
    def draft(self) -> VisitDraft:
        return VisitDraft.objects.get()

    def begin(self, *units):
        refs = [str(u.ref) for u in units or (self.built.unit,)]
        answer = self.client.post(self.start, {"units": refs})
        assert answer.status_code == 302
        self.root = f"{self.start}{self.draft.ref}/"
        return self

    def open(self, step, n=1):
        return self.client.get(f"{self.root}{n}/{step}/")

    def send(self, step, n=1, revision=None, quiet=False, **data):
        data.setdefault("revision", self.draft.revision if revision is None else revision)
        more = {"headers": {"Accept": "application/json"}} if quiet else {}
        return self.client.post(f"{self.root}{n}/{step}/", data, **more)

    def to_the_tasks(self, n=1):
        assert self.send("identify", n, **SAME).status_code == 302
        assert self.send("safe", n, **SAFE).status_code == 302
        assert self.send("found", n).status_code == 302
        return self

    def record(self, **data):
        head = {"on": build.TODAY.isoformat(), "revision": self.draft.revision}
        return self.client.post(f"{self.root}record/", head | data)


@pytest.fixture
def built(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    with clock.at(build.NOW):
        yield visit_world.make()


@pytest.fixture
def phone(built):
    return Phone(built).begin()


def words(answer) -> str:
    return answer.content.decode()


def test_a_visit_is_begun_from_the_label_of_a_unit(built):
    client = Phone(built).client
    page = client.get(f"/clinic/first/visit/?unit={built.unit.ref}")
    assert f'value="{built.unit.ref}" checked' in words(page)
    assert client.get(f"/clinic/first/visit/?unit={built.world.other_unit.ref}").status_code == 404
    assert client.post("/clinic/first/visit/").status_code == 422
    assert VisitDraft.objects.count() == 0


def test_the_page_for_all_at_once_stays_reachable(built):
    page = Phone(built).client.get(f"/clinic/first/visit/?unit={built.unit.ref}")
    assert f"/clinic/first/visits/log/?units={built.unit.ref}" in words(page)


def test_nothing_is_chosen_beforehand(phone):
    assert phone.send("identify", **SAME).status_code == 302
    for step in ("safe", "found", "task-replace-gasket", "task-inspect-latch", "extra-1", "prove"):
        page = words(phone.open(step))
        assert " checked>" not in page, step
    end = words(phone.open("end"))
    assert end.count(" checked>") == 1 and 'value="A" id="f-class_stated_0" checked' in end, (
        "only the class that follows"
    )


def test_what_differs_stops_until_the_register_is_put_right(phone):
    answer = phone.send("identify", plate="differs", positions="same", note="serial INV-K2")
    assert answer.status_code == 422 and "the register is put right first" in words(answer)
    assert f"/records/unit/{phone.built.unit.ref}/correct/" in words(answer)
    for step in ("safe", "found", "tasks", "task-replace-gasket", "prove", "end"):
        assert phone.open(step).url.endswith("/1/identify/"), step
        assert phone.send(step, outcome="done").url.endswith("/1/identify/"), step
    assert set(phone.draft.content["steps"]) == {"1/identify"}
    assert phone.record().status_code == 422 and not Visit.objects.filter(happened_on=build.TODAY).exists()
    with clock.at(build.NOW):
        log.correct(
            by=phone.built.world.people["coordinator"], request_key=build.key(),
            row=Unit.objects.get(ref=phone.built.unit.ref), changes={"serial": "INV-K2"}, reason="misread",
        )  # fmt: skip
    assert "INV-K2" in words(phone.open("identify"))
    assert phone.send("identify", **SAME).status_code == 302
    assert phone.open("safe").status_code == 200


def test_an_incomplete_page_is_kept_and_says_what_is_missing(phone):
    phone.send("identify", **SAME)
    answer = phone.send("safe", reason="breakdown", s_clean="on")
    page = words(answer)
    assert answer.status_code == 422 and "A breakdown has a complaint" in page
    assert page.count("Tick it once it is done, or say why it is not.") >= 9
    data = phone.draft.content["steps"]["1/safe"]["data"]
    assert data["reason"] == "breakdown" and data["s_clean_at"] == "09:00", (
        "the time of a step is noted when it is ticked"
    )


def test_a_visit_is_left_and_taken_up_on_another_device(phone):
    phone.to_the_tasks()
    phone.send("task-clean-strainer", go="done")
    second = Phone(phone.built)
    listed = second.client.get("/clinic/first/")
    assert f"/visit/{phone.draft.ref}/" in words(listed) and "Visits not recorded yet" in words(listed)
    taken_up = second.client.get(f"{phone.root}")
    assert taken_up.url.endswith("/1/task-inspect-cord/")
    assert 'value="planned" id="f-reason_0" checked' in words(second.client.get(f"{phone.root}1/safe/"))


def test_a_draft_left_for_a_day_says_so_on_both_lists(phone):
    company = Phone(phone.built, "dispatcher")
    for hours, said in ((23, False), (24, True)):
        with clock.at(build.NOW + timedelta(hours=hours)):
            own = words(phone.client.get("/clinic/first/"))
            theirs = words(company.client.get("/company/keepers/"))
        assert (f"Left for {hours} hours" in own, f"Left for {hours} hours" in theirs) == (said, said)
        assert "Pat Technician" in theirs and str(phone.draft.ref) not in theirs, "only one's own can be opened"


@pytest.mark.parametrize("role", ["dispatcher", "coordinator", "other-coordinator", "nobody"])
def test_nobody_else_opens_it(phone, role):
    other = Phone(phone.built, role)
    for page in ("", "1/identify/", "record/"):
        assert other.client.get(f"{phone.root}{page}").status_code == 404
    assert other.client.post(f"{phone.root}throw-away/").status_code in (404, 403)
    assert phone.draft.content["steps"] == {}


@pytest.mark.parametrize("role", ["viewer", "operator", "stores"])
def test_who_may_not_record_visits_begins_none(built, role):
    assert Phone(built, role).client.post("/clinic/first/visit/", {"units": [built.unit.ref]}).status_code == 403


def test_two_devices_at_one_page_lose_nothing(phone):
    phone.send("identify", revision=0, **SAME, cycles="5000", device="one")
    answer = phone.send("identify", revision=0, **SAME, cycles="6000", device="two")
    page = words(answer)
    assert answer.status_code == 409 and "5000" in page and "6000" in page and "Kept already" in page
    assert phone.draft.content["steps"]["1/identify"]["data"]["cycles"] == "5000", "nothing is overwritten"
    assert 'name="revision" value="1"' in page and 'name="cycles" value="6000"' in page
    assert phone.send("identify", revision=1, **SAME, cycles="6000").status_code == 302
    assert phone.draft.content["steps"]["1/identify"]["data"]["cycles"] == "6000"


def test_two_devices_at_different_pages_do_not_stand_in_each_others_way(phone):
    phone.send("identify", **SAME)
    base = phone.draft.revision
    assert phone.send("safe", revision=base, **SAFE, device="one").status_code == 302
    assert phone.send("found", revision=base, instrument="L2", device="two").status_code == 302


def test_the_same_answer_twice_is_no_conflict(phone):
    for _ in range(2):
        assert phone.send("identify", revision=0, **SAME, cycles="5000").status_code == 302
    assert phone.draft.revision == 1


def test_a_script_is_answered_in_data(phone):
    kept = phone.send("identify", quiet=True, cycles="5000")
    assert kept.status_code == 422, "the page is not complete"
    kept = phone.client.post(
        f"{phone.root}1/identify/", {"cycles": "5001", "revision": 1, "quiet": "1"},
        headers={"Accept": "application/json"},
    )  # fmt: skip
    assert kept.json() == {"revision": 2}
    moved = phone.send("identify", quiet=True, **SAME)
    assert moved.json()["next"].endswith("/1/safe/")
    conflict = phone.send("identify", quiet=True, revision=0, cycles="7000")
    assert conflict.status_code == 409 and conflict.json()["revision"] == 3


def everything_done(phone, n=1):
    phone.to_the_tasks(n)
    for code, position, _, action, _ in visit_world.PLAN:
        data = {"go": "done"}
        if action == "replace":
            data |= {"lot": str(phone.built.lots[position].origin), "old_part": "scrapped"}
        assert phone.send(f"task-{code}", n, **data).status_code == 302, code
    return phone


def test_without_the_tests_it_may_only_be_pending(phone):
    everything_done(phone)
    page = words(phone.open("end"))
    assert "“Released” is not offered" in page and 'value="released" id=' not in page
    assert 'hidden data-when-kept><input type="radio" name="conclusion" value="released" disabled>' in page, (
        "only for a page that is filled in without the server"
    )
    refused = phone.send("end", **END)
    assert refused.status_code == 422 and "cannot be claimed yet" in words(refused)
    assert phone.record().status_code == 422
    nobody = phone.send("end", **END | {"conclusion": "pending"})
    assert nobody.status_code == 422 and "Who at the clinic accepts that?" in words(nobody)
    until = (build.TODAY + timedelta(days=3)).isoformat()
    assert (
        phone.send("end", **END | {"conclusion": "pending", "acceptor": "Ana", "deadline": until}).status_code == 302
    )
    assert phone.record().status_code == 302
    ended = JobConclusion.objects.get(job__happened_on=build.TODAY)
    assert (ended.conclusion, ended.acceptor, ended.deadline.isoformat()) == ("pending", "Ana", until)


def test_a_failed_test_leaves_not_released_only(phone):
    everything_done(phone)
    assert phone.send("prove", V1="fail").status_code == 302
    assert (
        phone.send("end", **END | {"conclusion": "pending", "acceptor": "Ana", "deadline": "2026-03-20"}).status_code
        == 422
    )
    assert phone.send("end", conclusion="not released", reason="V1 failed").status_code == 302
    assert phone.record().status_code == 302
    job = Job.objects.get(happened_on=build.TODAY)
    assert JobConclusion.objects.get(job=job).conclusion == "not released"
    assert not job.signatures.exists(), "nobody signs a release that there is not"


def major(built):
    """The plunger's line as major work."""
    line = PlanLine.objects.get(unit=built.unit, code="replace-plunger")
    log.correct(
        by=built.world.people["coordinator"], request_key=build.key(), row=line, changes={"repair_class": "C"},
        reason="the booklet says so",
    )  # fmt: skip


def test_the_class_is_never_lowered_and_a_raised_one_asks_its_tests(built):
    major(built)
    phone = everything_done(Phone(built).begin())
    phone.send("prove", V1="pass", V2="pass", V4="pass", V8="pass")
    low = phone.send("end", **END | {"class_stated": "A"})
    assert low.status_code == 422 and "may be raised, never lowered" in words(low)
    until = {"acceptor": "Ana", "deadline": "2026-03-20"}
    phone.send("end", **END | until | {"class_stated": "A", "conclusion": "pending"})
    assert phone.record().status_code == 422 and not Visit.objects.filter(happened_on=build.TODAY).exists()
    phone.send("end", **END | until | {"class_stated": "C", "conclusion": "pending"})
    assert phone.record().status_code == 302
    assert Job.objects.get(happened_on=build.TODAY).class_stated == "C"


def test_raising_the_class_takes_back_the_release(phone):
    everything_done(phone)
    phone.send("prove", V1="pass")
    assert phone.send("end", **END).status_code == 302
    raised = phone.send("end", **END | {"class_stated": "C", "class_reason": "door taken off"})
    assert raised.status_code == 422 and "cannot be claimed yet" in words(raised)


def test_deferral_and_not_fitted_need_their_reasons_and_reach_the_record(phone):
    phone.to_the_tasks()
    assert phone.send("task-replace-gasket", outcome="deferred").status_code == 422
    later = {"outcome": "deferred", "reason": "part is young", "deferred_until": "2026-06-01", "decided_by": "Pat"}
    assert phone.send("task-replace-gasket", **later).status_code == 302
    assert (
        phone.send("task-replace-filter", outcome="not applicable", reason="no filter on this version").status_code
        == 302
    )
    assert phone.send("task-inspect-cord", outcome="not possible").status_code == 422
    assert phone.send("task-inspect-cord", outcome="not possible", reason="socket behind the unit").status_code == 302
    phone.send("prove", V1="pass")
    phone.send("end", **END)
    assert "Due, and not answered" in words(phone.client.get(f"{phone.root}record/"))
    assert phone.record().status_code == 302
    said = {o.plan_line.code: o.outcome for o in TaskOutcome.objects.filter(happened_on=build.TODAY)}
    assert said == {
        "replace-gasket": "deferred", "replace-filter": "not applicable", "inspect-cord": "not possible",
    }  # fmt: skip


def test_a_decision_on_condition_with_a_scanned_lot(phone):
    phone.to_the_tasks()
    bare = phone.send("task-inspect-latch", outcome="done", decision="replace")
    assert bare.status_code == 422 and "A decision rests on the condition" in words(bare)
    said = {"outcome": "done", "grade": "2", "found": "bent", "decision": "replace", "lot_printed": "L-P-9",
            "old_part": "kept", "part_name": "Plunger P"}  # fmt: skip
    assert phone.send("task-inspect-latch", **said).status_code == 302
    phone.send("prove", V1="pass", V6="pass")  # after a latch the safety devices are checked
    phone.send("end", **END)
    assert phone.record().status_code == 302
    finding = ConditionFinding.objects.get(happened_on=build.TODAY)
    assert (finding.component, finding.grade, finding.decision) == ("Inspect latch", 2, "replace")
    assert finding.rule == "if it drags, adjust; if it is bent, replace"
    part = FittedPart.objects.get(happened_on=build.TODAY)
    assert (part.part_lot, part.action) == (phone.built.lots["fill-valve"], "replaced on condition")


def test_a_replacement_without_its_lot_is_not_done(phone):
    phone.to_the_tasks()
    answer = phone.send("task-replace-gasket", go="done", part_name="Gasket 17")
    assert answer.status_code == 422
    assert "Which lot was fitted?" in words(answer) and "What became of the old part?" in words(answer)


def test_two_units_in_one_visit_are_one_entry(built):
    phone = Phone(built).begin(built.unit, built.world.unit)
    everything_done(phone)
    phone.send("prove", V1="pass")
    assert phone.send("end", **END).url.endswith("/2/identify/")
    phone.send("identify", 2, **SAME)
    phone.send("safe", 2, **SAFE)
    assert phone.record().status_code == 422, "the second unit is not concluded"
    assert phone.send("end", 2, conclusion="not worked on", reason="in use", meanwhile="kept").status_code == 302
    before = Entry.objects.count()
    assert phone.record().status_code == 302
    visit = Visit.objects.get(happened_on=build.TODAY)
    assert Entry.objects.count() == before + 1 and visit.jobs.count() == 2


def test_recorded_twice_it_is_one_visit(phone):
    everything_done(phone)
    phone.send("prove", V1="pass")
    phone.send("end", **END)
    first, second = phone.record(), phone.record()
    assert first.url == second.url and Visit.objects.filter(happened_on=build.TODAY).count() == 1
    assert phone.open("safe").url == first.url
    late = phone.send("safe", quiet=True, **SAFE)
    assert late.status_code == 410 and late.json() == {"gone": first.url}


def test_what_another_device_changed_is_looked_at_before_it_is_recorded(phone):
    everything_done(phone)
    phone.send("prove", V1="pass")
    phone.send("end", device="one", **END)
    seen = phone.draft.revision
    phone.send("found", device="two", instrument="L7")
    answer = phone.record(revision=seen, device="one")
    assert answer.status_code == 409 and "changed on another device" in words(answer)
    assert not Visit.objects.filter(happened_on=build.TODAY).exists()
    assert phone.record(revision=phone.draft.revision, device="one").status_code == 302


def test_what_a_device_kept_without_a_signal_comes_with_the_record(phone):
    everything_done(phone)
    waiting = [
        {"n": "1", "step": "prove", "revision": phone.draft.revision, "data": {"V1": "pass"}},
        {"n": "1", "step": "end", "revision": phone.draft.revision, "data": END},
    ]
    answer = phone.record(waiting=json.dumps(waiting), device="one")
    assert answer.status_code == 302
    assert JobConclusion.objects.get(job__happened_on=build.TODAY).conclusion == "released"


@pytest.mark.parametrize("sent", ["{", "[1]", '[{"n": 1}]', '[{"n":"x","step":"end","revision":1,"data":{}}]'])
def test_what_a_device_kept_and_cannot_be_read_stops_it(phone, sent):
    answer = phone.record(waiting=sent)
    assert answer.status_code == 422 and "could not be read" in words(answer)


def test_too_long_an_answer_is_refused_in_words(phone):
    answer = phone.send("identify", note="x" * 5001, **SAME)
    assert answer.status_code == 422 and "5000 characters" in words(answer)
    assert phone.draft.content["steps"] == {}


def test_the_report_is_a_file_with_the_lots_and_the_rules(phone):
    from pypdf import PdfReader

    everything_done(phone)
    phone.send("prove", V1="pass")
    phone.send("end", **END)
    where = phone.record().url
    assert f"{where}report.pdf" in words(phone.client.get(where))
    answer = phone.client.get(f"{where}report.pdf")
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(answer.content)).pages)
    for said in ("Service report", "Kettle", "L-G-17", "released", "Rules: US dental", "outrank"):
        assert said in text, said
    assert phone.client.get(f"{where}report.pdf").content == answer.content
    assert phone.client.get(f"{where}report.pdf?page=a3").status_code == 404
    assert Phone(phone.built, "nobody").client.get(f"{where}report.pdf").status_code == 404


def test_thrown_away_nothing_is_left(phone):
    before = Entry.objects.count()
    phone.client.post(f"{phone.root}throw-away/")
    assert VisitDraft.objects.count() == 0 and Entry.objects.count() == before
    assert phone.open("identify").status_code == 404


# One more is looked at, not waved through; kits in the books and the readings of templates are two of them.
# A page whose answers name own lots asks for those and their notices.
QUERIES = {
    "identify": 11, "safe": 11, "found": 11, "tasks": 11, "task-replace-gasket": 11, "prove": 12, "end": 11,
    "record": 11,
}  # fmt: skip


def test_pages_take_few_questions_to_the_database_whatever_the_number_of_units(built):
    for units in ((built.unit,), (built.unit, built.world.unit)):
        VisitDraft.objects.all().delete()
        phone = everything_done(Phone(built).begin(*units))
        taken = {}
        for step in QUERIES:
            with CaptureQueriesContext(connection) as asked:
                phone.client.get(f"{phone.root}record/" if step == "record" else f"{phone.root}1/{step}/")
            taken[step] = len(asked)
        assert taken == QUERIES


def test_a_device_keeps_the_pages_of_all_units_from_the_first_page_on(built):
    """One page names the others of its unit, and the first page of each further unit, which names its own."""
    phone = Phone(built).begin(built.unit, built.world.unit)
    first, second = words(phone.open("identify")), words(phone.open("identify", 2))
    for page, n in ((first, 1), (second, 2)):
        along = re.search('data-along="([^"]*)"', page)[1].split()
        assert f"{phone.root}{3 - n}/identify/" in along and f"{phone.root}record/" in along
        own = [address for address in along if address.startswith(f"{phone.root}{n}/")]
        assert {address.split("/")[-2] for address in own} >= {"safe", "found", "tasks", "prove", "end", "extra-1"}
        for address in own:
            asked = phone.client.get(address)
            assert asked.status_code == (200 if address.endswith("/identify/") else 302), "by hand, only after it"
            assert phone.client.get(address, headers={"X-Keep": "1"}).status_code == 200, address
            stopped = phone.client.post(address, {"reason": "planned"}, headers={"X-Keep": "1"})
            assert address.endswith("/identify/") or stopped.url.endswith(f"/{n}/identify/")


@pytest.mark.parametrize(
    "step, half",
    [
        ("task-replace-gasket", {"outcome": "done", "part_name": "Gasket"}),
        ("task-inspect-latch", {"outcome": "done", "decision": "adjust"}),
        ("task-inspect-latch", {"outcome": "nonsense", "decision": "nonsense", "grade": "7"}),
        ("extra-1", {"outcome": "done", "decision": "replace", "position": "nonsense"}),
        ("found", {"x0_as_found": "abc", "calibration_due": "soon"}),
        ("prove", {"V1": "not done", "V2": "perhaps"}),
        ("end", {"conclusion": "nonsense", "class_stated": "Z", "deadline": "soon"}),
    ],
)
def test_whatever_is_half_filled_every_page_opens_and_says_what_is_missing(phone, step, half):
    phone.to_the_tasks()
    assert phone.send(step, **half).status_code == 422
    for page in ("identify", "safe", "found", "tasks", step, "prove", "end"):
        assert phone.open(page).status_code == 200, page
    look = phone.client.get(f"{phone.root}record/")
    assert look.status_code == 200 and f"/1/{step}/?check=1" in words(look)
    assert phone.record().status_code == 422 and not Visit.objects.filter(happened_on=build.TODAY).exists()
