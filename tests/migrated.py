"""The database of tests as `migrate` makes it, made once and then copied: by every process, and by the next run.

Applying every migration to an empty database takes seconds of each process. What it makes depends on nothing but the
code of the two apps and on Django, so a copy is kept under a digest of both, beside what pytest itself remembers.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import sqlite3
from contextlib import closing
from pathlib import Path
from unittest import mock

import django
from django.conf import settings
from django.core import management
from django.db import connections
from django.db.backends.sqlite3.creation import DatabaseCreation

_create, _call_command = DatabaseCreation.create_test_db, management.call_command


def digest() -> str:
    """Of every module of both apps, by name and content, and of Django's version."""
    found = hashlib.sha256(f"{django.VERSION} {sqlite3.sqlite_version}".encode())
    for app in ("records", "audit"):
        for path in sorted((Path(settings.BASE_DIR) / app).rglob("*.py")):
            found.update(f"{path.relative_to(settings.BASE_DIR)}\0".encode() + path.read_bytes())
    return found.hexdigest()


def copied_from(folder: Path) -> None:
    """From now on `migrate` of an empty test database on SQLite takes the copy in `folder`, or leaves one there."""
    made = folder / f"{digest()[:20]}.sqlite3"

    def command(name, *args, **options):
        connection = connections[options.get("database", "default")]
        if name != "migrate":
            return _call_command(name, *args, **options)
        with open(folder / "lock", "w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            if not made.exists():
                _call_command(name, *args, **options)
                _leave(connection, made)
                return None
        connection.ensure_connection()
        # Nobody writes in it any more: read without locks and files beside it, so that processes do not meet there.
        with closing(sqlite3.connect(f"file:{made}?mode=ro&immutable=1", uri=True)) as kept:
            kept.backup(connection.connection)
        return None

    def create(self, *args, **kwargs):
        with mock.patch.object(management, "call_command", command):
            return _create(self, *args, **kwargs)

    DatabaseCreation.create_test_db = create


def _leave(connection, made: Path) -> None:
    """Written beside and renamed, so that a run that is stopped leaves no half; of older code no copy stays."""
    for old in made.parent.glob("*.sqlite3*"):
        old.unlink(missing_ok=True)
    beside = made.with_suffix(f".sqlite3.{os.getpid()}")
    with closing(sqlite3.connect(beside)) as target:
        connection.connection.backup(target)
    beside.rename(made)
