"""Take an organisation's own signing key from a PKCS#12 file (RFC 7292), the form in which issuers hand keys out."""

from __future__ import annotations

from datetime import datetime

from .keys import KeyRefused, Seal, name_in

LARGEST = 1024 * 1024
SMALLEST_RSA_BITS = 2048
CURVES = ("secp256r1", "secp384r1", "secp521r1")


def take(content: bytes, pass_phrase: str, at: datetime) -> Seal:
    """The key, its certificate and chain. `at` must lie within the certificate's validity. Raises KeyRefused."""
    from cryptography.hazmat.primitives.serialization import pkcs12

    _refuse_other_forms(content)
    try:
        found = pkcs12.load_pkcs12(content, pass_phrase.encode() or None)
    except ValueError:
        raise KeyRefused("The pass phrase does not open this file. Type it again; capitals count.") from None
    if found.key is None:
        raise KeyRefused("The file holds no private key, so it cannot sign. Export key and certificate together.")
    if found.cert is None:
        raise KeyRefused("The file holds no certificate for its key. Export key and certificate together.")
    certificate = found.cert.certificate
    _refuse_weak(found.key)
    _refuse_unfit(certificate, at)
    return Seal(found.key, certificate, _chain(certificate, [each.certificate for each in found.additional_certs]))


def certificates(content: bytes, at: datetime) -> tuple:
    """The certificate of a key that stays where it is, and its chain, from PEM. Raises KeyRefused as `take`."""
    from cryptography import x509

    try:
        first, *others = x509.load_pem_x509_certificates(content)
    except ValueError:
        raise KeyRefused(
            "This file holds no certificate in PEM (-----BEGIN CERTIFICATE-----). Ask who issued it for one; one in "
            "DER is turned into it by `openssl x509 -inform der -in FILE.cer -out FILE.pem`."
        ) from None
    _refuse_unfit(first, at)
    return first, *_chain(first, others)


def _refuse_other_forms(content: bytes) -> None:
    from asn1crypto import pkcs12

    if content.lstrip().startswith(b"-----BEGIN"):
        raise KeyRefused(
            "This is a PEM file. Put key and certificate into a PKCS#12 file first: "
            "`openssl pkcs12 -export -inkey KEY.pem -in CERTIFICATE.pem -certfile CHAIN.pem -out FILE.p12`."
        )
    try:
        if len(content) > LARGEST or pkcs12.Pfx.load(content)["version"].native != "v3":
            raise ValueError
    except (ValueError, TypeError):
        raise KeyRefused(
            "This is not a PKCS#12 file (.p12 or .pfx). Ask who issued the certificate for one."
        ) from None


def _refuse_weak(key) -> None:
    from cryptography.hazmat.primitives.asymmetric import ec, rsa

    if isinstance(key, ec.EllipticCurvePrivateKey) and key.curve.name in CURVES:
        return
    if isinstance(key, rsa.RSAPrivateKey) and key.key_size >= SMALLEST_RSA_BITS:
        return
    raise KeyRefused(
        f"The key is neither RSA of {SMALLEST_RSA_BITS} bits or more nor on one of the curves P-256, P-384, P-521. "
        "Readers of PDF files would not accept it. Ask for a certificate with such a key."
    )


def _refuse_unfit(certificate, at: datetime) -> None:
    from cryptography import x509

    first, last = certificate.not_valid_before_utc, certificate.not_valid_after_utc
    if not first <= at <= last:
        raise KeyRefused(
            f"The certificate of {name_in(certificate.subject)} is valid from {first:%Y-%m-%d} to {last:%Y-%m-%d}, "
            f"not on {at:%Y-%m-%d}. Ask for a current one."
        )
    try:
        usage = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    except x509.ExtensionNotFound:
        return
    if not (usage.digital_signature or usage.content_commitment):
        raise KeyRefused("The certificate is not for signing (its key usage says so). Ask for one that is.")


def _chain(certificate, others: list) -> tuple:
    """The certificates above it, nearest first; those that lead nowhere are left out."""
    chain, below = [], certificate
    while below.issuer != below.subject:
        above = next((each for each in others if _issued(each, below)), None)
        if above is None or above in chain:
            break
        chain.append(above)
        below = above
    return tuple(chain)


def _issued(above, below) -> bool:
    try:
        below.verify_directly_issued_by(above)
    except Exception:  # another name, another kind of key, a signature that does not fit: it is not the issuer
        return False
    return True
