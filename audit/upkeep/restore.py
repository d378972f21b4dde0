"""A backup set back into an empty place, and the proof that it is the record that was backed up.

A note stands in the data folder from the first byte to the last. While it is there the place says of itself that it
is half; the same command once more begins again, and takes away only what it put there itself.
"""

from __future__ import annotations

import os
import shutil
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.core.management import call_command
from django.db.migrations.executor import MigrationExecutor

from records import clock
from records.ledger import triggers

from . import archive, databases, proof
from . import place as p

_BESIDE = ".restoring"


class NotRestored(Exception):
    """Nothing was put back, or not all of it: the message says what stands and the way out."""


@dataclass(frozen=True, slots=True)
class Restored:
    """`record` is what is not as the set says: empty where all is well. `meaning`: answers or bytes that differ."""

    manifest: dict
    migrated: int
    record: tuple[str, ...]
    meaning: tuple[str, ...]
    same_program: bool

    @property
    def proved(self) -> bool:
        """Heads and chains are those of the set; and under the same program answers and binder too."""
        return bool(self.manifest["proof"]) and not self.record and not (self.same_program and self.meaning)


def restore(path: Path, place: p.Place, phrase: str = "") -> Restored:
    """Put the set back. Raises NotRestored, archive.NotASet, cipher.WrongPassPhrase, databases.NotCopied, OSError."""
    path.stat()  # raises what says that it is not there, before anything else is looked at
    begun = p.noted(place.data / p.RESTORING)
    if begun is None:
        _refuse_unless_empty(place)
    # Read to its end before anything is written: half a set or a wrong pass phrase is found here.
    manifest = archive.read(path, phrase)
    if manifest["database"] != place.vendor:
        raise NotRestored(
            f"This set holds a database of {manifest['database']}; the settings name {place.vendor}. Nothing was "
            f"written. Set STANDING_DATABASE={manifest['database']}."
        )
    if begun is not None and not databases.is_empty(place):
        _refuse_another(begun, manifest, path)
    else:
        _put(path, place, phrase, manifest, begun)
    found = _proved(place, manifest)
    if not found.record:
        (place.data / p.RESTORING).unlink()
        p.sync_folder(place.data)
    return found


def _refuse_unless_empty(place: p.Place) -> None:
    stands = [folder for folder in (place.blobs, place.seal) if folder.exists() and any(folder.iterdir())]
    if not databases.is_empty(place):
        stands.insert(0, Path(str(place.database["NAME"])))
    if stands:
        raise NotRestored(
            f"There is something already: {stands[0]}. A backup is put back into an empty place only, so nothing was "
            "written. Name an empty folder in STANDING_DATA, and with PostgreSQL an empty database in PGDATABASE."
        )


def _refuse_another(begun: dict, manifest: dict, path: Path) -> None:
    """The database stands already: this can only be the end of the same work."""
    if begun["made_at"] != manifest["made_at"] or begun["members"] != len(manifest["members"]):
        raise NotRestored(
            f"Another set was being put back here, made at {begun['made_at']}. Go on with that one, or name an empty "
            "place."
        )


def _put(path: Path, place: p.Place, phrase: str, manifest: dict, begun: dict | None) -> None:
    if begun is not None:
        for folder in (place.blobs, place.seal):
            shutil.rmtree(folder, ignore_errors=True)
    place.data.mkdir(parents=True, exist_ok=True, mode=0o700)
    note = {"set": str(path.resolve()), "made_at": manifest["made_at"], "members": len(manifest["members"])}
    p.note(place.data / p.RESTORING, note | {"begun_at": clock.real().isoformat()})
    database = place.data / (archive.DATABASES[place.vendor] + _BESIDE)

    def put(name: str) -> Path:
        folder, _, rest = name.partition("/")
        return {"blobs": place.blobs, "seal": place.seal}[folder] / rest if rest else database

    archive.read(path, phrase, put)
    if place.vendor == "sqlite":
        # The last thing: as long as it is not there, there is no database that anybody could work with.
        os.replace(database, place.database["NAME"])
        p.sync_folder(Path(place.database["NAME"]).parent)
    else:
        databases.load_postgresql(place.database, database)
        database.unlink()


def _proved(place: p.Place, manifest: dict) -> Restored:
    with p.standing_in(place) as connection:
        if place.vendor == "sqlite" and (wrong := databases.look_through_sqlite(Path(place.database["NAME"]))):
            return Restored(manifest, 0, (f"the database is damaged: {wrong}",), (), True)
        migrated = _migrate(connection)
        same = manifest["program"]["digest"] == proof.program_said()["digest"] and not migrated
        if gone := triggers.missing(connection):
            return Restored(manifest, migrated, (f"the trigger {gone[0]} is missing",), (), same)
        said = manifest["proof"]
        if not said:
            return Restored(manifest, migrated, tuple(proof.chains().values()), (), same)
        record, meaning = proof.differences(said, datetime.fromisoformat(manifest["made_at"]))
        return Restored(manifest, migrated, tuple(record), tuple(meaning), same)


def _migrate(connection) -> int:
    """Bring the tables of an older set up to this program; how many migrations that took."""
    executor = MigrationExecutor(connection)
    plan = executor.migration_plan(executor.loader.graph.leaf_nodes())
    if plan:
        call_command("migrate", verbosity=0, interactive=False)
    return len(plan)
