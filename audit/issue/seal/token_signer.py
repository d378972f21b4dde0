"""What the seal has a key in a PKCS#11 token do: make a certificate for itself, show that it fits one, and sign."""

from __future__ import annotations

import asyncio

from .token_key import KEY, TokenKey, TokenTrouble, opened


def cms_signer(session, key: TokenKey, certificate, chain=()):
    """The library's signer with the key of an open session. Certificates are `asn1crypto` objects.

    It hands the token digests only: that is what every token can do.
    """
    from pyhanko.sign.pkcs11 import PKCS11Signer
    from pyhanko.sign.signers import Signer
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    hand = PKCS11Signer(
        session, key_label=key.label, signing_cert=certificate, other_certs_to_pull=(), use_raw_mechanism=True
    )

    class InToken(Signer):
        """Its own store of certificates would hold the signer's a second time, and the container with it."""

        async def async_sign_raw(self, data: bytes, digest_algorithm: str, dry_run: bool = False) -> bytes:
            return await hand.async_sign_raw(data, digest_algorithm, dry_run)

    return InToken(signing_cert=certificate, cert_registry=SimpleCertificateStore.from_certs(list(chain)))


def sign(session, key: TokenKey, certificate, content: bytes) -> bytes:
    """A bare signature over the content with SHA-256, of the kind that the certificate's key makes."""
    signer = cms_signer(session, key, _loaded(certificate))
    return asyncio.run(signer.async_sign_raw(content, "sha256"))


def _loaded(certificate):
    from asn1crypto import x509
    from cryptography.hazmat.primitives.serialization import Encoding

    return x509.Certificate.load(certificate.public_bytes(Encoding.DER))


def certified(key: TokenKey, builder):
    """A certificate signed by the key in the token itself; an EC P-256 key is made there where none has its name.

    `builder` is one of `cryptography` that lacks nothing but the key and its identifier. Raises TokenTrouble.
    """
    from asn1crypto import x509 as asn1
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes

    with opened(key) as session:
        is_there = bool(_private_keys(session, key))
    with opened(key, write=not is_there) as session:
        public = _public_key(session, key)
        # The library signs with keys that it holds: so one of the same kind signs a draft, and the token the rest.
        named = x509.SubjectKeyIdentifier.from_public_key(public)
        full = builder.public_key(public).add_extension(named, critical=False)
        draft = full.sign(_stand_in(public), hashes.SHA256())
        made = asn1.Certificate.load(draft.public_bytes(_der()))
        made["signature_value"] = sign(session, key, draft, draft.tbs_certificate_bytes)
        return x509.load_der_x509_certificate(made.dump(force=True))


def _der():
    from cryptography.hazmat.primitives.serialization import Encoding

    return Encoding.DER


def _stand_in(public):
    from cryptography.hazmat.primitives.asymmetric import ec, rsa

    if isinstance(public, rsa.RSAPublicKey):
        return rsa.generate_private_key(65537, 2048)
    return ec.generate_private_key(ec.SECP256R1())


def _public_key(session, key: TokenKey):
    """The public half as `cryptography` has it."""
    from cryptography.hazmat.primitives.asymmetric import rsa
    from cryptography.hazmat.primitives.serialization import load_der_public_key
    from pkcs11 import Attribute, KeyType, ObjectClass
    from pkcs11.util.ec import encode_ec_public_key

    _private_key(session, key, make=True)
    found = list(session.get_objects({Attribute.CLASS: ObjectClass.PUBLIC_KEY, Attribute.LABEL: key.label}))
    if len(found) != 1:
        raise TokenTrouble(
            f"The token holds no public half of {key}. Put it there under the same name with the token's own tools."
        )
    if found[0].key_type is KeyType.EC:
        return load_der_public_key(encode_ec_public_key(found[0]))
    if found[0].key_type is KeyType.RSA:
        modulus, exponent = (
            int.from_bytes(found[0][a], "big") for a in (Attribute.MODULUS, Attribute.PUBLIC_EXPONENT)
        )
        return rsa.RSAPublicNumbers(exponent, modulus).public_key()
    raise TokenTrouble(
        f"{key} is neither RSA nor on an elliptic curve. Readers of PDF files take no other: make one."
    )


def _private_keys(session, key: TokenKey) -> list:
    from pkcs11 import Attribute, ObjectClass

    return list(session.get_objects({Attribute.CLASS: ObjectClass.PRIVATE_KEY, Attribute.LABEL: key.label}))


def _private_key(session, key: TokenKey, make: bool):
    from pkcs11 import Attribute, KeyType
    from pkcs11.util.ec import encode_named_curve_parameters

    found = _private_keys(session, key)
    if len(found) == 1:
        return found[0]
    if found:
        raise TokenTrouble(f"The token holds {len(found)} keys “{key.label}”. Rename all but one, or set {KEY}.")
    if not make:
        raise TokenTrouble(
            f"There is no key “{key.label}” in the token “{key.token}”. Set {KEY} to the name of the one that signs, "
            "put it back into the token, or make a new one with `manage.py make_seal_key --name … --replace`."
        )
    curve = {Attribute.EC_PARAMS: encode_named_curve_parameters("secp256r1")}
    kind = session.create_domain_parameters(KeyType.EC, curve, local=True)
    return kind.generate_keypair(store=True, label=key.label, id=key.label.encode()[:32])[1]


def refuse_unless_fits(key: TokenKey, certificate) -> None:
    """Raises TokenTrouble unless the token signs now and the certificate is of its key: one signature is tried."""
    from cryptography.exceptions import InvalidSignature
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec, padding, rsa

    content = b"does the key of the token fit the certificate"
    public = certificate.public_key()
    how = None
    if isinstance(public, ec.EllipticCurvePublicKey):
        how = (ec.ECDSA(hashes.SHA256()),)
    elif isinstance(public, rsa.RSAPublicKey):
        how = (padding.PKCS1v15(), hashes.SHA256())
    with opened(key) as session:
        _private_key(session, key, make=False)
        if how is not None:
            try:
                return public.verify(sign(session, key, certificate, content), content, *how)
            except (InvalidSignature, ValueError):
                pass
    raise TokenTrouble(
        f"The certificate is not that of {key}. Set {KEY} to its key, take the right certificate with `manage.py "
        "make_seal_key --certificate FILE.pem --replace`, or make one with `--name … --replace`."
    )
