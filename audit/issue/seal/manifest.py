"""What a binder says of itself, as data: the ledgers, days, rules and program it rests on, and its attached files.

Pure. The manifest is attached to the file as `manifest.json`, the contents as `contents.json`; both come out the same
byte for byte from the same facts.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from decimal import Decimal
from enum import Enum
from importlib.metadata import PackageNotFoundError, version
from uuid import UUID

from audit.binder.attached import Paper
from audit.binder.sections import Binder, RulesFollowed
from audit.facts.heads import LedgerHead

KIND = "binder manifest"
EDITION = 1
MANIFEST = "manifest.json"
CONTENTS = "contents.json"
SAYS_CONTENTS = "the contents of this binder as data"
SAYS_MANIFEST = "the ledgers, days, rules and files this binder rests on"
ROW_NAME = re.compile(r'\["[a-z]?([1-9][0-9]{0,9})(?:\.[0-9]{1,6})?","([0-9a-f]{8})"\]')
OLDER_ROW_NAME = re.compile(r"\b([0-9a-f]{8}) #([1-9][0-9]{0,9})\b")  # as binders named rows at first


@dataclass(frozen=True, slots=True)
class Attached:
    """A file inside the binder. `size` in bytes, `sha256` in hexadecimal, `says` what it is in a few words."""

    name: str
    sha256: str
    size: int
    says: str = ""


def attached(name: str, content: bytes, says: str = "") -> Attached:
    """The line of the manifest about a file with that content."""
    return Attached(name, hashlib.sha256(content).hexdigest(), len(content), says)


def program() -> dict:
    """The program that made the file, by name and version."""
    try:
        return {"name": "unit-standing", "version": version("unit-standing")}
    except PackageNotFoundError:
        return {"name": "unit-standing", "version": "not installed as a package"}


def manifest(
    binder: Binder,
    heads: Iterable[LedgerHead],
    rules: Iterable[RulesFollowed],
    papers: Iterable[Paper],
    program: Mapping,
    *,
    contents: bytes,
    pages: int | None = None,
) -> dict:
    """What the file rests on, as plain data in a fixed order.

    `papers` are those on file, listed where their original is embedded; `contents` are the bytes of `contents.json`;
    `pages` is the number of pages, None when it is not stated. Raises ValueError when two files have one name.
    """
    originals = [Attached(p.embedded_as, p.sha256, p.size or len(p.content), p.title) for p in papers if p.content]
    files = [attached(CONTENTS, contents, SAYS_CONTENTS), *originals]
    names = [each.name for each in files]
    if len(set(names)) != len(names) or MANIFEST in names:
        raise ValueError(f"Attached files need names of their own, not {sorted(names)}.")
    return {
        "kind": KIND,
        "edition": EDITION,
        "title": binder.title,
        "clinic": binder.clinic,
        "from": binder.from_on.isoformat(),
        "to": binder.to_on.isoformat(),
        "as_of": binder.as_of.isoformat(),
        "known_at": binder.known_at.isoformat() if binder.known_at else None,
        "pages": pages,
        "extent": binder.extent,
        "ledgers": [_plain(head) for head in heads],
        "rules": [_plain(each) for each in rules],
        "program": dict(program),
        "attachments": [_plain(each) for each in files],
    }


def _plain(value) -> dict:
    shown = {field.name: getattr(value, field.name) for field in fields(value)}
    return {name: v.isoformat() if isinstance(v, date) else v for name, v in shown.items()}


def to_bytes(value: dict) -> bytes:
    """A manifest as the bytes of its file: UTF-8, indented for people."""
    return (json.dumps(value, ensure_ascii=False, indent=1) + "\n").encode()


def contents_json(binder: Binder) -> bytes:
    """The binder as the bytes of `contents.json`: the values of `sections.to_json`, UTF-8, without blanks.

    Raises TypeError for a value that is not plain.
    """
    text = json.dumps(binder, default=_opened, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return (text + "\n").encode()


def _opened(value):
    """One step of what `sections.to_json` does; the encoder itself walks on, in C, three times as fast."""
    if is_dataclass(value):
        return {"kind": type(value).__name__, **{f: getattr(value, f) for f in value.__dataclass_fields__}}
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Decimal):
        return format(value, "f")
    raise TypeError(f"A binder holds plain values only, not {type(value).__name__}: {value!r}")


def row_names(contents: bytes) -> frozenset[tuple[str, int]]:
    """The rows that a `contents.json` names: the first eight characters of the ref, the number of the entry."""
    text = contents.decode("utf-8", "replace")
    named = {(short, int(number)) for number, short in ROW_NAME.findall(text)}
    return frozenset(named | {(short, int(number)) for short, number in OLDER_ROW_NAME.findall(text)})


def is_whole(value: dict) -> bool:
    """Whether a manifest has all that is read from it when a file is checked."""
    try:
        for name in ("from", "to", "as_of"):
            date.fromisoformat(value[name])
        for head in value["ledgers"]:
            UUID(head["organisation"])
            if not (
                isinstance(head["number"], int) and isinstance(head["hash"], str) and isinstance(head["name"], str)
            ):
                return False
    except (KeyError, TypeError, ValueError, AttributeError):
        return False
    return all(isinstance(value.get(name), str) for name in ("title", "clinic"))
