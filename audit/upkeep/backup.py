"""A backup set of one place as one moment had it, written beside and renamed, then read back and looked through.

The database is copied first: stored files are only ever added, so what is copied later holds all that it names.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import shutil
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from django.db.migrations.executor import MigrationExecutor

from records import clock

from . import archive, databases, proof
from . import place as p

PASS_PHRASE = "STANDING_BACKUP_PASSPHRASE"
_BEGUN = ".begun-"


class NoBackup(Exception):
    """No set was made: the message says why and the way out. What stood in the folder before stands there still."""


@dataclass(frozen=True, slots=True)
class BackupSet:
    """`findings` is what is wrong with the record in the set; the set itself is whole."""

    path: Path
    sha256: str
    manifest: dict
    findings: tuple[str, ...]


def make(place: p.Place, to: Path, phrase: str = "") -> BackupSet:
    """Write a set of the place into the folder `to`; encrypted where a pass phrase is given.

    Raises NoBackup, databases.NotCopied and archive.NotASet (what was written is not what is read back), OSError.
    """
    if p.unfinished(place):
        raise NoBackup("A backup is being put back here and is not whole yet. Finish `manage.py restore` first.")
    to.mkdir(parents=True, exist_ok=True, mode=0o700)
    with _alone(to), tempfile.TemporaryDirectory(prefix=_BEGUN, dir=to) as folder:
        work = Path(folder)
        at = clock.real()
        database = work / archive.DATABASES[place.vendor]
        stated, wrong = _sqlite(place, database, at) if place.vendor == "sqlite" else _postgresql(place, database, at)
        path, manifest = _write(place, to, work, at, phrase, database, stated, wrong)
    sha256 = _sha256(path)
    noted = {"made_at": at.isoformat(), "file": str(path.resolve()), "sha256": sha256}
    p.note(place.data / p.LAST_BACKUP, noted)
    return BackupSet(path, sha256, manifest, (*wrong, *_findings(manifest)))


@contextmanager
def _alone(to: Path):
    """One backup at a time in a folder. What another one left that was ended in the middle is thrown away."""
    with open(to / ".lock", "w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise NoBackup(f"Another backup is being written into {to}. Wait until it is done.") from None
        for left in to.glob(f"{_BEGUN}*"):
            shutil.rmtree(left, ignore_errors=True)
        yield


def _sqlite(place: p.Place, file: Path, at: datetime) -> tuple[dict | None, list[str]]:
    databases.copy_sqlite(place.database, file)
    if wrong := databases.look_through_sqlite(file):
        return None, [f"the database itself is damaged: {wrong}"]
    # Only looked at, so that what goes into the set is what was copied.
    looked_at = place.database | {"NAME": str(file), "OPTIONS": {"init_command": "PRAGMA query_only=ON"}}
    copy = p.Place(place.data, place.blobs, place.seal, looked_at)
    with p.standing_in(copy) as connection:
        return _stated(connection, at)


def _postgresql(place: p.Place, file: Path, at: datetime) -> tuple[dict | None, list[str]]:
    with databases.one_moment(place.database) as (connection, snapshot):
        databases.dump_postgresql(place.database, snapshot, file)
        if wrong := databases.look_through_postgresql(file, connection):
            raise NoBackup(f"What pg_dump wrote is not what the database holds: {wrong}. Nothing is kept of it.")
        with p.standing_in(place, connection):
            return _stated(connection, at)


def _stated(connection, at: datetime) -> tuple[dict | None, list[str]]:
    executor = MigrationExecutor(connection)
    if executor.migration_plan(executor.loader.graph.leaf_nodes()):
        return None, [
            "the tables are older than this program, so its record was not proved; `manage.py restore` proves it, or "
            "make the backup with the program that it was used with"
        ]
    return proof.stated(at), []


def _write(place: p.Place, to: Path, work: Path, at: datetime, phrase: str, database: Path, stated, wrong):
    name = f"standing-{at.astimezone(UTC):%Y-%m-%dT%H%M%S}Z.tar" + (".enc" if phrase else "")
    if (to / name).exists():
        raise NoBackup(f"{to / name} is there already. Wait a second and make it again.")
    manifest = {
        "made_at": at.isoformat(),
        "program": proof.program_said(),
        "database": place.vendor,
        "proof": stated,
    }
    beside = work / name
    with open(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as out:
        manifest = archive.write(out, _files(place, database), manifest, phrase)
        out.flush()
        os.fsync(out.fileno())
    _read_back(beside, phrase, place, work, told=bool(wrong))
    os.replace(beside, to / name)
    p.sync_folder(to)
    return to / name, manifest


def _files(place: p.Place, database: Path):
    yield database.name, database
    for file in sorted(place.blobs.glob("*/*")):
        name = f"blobs/{file.relative_to(place.blobs).as_posix()}"
        if archive.STORED.fullmatch(name):
            yield name, file
    for file in sorted(place.seal.rglob("*")):
        if file.is_file():
            yield f"seal/{file.relative_to(place.seal).as_posix()}", file


def _read_back(path: Path, phrase: str, place: p.Place, work: Path, told: bool) -> None:
    """Read the whole set as `restore` does, and look through the database in it. Raises NotASet.

    `told`: the database was damaged before it was copied, which is a finding and no fault of the set.
    """
    name = archive.DATABASES[place.vendor]
    again = work / f"again-{name}"
    archive.read(path, phrase, lambda member: again if member == name else None)
    if place.vendor == "sqlite" and not told and (wrong := databases.look_through_sqlite(again)):
        raise archive.NotASet(f"What was read back of {path.name} is damaged: {wrong}.")
    again.unlink()


def _findings(manifest: dict) -> list[str]:
    stated = manifest["proof"] or {}
    found = [f"the tamper check: {sentence}" for sentence in stated.get("chains", {}).values()]
    for name, member in manifest["members"].items():
        if (stored := archive.STORED.fullmatch(name)) and stored[1] != member["sha256"]:
            found.append(f"the stored file {name} is not what was filed")
    if lost := stated.get("lost"):
        found.append(f"{len(lost)} stored files that the record names are not there: {', '.join(lost[:3])}")
    if stated.get("no_binder"):
        found.append(f"no binder could be made: {stated['no_binder']}")
    return found


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
