"""An authenticator in software, written from W3C Web Authentication Level 2 (6.1, 6.5, 5.8.1; from memory).

It keeps ES256 keys for a site, counts, and answers as a browser with a device would, so that each part of an answer
can be made wrong on purpose. Nothing of the library that reads the answers is used here.
"""

from __future__ import annotations

import base64
import hashlib
import json
import secrets
from dataclasses import dataclass, field

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec

PRESENT, VERIFIED, HAS_KEY = 0x01, 0x04, 0x40  # bits of the flags: 6.1


def text_of(content: bytes) -> str:
    """Bytes in base64url without padding."""
    return base64.urlsafe_b64encode(content).rstrip(b"=").decode()


def bytes_of(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def cbor(value) -> bytes:
    """CBOR (RFC 8949) of whole numbers, bytes, text and maps."""
    if isinstance(value, int):
        return _head(0, value) if value >= 0 else _head(1, -1 - value)
    if isinstance(value, bytes):
        return _head(2, len(value)) + value
    if isinstance(value, str):
        return _head(3, len(value.encode())) + value.encode()
    return _head(5, len(value)) + b"".join(cbor(k) + cbor(v) for k, v in value.items())


def _head(kind: int, number: int) -> bytes:
    if number < 24:
        return bytes([kind << 5 | number])
    size = next(n for n in (1, 2, 4, 8) if number < 1 << 8 * n)
    return bytes([kind << 5 | 23 + size.bit_length()]) + number.to_bytes(size, "big")


@dataclass
class Device:
    """Keys by their ids. `origin` is the page that asks; `verifies` whether it checks who holds it."""

    origin: str = "http://localhost:8000"
    verifies: bool = True
    count: int = 0
    counts: bool = True
    keys: dict[bytes, tuple] = field(default_factory=dict)

    def make(self, options: dict, **wrong) -> str:
        """What a browser sends after `navigator.credentials.create`. `wrong` as in `_said` and `_data`."""
        key, name = ec.generate_private_key(ec.SECP256R1()), secrets.token_bytes(32)
        self.keys[name] = (key, options["user"]["id"])
        numbers = key.public_key().public_numbers()
        # A COSE key (RFC 9053, 7.1): kind EC2, ES256, curve P-256, x and y.
        public = {1: 2, 3: -7, -1: 1, -2: numbers.x.to_bytes(32, "big"), -3: numbers.y.to_bytes(32, "big")}
        attested = bytes(16) + len(name).to_bytes(2, "big") + name + cbor(public)
        data = self._data(options["rp"]["id"], HAS_KEY, wrong) + attested
        made = {"fmt": wrong.get("fmt", "none"), "attStmt": wrong.get("statement", {}), "authData": data}
        said = self._said("webauthn.create", options, wrong)
        response = {"clientDataJSON": text_of(said), "attestationObject": text_of(cbor(made))}
        return self._answer(name, response | {"transports": ["internal"]})

    def give(self, options: dict, **wrong) -> str:
        """What a browser sends after `navigator.credentials.get`, with the first key that is allowed and kept here.

        `of`: another key's id; `handle`: another user handle; `signature`: other bytes.
        """
        allowed = [bytes_of(each["id"]) for each in options["allowCredentials"]]
        name = wrong.get("of") or next(each for each in allowed if each in self.keys)
        key, handle = self.keys[name]
        said = self._said("webauthn.get", options, wrong)
        data = self._data(options["rpId"], 0, wrong)
        signed = key.sign(data + hashlib.sha256(said).digest(), ec.ECDSA(hashes.SHA256()))
        response = {
            "clientDataJSON": text_of(said), "authenticatorData": text_of(data),
            "signature": text_of(wrong.get("signature", signed)), "userHandle": wrong.get("handle", handle),
        }  # fmt: skip
        return self._answer(wrong.get("called", name), response)

    def _said(self, kind: str, options: dict, wrong: dict) -> bytes:
        """The client data. `challenge`, `origin`, `type` and `cross` (embedded elsewhere) can be others."""
        return json.dumps({
            "type": wrong.get("type", kind), "challenge": wrong.get("challenge", options["challenge"]),
            "origin": wrong.get("origin", self.origin), "crossOrigin": wrong.get("cross", False),
        }).encode()  # fmt: skip

    def _data(self, site: str, flags: int, wrong: dict) -> bytes:
        """Authenticator data up to the counter. `site`, `flags` and `count` can be others."""
        self.count += self.counts
        flags |= wrong.get("flags", PRESENT | (VERIFIED if self.verifies else 0))
        hashed = hashlib.sha256(wrong.get("site", site).encode()).digest()
        return hashed + bytes([flags]) + wrong.get("count", self.count).to_bytes(4, "big")

    def _answer(self, name: bytes, response: dict) -> str:
        return json.dumps({"id": text_of(name), "rawId": text_of(name), "type": "public-key", "response": response})
