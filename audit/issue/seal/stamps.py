"""Time stamps of somebody else over a statement (RFC 3161): that it existed at that moment, whoever holds our key.

The library's own client over HTTP needs a package that is not installed here; the request and the checks are its own,
the few lines that send it are ours.
"""

from __future__ import annotations

import asyncio
import hashlib
import urllib.error
import urllib.request
from dataclasses import dataclass
from datetime import datetime

LARGEST = 256 * 1024
SECONDS = 20


class NoStamp(Exception):
    """No time stamp could be had: the message says why and the way out."""


@dataclass(frozen=True, slots=True)
class Stamp:
    """Who stamped it and when; `problem` says why it proves nothing, "" when it fits."""

    problem: str
    at: datetime | None = None
    by: str = ""
    fingerprint: str = ""


def ask(url: str, content: bytes) -> bytes:
    """A time stamp token over the SHA-256 of the bytes (DER of its CMS), from the server at `url`. Raises NoStamp."""
    if not url.startswith(("http://", "https://")):
        raise NoStamp(f"“{url}” is not the address of a time stamp server: it begins with http:// or https://.")
    from pyhanko.sign.timestamps import TimeStamper

    class Stamper(TimeStamper):
        async def async_request_tsa_response(self, req):
            return _sent(url, req.dump())

    asked = Stamper().async_timestamp(hashlib.sha256(content).digest(), "sha256")
    try:
        token = asyncio.run(asked).dump()
    except NoStamp:
        raise
    except Exception as error:  # a server may answer anything, which breaks its reader in many ways
        raise NoStamp(f"The time stamp server {url} gave no stamp: {error}") from None
    if problem := look(token, content).problem:
        raise NoStamp(f"The time stamp server {url} gave a stamp that is worth nothing: {problem}.")
    return token


def _sent(url: str, request: bytes):
    from asn1crypto import tsp

    headers = {"Content-Type": "application/timestamp-query", "Accept": "application/timestamp-reply"}
    asked = urllib.request.Request(url, request, headers)  # noqa: S310 (only http and https come here)
    try:
        with urllib.request.urlopen(asked, timeout=SECONDS) as answer:  # noqa: S310
            content = answer.read(LARGEST + 1)
    except (urllib.error.URLError, OSError, ValueError) as error:
        raise NoStamp(f"The time stamp server {url} cannot be asked: {error}. Try again later.") from None
    if len(content) > LARGEST:
        raise NoStamp(f"The time stamp server {url} answers with more than a time stamp.")
    return tsp.TimeStampResp.load(content)


def look(token: bytes, content: bytes) -> Stamp:
    """What a token says of the bytes. Never raises for what is in it.

    Whether the server's certificate is to be trusted is not asked: its name and fingerprint are told.
    """
    try:
        return _look(token, content)
    except Exception:  # a damaged or hostile token breaks its reader in more ways than can be listed
        return Stamp("it cannot be read")


def _look(token: bytes, content: bytes) -> Stamp:
    from asn1crypto import cms
    from pyhanko.sign.validation.generic_cms import validate_sig_integrity

    data = cms.ContentInfo.load(token)["content"]
    (signer,) = data["signer_infos"]
    inside = data["encap_content_info"]["content"]
    said = inside.parsed
    certificate = next(c.chosen for c in data["certificates"] if _is_of(signer["sid"], c.chosen))
    imprint = said["message_imprint"]
    if imprint["hash_algorithm"]["algorithm"].native != "sha256":
        return Stamp("it is not over a SHA-256")
    if imprint["hashed_message"].native != hashlib.sha256(content).digest():
        return Stamp("it is over other bytes")
    used = certificate.extended_key_usage_value
    if used is None or "time_stamping" not in used.native:
        return Stamp("its certificate is not one for time stamps")
    name = signer["digest_algorithm"]["algorithm"].native
    digest = hashlib.new(name, bytes(inside)).digest()
    if not all(validate_sig_integrity(signer, certificate, "tst_info", digest)):
        return Stamp("its signature does not fit")
    at = said["gen_time"].native
    if not certificate.not_valid_before <= at <= certificate.not_valid_after:
        return Stamp("its certificate was not valid at that moment")
    return Stamp("", at, certificate.subject.human_friendly, certificate.sha256.hex())


def _is_of(sid, certificate) -> bool:
    named = sid.chosen
    return (
        sid.name == "issuer_and_serial_number"
        and named["issuer"].dump() == certificate.issuer.dump()
        and named["serial_number"].native == certificate.serial_number
    )
