"""The database is busy, full, read-only or away: 503 with what was kept and what to do, and never a fault."""

from __future__ import annotations

import errno
import sqlite3

import pytest
from django.db import OperationalError, connection
from django.test import Client
from django.urls import reverse

from audit.site import trouble
from records import clock
from records import models as m
from records.log import submission
from tests import world as build
from tests.records.page_form import form_of
from tests.records.typed import text_of

SAID = {
    "busy": "database is locked",
    "full": "database or disk is full",
    "read-only": "attempt to write a readonly database",
    "away": 'connection failed: connection to server at "127.0.0.1" failed: Connection refused',
}


@pytest.mark.parametrize("kind", SAID)
def test_what_is_the_matter_is_told_from_a_fault_of_the_program(kind):
    assert trouble.kind_of(OperationalError(SAID[kind])) == kind


def test_what_else_goes_wrong_is_a_fault_of_the_program():
    assert trouble.kind_of(OperationalError("no such column: x")) == trouble.kind_of(ValueError("is locked")) == ""
    assert trouble.kind_of(OSError(errno.ENOSPC, "No space left on device")) == "full"
    assert trouble.kind_of(OSError(errno.EPIPE, "Broken pipe")) == ""


@pytest.fixture
def world(db):
    with clock.at(build.NOW):
        yield build.make()


@pytest.fixture
def failing(monkeypatch):
    """The database refuses every entry in that way until it is told not to."""

    def refuse(kind):
        def locked_ledger(organisation):
            raise OperationalError(SAID[kind])

        monkeypatch.setattr(submission, "locked_ledger", locked_ledger)

    refuse.over = lambda: monkeypatch.undo()
    return refuse


def filled_in(client, world):
    address = reverse("log-chemical", args=["first"])
    typed = form_of(client.get(address)) | {"unit": str(world.unit.ref), "type": "5", "result": "pass"}
    return address, typed | {"on": build.TODAY.isoformat()}


@pytest.mark.parametrize("kind", SAID)
def test_a_form_that_finds_no_room_is_given_back_and_recorded_once_when_it_is_sent_again(
    world, client, failing, kind
):
    client.force_login(world.people["coordinator"])
    address, typed = filled_in(client, world)
    before = m.Entry.objects.count()
    failing(kind)
    answer = client.post(address, typed)
    said = text_of(answer)
    assert answer.status_code == 503 and int(answer["Retry-After"]) > 0
    assert "Nothing was lost" in said and "Send it again" in said and "recorded once" in said
    assert m.Entry.objects.count() == before
    given_back = form_of(answer)
    assert {k: v for k, v in given_back.items() if v != [""]} == {
        k: v if isinstance(v, list) else [v] for k, v in typed.items() if v not in ("", [""])
    }
    failing.over()
    assert client.post(address, given_back).status_code == 302
    assert client.post(address, given_back).status_code == 302
    assert m.Entry.objects.count() == before + 1


def test_a_device_keeps_what_it_could_not_send(world, client, failing):
    client.force_login(world.people["coordinator"])
    address, typed = filled_in(client, world)
    failing("busy")
    answer = client.post(address, typed, headers={"X-Outbox": str(world.people["coordinator"].ref)})
    assert (answer.status_code, answer["X-Outbox-Answer"]) == (503, "busy")


def test_a_pass_phrase_is_never_given_back(db, client, monkeypatch):
    def refuse(*args, **kwargs):
        raise OperationalError(SAID["read-only"])

    monkeypatch.setattr("django.contrib.auth.forms.AuthenticationForm.clean", refuse)
    answer = client.post(reverse("sign-in"), {"username": "ana", "password": "correct kettle bellows"})
    assert answer.status_code == 503 and b"kettle" not in answer.content
    assert "may be read and not written to" in text_of(answer)


def test_what_is_raised_outside_of_a_page_is_answered_the_same_way(db, settings, monkeypatch):
    """The session is kept after the page is made: nothing of it reaches the handler of pages."""

    def refuse(*args, **kwargs):
        raise OperationalError(SAID["full"])

    settings.DEBUG = False
    monkeypatch.setattr("django.contrib.sessions.middleware.SessionMiddleware.process_response", refuse)
    answer = Client(raise_request_exception=False).get(reverse("sign-in"))
    assert answer.status_code == 503 and "The disk is full" in text_of(answer)


