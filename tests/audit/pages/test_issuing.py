"""Binders on the pages: asked for, followed, listed, handed out; a company's all at once."""

from __future__ import annotations

import re
from datetime import date, timedelta
from html import unescape

import pytest
from django.urls import reverse

from audit.issue.jobs import queue, workers
from audit.models import BinderJob
from records import clock, log
from records.files import blobs
from tests import world as made
from tests.audit.pages.tools import get, signed_in, text_of
from tests.inline import refused
from tests.records.one_of_each import binder_issued

pytestmark = pytest.mark.django_db
State = BinderJob.State
DAYS = {"from": "2025-03-16", "to": "2026-03-16"}
WORKER = "another-machine 17"


@pytest.fixture(autouse=True)
def folders(settings, tmp_path):
    settings.BLOBS_DIR, settings.BINDER_WORKER = tmp_path, "none"
    return tmp_path


@pytest.fixture
def real(monkeypatch):
    """The real moment, which only moves by hand."""

    class Moment:
        now = clock.real()

    moment = Moment()
    monkeypatch.setattr(clock, "real", lambda: moment.now)
    return moment


def send(client, name, *args, **data):
    return client.post(reverse(name, args=args), data)


def asked_for(client, **changes) -> BinderJob:
    """Send the form of the first clinic and return the job it became."""
    answer = send(client, "make-binder", "first", **DAYS | changes)
    job = BinderJob.objects.get()
    assert (answer.status_code, answer.url) == (302, reverse("binder-job", args=["first", job.ref]))
    return job


def fields_of(answer) -> dict[str, str]:
    """What the forms of a page would send as it stands: hidden and shown inputs."""
    found = re.findall(
        r'<input type="(?:hidden|date|text)"[^>]*? name="([^"]+)" value="([^"]*)"', answer.content.decode()
    )
    return {name: unescape(value) for name, value in found}


def progress(client, job, query=""):
    return client.get(reverse("binder-job", args=["first", job.ref]) + query)


# ------------------------------------------------------------------------------------------------------ asking


def test_a_binder_is_for_an_inspector_unless_everything_is_asked_for(client, world):
    page = get(signed_in(client, world, "coordinator"), "make-binder", "first").content.decode()
    assert '<option value="inspector">For an inspector</option>' in page and 'value="everything"' in page
    assert asked_for(client).extent == "inspector"


def test_an_extent_that_is_not_known_is_refused_with_those_that_are(client, world):
    answer = send(signed_in(client, world, "coordinator"), "make-binder", "first", **DAYS, extent="half")
    assert answer.status_code == 422 and not BinderJob.objects.exists()
    assert "Choose one of: inspector, everything." in text_of(answer)


def test_the_form_of_the_clinics_page_asks_for_a_binder(client, world):
    page = get(signed_in(client, world, "coordinator"), "clinic", "first")
    typed = fields_of(page)
    assert (typed["from"], typed["to"]) == ("2025-03-16", "2026-03-16")
    assert f'method="post" action="{reverse("make-binder", args=["first"])}"' in page.content.decode()
    job = asked_for(client, request_key=typed["request_key"], page="a4", extent="everything")
    assert job.extent == "everything"
    assert (job.from_on, job.to_on, job.as_of) == (date(2025, 3, 16), date(2026, 3, 16), made.TODAY)
    assert (job.page, job.known_at, job.asked_by) == ("a4", None, world.people["coordinator"])
    assert (job.asked_at, job.state) == (made.NOW, State.WAITING)
    # Going back and sending it once more is the same binder.
    assert asked_for(client, request_key=typed["request_key"], page="a4", extent="everything") == job


