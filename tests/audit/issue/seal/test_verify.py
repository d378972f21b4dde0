"""Unaltered, altered, not ours: what is said of a file and of everything that can be done to it."""

from __future__ import annotations

import io
import re

import pikepdf
import pytest
from django.db import transaction

from audit.issue.seal import keys, look
from audit.issue.seal import verify as c
from audit.issue.seal.verify import ALTERED, NOT_OURS, UNALTERED, check
from records import clock
from records.models import Entry
from tests import world as made
from tests.audit.issue.seal import files
from tests.audit.issue.seal.test_manifest import paper

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def world(django_db_setup, django_db_blocker):
    """The small world, made once for this module and rolled back after it."""
    with django_db_blocker.unblock(), transaction.atomic(), clock.at(made.NOW):
        yield made.make()
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def unsigned(world):
    return files.body(files.of_world(world), papers=[paper()])


@pytest.fixture
def content(unsigned, seal):
    return files.signed(unsigned)


def said(verdict) -> str:
    return " ".join([verdict.why, *verdict.changes])


def test_a_signed_binder_is_unaltered_and_says_who_and_when(content, seal):
    verdict = check(content)
    assert (verdict.word, verdict.good, verdict.changes) == (UNALTERED, True, ())
    assert verdict.signed == c.SignedBy(files.ISSUER, files.REASON, files.AT)
    assert verdict.certificate.fingerprint == seal.fingerprint
    assert verdict.certificate.own and "does not prove to a stranger" in verdict.certificate.proves
    assert verdict.manifest["clinic"] == "First Clinic" and verdict.manifest["pages"] == 3
    assert verdict.issued_at is None  # nobody recorded it


def test_a_key_that_was_replaced_is_still_known(content, seal):
    keys.make_key("Second Keepers", files.AT, replace=True)
    verdict = check(content)
    assert verdict.word == UNALTERED
    assert verdict.certificate.fingerprint == seal.fingerprint


def test_an_expired_certificate_takes_nothing_from_what_was_signed(content):
    with clock.at(files.AT.replace(year=2050)):
        assert check(content).word == UNALTERED


def test_a_binder_signed_with_a_key_that_was_issued_names_the_issuer(unsigned):
    from tests.audit.issue.seal import test_take as t

    key, root_key = (t.ec.generate_private_key(t.ec.SECP256R1()) for _ in range(2))
    root = t.certificate("Invented Root", root_key.public_key(), "Invented Root", root_key, ca=True)
    leaf = t.certificate("First Keepers", key.public_key(), "Invented Root", root_key)
    keys.install(keys.Seal(key, leaf, (root,)))
    content = files.signed(unsigned)
    verdict = check(content)
    assert verdict.word == UNALTERED
    assert (verdict.certificate.issuer, verdict.certificate.own) == ("Invented Root", False)
    assert "revoked, was not asked" in verdict.certificate.proves
    # The issuer's certificate inside is not covered by the signature; a change to it shows all the same.
    inside = root.public_bytes(t.serialization.Encoding.DER).hex().upper().encode()
    at = content.index(inside) + len(inside) - 8
    assert check(files.flipped(content, at)).word == ALTERED


def place(content: bytes) -> tuple[int, int]:
    """Where the signature itself stands: from its first bracket to behind its last."""
    match = re.search(rb"/ByteRange \[\s*0 (\d+) (\d+)", content)
    return int(match[1]), int(match[2])


@pytest.mark.parametrize("where", ["first byte", "page", "end of the body", "after the signature", "last byte"])
def test_a_flipped_byte_is_altered(content, unsigned, where):
    before, after = place(content)
    places = {
        "first byte": 9,
        "page": unsigned.index(b"stream\n") + 30,
        "end of the body": len(unsigned) - 3,
        "after the signature": after + 5,
        "last byte": len(content) - 1,
    }
    verdict = check(files.flipped(content, places[where]))
    assert verdict.word == ALTERED and not verdict.good
    assert verdict.signed is verdict.manifest is verdict.records is None


@pytest.mark.parametrize("share", [0.0, 0.01, 0.2, 0.4, 0.6, 0.99])
def test_a_flipped_byte_in_the_signature_is_altered(content, share):
    before, after = place(content)
    at = before + int((after - before - 1) * share)
    assert check(files.flipped(content, at)).word == ALTERED


