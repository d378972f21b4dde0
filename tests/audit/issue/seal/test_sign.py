"""A signed file is what readers of PDF files take for one. Checked by poppler and by pyHanko's own validator."""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta, timezone

import pikepdf
import pytest

from audit.issue.seal import keys
from audit.issue.seal.sign import sign
from audit.issue.seal.signature import signatures
from tests.audit.issue.seal import files


@pytest.fixture
def content(seal):
    return files.signed(files.body(files.binder()))


def test_the_unsigned_file_is_the_beginning_of_the_signed_one(content):
    assert content.startswith(files.body(files.binder()))


def test_poppler_says_valid_whole_and_pades(content, tmp_path):
    path = tmp_path / "a.pdf"
    path.write_bytes(content)
    said = files.poppler("pdfsig", "-nocert", path)
    assert "Signature is Valid." in said
    assert "Total document signed" in said
    assert "ETSI.CAdES.detached" in said  # PAdES: ETSI EN 319 142-1, 6.3
    assert "First Keepers" in said and "SHA-256" in said


def test_poppler_says_of_a_flipped_byte_that_it_does_not_fit(content, tmp_path):
    path = tmp_path / "a.pdf"
    path.write_bytes(files.flipped(content, 700))
    assert "Signature is Valid." not in files.poppler("pdfsig", "-nocert", path)


def test_another_validator_says_intact_certified_and_allowing_no_changes(content, seal):
    from asn1crypto import x509
    from cryptography.hazmat.primitives.serialization import Encoding
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.fields import MDPPerm
    from pyhanko.sign.validation import validate_pdf_signature
    from pyhanko.sign.validation.status import SignatureCoverageLevel
    from pyhanko_certvalidator import ValidationContext

    own = x509.Certificate.load(seal.certificate.public_bytes(Encoding.DER))
    (embedded,) = PdfFileReader(io.BytesIO(content)).embedded_signatures
    status = validate_pdf_signature(
        embedded, ValidationContext(trust_roots=[own], moment=files.AT, allow_fetching=False)
    )
    assert status.intact and status.valid and status.trusted and status.docmdp_ok
    assert status.coverage is SignatureCoverageLevel.ENTIRE_FILE
    assert embedded.docmdp_level is MDPPerm.NO_CHANGES


def test_it_says_who_why_and_when_in_utc(seal):
    zone = timezone(timedelta(hours=-5))
    at = datetime(2026, 3, 16, 23, 30, 15, 999, tzinfo=zone)
    content = sign(files.body(files.binder()), by="Żaneta Ω", reason="שלום", at=at)
    with pikepdf.open(io.BytesIO(content)) as pdf:
        value = pdf.Root.AcroForm.Fields[0].V
        assert (str(value.Name), str(value.Reason), str(value.M)) == ("Żaneta Ω", "שלום", "D:20260317043015Z")


def test_the_signature_is_invisible_printed_and_on_the_first_page(content):
    """PDF/A-3 asks for the print flag and forbids the hidden one (ISO 19005-3:2012, 6.3.2, from memory)."""
    with pikepdf.open(io.BytesIO(content)) as pdf:
        (widget,) = pdf.pages[0].Annots
        assert [int(each) for each in widget.Rect] == [0, 0, 0, 0]
        assert int(widget.F) == 4 + 128  # print, locked
        assert int(pdf.Root.AcroForm.SigFlags) == 3  # signatures exist, append only


def test_a_moment_outside_the_certificate_is_refused(seal):
    body = files.body(files.binder())
    for at in (files.AT - timedelta(seconds=1), files.AT + timedelta(days=3653)):
        with pytest.raises(keys.NoKey, match="valid from 2026-03-16 to 2036-03-15.*--replace"):
            sign(body, by="Ana", reason="", at=at)


@pytest.mark.parametrize(
    ("by", "at"), [(" ", files.AT), ("Ana", datetime(2026, 3, 16, tzinfo=UTC).replace(tzinfo=None))]
)
def test_nobody_and_an_uncertain_moment_are_refused(seal, by, at):
    with pytest.raises(ValueError, match="who issued"):
        sign(files.body(files.binder()), by=by, reason="", at=at)


def test_every_bit_of_the_signature_counts(content):
    """One bit of every fifth digit of the container, high and low halves alike, and the case of some; samples of the
    zeros behind it and of all the rest. (All bits of all digits take minutes; none slipped through.)
    """
    (found,) = signatures(content)
    assert found.fits and found.end == len(content)
    with pikepdf.open(io.BytesIO(content)) as pdf:
        _, before, after, _ = map(int, pdf.Root.AcroForm.Fields[0].V.ByteRange)
    zeros = before + len(content[before:after].rstrip(b"0>"))
    places = [*range(before, zeros, 5), *range(zeros, after, 131), after - 1, *range(0, len(content), 151)]
    for at in places:
        for bit in (at % 4,) if at % 9 else (at % 4, 5):
            altered = bytearray(content)
            altered[at] ^= 1 << bit
            assert not any(f.fits for f in signatures(bytes(altered))), (at, bit)
