"""Everything as one file, on the page: who may ask, how far it is, the file for a while, and who took it out."""

from __future__ import annotations

import io
import zipfile
from datetime import timedelta

import pytest
from django.urls import reverse

from audit.issue.jobs import workers
from audit.issue.whole import check, jobs
from audit.models import RecordOut
from records import clock
from records import models as m
from tests import world as made
from tests.audit.pages.tools import get, signed_in, text_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _folders(settings, tmp_path):
    settings.BLOBS_DIR, settings.DATA_DIR, settings.BINDER_WORKER = tmp_path / "blobs", tmp_path, "none"


def ask(client, key="7c1b1f0e-2d55-4a57-9d5e-2f5f5b1f0001"):
    return client.post(reverse("everything", args=["first"]), {"request_key": key})


def written(client) -> RecordOut:
    """Asked for, and written by a worker."""
    assert ask(client).status_code == 302
    assert workers.work_off() == 1
    return RecordOut.objects.get()


def test_only_who_manages_takes_it_out(client, world):
    names = {"coordinator": 200, "dispatcher": 200, "operator": 403, "viewer": 403, "technician": 403}
    names |= {"other-coordinator": 404, "nobody": 404}
    for role, status in names.items():
        signed_in(client, world, role)
        assert get(client, "everything", "first").status_code == status, role
        asked = ask(client).status_code
        assert asked == (302 if status == 200 else status), role
    job = RecordOut.objects.first()
    for name in ("everything-job", "everything-file"):
        address = reverse(name, args=["first", job.ref])
        signed_in(client, world, "operator")
        assert client.get(address).status_code == 403
        signed_in(client, world, "other-coordinator")
        assert client.get(address).status_code == 404
        assert client.get(reverse(name, args=["other", job.ref])).status_code == 404
    client.logout()
    assert get(client, "everything", "first").status_code == 302


def test_asked_for_written_and_downloaded(client, world):
    signed_in(client, world, "coordinator")
    address = ask(client)["Location"]
    assert ask(client)["Location"] == address and RecordOut.objects.count() == 1, "sent twice, it is one"
    assert "It waits for its turn" in text_of(client.get(address))
    assert workers.work_off() == 1
    job = RecordOut.objects.get()
    last = m.Ledger.objects.get(organisation=world.clinic)
    assert (job.state, job.made["entries"], job.made["head"]) == ("done", last.number, last.hash)
    shown = text_of(client.get(address))
    assert "is ready" in shown and last.hash in shown and job.made["sha256"] in shown
    answer = get(client, "everything-file", "first", job.ref)
    body = b"".join(answer.streaming_content)
    assert answer["Content-Type"] == "application/zip" and "no-store" in answer["Cache-Control"]
    assert f"everything-first-2026-03-16-entry-{last.number}.zip" in answer["Content-Disposition"]
    found = check.WholeCheck(check.Zip(io.BytesIO(body))).run()
    assert found.faults == [] and found.about["made_by"] == "Ana Coordinator, First Clinic"
    assert "Ana Coordinator: ready, up to entry" in text_of(get(client, "everything", "first"))


def test_the_file_is_kept_for_a_while_and_who_took_it_out_stays(client, world, settings):
    signed_in(client, world, "dispatcher")
    job = written(client)
    with clock.at(made.NOW + timedelta(hours=settings.DRAFT_HOURS)):
        jobs.sweep()
        assert "is gone" in text_of(get(client, "everything-job", "first", job.ref))
        assert get(client, "everything-file", "first", job.ref).status_code == 302
        assert "Dan Dispatcher: written; the file was kept for" in text_of(get(client, "everything", "first"))


def test_what_cannot_be_written_is_told_with_the_way_out(client, world, tmp_path):
    signed_in(client, world, "coordinator")
    ask(client)
    (tmp_path / "out").write_text("in the way")
    assert workers.work_off() == 1
    job = RecordOut.objects.get()
    assert job.state == "failed" and "cannot be written" in job.problem
    assert "Write it again" in text_of(get(client, "everything-job", "first", job.ref))


def test_whoever_left_since_gets_no_file(client, world):
    signed_in(client, world, "coordinator")
    ask(client)
    with clock.at(made.NOW + timedelta(days=1)):
        RecordOut.objects.update(asked_by=world.people["operator"])
        workers.work_off()
    assert "may not take out the record of First Clinic today" in RecordOut.objects.get().problem


def test_a_worker_that_died_leaves_it_to_the_next(client, world):
    signed_in(client, world, "coordinator")
    ask(client)
    assert jobs.take_next("first").attempts == 1 and jobs.take_next("second") is None
    for attempt in (2, 3):
        RecordOut.objects.update(heartbeat=clock.real() - timedelta(hours=1))
        assert jobs.take_next("another").attempts == attempt
    RecordOut.objects.update(heartbeat=clock.real() - timedelta(hours=1))
    assert jobs.take_next("another") is None
    assert "It was begun 3 times" in RecordOut.objects.get().problem


def test_nothing_but_a_zip_is_left_in_the_folder(client, world, tmp_path):
    signed_in(client, world, "coordinator")
    job = written(client)
    assert [path.name for path in (tmp_path / "out").iterdir()] == [f"{job.ref}.zip"]
    assert zipfile.ZipFile(jobs.path_of(job)).testzip() is None
