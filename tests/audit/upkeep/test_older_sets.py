"""A set that an earlier program made, put back by this one: brought up to today's tables, and the same record."""

from __future__ import annotations

import json
import lzma
import sqlite3
from contextlib import closing
from pathlib import Path

from django.conf import settings

from audit.upkeep import archive, backup, proof, restore
from audit.upkeep import place as p
from records.ledger import canon

LEDGERS = Path(__file__).parents[2] / "records" / "ledgers"


def old_place(form: int, folder: Path) -> p.Place:
    """A data folder as the program of that form left it."""
    folder.mkdir()
    file = folder / "standing.sqlite3"
    with closing(sqlite3.connect(file)) as database:
        database.executescript(lzma.decompress((LEDGERS / f"form_{form}.sql.xz").read_bytes()).decode())
    database = settings.DATABASES["default"] | {
        "ENGINE": "django.db.backends.sqlite3",
        "NAME": str(file),
        "OPTIONS": {},
    }
    return p.Place(folder, folder / "blobs", folder / "seal", database)


def at(folder: Path, like: p.Place) -> p.Place:
    database = like.database | {"NAME": str(folder / "standing.sqlite3")}
    return p.Place(folder, folder / "blobs", folder / "seal", database)


def named(file: Path) -> list[str]:
    columns = [("document", "sha256"), ("photo", "sha256"), ("binderissue", "file_sha256")]
    with closing(sqlite3.connect(file)) as database:
        there = {row[0] for row in database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        asked = [(t, c) for t, c in columns if f"records_{t}" in there]
        return sorted({row[0] for t, c in asked for row in database.execute(f"SELECT {c} FROM records_{t}")})


def test_a_set_of_an_earlier_program_becomes_todays_and_keeps_its_heads(tmp_path, django_db_blocker):
    form = 1
    old = old_place(form, tmp_path / "old")
    said = json.loads((LEDGERS / f"form_{form}.json").read_text(encoding="utf-8"))
    stated = {"heads": said["ledgers"], "chains": {}, "answers": {}, "binder": None}
    stated["lost"] = named(tmp_path / "old" / "standing.sqlite3")  # the bytes of that day are not kept with the tests
    manifest = {"made_at": said["stands_at"], "database": "sqlite", "proof": stated}
    path = tmp_path / "old.tar"
    with path.open("wb") as out:
        files = [("database.sqlite3", tmp_path / "old" / "standing.sqlite3")]
        archive.write(out, files, manifest | {"program": {"version": "earlier", "digest": said["commit"]}})
    back = at(tmp_path / "back", old)
    with django_db_blocker.unblock():
        found = restore.restore(path, back)
        assert found.proved and not found.same_program
        assert found.migrated > 0
        with p.standing_in(back):
            assert proof.heads() == said["ledgers"] and proof.chains() == {}


def test_tables_that_await_the_new_program_are_backed_up_and_it_is_said_that_nothing_was_proved(
    tmp_path, django_db_blocker
):
    old = old_place(canon.newest_form() - 1, tmp_path / "old")
    with django_db_blocker.unblock():
        made = backup.make(old, tmp_path / "sets")
        assert made.manifest["proof"] is None and "the tables are older than this program" in made.findings[0]
        found = restore.restore(made.path, back := at(tmp_path / "back", old))
        assert found.migrated > 0 and found.record == () and not found.proved
        with p.standing_in(back):
            assert proof.chains() == {}
