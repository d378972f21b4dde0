"""Read what a file of unknown origin holds, in a process of its own with little memory and little time.

Whatever the file does to its reader (loops, bombs of compressed data, faults), this process alone ends. `look` is
called by the program; run as a module, the file comes on standard input and the answer goes out as JSON.
"""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

from audit.issue.seal.manifest import CONTENTS, KIND, MANIFEST, row_names
from records.files.reader_limits import limit_this_process

SECONDS = 20
MEMORY = 1024 * 1024 * 1024
LARGEST_MANIFEST = 8 * 1024 * 1024
MOST_FILES = 5000
MOST_FIELDS = 50
TOO_MUCH = f"reading it takes more than {SECONDS} seconds or {MEMORY // 1024 // 1024} MB of memory"


@dataclass(frozen=True, slots=True)
class SignatureField:
    """A signature field. `at` is the PDF's own text of the moment; `certificates` are fingerprints (SHA-256)."""

    filled: bool
    by: str = ""
    reason: str = ""
    at: str = ""
    certificates: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Look:
    """What the file holds, as far as it could be read; `problem` says why no further, "" when all was read.

    `files` are (name, SHA-256) of the attached files, `rows` the names of rows in its contents, both sorted.
    """

    problem: str = ""
    encrypted: bool = False
    repaired: bool = False
    pages: int | None = None
    files: tuple[tuple[str, str], ...] = ()
    manifest: dict | None = None
    rows: frozenset[tuple[str, int]] = frozenset()
    fields: tuple[SignatureField, ...] = field(default=())


def look(content: bytes) -> Look:
    """Never raises for anything that is in the file."""
    here = Path(__file__).resolve().parents[3]
    try:
        done = subprocess.run(
            [sys.executable, "-m", "audit.issue.seal.look"],
            input=content, capture_output=True, timeout=SECONDS + 5, cwd=here, check=False,
            env={name: os.environ[name] for name in ("PATH", "LANG", "SYSTEMROOT") if name in os.environ},
        )  # fmt: skip
        said = json.loads(done.stdout) if done.returncode == 0 else {"problem": TOO_MUCH}
    except (subprocess.TimeoutExpired, json.JSONDecodeError):
        said = {"problem": TOO_MUCH}
    return _from_json(said)


def _from_json(said: dict) -> Look:
    lists = {
        "files": tuple(tuple(each) for each in said.pop("files", ())),
        "rows": frozenset(tuple(each) for each in said.pop("rows", ())),
        "fields": tuple(
            SignatureField(**each | {"certificates": tuple(each["certificates"])}) for each in said.pop("fields", ())
        ),
    }
    return Look(**said, **lists)


def read(content: bytes) -> dict:
    """What `look` tells, as plain data. Reads in this very process: only for a file that is trusted, or in tests."""
    import io

    import pikepdf

    said = {}
    try:
        with pikepdf.open(io.BytesIO(content), suppress_warnings=True) as pdf:
            said["encrypted"] = bool(pdf.is_encrypted)
            for part in (_pages, _files, _fields):
                part(pdf, said)
            said["repaired"] = bool(pdf.get_warnings())
    except pikepdf.PasswordError:
        said |= {"encrypted": True, "problem": "it is locked with a password"}
    except MemoryError:
        said["problem"] = TOO_MUCH
    except Exception as error:  # a reader of hostile files fails in more ways than can be listed
        said["problem"] = TOO_MUCH if "bad_alloc" in str(error) else "it is damaged or cut off"
    return said


def _pages(pdf, said: dict) -> None:
    said["pages"] = len(pdf.pages)


def _files(pdf, said: dict) -> None:
    found, said["files"] = sorted(pdf.attachments.keys())[:MOST_FILES], []
    for name in found:
        content = pdf.attachments[name].get_file().read_bytes()
        said["files"].append((_text(name), hashlib.sha256(content).hexdigest()))
        if name == MANIFEST and len(content) <= LARGEST_MANIFEST:
            said["manifest"] = _manifest(content)
        if name == CONTENTS:
            said["rows"] = sorted(row_names(content))


def _manifest(content: bytes) -> dict | None:
    try:
        value = json.loads(content)
    except ValueError:
        return None
    return value if isinstance(value, dict) and value.get("kind") == KIND else None


def _fields(pdf, said: dict) -> None:
    form = pdf.Root.get("/AcroForm")
    found = list(form.get("/Fields", ())) if form is not None else []
    said["fields"] = [_field(each) for each in found[:MOST_FIELDS] if str(each.get("/FT", "")) == "/Sig"]


def _field(one) -> dict:
    value = one.get("/V")
    if value is None:
        return {"filled": False, "certificates": ()}
    named = {name: _text(value.get(key, "")) for name, key in (("by", "/Name"), ("reason", "/Reason"), ("at", "/M"))}
    return {"filled": True, "certificates": _certificates(bytes(value.get("/Contents", b""))), **named}


def _text(value) -> str:
    """Text of the file without what cannot be seen or encoded."""
    return "".join(c for c in str(value)[:500] if c.isprintable())


def _certificates(container: bytes) -> list[str]:
    from audit.issue.seal.signature import fingerprints_in

    return sorted(fingerprints_in(container))


if __name__ == "__main__":
    limit_this_process(MEMORY, SECONDS)
    json.dump(read(sys.stdin.buffer.read()), sys.stdout)
