"""What the server does for pages kept on a device: the worker, the words of its answers, when it was written."""

from __future__ import annotations

import json
import re
from datetime import date, timedelta
from types import SimpleNamespace

import pytest
from django.http import HttpResponse, HttpResponseRedirect
from django.test import Client, RequestFactory
from django.urls import reverse

from audit.models import Standing, VisitDraft
from audit.pages import offline
from audit.site.outbox import OutboxMiddleware
from records import clock, log
from records.late import is_late
from records.ledger import canon, tamper_check
from records.log import device
from records.models import Entry, UserCheck
from tests import world as made

pytestmark = pytest.mark.django_db


@pytest.fixture
def world():
    with clock.at(made.NOW):
        yield made.make()


def signed_in(world, role, **kwargs) -> Client:
    client = Client(**kwargs)
    client.force_login(world.people[role])
    return client


def typed(world, **changes) -> dict:
    form = {
        "request_key": str(made.key()), "unit": str(world.unit.ref), "on": "2026-03-16", "kind": "", "result": "pass",
        "signed_by": "Ana Coordinator",
    }  # fmt: skip
    form["kind"] = UserCheck._meta.get_field("kind").choices[0][0]
    return form | changes


def send(client, world, form, role="coordinator", written="", **headers):
    headers = {"X-Outbox": str(world.people[role].ref), "X-Written-At": written} | headers
    return client.post(reverse("log-user-check", args=[world.clinic.slug]), form, headers=headers)


def test_a_recorded_form_is_answered_with_its_address_and_a_repeated_one_too(world):
    client, form = signed_in(world, "coordinator"), typed(world)
    first, again = send(client, world, form), send(client, world, form)
    assert [r["X-Outbox-Answer"] for r in (first, again)] == ["recorded", "recorded"]
    assert first.status_code == 200 and first.json()["to"] == again.json()["to"]
    assert UserCheck.objects.count() == 1
    # Whoever opens the next page is told: the message was not used up by the script.
    assert "Recorded as entry" in client.get(first.json()["to"]).content.decode()


@pytest.mark.parametrize(
    ("changes", "role", "word", "status"),
    [
        ({"result": ""}, "coordinator", "refused", 422),
        ({}, "viewer", "forbidden", 403),
        ({}, "other-coordinator", "gone", 404),
    ],
)
def test_each_refusal_has_its_word(world, changes, role, word, status):
    before = Entry.objects.count()
    answer = send(signed_in(world, role), world, typed(world, **changes), role)
    assert (answer["X-Outbox-Answer"], answer.status_code) == (word, status)
    assert Entry.objects.count() == before


def test_other_content_under_the_same_key_is_a_conflict_that_names_what_stands(world):
    client, form = signed_in(world, "coordinator"), typed(world)
    send(client, world, form)
    answer = send(client, world, form | {"result": "fail"})
    assert (answer["X-Outbox-Answer"], answer.status_code) == ("conflict", 409)
    assert "data-outbox-stands" in answer.content.decode()
    assert UserCheck.objects.get().result == "pass"


def test_nothing_is_recorded_for_the_signed_out_or_under_another_name(world):
    before = Entry.objects.count()
    out = send(Client(), world, typed(world))
    other = send(signed_in(world, "operator"), world, typed(world), "coordinator")
    assert [(r["X-Outbox-Answer"], r.status_code) for r in (out, other)] == [
        ("signed-out", 401), ("other-account", 403),
    ]  # fmt: skip
    assert Entry.objects.count() == before


def test_an_old_token_is_told_from_a_missing_right_and_a_fresh_one_is_given(world):
    client = signed_in(world, "coordinator", enforce_csrf_checks=True)
    form = typed(world) | {"csrfmiddlewaretoken": "x" * 64}
    assert send(client, world, form)["X-Outbox-Answer"] == "form-too-old"
    state = client.get(reverse("waiting-state")).json()
    assert state["account"] == str(world.people["coordinator"].ref)
    form["csrfmiddlewaretoken"] = state["token"]
    assert send(client, world, form)["X-Outbox-Answer"] == "recorded"
    assert Client().get(reverse("waiting-state")).json() == {"account": "", "token": ""}


def test_a_form_sent_by_hand_is_answered_as_ever(world):
    answer = signed_in(world, "coordinator").post(reverse("log-user-check", args=[world.clinic.slug]), typed(world))
    assert answer.status_code == 302 and "X-Outbox-Answer" not in answer


# ---------------------------------------------------------------- when it was written

WEEK_LATER = made.NOW + timedelta(days=7)  # the next Monday