def test_the_day_and_the_moment_of_the_page_are_carried_into_the_binder(client, world):
    page = get(signed_in(client, world, "coordinator"), "clinic", "first", known_at="2026-03-16T08:30")
    job = asked_for(client, **fields_of(page))
    assert (job.as_of, job.known_at) == (made.TODAY, made.NOW - timedelta(minutes=30))


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        ({"from": ""}, "The first day of the binder is missing"),
        ({"to": ""}, "The last day of the binder is missing"),
        ({"from": "soon"}, "“soon” is not a day that can be read (the first day of the binder)"),
        ({"to": "2026-03-17"}, "2026-03-17 (the last day of the binder) has not come yet"),
        ({"from": "2026-03-10", "to": "2026-03-01"}, "from 2026-03-10 to 2026-03-01. Swap the two days."),
        ({"page": "folio"}, "“folio” is no size of paper that is known. Choose one of: a4, letter."),
        ({"known_at": "soon"}, "“soon” is not a moment"),
        ({"as_of": "2099-01-01"}, "2099-01-01 (the day asked about) has not come yet"),
    ],
)
def test_what_no_binder_can_have_is_refused_and_what_was_typed_is_kept(client, world, typed, told):
    answer = send(signed_in(client, world, "operator"), "make-binder", "first", **DAYS | typed)
    assert answer.status_code == 422 and told in text_of(answer)
    kept = fields_of(answer)
    assert {name: kept.get(name, "") for name in ("from", "to")} == {n: (DAYS | typed)[n] for n in ("from", "to")}
    assert not BinderJob.objects.exists()


def test_who_only_looks_gets_a_draft_and_no_form_to_issue(client, world):
    page = get(signed_in(client, world, "viewer"), "clinic", "first").content.decode()
    assert f'method="get" action="{reverse("binder", args=["first"])}"' in page
    assert reverse("make-binder", args=["first"]) not in page
    assert send(client, "make-binder", "first", **DAYS).status_code == 403
    assert reverse("make-binder", args=["first"]) not in get(client, "binders", "first").content.decode()


# --------------------------------------------------------------------------------------------------- following


def test_the_page_of_a_job_says_how_far_it_is(client, world, real):
    signed_in(client, world, "coordinator")
    queue.ask(world.other_clinic, world.people["other-coordinator"], queue.Wish(*[made.TODAY] * 3), "x")
    job = asked_for_second(client)
    assert "It waits for its turn: 1 binder before it." in text_of(progress(client, job))
    queue.take_next(WORKER)
    queue.take_next(WORKER)
    queue.tell_progress(job, WORKER, 3, 7, "drawing the pages")
    answer = progress(client, job)
    assert "Step 3 of 7: Drawing the pages" in text_of(answer)
    assert '<progress max="7" value="3"' in answer.content.decode()


def asked_for_second(client) -> BinderJob:
    send(client, "make-binder", "first", **DAYS)
    return BinderJob.objects.latest("pk")


def test_the_page_looks_again_by_itself_until_the_job_is_over_and_can_be_kept_still(client, world):
    job = asked_for(signed_in(client, world, "coordinator"))
    follows = '<meta http-equiv="refresh" content="2">'
    assert follows in progress(client, job).content.decode()
    still = progress(client, job, "?still=1").content.decode()
    assert follows not in still and "Let it follow by itself" in still
    queue.take_next(WORKER)
    queue.fail(job, WORKER, "no key; make one")
    assert follows not in progress(client, job).content.decode()


def test_a_failed_job_says_why_and_can_be_tried_again_as_it_was(client, world):
    job = asked_for(signed_in(client, world, "coordinator"), page="a4", known_at="2026-03-16T08:30")
    queue.take_next(WORKER)
    queue.fail(job, WORKER, "This installation has no seal key. Make one.")
    answer = progress(client, job)
    assert "The binder was not made" in text_of(answer) and "has no seal key. Make one." in text_of(answer)
    again = send(client, "make-binder", "first", **fields_of(answer))
    assert again.status_code == 302
    new = BinderJob.objects.latest("pk")
    assert new != job and new.state == State.WAITING
    for name in ("from_on", "to_on", "as_of", "known_at", "page"):
        assert getattr(new, name) == getattr(job, name), name
    signed_in(client, world, "viewer")
    assert "Try again" not in text_of(progress(client, job))


