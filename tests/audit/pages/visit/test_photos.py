"""Photos of a visit: kept beside it, recorded with it or after it, shown on its page and in its report."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from records import clock
from records.doors import uploads
from records.models import CounterReading, Job, Photo
from tests import world as build
from tests.audit.pages.visit.test_pages import END, SAME, Phone, built, everything_done, words  # noqa: F401 (built is a fixture)

pytestmark = pytest.mark.django_db


@pytest.fixture
def phone(built):  # noqa: F811
    return Phone(built).begin()


def jpeg(width=2000, height=1000) -> SimpleUploadedFile:
    out = BytesIO()
    Image.new("RGB", (width, height), "green").save(out, "JPEG")
    return SimpleUploadedFile("counter.jpg", out.getvalue(), "image/jpeg")


def test_photos_are_kept_beside_the_draft_and_recorded_with_the_visit(phone):
    assert phone.send("identify", **SAME, cycles="5012", photo=jpeg(), photo_caption="Counter").status_code == 302
    assert phone.send("identify", **SAME, cycles="5012", photo=jpeg(), photo_caption="Counter").status_code == 302
    kept = phone.draft.content["photos"]
    assert len(kept) == 1 and (kept[0]["width"], kept[0]["height"]) == (1600, 800)
    assert phone.client.get(f"{phone.root}photo/{kept[0]['sha256']}/")["Content-Type"] == "image/jpeg"
    assert Photo.objects.count() == 0
    everything_done(phone)
    phone.send("identify", **SAME, cycles="5012")
    phone.send("prove", V1="pass")
    phone.send("end", **END)
    where = phone.record().url
    photo = Photo.objects.get()
    job = Job.objects.get(happened_on=build.TODAY)
    assert (photo.caption, photo.about) == ("Counter", CounterReading.objects.get(job=job).origin)
    report = words(phone.client.get(where))
    assert f"/photos/{photo.ref}/" in report
    assert phone.client.get(f"/clinic/first/photos/{photo.ref}/").content.startswith(b"\xff\xd8\xff")
    assert Phone(phone.built, "other-coordinator").client.get(f"/clinic/first/photos/{photo.ref}/").status_code == 404


def recorded(phone, **identify) -> str:
    """Everything done, proven and signed. Returns the address of the visit on record."""
    everything_done(phone)
    phone.send("identify", **SAME, **identify)
    phone.send("prove", V1="pass")
    phone.send("end", **END)
    return phone.record().url


def outbox(phone) -> dict:
    return {"X-Outbox": str(phone.built.world.people["technician"].ref)}


def test_a_photo_that_comes_after_the_visit_was_recorded_is_recorded_about_the_same_row(phone):
    where = recorded(phone, cycles="5012")
    late = {"photo_caption": "Counter"}
    answers = [
        phone.client.post(f"{phone.root}1/identify/photo/", late | {"photo": jpeg()}, headers=headers)
        for headers in (outbox(phone), outbox(phone), {"Accept": "application/json"})
    ]
    assert [a.get("X-Outbox-Answer") for a in answers[:2]] == ["recorded", "recorded"]
    assert answers[0].json()["to"] == where and answers[2].json()["caption"] == "Counter"
    photo = Photo.objects.get()
    job = Job.objects.get(happened_on=build.TODAY)
    assert (photo.caption, photo.about) == ("Counter", CounterReading.objects.get(job=job).origin)
    assert photo.happened_on == build.TODAY
    phone.client.post(f"{phone.root}1/safe/photo/", {"photo": jpeg(640, 480)})
    assert Photo.objects.get(width=640).about == job.origin, "a page that is no row of its own is about the job"
    page = words(phone.client.get(where))
    assert page.count('class="visit-picture"') == 2


def test_what_is_no_photo_is_told_to_the_queue_of_the_device_in_words(phone):
    for _ in range(2):  # before it is recorded, and after
        sent = {"photo": SimpleUploadedFile("a.jpg", b"%PDF-1.7")}
        answer = phone.client.post(f"{phone.root}1/identify/photo/", sent, headers=outbox(phone))
        assert answer["X-Outbox-Answer"] == "refused"
        assert '<div class="problems"' in words(answer) and "That is no photo" in words(answer)
        recorded(phone)
    assert Photo.objects.count() == 0


def test_what_is_no_photo_is_refused_and_the_page_kept(phone):
    answer = phone.send("identify", **SAME, cycles="5012", photo=SimpleUploadedFile("a.jpg", b"%PDF-1.7"))
    assert answer.status_code == 422 and "That is no photo" in words(answer)
    assert phone.draft.content["steps"]["1/identify"]["data"]["cycles"] == "5012"


# ------------------------------------------------------------------------------------------------ a day that is full


@pytest.fixture
def full(phone, settings, monkeypatch):
    """No room is left to the technician today; answers the real moment, which the test moves."""
    moments = SimpleNamespace(now=datetime(2026, 3, 16, 12, tzinfo=UTC))
    monkeypatch.setattr(clock, "real", lambda: moments.now)
    with uploads.counted(technician(phone), phone.built.world.clinic, settings.UPLOADS_ACCOUNT_MIB * 2**20, "UTC"):
        pass
    return moments


def technician(phone):
    return phone.built.world.people["technician"]


def test_a_photo_for_which_there_is_no_room_is_told_and_what_was_typed_is_kept(phone, full):
    answer = phone.send("identify", **SAME, cycles="5012", photo=jpeg())
    assert answer.status_code == 422 and "This file was not kept" in words(answer)
    assert phone.draft.content["steps"]["1/identify"]["data"]["cycles"] == "5012"
    assert phone.draft.content["photos"] == []
    full.now += timedelta(hours=12)
    assert phone.send("identify", **SAME, cycles="5012", photo=jpeg()).status_code == 302
    assert len(phone.draft.content["photos"]) == 1


def test_a_device_is_told_to_keep_the_photo_and_from_when_to_send_it_again(phone, full):
    def sent(**headers):
        return phone.client.post(f"{phone.root}1/identify/photo/", {"photo": jpeg()}, headers=headers)

    answer = sent(**outbox(phone))
    assert (answer.status_code, answer["X-Outbox-Answer"], answer["Retry-After"]) == (507, "full", str(12 * 3600))
    assert '<div class="problems"' in words(answer) and "again from 2026-03-16 19:00" in words(answer)
    answer = sent(Accept="application/json")
    assert (answer.status_code, answer["Retry-After"]) == (507, str(12 * 3600))
    assert "This file was not kept" in answer.json()["problem"]
    full.now += timedelta(hours=12)
    assert sent(**outbox(phone))["X-Outbox-Answer"] == "recorded"
    assert len(phone.draft.content["photos"]) == 1
    # Sent once more it takes no more room, however full the day is.
    with uploads.counted(technician(phone), phone.built.world.clinic, 1023 * 2**20, "UTC"):
        pass
    assert sent(**outbox(phone))["X-Outbox-Answer"] == "recorded"


def test_the_visit_is_recorded_without_waiting_and_the_photo_follows_the_next_day(phone, full):
    where = recorded(phone, cycles="5012")
    assert "/visits/" in where and Job.objects.filter(happened_on=build.TODAY).count() == 1
    late = f"{phone.root}1/identify/photo/"
    assert phone.client.post(late, {"photo": jpeg()}, headers=outbox(phone))["X-Outbox-Answer"] == "full"
    assert Photo.objects.count() == 0
    full.now += timedelta(hours=12)
    assert phone.client.post(late, {"photo": jpeg()}, headers=outbox(phone))["X-Outbox-Answer"] == "recorded"
    job = Job.objects.get(happened_on=build.TODAY)
    assert Photo.objects.get().about == CounterReading.objects.get(job=job).origin


def test_a_photo_is_left_out_again(phone):
    phone.send("identify", **SAME, photo=jpeg())
    sha256 = phone.draft.content["photos"][0]["sha256"]
    phone.client.post(f"{phone.root}1/identify/photo/", {"drop": sha256})
    assert phone.draft.content["photos"] == []


def test_the_report_shows_its_photos_small_with_their_words_for_who_cannot_see_them(phone):
    """An alternative description is `Alt` of the structure element, ISO 32000-1, 14.9.3."""
    import pikepdf

    for n in range(3):
        phone.send("identify", **SAME, photo=jpeg(2000, 1000 + n), photo_caption=f"Strainer, side {n}")
    phone.send("identify", **SAME, photo=jpeg(500, 400), photo_caption="Lost one")
    where = recorded(phone)
    Path(settings.BLOBS_DIR, str(phone.built.world.clinic.ref), Photo.objects.get(width=500).sha256).unlink()
    first = phone.client.get(f"{where}report.pdf").content
    assert phone.client.get(f"{where}report.pdf").content == first, "same record, same bytes"
    with pikepdf.open(BytesIO(first)) as pdf:
        placed = [x for page in pdf.pages for x in page.Resources.get("/XObject", {}).values()]
        assert [int(x.Width) for x in placed] == [640, 640, 640]
        assert len(first) < 400_000
        alts = {str(o.Alt) for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and o.get("/S") == "/Figure"}
        assert {f"Photo: Strainer, side {n}" for n in range(3)} <= alts
    from pypdf import PdfReader

    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(first)).pages)
    assert "Strainer, side 2" in text and "its file is lost: Lost one" in text
