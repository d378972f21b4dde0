"""Sign a finished binder: PAdES baseline B-B (ETSI EN 319 142-1), certified "no changes allowed", invisible.

The signature is an incremental update: the unsigned file is the beginning of the signed one, byte for byte. It has a
time and a random part, so signing twice never gives the same file; compare unsigned files.
"""

from __future__ import annotations

import io
from datetime import UTC, datetime

from django.conf import settings
from django.urls import reverse

from audit.binder.sealing import Sealing

from .field import FIELD, place_field
from .keys import MAKE, NoKey, Seal, load_key, name_in


def sign(body: bytes, *, by: str, reason: str, at: datetime, seal: Seal | None = None) -> bytes:
    """The signed file.

    `by` is who signs, the name in the certificate, and `reason` why, as readers show them; `at` is the moment (with
    its offset). `seal` is the key to sign with, this installation's when None. Raises NoKey when there is none, or
    when its certificate is not valid at that moment; ValueError for an empty `by` or a moment without offset.
    """
    if not by.strip() or at.tzinfo is None:
        raise ValueError("A signature says who issued the binder, and when, with the offset from UTC.")
    seal = seal or load_key()
    refuse_outside_validity(seal, at)
    at = at.astimezone(UTC).replace(microsecond=0)
    signer = _signer(seal, by, reason)
    writer = _writer(body)
    place_field(writer)
    return _signed(signer, writer, at)


def _writer(body: bytes):
    """A writer that adds the signature and leaves the metadata as issued.

    The library would name itself as the producer, and the system's clock as the moment of change.
    """
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter

    class Writer(IncrementalPdfFileWriter):
        def _update_meta(self):
            pass

    return Writer(io.BytesIO(body))


def refuse_outside_validity(seal: Seal, at: datetime) -> None:
    """Raises NoKey when the certificate is not valid at that moment."""
    certificate = seal.certificate
    first, last = certificate.not_valid_before_utc, certificate.not_valid_after_utc
    if not first <= at <= last:
        raise NoKey(
            f"The seal certificate of {name_in(certificate.subject)} is valid from {first:%Y-%m-%d} to "
            f"{last:%Y-%m-%d}, not on {at:%Y-%m-%d}. Make a new key with `{MAKE} --replace`."
        )


def reason_of(made, issued_by: str = "") -> str:
    """What the signature of a binder says of it. `made`: as `audit.issue.make` returns it."""
    binder, wish = made.binder, made.wish
    issued = f", issued by {issued_by}" if issued_by else ""
    return f"Binder of {binder.clinic}, {wish.from_on} to {wish.to_on}, as of {binder.as_of}{issued}"


def sealing_of(seal: Seal, issued_by: str, at: datetime) -> Sealing:
    """What a binder says of the signature that it is about to get with that key at that moment, to the second."""
    certificate = seal.certificate
    return Sealing(
        by=name_in(certificate.subject),
        issued_by=issued_by,
        at=at.astimezone(UTC).replace(microsecond=0),
        fingerprint=seal.fingerprint,
        own=certificate.subject == certificate.issuer,
        address=f"{settings.SITE_ADDRESS.rstrip('/')}{reverse('check-binder')}",
    )


def cms_signer(seal: Seal):
    """The library's signer with that key: it makes the container (CMS) of a signature."""
    from asn1crypto import keys, x509
    from cryptography.hazmat.primitives import serialization as s
    from pyhanko.sign import signers
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    def loaded(certificate):
        return x509.Certificate.load(certificate.public_bytes(s.Encoding.DER))

    key = seal.key.private_bytes(s.Encoding.DER, s.PrivateFormat.PKCS8, s.NoEncryption())
    return signers.SimpleSigner(
        signing_cert=loaded(seal.certificate),
        signing_key=keys.PrivateKeyInfo.load(key),
        cert_registry=SimpleCertificateStore.from_certs([loaded(each) for each in seal.chain]),
    )


def _signer(seal: Seal, by: str, reason: str):
    from pyhanko.sign import fields, signers

    meta = signers.PdfSignatureMetadata(
        field_name=FIELD,
        md_algorithm="sha256",
        subfilter=fields.SigSeedSubFilter.PADES,
        certify=True,
        docmdp_permissions=fields.MDPPerm.NO_CHANGES,
        name=by,
        reason=reason,
    )
    return _pades_signer(meta, cms_signer(seal))


def _pades_signer(meta, signer):
    """A signer that declares PAdES in the file, and no more.

    For a key on P-256 the library would also declare an extension of PDF 2.0, and the file to be PDF 2.0, which
    PDF/A-3 forbids (ISO 19005-3:2012, 6.1.2: version 1.0 to 1.7).
    """
    from pyhanko.sign.signers import PdfSigner, constants

    class Signer(PdfSigner):
        def register_extensions(self, pdf_out, *, md_algorithm):
            pdf_out.ensure_output_version(version=(1, 7))
            pdf_out.register_extension(constants.ESIC_EXTENSION_1)

    return Signer(meta, signer)


def _signed(signer, output, at: datetime) -> bytes:
    """What `PdfSigner.sign_pdf` does, with the moment given instead of asked from the system's clock."""
    import asyncio

    from pyhanko.sign.signers.pdf_cms import PdfCMSSignedAttributes

    async def work() -> bytes:
        session = signer.init_signing_session(output)
        session.system_time = at
        reserved = await session.estimate_signature_container_size(None)
        document = session.prepare_tbs_document(validation_info=None, bytes_reserved=reserved)
        digest, signed = document.digest_tbs_document()
        await document.perform_signature(
            document_digest=digest.document_digest,
            pdf_cms_signed_attrs=PdfCMSSignedAttributes(signing_time=at),
        )
        return signed.getvalue()

    return asyncio.run(work())