def test_a_job_that_is_done_leads_to_the_file_and_its_entry(client, world):
    job = asked_for(signed_in(client, world, "coordinator"))
    issue = binder_issued(world, content=b"%PDF the signed one")
    queue.take_next(WORKER)
    queue.finish(job, WORKER, issue.ref)
    answer = progress(client, job)
    html = answer.content.decode()
    assert issue.file_sha256 in html and "12 pages, signed and kept" in text_of(answer)
    assert reverse("record", args=["first", "binderissue", issue.ref]) in html
    file = client.get(reverse("issued-binder", args=["first", issue.ref]))
    assert file.content == b"%PDF the signed one" and file["Content-Type"] == "application/pdf"
    assert file["Content-Disposition"] == f'attachment; filename="{issue.filename}"'


def test_where_pages_start_no_worker_a_job_that_nobody_takes_says_so(client, world, real):
    job = asked_for(signed_in(client, world, "coordinator"))
    assert "Nobody is making binders" not in text_of(progress(client, job))
    with clock.at(made.NOW + timedelta(seconds=21)):
        assert "Nobody is making binders" in text_of(progress(client, job))
        queue.take_next(WORKER)
        assert "Nobody is making binders" not in text_of(progress(client, job))


def test_a_page_starts_one_worker_when_a_job_stands_still(client, world, settings, monkeypatch, real):
    settings.BINDER_WORKER, settings.BINDER_PROCESSES = "page", 2
    started = []
    monkeypatch.setattr(workers, "start", started.append)
    job = asked_for(signed_in(client, world, "coordinator"))
    for _ in range(3):
        progress(client, job)
    assert len(started) == 1
    assert started[0][1:] == workers.command(processes=2)[1:] and "--once" in started[0]
    assert f"--stand-at={made.NOW.isoformat()}" in started[0], "it lives at the moment the pages stand at"
    queue.take_next(WORKER)
    progress(client, job)
    assert len(started) == 1
    real.now += timedelta(seconds=61)
    progress(client, job)
    assert len(started) == 2, "whoever looks at a job whose worker is gone has it taken up again"


def test_a_worker_that_cannot_be_started_is_told_of_and_the_job_waits(client, world, settings, monkeypatch, real):
    settings.BINDER_WORKER = "page"

    def no_memory(words):
        raise OSError("no memory")

    monkeypatch.setattr(workers, "start", no_memory)
    job = asked_for(signed_in(client, world, "coordinator"))
    assert job.state == State.WAITING
    with clock.at(made.NOW + timedelta(seconds=21)):
        assert "Nobody is making binders" in text_of(progress(client, job))


def test_the_page_of_a_job_takes_few_queries_however_many_wait(client, world, django_assert_max_num_queries, real):
    job = asked_for(signed_in(client, world, "coordinator"))

    def queries() -> int:
        with django_assert_max_num_queries(60) as taken:
            progress(client, job)
        return len(taken.captured_queries)

    few = queries()
    for n in range(20):
        queue.ask(world.other_clinic, world.people["other-coordinator"], queue.Wish(*[made.TODAY] * 3), n)
    assert queries() == few <= 16


# ------------------------------------------------------------------------------------------ list and handing out


def test_the_list_names_who_issued_what_and_when(client, world):
    signed_in(client, world, "viewer")
    assert "No binder was issued yet" in text_of(get(client, "binders", "first"))
    first = binder_issued(world, content=b"one")
    with clock.at(made.NOW + timedelta(hours=1)):
        second = binder_issued(world, "technician", content=b"two", known_at=made.NOW)
        answer = get(client, "binders", "first")
    text, html = text_of(answer), answer.content.decode()
    assert "Issued 16 Mar 2026, 09:00 by Ana Coordinator." in text
    assert "Issued 16 Mar 2026, 10:00 by Pat Technician, Keepers." in text
    assert "from what had been logged by 16 Mar 2026, 09:00" in text
    assert html.index(second.file_sha256) < html.index(first.file_sha256), "the newest first"


