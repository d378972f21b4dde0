"""What the tests of upgrades run in processes of their own, as a kill ends a process.

    python -m tests.records.ledger.upgrading load FORM | killed STATEMENT | finish

`load` puts the ledger of that form into the database of the environment, `killed` runs `migrate` and ends itself with
SIGKILL before that statement of a migration (counted from 1), `finish` runs it to the end and prints, as JSON, what
the tamper check finds.
"""

from __future__ import annotations

import json
import lzma
import os
import signal
import sqlite3
import sys
from contextlib import closing
from decimal import Decimal
from pathlib import Path
from uuid import UUID

LEDGERS = Path(__file__).parents[1] / "ledgers"
FILLED_BY_MIGRATE = {"django_migrations"}


def main(what: str, number: int = 0) -> None:
    os.environ["DJANGO_SETTINGS_MODULE"] = "audit.site.settings"
    import django

    django.setup()
    if what == "load":
        load(number)
    elif what == "killed":
        kill_before(number)
        migrate()
    else:
        migrate()
        print(json.dumps(found()))


def migrate(*target: str) -> None:
    from django.core.management import call_command

    call_command("migrate", *target, verbosity=0)


def kill_before(statement: int) -> None:
    """End this process with SIGKILL before so many statements of migrations have run."""
    from django.db.backends.base.schema import BaseDatabaseSchemaEditor as Editor

    seen, usual = [], Editor.execute

    def counted(self, sql, params=()):
        seen.append(sql)
        if len(seen) == statement:
            os.kill(os.getpid(), signal.SIGKILL)
        return usual(self, sql, params)

    Editor.execute = counted


def load(form: int) -> None:
    """The whole database of that day, into a fresh file, or row by row into PostgreSQL as migrated then."""
    from django.db import connection

    script = lzma.decompress((LEDGERS / f"form_{form}.sql.xz").read_bytes()).decode()
    if connection.vendor == "sqlite":
        with closing(sqlite3.connect(connection.settings_dict["NAME"])) as fresh:
            fresh.executescript(script)
        return
    with closing(sqlite3.connect(":memory:")) as old:
        old.executescript(script)
        last = {}
        for app, name in old.execute("SELECT app, name FROM django_migrations ORDER BY name"):
            last[app] = name
        # Django's own sessions are no longer among the apps; who was signed in then signs in anew.
        for app in ("contenttypes", "auth", "records", "audit", "admin"):
            if app in last:
                migrate(app, last[app])
        _copy(old)


def _copy(old: sqlite3.Connection) -> None:
    from django.db import connection, transaction

    tables = [n for (n,) in old.execute("SELECT name FROM sqlite_master WHERE type = 'table'") if "sqlite_" not in n]
    there = set(connection.introspection.table_names())
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("SET LOCAL session_replication_role = replica")
        for table in tables:
            if table not in FILLED_BY_MIGRATE and table in there:
                _copy_table(old, cursor, table)


def _copy_table(old: sqlite3.Connection, cursor, table: str) -> None:
    cursor.execute(f'DELETE FROM "{table}"')
    cursor.execute(
        "SELECT column_name, data_type FROM information_schema.columns "
        "WHERE table_name = %s AND table_schema = current_schema()",
        [table],
    )
    kinds = dict(cursor.fetchall())
    read = old.execute(f'SELECT * FROM "{table}"')
    columns = [each[0] for each in read.description]
    assert set(columns) == set(kinds), table
    names, places = ", ".join(f'"{c}"' for c in columns), ", ".join(["%s"] * len(columns))
    for row in read.fetchall():
        values = [_as_kind(kinds[c], value) for c, value in zip(columns, row, strict=True)]
        cursor.execute(f'INSERT INTO "{table}" ({names}) VALUES ({places})', values)
    if "id" in columns:
        cursor.execute("SELECT pg_get_serial_sequence(%s, 'id')", [table])
        if (sequence := cursor.fetchone()[0]) is not None:
            cursor.execute(f'SELECT setval(%s, (SELECT coalesce(max(id), 0) + 1 FROM "{table}"), false)', [sequence])


def _as_kind(kind: str, value):
    if value is None:
        return None
    if kind == "boolean":
        return bool(value)
    if kind == "uuid":
        return UUID(value)
    if kind == "numeric":
        return Decimal(repr(value))
    return f"{value}+00" if kind == "timestamp with time zone" else value


def found() -> dict:
    """What the tamper check says of every ledger and of the database, and whether every row is read."""
    from django.db import connection

    from records import models as m
    from records.ledger import database, tamper_check, triggers

    verdicts = {each.slug: tamper_check.verify(each) for each in m.Organisation.objects.order_by("slug")}
    return {
        "ledgers": {slug: {"entries": v.entries, "head": v.head} for slug, v in verdicts.items()},
        "faults": [f.sentence for v in verdicts.values() for f in v.faults] + [f.sentence for f in database.faults()],
        "triggers": triggers.faults(connection),
        "kinds": {k._meta.model_name: n for k in m.fact_models() if (n := k._base_manager.count())},
    }


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 0)
