"""Signed statements of ledger heads: what leaves the database, so that whoever owns it cannot rewrite it unseen.

A statement is a JSON file that people can read: the moment, and of each organisation the number and hash of its
newest entry. Beside it lie a detached signature of the seal's key (CMS, RFC 5652; any program that reads CMS can
check it) and, where it was asked for, a time stamp of somebody else (RFC 3161, `stamps`). Kept away from the machine,
it proves later that the entries up to that number are still there and are the same.
"""

from __future__ import annotations

import asyncio
import hashlib
import json
import os
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from uuid import UUID

from audit.facts.heads import LedgerHead

from . import manifest
from .keys import Seal, load_key
from .sign import cms_signer, refuse_outside_validity

KIND, EDITION = "statement of ledger heads", 1
SIGNATURE, STAMP = ".p7s", ".tst"
LARGEST = 8 * 1024 * 1024


class NotAStatement(ValueError):
    """A file is not a statement of heads: the message says why."""


@dataclass(frozen=True, slots=True)
class Stated:
    """What a statement says. `at` is the moment in UTC by the clock of the machine that signed."""

    at: datetime
    heads: tuple[LedgerHead, ...]

    @property
    def day(self) -> date:
        return self.at.date()


def to_bytes(stated: Stated) -> bytes:
    """The statement as the bytes of its file: UTF-8, indented for people; the same for the same heads and moment."""
    said = {
        "kind": KIND,
        "edition": EDITION,
        "day": stated.day.isoformat(),
        "at": stated.at.astimezone(UTC).isoformat(timespec="seconds"),
        "program": manifest.program(),
        "ledgers": [
            {"organisation": h.organisation, "name": h.name, "number": h.number, "hash": h.hash} for h in stated.heads
        ],
    }
    return (json.dumps(said, ensure_ascii=False, indent=1) + "\n").encode()


def from_bytes(content: bytes) -> Stated:
    """What the bytes of a statement say. Raises NotAStatement."""
    try:
        said = json.loads(content.decode())
        if said["kind"] != KIND or said["edition"] != EDITION:
            raise NotAStatement(f"it is not a {KIND} of edition {EDITION}")
        at = datetime.fromisoformat(said["at"])
        heads = tuple(_head(each) for each in said["ledgers"])
    except NotAStatement:
        raise
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise NotAStatement(f"it is no {KIND}: {error}") from None
    if at.tzinfo is None or not heads:
        raise NotAStatement("it states no moment with its offset from UTC, or no head")
    return Stated(at, heads)


def _head(said: dict) -> LedgerHead:
    number, digest = said["number"], said["hash"]
    if type(number) is not int or number < 1 or len(bytes.fromhex(digest)) != hashlib.sha256().digest_size:
        raise NotAStatement("an entry has a number from 1 on, and a hash of 64 hexadecimal digits")
    return LedgerHead(str(UUID(said["organisation"])), str(said["name"]), number, digest)


def signature(content: bytes, at: datetime, seal: Seal | None = None) -> bytes:
    """A detached signature over the bytes (CMS, DER). Raises NoKey as `sign.sign` does."""
    from pyhanko.sign.signers.pdf_cms import PdfCMSSignedAttributes

    seal = seal or load_key()
    refuse_outside_validity(seal, at)
    at = at.astimezone(UTC).replace(microsecond=0)
    with cms_signer(seal) as signer:
        made = signer.async_sign(
            hashlib.sha256(content).digest(), "sha256", is_pdf_sig=False,
            signed_attr_settings=PdfCMSSignedAttributes(signing_time=at),
        )  # fmt: skip
        return asyncio.run(made).dump()


def write(folder: Path, stated: Stated, seal: Seal | None = None) -> Path:
    """Write the statement and its signature into the folder; returns the statement's file. Never over another one.

    Raises NoKey before anything is written, FileExistsError when one of that second is there.
    """
    content = to_bytes(stated)
    signed = signature(content, stated.at, seal)
    file = folder / f"heads-{stated.at.astimezone(UTC):%Y-%m-%dT%H%M%SZ}.json"
    folder.mkdir(parents=True, exist_ok=True)
    put(file.with_suffix(SIGNATURE), signed)
    put(file, content)
    return file


def put(file: Path, content: bytes) -> None:
    """The file appears whole or not at all. Raises FileExistsError."""
    handle, temporary = tempfile.mkstemp(dir=file.parent, prefix=".new-")
    try:
        with os.fdopen(handle, "wb") as made:
            made.write(content)
            made.flush()
            os.fsync(made.fileno())
        os.chmod(temporary, 0o644)  # nothing in it is secret, and somebody else is to take it away
        os.link(temporary, file)
    finally:
        Path(temporary).unlink(missing_ok=True)


def statements_in(paths: Iterable[Path]) -> list[Path]:
    """The files of statements and binders among the paths, those inside of folders included, by name."""
    found: set[Path] = set()
    for path in paths:
        inside = path.rglob("*") if path.is_dir() else [path]
        found |= {p for p in inside if p.is_file() and (not path.is_dir() or _is_anchor(p))}
    return sorted(found)


def _is_anchor(path: Path) -> bool:
    return path.suffix == ".pdf" or (path.suffix == ".json" and path.name.startswith("heads-"))