def test_a_long_list_is_turned_over_and_takes_as_many_queries_as_a_short_one(
    client, world, django_assert_max_num_queries
):  # fmt: skip
    signed_in(client, world, "coordinator")

    def queries() -> int:
        with django_assert_max_num_queries(60) as taken:
            assert get(client, "binders", "first").status_code == 200
        return len(taken.captured_queries)

    binder_issued(world)
    asked_for(client)
    few = queries()
    for n in range(30):
        binder_issued(world, "technician" if n % 2 else "coordinator", content=b"%d" % n)
        send(client, "make-binder", "first", **DAYS)
    assert queries() == few <= 16
    assert "Page 1 of 2" in text_of(get(client, "binders", "first"))
    older = get(client, "binders", "first", page=2)
    assert older.content.decode().count("Issued 16 Mar") == 6


@pytest.mark.parametrize("fault", ["lost", "altered"])
def test_a_file_that_is_lost_or_altered_is_never_handed_out(client, world, fault):
    issue = binder_issued(world, content=b"%PDF the signed one")
    path = blobs._path(world.clinic, issue.file_sha256)
    path.unlink() if fault == "lost" else path.write_bytes(b"%PDF another one")
    signed_in(client, world, "coordinator")
    answer = client.get(reverse("issued-binder", args=["first", issue.ref]))
    assert answer.status_code == 410 and issue.file_sha256 in text_of(answer)
    told = "It is not in the store of files any more" if fault == "lost" else "is not the one that was issued"
    assert told in text_of(answer) and "backup" in text_of(answer)


def test_after_the_agreement_a_company_gets_only_the_binders_it_issued(client, world):
    own, foreign = binder_issued(world, "technician"), binder_issued(world, content=b"the clinic's")
    agreement = log.changes.access.agreements().get(clinic=world.clinic)
    log.end_agreement(
        by=world.people["coordinator"], request_key=made.key(), agreement=agreement,
        effective_on=made.TODAY - timedelta(days=1), reason="changed company",
    )  # fmt: skip
    signed_in(client, world, "technician")
    assert client.get(reverse("issued-binder", args=["first", own.ref])).status_code == 200
    assert client.get(reverse("issued-binder", args=["first", foreign.ref])).status_code == 404
    assert get(client, "binders", "first").status_code == 404


# ------------------------------------------------------------------------------------------------ a company's all


@pytest.fixture
def served(world):
    """Two clinics of one company, in two time zones."""
    by = world.people["other-coordinator"]
    log.log_terms(
        by=by, request_key=made.key(), clinic=world.other_clinic, effective_on=made.BEGIN, name="Other Clinic",
        programme="dental", address="", time_zone="Pacific/Auckland", week_start=0, regime="us-dental-cdc-2003",
    )  # fmt: skip
    log.log_agreement(
        by=by, request_key=made.key(), clinic=world.other_clinic, company=world.company, effective_on=made.BEGIN
    )
    return world


def test_a_company_asks_for_all_its_clinics_each_as_of_its_own_day(client, served):
    signed_in(client, served, "dispatcher")
    assert reverse("company-binders", args=["keepers"]) in get(client, "company", "keepers").content.decode()
    typed = fields_of(get(client, "company-binders", "keepers"))
    answer = send(client, "company-binders", "keepers", **typed)
    jobs = BinderJob.objects.order_by("clinic__slug")
    assert answer.url == reverse("company-batch", args=["keepers", jobs[0].batch])
    # Nine in the morning in Chicago is the next day in Auckland.
    assert [(j.clinic.slug, j.as_of, j.to_on) for j in jobs] == [
        ("first", date(2026, 3, 16), date(2026, 3, 16)),
        ("other", date(2026, 3, 17), date(2026, 3, 16)),
    ]
    assert all(j.asked_by == served.people["dispatcher"] and j.company == served.company for j in jobs)
    send(client, "company-binders", "keepers", **typed)
    assert BinderJob.objects.count() == 2


