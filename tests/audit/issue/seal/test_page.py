"""The page on which anyone checks a file: what it says to whom, and what it refuses."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from audit.issue.seal import keys
from audit.pages import check_binder as page
from records import clock, log
from records.models import Entry
from tests import world as made
from tests.audit.issue.seal import files
from tests.audit.pages.tools import signed_in, text_of
from tests.inline import refused

pytestmark = pytest.mark.django_db
REASON = "the cycle was another one"


@pytest.fixture(autouse=True)
def _standing_now():
    cache.clear()
    with clock.at(made.NOW + timedelta(hours=1)):
        yield


@pytest.fixture
def world():
    with clock.at(made.NOW):
        return made.make()


@pytest.fixture
def content(world, seal):
    """A binder that names one spore test, which is corrected afterwards."""
    test = made.spore_test(world, date(2026, 3, 10))
    content = files.signed(files.body(files.of_world(world, [(str(test.entry.number), test.short_ref)])))
    log.correct(
        by=world.people["coordinator"], request_key=made.key(), row=test, changes={"cycle_type": "unwrapped"},
        reason=REASON,
    )  # fmt: skip
    return content


def sent(client, content: bytes, name: str = "binder.pdf"):
    return client.post(reverse("check-binder"), {"file": SimpleUploadedFile(name, content)})


def test_anyone_opens_it_without_signing_in(client, db, seal_dir):
    answer = client.get(reverse("check-binder"))
    assert answer.status_code == 200
    assert "At most 50 MB" in text_of(answer)
    assert "has no seal key" in text_of(answer)
    assert not seal_dir.exists()  # looking never makes a key


def test_it_shows_the_fingerprint_by_which_strangers_compare(client, seal):
    told = text_of(client.get(reverse("check-binder")))
    assert seal.fingerprint in told and "First Keepers" in told
    assert "does not prove to a stranger" in told


def test_an_unknown_visitor_learns_what_the_file_says_and_that_it_holds(client, content, world):
    answer = sent(client, content)
    told = text_of(answer)
    assert answer.status_code == 200
    for words in ("Unaltered", "Not one byte differs", files.ISSUER, files.REASON, "16 Mar 2026, 14:00 UTC", "Yes."):
        assert words in told, words
    assert "when they are signed in" in told


@pytest.mark.parametrize("role", [None, "other-coordinator", "other-dispatcher", "nobody"])
def test_an_outsider_learns_nothing_of_the_clinic_beyond_the_file(client, content, world, role):
    if role:
        signed_in(client, world, role)
    told = text_of(sent(client, content))
    assert "Unaltered" in told
    for words in (REASON, "logged since", "row that it names", "entered in error", "Spore test"):
        assert words not in told, words


@pytest.mark.parametrize("role", ["coordinator", "viewer", "technician"])
def test_people_who_may_see_the_clinic_learn_what_became_of_it(client, content, world, role):
    told = text_of(sent(signed_in(client, world, role), content))
    assert "1 row that it names was corrected or entered in error since" in told
    assert REASON in told and "1 entry was logged since" in told


def test_the_companys_ledger_is_counted_for_its_own_people_only(client, content, world):
    assert text_of(sent(signed_in(client, world, "coordinator"), content)).count("logged since.") == 1
    told = text_of(sent(signed_in(client, world, "technician"), content))
    assert told.count("logged since.") == 2 and "Nothing was logged since." in told


def test_records_that_bear_it_out_no_more_are_said_in_the_answer(client, world, seal):
    gone = files.heads_moved(files.of_world(world), hash="f" * 64)
    told = text_of(sent(client, files.signed(files.body(gone))))
    assert "Unaltered" in told and "But today’s records no longer contain what it states" in told
    assert "No. The file is as it was signed" in told


def test_certificates_that_cannot_be_read_are_no_answer(client, content, seal_dir, seal):
    (seal_dir / keys.KNOWN / f"{seal.fingerprint}.pem").write_bytes(b"damaged")
    answer = sent(client, content)
    assert answer.status_code == 503 and page.NO_CERTIFICATES in text_of(answer)
    assert str(seal_dir) not in answer.content.decode()


def test_an_altered_file_says_what_was_changed_and_nothing_it_claims(client, content):
    told = text_of(sent(client, files.appended(content, 2)))
    assert "Altered" in told and "shows 5 now" in told and "Do not rely on it" in told
    assert files.ISSUER not in told


def test_a_strangers_file_is_not_ours(client, world, seal):
    told = text_of(sent(client, files.signed(files.body(files.binder()), files.made_elsewhere())))
    assert "Not ours" in told and "Stranger Works" in told


def test_names_out_of_a_file_are_text_and_never_markup(client, seal):
    stranger = files.made_elsewhere("<b>bold</b>")
    answer = sent(client, files.signed(files.body(files.binder()), stranger), name="<i>x</i>.pdf")
    html = answer.content.decode()
    assert "<b>bold" not in html and "&lt;b&gt;bold" in html
    assert "<i>x" not in html


@pytest.mark.parametrize(
    ("posted", "told"),
    [
        ({}, page.NO_FILE),
        ({"file": "text"}, page.NO_FILE),
        ({"file": SimpleUploadedFile("a.pdf", b"")}, page.EMPTY),
    ],
)
def test_without_a_file_it_says_so(client, posted, told):
    answer = client.post(reverse("check-binder"), posted)
    assert answer.status_code == 400 and told in text_of(answer)


def test_a_file_beyond_the_limit_is_refused_without_being_taken_in(client, monkeypatch):
    monkeypatch.setattr(page, "LARGEST", 1000)
    monkeypatch.setattr(page, "FORM_BYTES", 500)
    monkeypatch.setattr(page, "check", lambda *args, **kwargs: pytest.fail("it was looked at"))
    for size in (1001, 5000):
        answer = sent(client, b"x" * size)
        assert answer.status_code == 413 and "more than 50 MB" in text_of(answer)


def test_a_file_at_the_limit_is_checked(client, db, monkeypatch):
    monkeypatch.setattr(page, "LARGEST", 1000)
    answer = sent(client, b"x" * 1000)
    assert answer.status_code == 200 and "Not ours" in text_of(answer)


def test_too_many_at_once_wait_and_are_told(client, monkeypatch):
    monkeypatch.setattr(page, "WAIT_SECONDS", 0.01)
    for _ in range(page.AT_ONCE):
        assert page._turns.acquire(blocking=False)
    try:
        answer = sent(client, b"%PDF-1.7")
    finally:
        for _ in range(page.AT_ONCE):
            page._turns.release()
    assert answer.status_code == 503 and page.BUSY in text_of(answer)
    assert sent(client, b"%PDF-1.7").status_code == 200


def test_a_turn_is_given_back_when_checking_fails(client, monkeypatch):
    def broken(*args, **kwargs):
        raise RuntimeError("a fault")

    monkeypatch.setattr(page, "check", broken)
    for _ in range(page.AT_ONCE + 1):
        with pytest.raises(RuntimeError):
            sent(client, b"%PDF-1.7")


def test_no_file_and_no_record_is_kept(client, content, tmp_path, settings):
    settings.FILE_UPLOAD_TEMP_DIR = tmp_path / "uploads"
    settings.FILE_UPLOAD_TEMP_DIR.mkdir()
    settings.FILE_UPLOAD_MAX_MEMORY_SIZE = 10  # larger ones go through a file on the disk
    settings.BLOBS_DIR = tmp_path / "blobs"
    before = Entry.objects.count()
    answer = sent(client, content)
    assert "Unaltered" in text_of(answer)
    answer.wsgi_request.close()  # what a server does when the answer is out
    assert list(settings.FILE_UPLOAD_TEMP_DIR.iterdir()) == []
    assert not settings.BLOBS_DIR.exists()
    assert Entry.objects.count() == before


def test_it_needs_no_token_and_makes_no_key(db, seal_dir):
    strict = Client(enforce_csrf_checks=True)
    assert sent(strict, b"%PDF-1.7").status_code == 200
    assert not seal_dir.exists()


def test_other_methods_are_refused_and_nothing_is_cached(client, db):
    assert client.put(reverse("check-binder")).status_code == 405
    assert "no-store" in client.get(reverse("check-binder"))["Cache-Control"]


def test_the_page_carries_no_script_and_no_style_of_its_own(client, content):
    assert refused(sent(client, content).content.decode()) == []


def test_a_key_that_others_may_read_is_not_shown_as_the_seal(client, seal, seal_dir):
    (seal_dir / keys.KEY_FILE).chmod(0o644)
    assert "has no seal key" in text_of(client.get(reverse("check-binder")))
