"""A place with a record, stored files and a seal, and an empty one to put a set back into, on either database."""

from __future__ import annotations

import itertools
import shutil

import pytest
from django.db import connection, connections

from audit.issue.seal import keys
from audit.upkeep import backup
from audit.upkeep import place as p
from records import clock
from tests import world as build
from tests.kept import kept
from tests.records.one_of_each import log_one_of_each

_numbers = itertools.count(1)


@kept(folder="BLOBS_DIR")
def _one_of_each():
    from django.conf import settings

    with clock.at(build.NOW):
        world = build.make(units=2)
        log_one_of_each(world, settings.BLOBS_DIR)
        return world


@pytest.fixture
def place(tmp_path, settings, monkeypatch, transactional_db):
    """The test's own: a row of every kind of fact, the files that they name, a key."""
    settings.DATA_DIR = tmp_path / "data"
    settings.BLOBS_DIR, settings.SEAL_DIR = settings.DATA_DIR / "blobs", settings.DATA_DIR / "seal"
    settings.DATA_DIR.mkdir()
    monkeypatch.setattr(clock, "real", lambda: build.NOW)
    _one_of_each()
    keys.make_key("Keepers", build.NOW)
    return p.own()


_sets: dict[tuple, tuple[str, bytes]] = {}


@pytest.fixture
def the_set(place, tmp_path):
    """Gives the file of a set of such a place, made once in a process for each pass phrase; `own`: of this very one,
    with the key that this one has.
    """

    def of(phrase: str = "", own: bool = False):
        asked, folder = (connection.vendor, phrase), tmp_path / "sets"
        if own or asked not in _sets:
            made = backup.make(place, folder, phrase)
            _sets[asked] = (made.path.name, made.path.read_bytes())
        name, content = _sets[asked]
        folder.mkdir(exist_ok=True)
        (folder / name).write_bytes(content)
        return folder / name

    return of


@pytest.fixture
def empty(tmp_path, place):
    """Makes empty places: a folder, and on PostgreSQL a database of their own."""
    made = []

    def make() -> p.Place:
        name = f"standing_back_{next(_numbers)}"
        data = tmp_path / name
        if connection.vendor == "sqlite":
            where = str(data / "standing.sqlite3")
        else:
            with connection.cursor() as cursor:
                cursor.execute(f"DROP DATABASE IF EXISTS {name}")
                cursor.execute(f"CREATE DATABASE {name}")
            where = name
        made.append((data, where))
        return p.Place(data, data / "blobs", data / "seal", place.database | {"NAME": where})

    yield make
    connections.close_all()
    for data, where in made:
        shutil.rmtree(data, ignore_errors=True)
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute(f"DROP DATABASE {where}")
