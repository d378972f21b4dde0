"""Until when an old seal was in use: what the ledger of issued binders shows, and what is said of a file after it."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from audit.issue.seal import in_use, keys
from audit.issue.seal.sign import sign
from audit.issue.seal.verify import UNALTERED, check
from audit.management.commands.verify_binder import as_json, as_words
from records import clock
from tests import world as made
from tests.audit.issue.seal import files
from tests.audit.pages.tools import text_of

pytestmark = pytest.mark.django_db
REPLACED = made.NOW + timedelta(days=10)  # the first binder with another seal
LATER = made.NOW + timedelta(days=20)


@pytest.fixture
def world():
    with clock.at(made.NOW):
        return made.make()


@pytest.fixture
def unsigned(world):
    return files.body(files.of_world(world))


def issue(world, unsigned, at, seal=None):
    """A binder signed and entered as issued at that moment."""
    with clock.at(at):
        content = sign(unsigned, by=files.ISSUER, reason=files.REASON, at=at, seal=seal)
        return content, files.issued(world, unsigned, content)


@pytest.fixture
def old(world, unsigned, seal):
    """A seal that signed a binder on record, and was then replaced by another that signed one too."""
    issue(world, unsigned, made.NOW)
    keys.make_key("Second Keepers", REPLACED, replace=True)
    issue(world, unsigned, REPLACED)
    return seal


def signed(unsigned, at, seal=None):
    return sign(unsigned, by=files.ISSUER, reason=files.REASON, at=at, seal=seal)


def test_the_seal_of_today_signs_now(unsigned, seal):
    verdict = check(files.signed(unsigned))
    assert verdict.seal_use == in_use.SealUse(now=True) and verdict.good
    assert "This installation signs with it now." in as_words("a.pdf", verdict)


def test_a_seal_was_in_use_until_the_first_binder_with_another(unsigned, old):
    verdict = check(signed(unsigned, made.NOW + timedelta(days=5), old))
    assert (verdict.word, verdict.good, verdict.too_late) == (UNALTERED, True, "")
    assert verdict.seal_use == in_use.SealUse(now=False, until=REPLACED)
    assert f"another was in use by {REPLACED:%Y-%m-%d}" in as_words("a.pdf", verdict)
    assert in_use.use_of(keys.load_key().fingerprint).now


@pytest.mark.parametrize(("at", "late"), [(REPLACED, False), (REPLACED + timedelta(seconds=1), True), (LATER, True)])
def test_a_file_signed_with_it_after_that_is_asked_about(unsigned, old, at, late):
    verdict = check(signed(unsigned, at, old))
    assert verdict.word == UNALTERED, "not one byte differs"
    assert bool(verdict.too_late) is late and verdict.good is not late
    assert ("Whoever kept the old key" in as_words("a.pdf", verdict)) is late
    assert f'"good": {"false" if late else "true"}' in as_json(verdict)


def test_one_that_is_on_record_as_issued_is_borne_out_by_that(world, unsigned, old):
    content, _ = issue(world, unsigned, LATER, old)
    verdict = check(content)
    assert verdict.issued_at == LATER and not verdict.too_late and verdict.good


def test_the_check_page_says_both(client, unsigned, old):
    for at, asked in ((made.NOW, False), (LATER, True)):
        upload = SimpleUploadedFile("binder.pdf", signed(unsigned, at, old))
        said = text_of(client.post(reverse("check-binder"), {"file": upload}))
        assert f"another was in use by {REPLACED:%Y-%m-%d}" in said
        assert ("ask the organisation by a way you trust whether it is theirs" in said) is asked


def test_a_seal_that_no_binder_on_record_carries_was_replaced_by_that_of_today(world, unsigned, seal):
    keys.make_key("Second Keepers", REPLACED, replace=True)
    assert in_use.use_of(seal.fingerprint) == in_use.SealUse(now=False)
    assert "no issued binder on record shows since when" in in_use.use_of(seal.fingerprint).words
    issue(world, unsigned, REPLACED)
    assert in_use.use_of(seal.fingerprint).until == REPLACED


def test_of_three_seals_the_first_ended_with_the_second(world, unsigned, old):
    second = keys.load_key().fingerprint
    keys.make_key("Third Keepers", LATER, replace=True)
    issue(world, unsigned, LATER)
    assert in_use.use_of(old.fingerprint).until == REPLACED
    assert in_use.use_of(second).until == LATER


def test_where_no_key_is_left_the_last_seal_has_no_end(unsigned, seal, seal_dir):
    (seal_dir / keys.KEY_FILE).unlink()
    assert in_use.use_of(seal.fingerprint) == in_use.SealUse(now=False)
