"""So much may be kept of files in a day, by one person and by one clinic; the edge itself is inside."""

from __future__ import annotations

import os
import threading
from datetime import UTC, datetime

import pytest
from django.core.exceptions import ImproperlyConfigured
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connections
from django.urls import reverse

from audit.site import server
from records import clock
from records.doors import uploads
from records.models import BioReading, Document, Taken
from tests import world as made

pytestmark = pytest.mark.django_db
ZONE = "America/Chicago"
MIB = 1024 * 1024


@pytest.fixture(autouse=True)
def small(settings, tmp_path):
    settings.UPLOADS_ACCOUNT_MIB, settings.UPLOADS_CLINIC_MIB, settings.BLOBS_DIR = 2, 3, tmp_path


@pytest.fixture
def midday(moments):
    moments.now = datetime(2026, 3, 16, 12, tzinfo=UTC)
    return moments


def keep(world, who: str, size: int, clinic=None) -> None:
    with uploads.counted(world.people[who], clinic or world.clinic, size, ZONE):
        pass


def refused(world, who: str, size: int, clinic=None) -> uploads.DayIsFull:
    with pytest.raises(uploads.DayIsFull) as full:
        keep(world, who, size, clinic)
    return full.value


# ------------------------------------------------------------------------------------------------ counting


def test_a_person_may_have_kept_exactly_so_much_and_not_one_byte_more(world, midday):
    keep(world, "coordinator", MIB)
    keep(world, "coordinator", MIB - 1024)
    assert "1 KiB are left today" in str(refused(world, "coordinator", 1025))
    keep(world, "coordinator", 1024)
    assert "it has 1 KiB" in str(refused(world, "coordinator", 1))
    keep(world, "operator", MIB)  # what was refused took nothing of the clinic either
    keep(world, "coordinator", 0)


def test_a_clinic_may_have_kept_exactly_so_much_whoever_sends_it(world, midday):
    keep(world, "coordinator", 2 * MIB)
    keep(world, "operator", MIB - 1024)
    full = refused(world, "technician", 2048)
    assert "3 MiB of files that one clinic may have kept a day" in str(full)
    keep(world, "technician", 1024)
    refused(world, "technician", 1)
    keep(world, "technician", 2 * MIB - 1024, world.other_clinic)  # of his own share only what was kept is gone
    refused(world, "technician", 1, world.other_clinic)


def test_the_next_day_there_is_room_again_and_the_message_says_from_when(world, midday):
    keep(world, "coordinator", 2 * MIB)
    full = refused(world, "coordinator", 1)
    assert full.seconds == 12 * 3600 and "again from 2026-03-16 19:00 (America/Chicago)" in str(full)
    midday.pass_by(seconds=full.seconds - 1)
    assert refused(world, "coordinator", 1).seconds == 1
    midday.pass_by(seconds=1)
    keep(world, "coordinator", 2 * MIB)
    assert Taken.objects.filter(count=2048).count() == 2, "of the day before nothing is left"


def test_what_was_not_kept_is_not_counted(world, midday):
    for fault in (ValueError, KeyboardInterrupt):
        with pytest.raises(fault), uploads.counted(world.people["coordinator"], world.clinic, 2 * MIB, ZONE):
            raise fault
    assert set(Taken.objects.values_list("count", flat=True)) == {0}
    keep(world, "coordinator", 2 * MIB)


@pytest.mark.parametrize("theirs", [1, 700, 724, 725])
def test_somebody_elses_first_file_of_the_day_between_two_looks_takes_no_more_than_its_own_room(
    world, midday, settings, theirs
):
    settings.UPLOADS_ACCOUNT_MIB = settings.UPLOADS_CLINIC_MIB = 1
    stolen = []

    def meanwhile(execute, sql, params, many, context):
        told = execute(sql, params, many, context)
        if sql.startswith('UPDATE "records_taken"') and not stolen:
            stolen.append(sql)
            key, span = params[1:3]
            Taken.objects.create(key=key, span=span, count=theirs)
        return told

    with connections["default"].execute_wrapper(meanwhile):
        if theirs + 300 <= 1024:
            keep(world, "coordinator", 300 * 1024)
            kept = sorted([300, theirs + 300])
        else:
            refused(world, "coordinator", 300 * 1024)
            kept = [theirs]
    assert stolen and sorted(Taken.objects.values_list("count", flat=True)) == kept


