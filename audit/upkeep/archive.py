"""A backup set: one file, a tar with database, stored files and seal, and last of all what it holds, with checksums.

It is written beside its name and renamed when it is whole and safe on the disk, so that a file of that name is never
half a set. Without its last member, `manifest.json`, it is none.
"""

from __future__ import annotations

import hashlib
import io
import json
import os
import re
import tarfile
from collections.abc import Callable, Iterable
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from . import cipher

MANIFEST = "manifest.json"
KIND, FORMAT = "unit-standing backup", 1
DATABASES = {"sqlite": "database.sqlite3", "postgresql": "database.dump"}
STORED = re.compile(r"blobs/[0-9a-f-]{36}/([0-9a-f]{64})")
_PASSED_ON = 1 << 20


class NotASet(Exception):
    """The file is no whole backup set, or not as it was written: the message says what and the way out."""


def _tar_entry(name: str, size: int) -> tarfile.TarInfo:
    entry = tarfile.TarInfo(name)
    entry.size, entry.mode = size, 0o600
    return entry


class _Summed:
    """Reads through to a file and sums what passes."""

    def __init__(self, file) -> None:
        self.file, self.sum, self.size = file, hashlib.sha256(), 0

    def read(self, size: int = -1) -> bytes:
        content = self.file.read(size)
        self.sum.update(content)
        self.size += len(content)
        return content


def write(out, files: Iterable[tuple[str, Path]], manifest: dict, phrase: str = "") -> dict:
    """Write a set to the open file `out`, encrypted where a pass phrase is given; the manifest with its members."""
    stream = cipher.Encrypted(out, phrase) if phrase else out
    members = {}
    with tarfile.open(fileobj=stream, mode="w|", format=tarfile.PAX_FORMAT, bufsize=_PASSED_ON) as tar:
        for name, path in files:
            with path.open("rb") as file:
                summed = _Summed(file)
                tar.addfile(_tar_entry(name, os.fstat(file.fileno()).st_size), summed)
            members[name] = {"size": summed.size, "sha256": summed.sum.hexdigest()}
        whole = {"kind": KIND, "format": FORMAT} | manifest | {"members": members}
        content = json.dumps(whole, indent=1, ensure_ascii=False).encode()
        tar.addfile(_tar_entry(MANIFEST, len(content)), io.BytesIO(content))
    if phrase:
        stream.finish()
    return whole


def read(path: Path, phrase: str, put: Callable[[str], Path | None] | None = None) -> dict:
    """Read a set to its end and compare every checksum; what it says of itself.

    `put(name)` says where a member goes (its folder is made), None for nowhere. Raises NotASet, and
    cipher.WrongPassPhrase; what was put by then is not to be used.
    """
    found: dict[str, dict] = {}
    manifest = None
    with _opened(path, phrase) as tar:
        for entry in tar:
            if manifest is not None:
                raise NotASet(f"{path.name} goes on after its end. It is not as it was written: take another set.")
            if entry.name == MANIFEST:
                manifest = _manifest(path, tar.extractfile(entry).read())
                continue
            _refuse_strange(path, entry)
            found[entry.name] = _taken(tar.extractfile(entry), put(entry.name) if put else None)
    if manifest is None:
        raise NotASet(f"{path.name} ends before its end: it is half a set. Take another one.")
    if manifest["members"] != found:
        changed = sorted(n for n in manifest["members"].keys() | found if manifest["members"].get(n) != found.get(n))
        raise NotASet(f"{path.name} is damaged: {changed[0]} is not what was written. Take another set.")
    return manifest


@contextmanager
def _opened(path: Path, phrase: str):
    try:
        with path.open("rb") as file:
            head = file.read(len(cipher.MAGIC))
            file.seek(0)
            if cipher.is_encrypted(head) and not phrase:
                raise cipher.WrongPassPhrase("This set is encrypted.")
            stream = cipher.Decrypted(file, phrase) if cipher.is_encrypted(head) else file
            source = io.BufferedReader(stream, _PASSED_ON) if stream is not file else stream
            with tarfile.open(fileobj=source, mode="r|", bufsize=_PASSED_ON) as tar:
                yield tar
            # To the very end: that the last piece is the last shows only then.
            while source.read(_PASSED_ON):
                pass
    except (tarfile.TarError, EOFError):
        raise NotASet(f"{path.name} is no backup set, or only a part of one. Take another file.") from None


def _manifest(path: Path, content: bytes) -> dict:
    try:
        manifest = json.loads(content)
        known = manifest["kind"] == KIND and isinstance(manifest["members"], dict)
    except (ValueError, KeyError, TypeError):
        known = False
    if not known:
        raise NotASet(f"{path.name} does not say what it holds as a backup set does. Take another file.")
    if manifest["format"] != FORMAT:
        raise NotASet(
            f"{path.name} has the form {manifest['format']}; this program reads form {FORMAT}. Use the version of "
            "the program that made it, or a newer one."
        )
    return manifest


def _refuse_strange(path: Path, entry: tarfile.TarInfo) -> None:
    parts = PurePosixPath(entry.name).parts
    known = entry.name in DATABASES.values() or STORED.fullmatch(entry.name) or parts[:1] == ("seal",)
    if not entry.isfile() or ".." in parts or not known:
        raise NotASet(f"{path.name} holds “{entry.name}”, which no backup set holds. Take another file.")


def _taken(file, to: Path | None) -> dict:
    summed = _Summed(file)
    if to is None:
        while summed.read(_PASSED_ON):
            pass
    else:
        to.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        with open(os.open(to, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "wb") as out:
            while content := summed.read(_PASSED_ON):
                out.write(content)
            out.flush()
            os.fsync(out.fileno())
    return {"size": summed.size, "sha256": summed.sum.hexdigest()}
