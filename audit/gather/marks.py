"""A mark over what this program stored for itself: who can write the database, but not read the secret key, cannot
make one. What carries another mark was not written by the program, and is made anew instead of shown.
"""

from __future__ import annotations

import hashlib
import hmac
from functools import lru_cache

from django.conf import settings

SIZE = 32  # bytes


@lru_cache(maxsize=8)
def _key(secret: str, purpose: str) -> bytes:
    return hashlib.sha256(f"{purpose}\0{secret}".encode()).digest()


def mark(purpose: str, *parts: bytes) -> bytes:
    """Keyed BLAKE2b (RFC 7693) over the parts, each with its length before it. `purpose` keeps marks of one kind from
    passing for those of another.
    """
    made = hashlib.blake2b(key=_key(settings.SECRET_KEY, purpose), digest_size=SIZE)
    for part in parts:
        made.update(len(part).to_bytes(8, "big"))
        made.update(part)
    return made.digest()


def fits(stored: bytes, purpose: str, *parts: bytes) -> bool:
    """Whether that is the mark over these parts."""
    return hmac.compare_digest(stored, mark(purpose, *parts))
