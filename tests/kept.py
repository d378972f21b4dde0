"""What takes long to log is logged once in a run; whoever wants it again gets its rows back as they were written.

A builder under `@kept` begins with an empty database and returns a value that can be pickled: a world with its
clinics, people and units. The first time it runs, and every row that then stands in any table is kept, with the value
and, where it says so, the files of its folders. From then on the rows are put in as they were, and the caller gets a
fresh copy of the value: what one test changes, no other sees. It holds in a transaction that is rolled back and in
tests that commit. Where something stands in the database already, the builder runs as if it were not kept.
"""

from __future__ import annotations

import fcntl
import functools
import hashlib
import inspect
import os
import pickle
from collections.abc import Callable
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.db import connection, transaction

# The folder of the run, set as it begins: what one process logged, the others read from there.
shared: Path | None = None

# Filled by `migrate`, so in every test database from the start.
GIVEN = {"django_content_type", "auth_permission"}


@dataclass(frozen=True)
class Kept:
    """`rows` by table, each as its columns and the rows by their keys; `files` by name under a folder."""

    value: bytes
    rows: dict[str, tuple[list[str], list[tuple]]]
    files: dict[str, bytes]


def kept(build: Callable | None = None, *, folder: str = "") -> Callable:
    """Keep what `build` logs, by its arguments; `folder` names the setting of a folder that it fills with files."""
    if build is None:
        return functools.partial(kept, folder=folder)
    known: dict[tuple, Kept] = {}
    signature = inspect.signature(build)

    @functools.wraps(build)
    def restored(*args, **kwargs):
        if filled():
            return build(*args, **kwargs)
        bound = signature.bind(*args, **kwargs)
        bound.apply_defaults()
        asked = (connection.vendor, *bound.arguments.values())
        by_another = _shared_by_name(f"{build.__module__}.{build.__qualname__} {asked}")
        if asked not in known:
            with _one_at_a_time(by_another):
                if not (by_another and by_another.exists()):
                    value = build(*args, **kwargs)
                    known[asked] = Kept(pickle.dumps(value), rows_now(), _files(folder))
                    if by_another:
                        _leave(by_another, pickle.dumps(known[asked]))
                    return value
                known[asked] = pickle.loads(by_another.read_bytes())
        _put_back(known[asked], folder)
        return pickle.loads(known[asked].value)

    return restored


def once_in_a_run(name: str, ask: Callable):
    """What `ask` gives, or gave another process of the run under that name. Can be pickled; nobody changes it."""
    where = _shared_by_name(name)
    if where and where.exists():
        return pickle.loads(where.read_bytes())
    given = ask()
    if where:
        _leave(where, pickle.dumps(given))
    return given


def _shared_by_name(name: str) -> Path | None:
    """Where the processes of a run leave this world for each other; None where they have no such folder."""
    return shared and shared / f"{hashlib.sha256(name.encode()).hexdigest()[:20]}.world"


@contextmanager
def _one_at_a_time(where: Path | None):
    """One process logs a world and the others wait for it, so that all have the same rows."""
    if where is None:
        yield
        return
    with open(where.with_suffix(".lock"), "w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        try:
            yield
        finally:
            fcntl.flock(lock, fcntl.LOCK_UN)  # also where a process that was started meanwhile holds the file open


def _leave(where: Path, content: bytes) -> None:
    beside = where.with_suffix(f".{os.getpid()}")
    beside.write_bytes(content)
    beside.rename(where)


@functools.cache
def _tables() -> dict[str, list[str]]:
    """Every table that a model has, with its columns."""
    models = [m for m in apps.get_models(include_auto_created=True) if m._meta.managed]
    every = {m._meta.db_table: [f.column for f in m._meta.local_concrete_fields] for m in models}
    return {table: every[table] for table in sorted(every.keys() - GIVEN)}


def filled() -> list[str]:
    """The tables that hold a row which `migrate` did not put there. One query."""
    asked = [f"""SELECT '{table}' WHERE EXISTS (SELECT 1 FROM "{table}")""" for table in _tables()]
    with connection.cursor() as cursor:
        cursor.execute(" UNION ALL ".join(asked))
        return [row[0] for row in cursor.fetchall()]


def emptied() -> None:
    """PostgreSQL: no row is left but those of `migrate`. The role must be one that may put triggers aside."""
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")
        for table in filled():
            cursor.execute(f'DELETE FROM "{table}"')


def may_all() -> bool:
    """PostgreSQL: whether the role is one that may put triggers aside."""
    with connection.cursor() as cursor:
        cursor.execute("SHOW is_superuser")
        return cursor.fetchone()[0] == "on"


@contextmanager
def _unquestioned(cursor):
    """PostgreSQL: rows are taken as they come. Each was asked for what it points to when it was first written."""
    aside = connection.vendor == "postgresql" and may_all()
    if aside:
        cursor.execute("SET LOCAL session_replication_role = replica")
    yield
    if aside:
        cursor.execute("SET LOCAL session_replication_role = origin")


def rows_now() -> dict[str, tuple[list[str], list[tuple]]]:
    """Every row of every table that has one, as the database holds it."""
    found = {}
    with connection.cursor() as cursor:
        for table, columns in _tables().items():
            # A sign before a column keeps SQLite's driver from making a date or a truth value of what it reads.
            sign = "+" if connection.vendor == "sqlite" else ""
            cursor.execute(f'SELECT {", ".join(f"{sign}{_name(c)}" for c in columns)} FROM "{table}" ORDER BY 1')
            if rows := cursor.fetchall():
                found[table] = (columns, rows)
    return found


def _name(column: str) -> str:
    return connection.ops.quote_name(column)


def _put_back(what: Kept, folder: str) -> None:
    with transaction.atomic(), connection.cursor() as cursor, _unquestioned(cursor):
        for table, (columns, rows) in what.rows.items():
            places = ", ".join(["%s"] * len(columns))
            cursor.executemany(f'INSERT INTO "{table}" ({", ".join(map(_name, columns))}) VALUES ({places})', rows)
    for name, content in what.files.items():
        path = Path(getattr(settings, folder)) / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


def _files(folder: str) -> dict[str, bytes]:
    if not folder:
        return {}
    top = Path(getattr(settings, folder))
    return {str(p.relative_to(top)): p.read_bytes() for p in sorted(top.rglob("*")) if p.is_file()}
