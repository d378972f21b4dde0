"""The database into one file and back, as one moment had it, while others write. SQLite by its online backup,
PostgreSQL by its own `pg_dump` and `pg_restore`.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import sqlite3
import subprocess
from collections import defaultdict
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from . import place as p


class NotCopied(Exception):
    """The database cannot be copied, read or put back: the message says why and the way out."""


# ---------------------------------------------------------------------------------------------------------- SQLite


def copy_sqlite(database: dict, to: Path) -> None:
    """A copy of the database as one moment had it, one file without a journal beside it. Raises NotCopied."""
    source = Path(database["NAME"])
    if not source.exists():
        raise NotCopied(f"There is no database at {source}. Look at STANDING_DATA; `manage.py begin` makes one.")
    try:
        with (
            closing(sqlite3.connect(f"{source.resolve().as_uri()}?mode=rw", uri=True, timeout=60)) as own,
            closing(sqlite3.connect(to)) as copy,
        ):
            own.backup(copy)
            copy.execute("PRAGMA journal_mode=DELETE").fetchall()
    except sqlite3.Error as error:
        raise NotCopied(f"The database {source} cannot be copied: {error}.") from None
    os.chmod(to, 0o600)


def look_through_sqlite(file: Path) -> str:
    """What SQLite itself finds wrong with a database file; "" for nothing."""
    try:
        with closing(sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro", uri=True)) as database:
            said = database.execute("PRAGMA quick_check").fetchone()[0]
            if said == "ok" and (astray := database.execute("PRAGMA foreign_key_check").fetchone()):
                said = f"a row of {astray[0]} points to one of {astray[2]} that is not there"
    except sqlite3.Error as error:
        said = str(error)
    return "" if said == "ok" else said


# ------------------------------------------------------------------------------------------------------ PostgreSQL


def program(name: str) -> str:
    """Where a program of PostgreSQL's client lies. Raises NotCopied."""
    versions = Path("/usr/lib/postgresql").glob(f"*/bin/{name}")
    newest = max(versions, key=lambda path: int(path.parts[-3]), default=None)
    found = str(newest) if newest else shutil.which(name)
    if found is None:
        raise NotCopied(f"The program {name} is not installed. Install Debian's package postgresql-client.")
    return found


def _environment(database: dict) -> dict[str, str]:
    names = {"PGHOST": "HOST", "PGPORT": "PORT", "PGUSER": "USER", "PGPASSWORD": "PASSWORD", "PGDATABASE": "NAME"}
    given = {variable: str(database[key]) for variable, key in names.items() if database.get(key)}
    return os.environ | given | {"PGTZ": "UTC"}


def _run(database: dict, name: str, *words) -> None:
    done = subprocess.run(
        [program(name), "--no-password", *map(str, words)],
        env=_environment(database), capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode != 0:
        raise NotCopied(f"{name} could not do it: {done.stderr.strip() or f'it ended with {done.returncode}'}")


@contextmanager
def one_moment(database: dict) -> Iterator[tuple[object, str]]:
    """A connection that sees the database as it is now however long it is open, and the name of what it sees."""
    there = p.wrapper(database)
    there.ensure_connection()
    there.set_autocommit(False)
    try:
        with there.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            cursor.execute("SELECT pg_export_snapshot()")
            snapshot = cursor.fetchone()[0]
        yield there, snapshot
    finally:
        there.close()


def dump_postgresql(database: dict, snapshot: str, to: Path) -> None:
    """What that snapshot sees, as a file for `pg_restore`. Raises NotCopied."""
    _run(database, "pg_dump", "--format=custom", f"--snapshot={snapshot}", f"--file={to}")
    os.chmod(to, 0o600)


def look_through_postgresql(file: Path, connection) -> str:
    """Which table of the dump has other rows than the snapshot that it was made of; "" when all are equal.

    Every row is compared as the text that PostgreSQL copies out, whatever order they come in.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT format('%I.%I', schemaname, tablename) FROM pg_tables "
            "WHERE schemaname NOT IN ('pg_catalog', 'information_schema')"
        )
        tables = {row[0] for row in cursor.fetchall()}
        cursor.execute("SET LOCAL extra_float_digits = 3")
        cursor.execute("SET LOCAL TimeZone = 'UTC'")
        dumped = _rows_dumped(file)
        if missing := sorted(tables - {statement.split(" ")[1] for statement in dumped}):
            return f"the table {missing[0]} is missing"
        for statement, rows in dumped.items():
            if _rows_there(cursor, statement) != rows:
                return f"the rows of {statement.split(' ')[1]} are not those of the database"
    return ""


_COPY = re.compile(rb"COPY (\S+ \(.*\)) FROM stdin;\n")


class _RowsCounted:
    """How many rows there were, and a sum over their digests: the same whatever their order."""

    def __init__(self) -> None:
        self.count, self.sum = 0, 0

    def take(self, row: bytes) -> None:
        self.count += 1
        self.sum = (self.sum + int.from_bytes(hashlib.sha256(row).digest(), "big")) % 2**256

    def __eq__(self, other) -> bool:
        return (self.count, self.sum) == (other.count, other.sum)


def _rows_dumped(file: Path) -> dict[str, _RowsCounted]:
    words = [program("pg_restore"), "--data-only", "--file=-", str(file)]
    found: dict[str, _RowsCounted] = defaultdict(_RowsCounted)
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as reader:
        rows = None
        for line in reader.stdout:
            if rows is not None:
                if line == b"\\.\n":
                    rows = None
                else:
                    rows.take(line)
            elif begun := _COPY.fullmatch(line):
                rows = found["COPY " + begun[1].decode()]
        said = reader.stderr.read().decode(errors="replace").strip()
    if reader.returncode != 0:
        raise NotCopied(f"The dump cannot be read: {said}")
    return found


def _rows_there(cursor, statement: str) -> _RowsCounted:
    found = _RowsCounted()
    with cursor.copy(statement + " TO STDOUT") as copied:
        rest = b""
        for part in copied:
            *lines, rest = (rest + bytes(part)).split(b"\n")
            for line in lines:
                found.take(line + b"\n")
    return found


def load_postgresql(database: dict, file: Path) -> None:
    """Put a dump into an empty database: all of it or nothing, in one transaction. Raises NotCopied."""
    _run(
        database, "pg_restore", "--no-owner", "--no-privileges", "--single-transaction", "--exit-on-error",
        f"--dbname={database['NAME']}", file,
    )  # fmt: skip


# ------------------------------------------------------------------------------------------------------------ both


def is_empty(place: p.Place) -> bool:
    """Whether no table stands there; an SQLite file that is not there is not made by looking."""
    if place.vendor == "sqlite" and not Path(place.database["NAME"]).exists():
        return True
    there = p.wrapper(place.database)
    try:
        return not there.introspection.table_names()
    finally:
        there.close()
