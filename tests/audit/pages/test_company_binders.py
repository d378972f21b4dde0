"""A company's binders, all at once: asked for, followed; and no page of binders carries script or style."""

from __future__ import annotations

from datetime import date

import pytest
from django.urls import reverse

from audit.issue.jobs import queue
from audit.models import BinderJob
from records import log
from tests import world as made
from tests.audit.pages.binder_forms import DAYS, WORKER, fields_of, send
from tests.audit.pages.tools import get, signed_in, text_of
from tests.inline import refused
from tests.records.one_of_each import binder_issued

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def folders(settings, tmp_path):
    settings.BLOBS_DIR, settings.BINDER_WORKER = tmp_path, "none"


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
