"""Find signatures in the bytes of a file and tell whether they fit, without reading the file as a PDF.

A signature of ours covers every byte but its own place, and what may stand in that place is checked to the last
digit. So when one fits, the file is byte for byte the one that was signed, and nothing that a reader of PDF files
would make of it needs to be trusted. (ISO 32000-1:2008, 12.8.1, says what a byte range is; RFC 5652 what the
container holds; both from memory.)
"""

from __future__ import annotations

import hashlib
import re
from binascii import unhexlify
from dataclasses import dataclass

BYTE_RANGE = re.compile(rb"/ByteRange\s{0,8}\[\s{0,8}(\d{1,12})\s{1,8}(\d{1,12})\s{1,8}(\d{1,12})\s{1,8}(\d{1,12})")
# Written by the program that signs: upper case digits, padded with zeros.
PLACE = re.compile(rb"<(?:[0-9A-F]{2})+>")
LONGEST_CONTAINER = 64 * 1024
MOST_LOOKED_AT = 8
SIGNING_CERTIFICATE = "1.2.840.113549.1.9.16.2.47"  # RFC 5035: the signed hash of the signer's certificate


@dataclass(frozen=True, slots=True)
class FoundSignature:
    """One signature.

    `end` is where the signed bytes end (exclusive); `fits` says that they are those that were signed, and that its
    container is written as we write one. `certificate` is that of the signer (DER, b"" when there is none),
    `others` the ones beside it, `named` every certificate fingerprint (SHA-256, hexadecimal) it points to.
    """

    end: int
    fits: bool
    certificate: bytes
    others: tuple[bytes, ...]
    named: frozenset[str]


def signatures(content: bytes) -> list[FoundSignature]:
    """Every signature whose byte range begins with the file, the last ones first; eight at most.

    Where the file was cut off, `end` lies behind its last byte.
    """
    seen = set()
    for match in BYTE_RANGE.finditer(content):
        start, before, after, rest = map(int, match.groups())
        if start == 0 and before < after and before < len(content):
            seen.add((before, after, after + rest))
    last = sorted(seen, key=lambda r: -r[2])[:MOST_LOOKED_AT]
    return [_look(content, *each) for each in last]


def _look(content: bytes, before: int, after: int, end: int) -> FoundSignature:
    place = content[before : min(after, before + 2 * LONGEST_CONTAINER + 2)]
    if not PLACE.fullmatch(place) or before + len(place) != after or end > len(content):
        return _read_container(_lenient(place[1:-1]), None, end)
    digest = hashlib.sha256(memoryview(content)[:before])
    digest.update(memoryview(content)[after:end])
    return _read_container(unhexlify(place[1:-1]), digest.digest(), end)


def _lenient(place: bytes) -> bytes:
    """A damaged container as far as it can be read: enough to see whose it was."""
    digits = re.sub(rb"[^0-9A-Fa-f]", b"0", place)
    return unhexlify(digits[: len(digits) // 2 * 2])


def _read_container(der: bytes, digest: bytes | None, end: int) -> FoundSignature:
    try:
        return _container(der, digest, end)
    except Exception:  # a damaged or hostile container breaks its reader in more ways than can be listed
        return FoundSignature(end, False, b"", (), _hashes_in(der))


def _container(der: bytes, digest: bytes | None, end: int) -> FoundSignature:
    from asn1crypto import cms

    info = cms.ContentInfo.load(der)
    data = info["content"]
    (signer,) = data["signer_infos"]
    certificates = [each.chosen for each in data["certificates"]]
    own = next((c for c in certificates if _is_of(signer["sid"], c)), None)
    if own is None:
        return FoundSignature(end, False, b"", (), _hashes_in(der))
    others = tuple(c.dump() for c in certificates if c is not own)
    fits = digest is not None and _fits(signer, own, digest) and _as_we_write(der, info, signer)
    return FoundSignature(end, fits, own.dump(), others, _hashes_in(der) | {own.sha256.hex()})


def _is_of(sid, certificate) -> bool:
    named = sid.chosen
    return sid.name == "issuer_and_serial_number" and (
        named["issuer"].dump() == certificate.issuer.dump()
        and named["serial_number"].native == certificate.serial_number
    )


def _as_we_write(der: bytes, info, signer) -> bool:
    """Whether everything that the signature itself does not protect is as it must be."""
    from asn1crypto import cms

    written = info.dump()
    data = info["content"]
    again = cms.ContentInfo.load(written).copy().dump(force=True)
    hashed = [each["algorithm"].native for each in data["digest_algorithms"]]
    return (
        der[: len(written)] == written == again
        and not der[len(written) :].strip(b"\0")
        and info["content_type"].native == "signed_data"
        and (data["version"].native, signer["version"].native) == ("v1", "v1")
        and hashed == [signer["digest_algorithm"]["algorithm"].native] == ["sha256"]
        and data["encap_content_info"]["content_type"].native == "data"
        and not data["encap_content_info"]["content"].native
        and not data["crls"].native
        and not signer["unsigned_attrs"].native
        and SIGNING_CERTIFICATE in {each["type"].dotted for each in signer["signed_attrs"]}
    )


def _fits(signer, certificate, digest: bytes) -> bool:
    from pyhanko.sign.validation.generic_cms import validate_sig_integrity

    intact, valid = validate_sig_integrity(signer, certificate, "data", digest)
    return intact and valid


def detached(der: bytes, content: bytes) -> FoundSignature:
    """A signature that lies beside the bytes it is over."""
    return _read_container(der, hashlib.sha256(content).digest(), len(content))


def fingerprints_in(der: bytes) -> frozenset[str]:
    """The fingerprints of certificates that a container holds or points to; of a damaged one what can be found."""
    return _read_container(der, None, 0).named


def _hashes_in(der: bytes) -> frozenset[str]:
    """What may be fingerprints: every 32 bytes in a wrapper of 32. The signed ones name the signer's certificate."""
    return frozenset(match.hex() for match in re.findall(rb"\x04\x20([\x00-\xff]{32})", der[:LONGEST_CONTAINER]))
