"""Drafts of a binder: asked for on a page, made by a worker, handed out for a while, never issued."""

from __future__ import annotations

import os
import re
import time
from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from audit.issue.jobs import drafts, queue, workers
from audit.models import BinderJob
from records import clock
from records.models import BinderIssue, Entry
from tests import world as made
from tests.audit.binder.paper import holds
from tests.audit.pages.tools import INSIDERS, OUTSIDERS, get, signed_in, text_of

pytestmark = pytest.mark.django_db
DAYS = {"from": "2025-03-16", "to": "2026-03-16"}
State = BinderJob.State


@pytest.fixture(autouse=True)
def folders(settings, tmp_path):
    settings.DATA_DIR, settings.BLOBS_DIR, settings.BINDER_WORKER = tmp_path, tmp_path / "blobs", "none"
    return tmp_path


def asked_for(client, **changes) -> BinderJob:
    """Send the form of a draft; the job that it became."""
    answer = client.post(reverse("make-draft", args=["first"]), DAYS | changes)
    job = BinderJob.objects.latest("pk")
    assert (answer.status_code, answer.url) == (302, page_of(job))
    return job


def page_of(job) -> str:
    return reverse("binder-job", args=["first", job.ref])


def made_by_worker(client, **changes) -> BinderJob:
    job = asked_for(client, **changes)
    assert workers.work_off() == 1
    job.refresh_from_db()
    return job


def file_of(client, job):
    return get(client, "draft-file", "first", job.ref)


def content_of(client, **changes) -> bytes:
    return file_of(client, made_by_worker(client, **changes)).content


def fields_of(html: str) -> dict[str, str]:
    return dict(re.findall(r'<input type="(?:hidden|date|text)"[^>]*? name="([^"]+)" value="([^"]*)"', html))


# ------------------------------------------------------------------------------------------------ from page to file


def test_a_draft_is_asked_for_followed_and_handed_out_and_the_record_knows_nothing_of_it(client, world, folders):
    made.weekly_tests(world, 2)
    entries = Entry.objects.count()
    job = asked_for(signed_in(client, world, "viewer"))
    assert (job.draft, job.state, job.asked_by) == (True, State.WAITING, world.people["viewer"])
    waiting = client.get(page_of(job))
    assert "The draft is being made" in text_of(waiting) and "It waits for its turn" in text_of(waiting)
    assert '<meta http-equiv="refresh" content="2">' in waiting.content.decode()
    assert file_of(client, job).url == page_of(job), "the file leads on while there is none"
    workers.work_off()
    job.refresh_from_db()
    ready = client.get(page_of(job))
    assert "The draft is ready" in text_of(ready) and "neither signed nor entered as issued" in text_of(ready)
    assert reverse("draft-file", args=["first", job.ref]) in ready.content.decode()
    file = file_of(client, job)
    assert file["Content-Type"] == "application/pdf" and file["Cache-Control"] == "private, no-store"
    name = "draft-not-issued-first-2025-03-16-to-2026-03-16.pdf"
    assert file["Content-Disposition"] == f'attachment; filename="{name}"'
    assert file.content.startswith(b"%PDF") and b"/ByteRange" not in file.content
    assert f"{job.made['pages']} pages" in text_of(ready) and job.made["size"] == len(file.content)
    assert Entry.objects.count() == entries and not BinderIssue.objects.exists()
    assert not (folders / "blobs").exists(), "it is not among the files of the record"
    assert (folders / "drafts").stat().st_mode & 0o077 == 0, "nobody else on the machine reads it"


def test_the_same_facts_and_days_give_the_same_bytes_twice(client, world):
    made.weekly_tests(world, 2)
    signed_in(client, world, "coordinator")
    first = content_of(client)
    assert first.startswith(b"%PDF") and content_of(client) == first