def test_a_batch_shows_each_clinic_and_what_failed(client, served):
    signed_in(client, served, "dispatcher")
    page = send(client, "company-binders", "keepers", **DAYS).url
    assert "0 of 2 done" in text_of(client.get(page))
    first, other = BinderJob.objects.order_by("clinic__slug")
    assert queue.take_next(WORKER).pk in (first.pk, other.pk) and queue.take_next(WORKER)
    issue = binder_issued(served, "dispatcher")
    queue.finish(first, WORKER, issue.ref)
    queue.fail(other, WORKER, "The machine may be short of memory.")
    answer = client.get(page)
    text, html = text_of(answer), answer.content.decode()
    assert "2 of 2 done" in text and "1 not made" in text and "short of memory" in text
    assert reverse("issued-binder", args=["first", issue.ref]) in html
    assert 'http-equiv="refresh"' not in html
    assert "1 of 2 issued, 1 not made" in text_of(get(client, "company-binders", "keepers"))


def test_a_batch_takes_as_many_queries_for_many_clinics_as_for_one(client, world, django_assert_max_num_queries):
    signed_in(client, world, "dispatcher")

    def queries(address: str, data=None) -> int:
        with django_assert_max_num_queries(60) as taken:
            answer = client.post(address, data) if data else client.get(address)
            assert answer.status_code in (200, 302)
        return len(taken.captured_queries)

    form = reverse("company-binders", args=["keepers"])
    client.post(form, {})  # the first within the hour begins its count
    asking = queries(form, DAYS)
    batch = reverse("company-batch", args=["keepers", BinderJob.objects.latest("pk").batch])
    one = queries(batch)
    for n in range(4):
        clinic = made.clinic_of(world.people["coordinator"], f"more-{n}", f"More {n}")
        log.log_agreement(
            by=world.people["coordinator"], request_key=made.key(), clinic=clinic, company=world.company,
            effective_on=made.BEGIN,
        )  # fmt: skip
    assert queries(form, DAYS | {"request_key": "another"}) == asking <= 16
    batch = reverse("company-batch", args=["keepers", BinderJob.objects.latest("pk").batch])
    assert BinderJob.objects.count() == 6
    assert queries(batch) == one <= 14


def test_whoever_only_looks_for_a_company_asks_for_nothing(client, world):
    person = made.account("company-viewer", "Vi", "Viewer")
    log.log_membership(
        by=world.people["dispatcher"], request_key=made.key(), organisation=world.company, account=person,
        role="viewer", effective_on=made.BEGIN,
    )  # fmt: skip
    client.force_login(person)
    assert "may look, but not issue binders" in text_of(get(client, "company-binders", "keepers"))
    assert send(client, "company-binders", "keepers", **DAYS).status_code == 403
    assert not BinderJob.objects.exists()


def test_a_company_without_clinics_is_told_so(client, world):
    signed_in(client, world, "other-dispatcher")
    answer = send(client, "company-binders", "strangers", **DAYS)
    assert answer.status_code == 422 and "serves no clinic today" in text_of(answer)


def test_no_page_of_binders_carries_script_or_style(client, world):
    signed_in(client, world, "dispatcher")
    binder_issued(world)
    send(client, "make-binder", "first", **DAYS)
    job = BinderJob.objects.get()
    batch = send(client, "company-binders", "keepers", **DAYS).url
    pages = [reverse(n, args=["first"]) for n in ("binders", "make-binder")]
    pages += [reverse("binder-job", args=["first", job.ref]), reverse("company-binders", args=["keepers"]), batch]
    for address in pages:
        html = client.get(address).content.decode()
        assert refused(html) == [], address
        assert "<h1>" in html