def logged_a_week_later(world, written: str) -> Entry:
    with clock.at(WEEK_LATER):
        answer = send(signed_in(world, "coordinator"), world, typed(world), written=written)
    assert answer["X-Outbox-Answer"] == "recorded"
    return UserCheck.objects.get().entry


def test_what_was_written_in_time_and_sent_a_week_later_is_not_late(world):
    written = made.NOW + timedelta(hours=2)
    entry = logged_a_week_later(world, written.isoformat().replace("+00:00", "Z"))
    assert entry.written_at == written and entry.logged_at >= WEEK_LATER
    assert not is_late(UserCheck.objects.get(), entry.written_at)
    listed = signed_in(world, "coordinator").get(reverse("entries", args=[world.clinic.slug])).content.decode()
    assert ">written on a device on 16 Mar 2026, 11:00, sent later</td>" in listed, "and no word of being late"


@pytest.mark.parametrize(
    "written",
    [
        "", "soon", "2026-03-16T16:00:00", "2026-03-24T14:00:00Z", "2026-03-09T13:00:00Z", "2026-03-15T20:00:00Z",
    ],
    ids=["none", "no moment", "no offset", "after it was recorded", "fifteen days ago", "the day before it happened"],
)  # fmt: skip
def test_a_claim_that_cannot_be_true_counts_from_the_moment_of_recording(world, written):
    entry = logged_a_week_later(world, written)
    assert entry.written_at == entry.logged_at
    assert is_late(UserCheck.objects.get(), entry.written_at)


def test_the_bound_of_what_is_believed_is_included():
    at = made.NOW
    with device.written(at - device.BELIEVED_FOR):
        assert device.written_at([], at) == at - device.BELIEVED_FOR
    with device.written(at - device.BELIEVED_FOR - timedelta(seconds=1)):
        assert device.written_at([], at) == at
    with device.written(at):
        assert device.written_at([], at) == at
    assert device.written_at([], at) == at, "and nothing is left behind"


def test_the_seal_of_the_ledger_covers_the_time_it_was_written(world):
    entry = logged_a_week_later(world, (made.NOW + timedelta(minutes=1)).isoformat())
    assert entry.written_at != entry.logged_at
    assert tamper_check.verify(world.clinic).whole
    rows = [UserCheck.objects.get()]
    entry.written_at = entry.logged_at
    assert canon.hash_of(entry, rows) != entry.hash


# ---------------------------------------------------------------- the worker and its pages


def about(client) -> dict:
    answer = client.get("/sw.js")
    assert answer.status_code == 200
    return json.loads(re.search(r"self\.ABOUT = (\{.*?\});\n", answer.content.decode()).group(1))


def test_the_worker_stands_at_the_root_is_asked_for_anew_and_names_files_that_exist(client):
    answer = client.get("/sw.js")
    assert answer["Content-Type"].startswith("text/javascript")
    assert answer["Cache-Control"] == "no-cache" and answer["Service-Worker-Allowed"] == "/"
    shell = about(client)["shell"]
    assert any(name.endswith("style.css") for name in shell) and any(name.endswith("outbox.js") for name in shell)
    assert not any(name.endswith("audit/worker.js") for name in shell)


def test_the_version_is_of_the_bytes_of_the_files(client, tmp_path, monkeypatch):
    """Of the names and bytes of all files: the same for the same ones, another when one byte differs."""
    for name in ("a.css", "b.js"):
        (tmp_path / name).write_text("one")
    monkeypatch.setattr(offline, "STATIC", (tmp_path,))
    first = offline.shell_version()
    (tmp_path / "a.css").touch()
    assert offline.shell_version() == first
    (tmp_path / "a.css").write_text("other")
    assert offline.shell_version() != first


def test_the_pages_that_are_kept_for_everybody_name_nobody(world):
    anna = world.people["coordinator"]
    for name in ("offline", "waiting"):
        body = Client().get(reverse(name)).content.decode()
        assert anna.last_name not in body and 'data-account=""' in body


def along(client, slug: str) -> list[str]:
    return client.get(reverse("take-along", args=[slug])).json()["addresses"]