def test_the_form_of_the_clinics_page_asks_for_a_draft_with_the_day_and_the_moment_of_the_page(client, world):
    page = get(signed_in(client, world, "coordinator"), "clinic", "first", known_at="2026-03-16T08:30")
    html = page.content.decode()
    assert f'formaction="{reverse("make-draft", args=["first"])}"' in html
    assert '<input type="hidden" name="as_of" value="2026-03-16">' in html
    assert '<input type="hidden" name="known_at" value="2026-03-16T08:30:00-05:00">' in html
    job = asked_for(client, **fields_of(html))
    assert (job.draft, job.as_of, job.known_at) == (True, made.TODAY, made.NOW - timedelta(minutes=30))
    assert 'type="hidden" name="as_of"' not in get(client, "clinic", "first").content.decode()
    # Sent twice it is one draft, and the binder of the same form another job.
    assert asked_for(client, **fields_of(html)) == job
    client.post(reverse("make-binder", args=["first"]), fields_of(html))
    assert sorted(BinderJob.objects.values_list("draft", flat=True)) == [False, True]


def test_the_form_starts_with_the_days_of_the_address_or_the_last_twelve_months(client, world):
    signed_in(client, world, "viewer")
    assert fields_of(get(client, "make-draft", "first").content.decode()).items() >= DAYS.items()
    asked = {"from": "2026-01-01", "to": "2026-02-02", "as_of": "2026-02-02", "known_at": "2026-02-02T10:00"}
    html = get(client, "make-draft", "first", **asked, page="a4").content.decode()
    assert fields_of(html).items() >= asked.items() and '<option value="a4" selected>' in html


@pytest.mark.parametrize(
    ("period", "told"),
    [
        ({"from": "soon", "to": "2026-03-16"}, "“soon” is not a day that can be read (the first day of the binder)"),
        ({"from": "2026-03-01", "to": "2026-04-01"}, "2026-04-01 (the last day of the binder) has not come yet"),
        ({"from": "2026-03-10", "to": "2026-03-01"}, "from 2026-03-10 to 2026-03-01. Swap the two days."),
        ({"from": "0000-00-00"}, "“0000-00-00” is not a day that can be read"),
        ({"from": "2025-03-01", "page": "folio"}, "“folio” is no size of paper that is known"),
        ({"as_of": "2099-01-01"}, "2099-01-01 (the day asked about) has not come yet"),
        ({"known_at": "soon"}, "“soon” is not a moment"),
    ],
)
def test_days_no_draft_can_have_keep_what_was_typed(client, world, period, told):
    address = reverse("make-draft", args=["first"])
    answer = signed_in(client, world, "viewer").post(address, DAYS | period)
    assert answer.status_code == 422 and told in text_of(answer) and "The draft was not made" in text_of(answer)
    typed = {name: text for name, text in period.items() if name != "page"}
    assert fields_of(answer.content.decode()).items() >= typed.items()
    assert not BinderJob.objects.exists()


def test_a_draft_answers_for_the_day_asked_about(client, world):
    signed_in(client, world, "coordinator")
    assert content_of(client, as_of="2026-02-02") != content_of(client)


def test_a_draft_holds_only_what_had_been_logged_by_a_moment(client, world):
    signed_in(client, world, "coordinator")
    first = content_of(client)
    with clock.at(made.NOW + timedelta(hours=2)):
        made.spore_test(world, date(2026, 3, 10), test="growth")
        later = content_of(client)
        then = content_of(client, known_at="2026-03-16T09:30")
    assert holds(later, "Positive spore test") and not holds(first, "Positive spore test")
    assert not holds(then, "Positive spore test")
    assert holds(then, "logged up to 16 Mar 2026 14:30 UTC")


# ------------------------------------------------------------------------------------------------ who