def test_a_change_to_its_certificate_does_not_make_it_somebody_elses(content, seal):
    from cryptography.hazmat.primitives.serialization import Encoding

    der = seal.certificate.public_bytes(Encoding.DER).hex().upper().encode()
    start = content.index(der)
    for at in range(start, start + len(der), 211):
        assert check(files.flipped(content, at)).word == ALTERED, at


def test_a_changed_attachment_is_named(content):
    def change(pdf):
        pdf.attachments["contents.json"] = pikepdf.AttachedFileSpec(pdf, b"{}", filename="contents.json")

    verdict = check(files.written_anew(content, change))
    assert verdict.word == ALTERED
    assert "contents.json is another one than the manifest names" in said(verdict)


def test_an_attachment_taken_out_or_put_in_is_named(content):
    def change(pdf):
        del pdf.attachments["paper-01-report.pdf"]
        pdf.attachments["more.txt"] = pikepdf.AttachedFileSpec(pdf, b"x", filename="more.txt")

    told = said(check(files.written_anew(content, change)))
    assert "paper-01-report.pdf is gone" in told and "more.txt was added" in told


def test_a_removed_page_is_altered_and_counted(content):
    def change(pdf):
        del pdf.pages[1]

    verdict = check(files.written_anew(content, change))
    assert verdict.word == ALTERED
    assert "It has 2 pages; its manifest says 3." in said(verdict)


@pytest.mark.parametrize("mode", list(pikepdf.ObjectStreamMode))
def test_a_changed_date_in_a_file_written_anew_is_altered(content, mode):
    def change(pdf):
        old = pdf.pages[0].Contents.read_bytes()
        pdf.pages[0].Contents.write(old.replace(b"page 1", b"page 9"))

    assert check(files.written_anew(content, change, object_stream_mode=mode)).word == ALTERED


def test_a_file_only_written_anew_is_altered_too(content):
    assert check(files.written_anew(content)).word == ALTERED


def test_a_changed_date_with_equal_length_is_altered(seal, world):
    """Uncompressed, so that the day stands there to be typed over."""
    with pikepdf.open(io.BytesIO(files.body(files.of_world(world), word="2026-03-10"))) as pdf:
        plain = files.saved(pdf, compress_streams=False, stream_decode_level=pikepdf.StreamDecodeLevel.generalized)
    content = files.signed(plain)
    assert b"2026-03-10" in content and check(content).word == UNALTERED
    assert check(content.replace(b"2026-03-10", b"2026-03-11", 1)).word == ALTERED


def test_what_was_added_after_signing_is_told_and_the_signed_part_named(content):
    verdict = check(files.appended(content))
    added = len(files.appended(content)) - len(content)
    assert verdict.word == ALTERED
    assert f"{added:,} bytes were added after it was signed." in verdict.changes
    assert f"Its first {len(content):,} bytes are what was signed" in said(verdict)


def test_pages_added_after_signing_are_counted(content):
    assert "It had 3 pages when it was signed and shows 5 now." in check(files.appended(content, 2)).changes


@pytest.mark.parametrize("more", [b"\n", b"%%EOF\n", b"\0" * 10])
def test_a_single_byte_behind_the_end_is_altered(content, more):
    assert check(content + more).word == ALTERED


def test_a_stranger_who_signs_on_top_alters_it(content):
    on_top = files.signed_again(content, files.made_elsewhere())
    verdict = check(on_top)
    assert verdict.word == ALTERED and "added after it was signed" in said(verdict)


def test_a_binder_signed_by_another_installation_is_not_ours(unsigned, seal):
    verdict = check(files.signed(unsigned, files.made_elsewhere("Stranger Works")))
    assert verdict.word == NOT_OURS
    assert "never used, that of “Stranger Works”" in verdict.why
    assert "does not fit" not in verdict.why
    assert verdict.signed is verdict.manifest is None


def test_one_who_takes_our_name_is_not_ours(unsigned, seal):
    assert check(files.signed(unsigned, files.made_elsewhere("First Keepers"))).word == NOT_OURS


def test_without_any_key_known_nothing_is_ours(unsigned):
    content = files.signed(unsigned, files.made_elsewhere())
    assert check(content).word == NOT_OURS


