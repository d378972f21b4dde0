"""Broken uploads, shortened (`python -m tests.faults.uploads` sends ten thousand), and a few through the page."""

from __future__ import annotations

import random

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from records import clock
from records.files import apart
from records.models import Document
from tests import world as made
from tests.faults import uploads, uploads_over_http
from tests.faults.apart import listening, serving


def test_eighty_broken_uploads_leave_the_reader_where_it_is():
    apart.examined(uploads.samples()["a.jpg"], "a.jpg")
    reader = apart._THIS._process.pid
    told = uploads.run(80, seed=7)
    assert told.faults == [] and told.slowest < uploads.SECONDS
    assert told.what["paper refused"] > 15 and told.what["photo refused"] > 40, told.what
    assert apart._THIS._process.pid == reader and told.others


def test_a_fault_would_be_told(monkeypatch):
    def falls_over(content, name):
        raise RuntimeError("fell over")

    monkeypatch.setattr(apart, "examined", falls_over)
    told = uploads.run(3, seed=7)
    assert len(told.faults) == 3 and "fell over" in told.faults[0]


@pytest.mark.django_db
def test_the_page_answers_each_with_a_refusal_or_a_record(settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    chance, every = random.Random(3), list(uploads.samples().items())
    with clock.at(made.NOW):
        world = made.make()
        client = Client()
        client.force_login(world.people["coordinator"])
        address = reverse("add-document", args=[world.clinic.slug])
        answers = []
        for n in range(25):
            name, content = chance.choice(every)
            sent = SimpleUploadedFile(name, uploads.broken(content, chance))
            fields = {"request_key": made.key(), "kind": "other", "title": f"Paper {n}", "valid_from": made.TODAY}
            answers.append(client.post(address, fields | {"file": sent}))
    assert {answer.status_code for answer in answers} == {302, 422}
    assert Document.objects.count() == sum(answer.status_code == 302 for answer in answers)
    refused = [answer for answer in answers if answer.status_code == 422]
    assert all(answer.context["form"].errors for answer in refused)


@pytest.mark.django_db(transaction=True)
def test_a_server_answers_each_and_opens_its_pages_meanwhile(settings, tmp_path, monkeypatch):
    settings.BLOBS_DIR = tmp_path
    monkeypatch.setattr(uploads_over_http, "BEFORE_SECONDS", 0.5)
    there = listening()
    with clock.at(made.NOW):
        site = uploads_over_http.site_of(made.make(), there.getsockname()[1])
    server = serving(there)
    try:
        told = uploads_over_http.run(site, 24, seed=7)
    finally:
        server.kill()
        server.ended()
        there.close()
    assert told.faults == [] and sum(told.what.values()) == 24 and told.others
    assert Document.objects.count() == told.what["paper taken"]
    assert {"paper refused", "photo refused"} <= set(told.what), told.what