def test_taken_along_are_only_pages_that_open_for_that_person(world):
    made.spore_test(world, date(2026, 3, 14), test="")
    slug, unit = world.clinic.slug, world.unit.ref
    for role, more in (("coordinator", True), ("technician", True), ("viewer", False)):
        client = signed_in(world, role)
        told = along(client, slug)
        assert len(set(told)) == len(told) > 2
        wrong = [(a, s) for a in told if (s := client.get(a, follow=True).status_code) != 200]
        assert wrong == []
        assert (reverse("log-bio", args=[slug]) in told) is more
        assert any("/day/" in a and a.endswith("/read/") for a in told) is more, "the test that waits to be read"
        assert (f"{reverse('log-visit', args=[slug])}?units={unit}" in told) is more
        assert (reverse("day-load", args=[slug, unit]) in told) is more, "an entry of the day, for one unit"
    gravity = made.unit_at(world.clinic, world.people["coordinator"], "Kettle", equipment_type="gravity").ref
    told = along(signed_in(world, "coordinator"), slug)
    assert [reverse("day-leak", args=[slug, ref]) in told for ref in (unit, gravity)] == [True, False]


def test_taken_along_is_the_response_to_a_failure_until_it_is_settled(world):
    client = signed_in(world, "coordinator")
    assert not any("/response/" in address for address in along(client, world.clinic.slug))
    made.spore_test(world, date(2026, 3, 12), test="growth")
    (response,) = [address for address in along(client, world.clinic.slug) if "/response/" in address]
    assert "spore test" in client.get(response).content.decode().lower()


def test_taken_along_is_ones_own_visit_that_is_being_typed(world):
    client, slug = signed_in(world, "technician"), world.clinic.slug
    client.post(reverse("visit-begin", args=[slug]), {"units": [str(world.unit.ref)]})
    mine = reverse("visit-draft", args=[slug, VisitDraft.objects.get().ref])
    assert mine in along(client, slug)
    assert mine not in along(signed_in(world, "dispatcher"), slug)


def test_a_company_takes_along_its_round_and_what_each_of_its_clinics_tells(world):
    client = signed_in(world, "technician")
    told = client.get(reverse("take-along-company", args=[world.company.slug])).json()
    place = {"name": world.clinic.name, "address": reverse("take-along", args=[world.clinic.slug])}
    assert told["more"] == [place], "and of no clinic that it does not serve"
    parts = [reverse("round-parts", args=[world.company.slug, week]) for week in ("2026-03-16", "2026-03-23")]
    own = [reverse(name, args=[world.company.slug]) for name in ("company", "round")]
    assert told["addresses"] == own + parts
    assert [client.get(address).status_code for address in told["addresses"]] == [200] * 4


def test_the_clinic_with_work_due_soonest_is_taken_along_first(world):
    second = made.clinic_of(world.people["coordinator"], "second", "A Clinic before the first by name")
    log.log_agreement(
        by=world.people["coordinator"], request_key=made.key(), clinic=second, company=world.company,
        effective_on=made.BEGIN,
    )  # fmt: skip
    made.unit_at(second, world.people["coordinator"], "New", on=made.TODAY)
    client = signed_in(world, "technician")
    address = reverse("take-along-company", args=[world.company.slug])

    def names() -> list[str]:
        return [place["name"] for place in client.get(address).json()["more"]]

    assert names() == [second.name, world.clinic.name], "by name while nothing was judged"
    client.get(reverse("company", args=[world.company.slug]))
    due = dict(Standing.objects.values_list("clinic__name", "next_due_on"))
    assert due[world.clinic.name] < due[second.name]
    assert names() == [world.clinic.name, second.name]


def test_a_page_that_leads_elsewhere_without_recording_is_not_taken_for_recorded(world):
    ana = world.people["coordinator"]
    request = RequestFactory().post("/", {"request_key": str(made.key())}, headers={"X-Outbox": str(ana.ref)})
    request.user = ana
    answer = OutboxMiddleware(lambda request: HttpResponseRedirect("/clinic/first/"))(request)
    assert (answer["X-Outbox-Answer"], answer.status_code) == ("shown", 200)
    photo = RequestFactory().post("/", {"visit_key": str(made.key())}, headers={"X-Outbox": str(ana.ref)})
    photo.user = ana
    answer = OutboxMiddleware(lambda request: HttpResponseRedirect("/clinic/first/"))(photo)
    assert answer["X-Outbox-Answer"] == "recorded", "a photo is kept with its draft, and is no entry yet"


def test_what_is_over_has_its_own_word():
    """410, as a visit answers that was finished on another device (RFC 9110, section 15.5.11)."""
    request = RequestFactory().post("/", headers={"X-Outbox": "5b2a"})
    request.user = SimpleNamespace(is_authenticated=True, ref="5b2a")
    answer = OutboxMiddleware(lambda request: HttpResponse(status=410))(request)
    assert (answer["X-Outbox-Answer"], answer.status_code) == ("over", 410)