def test_a_fault_of_the_program_stays_one_and_names_the_number_of_the_request(db, settings, monkeypatch):
    def broken(*args, **kwargs):
        raise ArithmeticError("an invented fault")

    settings.DEBUG = False
    monkeypatch.setattr("django.contrib.auth.forms.AuthenticationForm.clean", broken)
    client = Client(raise_request_exception=False)
    answer = client.post(reverse("sign-in"), {"username": "ana", "password": "correct kettle bellows"})
    assert answer.status_code == 500 and answer["X-Request-ID"] in text_of(answer)


@pytest.mark.django_db(transaction=True)
def test_a_write_that_waits_too_long_says_that_many_record(client, monkeypatch):
    """With a real lock: another process holds the database for longer than is waited."""
    if connection.vendor != "sqlite":
        pytest.skip("PostgreSQL takes several writers")
    with clock.at(build.NOW):
        world = build.make()
        client.force_login(world.people["coordinator"])
        address, typed = filled_in(client, world)
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA busy_timeout = 50")
        other = sqlite3.connect(connection.settings_dict["NAME"], isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        try:
            answer = client.post(address, typed)
        finally:
            other.execute("ROLLBACK")
            other.close()
        assert answer.status_code == 503 and "Many people record at this moment" in text_of(answer)
        assert client.post(address, form_of(answer)).status_code == 302
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA busy_timeout = 40000")


@pytest.mark.django_db(transaction=True)
def test_whoever_is_signed_in_goes_on_reading_where_nothing_can_be_written(world, client):
    """Answers that would have to be judged anew are not shown stale: they are said to be being judged."""
    if connection.vendor != "sqlite":
        pytest.skip("tried with a database file")
    client.force_login(world.people["dispatcher"])
    pages = [reverse("clinic", args=["first"]), reverse("unit", args=["first", world.unit.ref])]
    pages += [
        reverse("day", args=["first"]),
        reverse("company", args=["keepers"]),
        reverse("entries", args=["first"]),
    ]
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA query_only = ON")
        try:
            found = {page: client.get(page).status_code for page in pages}
            refused = client.post(reverse("log-chemical", args=["first"]), {})
            refused_at_the_door = Client().post(reverse("sign-in"), {"username": "ana", "password": "x"})
        finally:
            cursor.execute("PRAGMA query_only = OFF")
    assert found == dict.fromkeys(pages, 200)
    assert refused.status_code == 422  # looked at, and nothing to be written
    assert refused_at_the_door.status_code == 503  # a try that did not fit is noted, so none is looked at now


@pytest.mark.django_db(transaction=True)
def test_signing_in_says_that_nothing_can_be_written_and_works_as_soon_as_it_can(world, client):
    """With a real database that may only be read, and the right pass phrase."""
    if connection.vendor != "sqlite":
        pytest.skip("tried with a database file")
    person = world.people["coordinator"]
    person.set_password("correct kettle bellows")
    person.save()
    typed = {"username": "coordinator", "password": "correct kettle bellows"}
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA query_only = ON")
        try:
            answer = client.post(reverse("sign-in"), typed)
        finally:
            cursor.execute("PRAGMA query_only = OFF")
    assert answer.status_code == 503 and "signing in notes that you came" in text_of(answer)
    assert b"kettle" not in answer.content and settings_cookie() not in client.cookies
    assert client.post(reverse("sign-in"), typed).status_code == 302


def settings_cookie() -> str:
    from django.conf import settings

    return settings.SESSION_COOKIE_NAME


@pytest.mark.django_db(transaction=True)
def test_a_database_that_is_really_full_refuses_with_what_was_typed_and_takes_it_later(client):
    if connection.vendor != "sqlite":
        pytest.skip("tried with a database file")
    with clock.at(build.NOW):
        world = build.make()
        client.force_login(world.people["coordinator"])
        address, typed = filled_in(client, world)
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA page_count")
            cursor.execute(f"PRAGMA max_page_count = {cursor.fetchone()[0]}")
        try:
            for _ in range(400):  # until what room its last pages have is used
                answer = client.post(address, typed | {"request_key": str(build.key())})
                if answer.status_code != 302:
                    break
            before = m.Entry.objects.count()
        finally:
            with connection.cursor() as cursor:
                cursor.execute("PRAGMA max_page_count = 1073741823")
        assert answer.status_code == 503 and "The disk is full" in text_of(answer)
        assert client.post(address, form_of(answer)).status_code == 302
        assert m.Entry.objects.count() == before + 1