def test_the_file_is_there_for_whoever_may_look_and_for_nobody_else(client, world):
    job = made_by_worker(signed_in(client, world, "viewer"))
    address = reverse("draft-file", args=["first", job.ref])
    for role in INSIDERS:
        assert signed_in(client, world, role).get(address).status_code == 200, role
    for role in OUTSIDERS:
        assert signed_in(client, world, role).get(address).status_code == 404, role
    assert Client().get(address).url.startswith(reverse("sign-in"))
    # Not under the address of another clinic, and no binder that is issued.
    signed_in(client, world, "other-coordinator")
    assert get(client, "draft-file", "other", job.ref).status_code == 404
    binder = queue.ask(world.clinic, world.people["coordinator"], queue.Wish(*[made.TODAY] * 3), "form")
    assert get(signed_in(client, world, "coordinator"), "draft-file", "first", binder.ref).status_code == 404


# ------------------------------------------------------------------------------------------------ what fails


def test_what_failed_is_said_with_the_way_out_and_tried_again_as_it_was(client, world):
    job = asked_for(signed_in(client, world, "viewer"), page="a4", known_at="2026-03-16T08:30")
    queue.take_next("machine 1")
    queue.fail(job, "machine 1", "The machine may be short of memory. Try a shorter period.")
    answer = client.get(page_of(job))
    assert "The draft was not made" in text_of(answer) and "Try a shorter period" in text_of(answer)
    assert "Try a shorter period" in text_of(get(client, "binders", "first"))
    again = asked_for(client, **fields_of(answer.content.decode()))
    assert again != job and again.draft and again.state == State.WAITING
    for name in ("from_on", "to_on", "as_of", "known_at", "page"):
        assert getattr(again, name) == getattr(job, name), name


# ------------------------------------------------------------------------------------------------ for a while


def test_after_a_while_the_draft_is_gone_and_its_pages_make_it_again(client, world, settings, folders):
    settings.DRAFT_HOURS = 2
    job = made_by_worker(signed_in(client, world, "viewer"))
    (file,) = (folders / "drafts").iterdir()
    with clock.at(made.NOW + timedelta(hours=2) - timedelta(seconds=1)):
        assert file_of(client, job).status_code == 200
        assert "a draft: ready" in text_of(get(client, "binders", "first"))
    with clock.at(made.NOW + timedelta(hours=2)):
        answer = file_of(client, job)
        assert answer.status_code == 410 and "kept for 2 hours" in text_of(answer)
        page = client.get(page_of(job))
        assert "The draft is gone" in text_of(page)
        assert "a draft: ready" not in text_of(get(client, "binders", "first"))
        for html in (answer.content.decode(), page.content.decode()):
            again = asked_for(client, **fields_of(html))
            assert again != job and (again.from_on, again.to_on) == (job.from_on, job.to_on)
    assert file.exists()
    os.utime(file, (time.time() - 7100, time.time() - 7100))
    assert drafts.sweep() == 0 and file.exists()
    os.utime(file, (time.time() - 7200, time.time() - 7200))
    assert drafts.sweep() == 1 and not file.exists()


@pytest.mark.parametrize("fault", ["lost", "altered"])
def test_a_file_that_is_lost_or_altered_is_never_handed_out(client, world, folders, fault):
    job = made_by_worker(signed_in(client, world, "viewer"))
    (file,) = (folders / "drafts").iterdir()
    file.unlink() if fault == "lost" else file.write_bytes(b"%PDF another one")
    answer = file_of(client, job)
    assert answer.status_code == 410 and "Make the draft again" in text_of(answer)
    assert ("is not the one that was made" in text_of(answer)) is (fault == "altered")


def test_asking_takes_few_queries_and_starts_a_worker(
    client, world, settings, monkeypatch, django_assert_max_num_queries
):
    settings.BINDER_WORKER = "page"
    started = []
    monkeypatch.setattr(workers, "start", started.append)
    signed_in(client, world, "viewer")
    asked_for(client)
    with django_assert_max_num_queries(16):
        asked_for(client, to="2026-03-15")
    assert len(started) == 2 and "--once" in started[0]