@pytest.mark.django_db(transaction=True)
def test_of_many_at_once_no_more_are_kept_than_there_is_room_for(settings):
    settings.UPLOADS_ACCOUNT_MIB = settings.UPLOADS_CLINIC_MIB = 1
    with clock.at(made.NOW):
        world, kept = made.make(), []

    def work() -> None:
        try:
            keep(world, "coordinator", 300 * 1024)
            kept.append(1)
        except uploads.DayIsFull:
            pass
        finally:
            connections.close_all()

    threads = [threading.Thread(target=work) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(kept) == 3 and set(Taken.objects.values_list("count", flat=True)) == {900}


@pytest.mark.parametrize("said", ["19", "0", "-1", "much", "", "20.5", "٢٠"])
def test_a_setting_that_is_no_number_of_mib_or_too_small_says_what_to_set(said):
    name = "STANDING_UPLOADS_CLINIC_MIB"
    assert server.whole_number(name, "20", least=20) == 20
    with pytest.raises(ImproperlyConfigured, match="is “.*”. Set a whole number of 20 or more, or leave it out"):
        server.whole_number(name, said, least=20)


# ------------------------------------------------------------------------------------------------ papers


def paper(content: bytes, title="Invented procedure", key=None) -> dict:
    file = SimpleUploadedFile("procedure.txt", content)
    fields = {"request_key": key or made.key(), "kind": "procedure", "title": title, "valid_from": "2026-03-02"}
    return fields | {"file": file}


def text(size: int) -> bytes:
    return os.urandom(size // 2).hex().encode() + b"x" * (size % 2)


def send(browser, world, content, **more):
    return browser.post(reverse("add-document", args=[world.clinic.slug]), paper(content, **more))


def test_a_paper_that_fits_is_filed_and_one_byte_more_is_refused_with_all_that_was_typed(world, door, midday):
    browser, _ = door("coordinator")
    assert send(browser, world, text(2 * MIB - 1024)).status_code == 302
    answer = send(browser, world, text(1025), title="A title of some length")
    assert answer.status_code == 422 and Document.objects.count() == 1
    (problem,) = answer.context["form"].errors["file"]
    assert "This file was not kept: it has 2 KiB" in problem and "19:00 (America/Chicago)" in problem
    page = answer.content.decode()
    assert 'value="A title of some length"' in page and 'value="2026-03-02"' in page
    assert send(browser, world, text(1024)).status_code == 302
    midday.pass_by(hours=12)
    assert send(browser, world, text(2 * MIB)).status_code == 302


def test_a_paper_that_is_refused_for_itself_takes_no_room_and_one_sent_twice_takes_it_once(world, door, midday):
    browser, _ = door("coordinator")
    for _ in range(3):
        assert send(browser, world, b"%PDF-1.7 " + os.urandom(MIB)).status_code == 422
    content, key = text(2 * MIB), made.key()
    for _ in range(3):
        assert send(browser, world, content, key=key).status_code == 302
    assert Document.objects.count() == 1
    assert send(browser, world, content, title="The same file again").status_code == 302, "it takes no room"


def test_the_report_of_a_laboratory_and_its_reading_are_both_kept_or_none(world, door, midday):
    test = made.spore_test(world, made.TODAY.replace(day=9), test="", site="laboratory")
    browser, _ = door("coordinator")
    keep(world, "coordinator", 2 * MIB - 1024)
    address = reverse("day-read", args=[world.clinic.slug, test.ref])
    fields = {"request_key": made.key(), "on": "2026-03-15", "known_on": "2026-03-16", "test": "no growth"}
    fields |= {"control": "growth", "report": "R-1"}
    answer = browser.post(address, fields | {"paper_file": SimpleUploadedFile("r.txt", text(1025))})
    assert answer.status_code == 422 and "This file was not kept" in answer.content.decode()
    assert 'value="R-1"' in answer.content.decode()
    assert not BioReading.objects.exists() and not Document.objects.exists()
    answer = browser.post(address, fields | {"paper_file": SimpleUploadedFile("r.txt", text(1024))})
    assert answer.status_code == 302, answer.content.decode()
    assert BioReading.objects.count() == Document.objects.count() == 1
