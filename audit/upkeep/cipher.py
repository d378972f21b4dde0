"""A stream encrypted with a pass phrase, so that a backup may lie where others look.

AES-256-GCM (NIST SP 800-38D) over pieces of `PIECE` bytes, each with its number and whether it is the last in its
nonce, so that a piece can be neither changed, moved, repeated nor cut off (the STREAM construction of Hoang,
Reyhanitabar, Rogaway and Vizár, 2015; from memory). The key is made from pass phrase and salt by scrypt (RFC 7914).
"""

from __future__ import annotations

import io
import os
import struct

MAGIC = b"standing backup, encrypted, 1\n"
PIECE = 1 << 20
_SALT, _PREFIX, _TAG = 16, 7, 16
_COST = {"n": 2**15, "r": 8, "p": 1}


class WrongPassPhrase(Exception):
    """The pass phrase does not open it, or what was written is not what is there: the message says the way out."""


def is_encrypted(head: bytes) -> bool:
    """Whether a file that begins with these bytes was written by `Encrypted`."""
    return head.startswith(MAGIC)


def _cipher(phrase: str, salt: bytes):
    from cryptography.hazmat.primitives.ciphers.aead import AESGCM
    from cryptography.hazmat.primitives.kdf.scrypt import Scrypt

    return AESGCM(Scrypt(salt=salt, length=32, **_COST).derive(phrase.encode()))


def _nonce(prefix: bytes, number: int, last: bool) -> bytes:
    return prefix + struct.pack(">I?", number, last)


class Encrypted(io.RawIOBase):
    """A file to write to; `finish` writes the last piece. Without it what was written does not open."""

    def __init__(self, out, phrase: str) -> None:
        self._out, self._held, self._number = out, bytearray(), 0
        salt, self._prefix = os.urandom(_SALT), os.urandom(_PREFIX)
        self._head = MAGIC + salt + self._prefix
        self._aead = _cipher(phrase, salt)
        out.write(self._head)

    def writable(self) -> bool:
        """Always."""
        return True

    def write(self, data) -> int:
        """Take the bytes; whole pieces leave at once, but the last one is held until `finish`."""
        self._held += data
        while len(self._held) > PIECE:
            self._piece(bytes(self._held[:PIECE]), last=False)
            del self._held[:PIECE]
        return len(data)

    def _piece(self, content: bytes, *, last: bool) -> None:
        self._out.write(self._aead.encrypt(_nonce(self._prefix, self._number, last), content, self._head))
        self._number += 1

    def finish(self) -> None:
        """Write what is held as the last piece."""
        self._piece(bytes(self._held), last=True)
        self._held.clear()


class Decrypted(io.RawIOBase):
    """A file to read from. Reading raises WrongPassPhrase where a piece is not as it was written, or is missing."""

    def __init__(self, source, phrase: str) -> None:
        self._source, self._number, self._rest, self._over = source, 0, b"", False
        self._head = source.read(len(MAGIC) + _SALT + _PREFIX)
        salt = self._head[len(MAGIC) : len(MAGIC) + _SALT]
        self._prefix = self._head[len(MAGIC) + _SALT :]
        self._aead = _cipher(phrase, salt)
        self._next = source.read(PIECE + _TAG)

    def readable(self) -> bool:
        """Always."""
        return True

    def readinto(self, buffer) -> int:
        """Fill the buffer as far as one piece goes; 0 at the end."""
        if not self._rest and not self._over:
            self._rest = self._opened()
        taken = self._rest[: len(buffer)]
        buffer[: len(taken)] = taken
        self._rest = self._rest[len(taken) :]
        return len(taken)

    def _opened(self) -> bytes:
        from cryptography.exceptions import InvalidTag

        piece, self._next = self._next, self._source.read(PIECE + _TAG)
        self._over = not self._next
        try:
            content = self._aead.decrypt(_nonce(self._prefix, self._number, self._over), piece, self._head)
        except InvalidTag:
            raise WrongPassPhrase(
                "The pass phrase does not open this set." if self._number == 0 else
                "This set is damaged or cut off: a part of it is not what was written. Take another set."
            ) from None  # fmt: skip
        self._number += 1
        return content