def test_our_key_on_another_kind_of_file_is_no_binder(seal):
    verdict = check(files.signed(files.pages(1)))
    assert verdict.word == NOT_OURS and "not a binder" in verdict.why


def test_an_unsigned_binder_is_not_ours_unless_it_is_on_record(unsigned, seal):
    verdict = check(unsigned)
    assert verdict.word == NOT_OURS and "not signed" in verdict.why


def test_an_issued_binder_is_recognised_by_its_record_signed_or_not(world, unsigned, content, seal):
    with clock.at(made.NOW):
        issue = files.issued(world, unsigned, content)
    verdict = check(content)
    assert (verdict.word, verdict.issued_at) == (UNALTERED, issue.happened_at)
    copy = check(unsigned)
    assert (copy.word, copy.issued_at, copy.signed) == (UNALTERED, issue.happened_at, None)
    assert "unsigned copy" in copy.why
    assert check(files.flipped(unsigned, 700)).word == NOT_OURS


def test_an_issued_binder_is_ours_even_when_the_certificates_were_lost(world, unsigned, content, seal_dir):
    with clock.at(made.NOW):
        files.issued(world, unsigned, content)
    for path in (seal_dir / keys.KNOWN).glob("*.pem"):
        path.unlink()
    assert check(content).word == UNALTERED


def test_a_signature_taken_out_is_missed(content):
    def change(pdf):
        del pdf.Root.AcroForm.Fields[0].V

    verdict = check(files.written_anew(content, change))
    assert verdict.word == ALTERED and "signature is missing" in verdict.why


@pytest.mark.parametrize("left", [0.999, 0.9, 0.75, 0.65])
def test_a_file_cut_off_is_altered(content, left):
    verdict = check(content[: int(len(content) * left)])
    assert verdict.word == ALTERED, left


def test_a_file_cut_off_early_cannot_be_told(content):
    verdict = check(content[:600])
    assert verdict.word == NOT_OURS and "damaged or cut off" in verdict.why


def test_an_encrypted_copy_is_not_unaltered(content):
    locked = files.written_anew(content, encryption=pikepdf.Encryption(owner="o", user=""), deterministic_id=False)
    verdict = check(locked)
    assert verdict.word == ALTERED and "encrypted" in said(verdict)
    shut = files.written_anew(content, encryption=pikepdf.Encryption(owner="o", user="u"), deterministic_id=False)
    assert check(shut).word != UNALTERED
    assert "password" in said(check(shut))


@pytest.mark.parametrize("other", [b"", b"hello", b"\x89PNG\r\n", b"PK\x03\x04", b"%PD", b"\0" * 2000])
def test_what_is_no_pdf_is_not_ours(other, seal):
    verdict = check(other)
    assert verdict.word == NOT_OURS and "not a PDF file" in verdict.why


def test_an_empty_pdf_header_is_not_ours(seal):
    assert check(b"%PDF-1.7\n").word == NOT_OURS


def test_checking_writes_nothing(content, seal_dir):
    before = Entry.objects.count(), sorted(p.name for p in seal_dir.rglob("*"))
    check(content)
    check(files.flipped(content, 500))
    assert (Entry.objects.count(), sorted(p.name for p in seal_dir.rglob("*"))) == before


def test_an_unaltered_file_too_large_to_look_into_is_still_unaltered(content, monkeypatch):
    monkeypatch.setattr(c, "look", lambda content: look.Look(problem=look.TOO_MUCH))
    verdict = check(content)
    assert (verdict.word, verdict.good) == (UNALTERED, False)
    assert "not compared with the records" in said(verdict)


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("D:20260316140000Z", "2026-03-16T14:00:00+00:00"),
        ("D:20260316140000+02'00'", "2026-03-16T14:00:00+02:00"),
        ("D:20260316140000-05'30", "2026-03-16T14:00:00-05:30"),
        ("D:20260316140000", "2026-03-16T14:00:00+00:00"),
        ("D:20261316140000Z", None),
        ("D:20260316140000+99'00'", None),
        ("yesterday", None),
        ("", None),
    ],
)
def test_moments_as_pdf_writes_them(text, moment):
    """ISO 32000-1:2008, 7.9.4, from memory."""
    found = c.moment(text)
    assert (found.isoformat() if found else None) == moment
