"""Triggers that make fact tables append-only in the database itself, for SQLite and PostgreSQL.

The SQL is made from the list of fact models. SQLite loses a table's triggers silently whenever Django rebuilds the
table, so they are dropped before every `migrate` and installed after it, and a system check names each one that is
missing. `INSERT OR REPLACE` walks past UPDATE and DELETE triggers on SQLite, hence the third one there; PostgreSQL
has TRUNCATE instead. A trigger's body names no table but its own: another one would break that table's remaking.
"""

from __future__ import annotations

from contextlib import contextmanager

from django.core.checks import Error
from django.db import connections, router

REFUSAL = "append-only: a record is never changed or deleted, log a correction instead"


def _models() -> dict:
    from records.models import Entry, fact_models

    return {m._meta.db_table: m for m in (*fact_models(), Entry)}


def tables() -> list[str]:
    """The append-only tables: every fact, and the entries of the ledger."""
    return sorted(_models())


def _unique_columns(table: str) -> list[list[str]]:
    """Every set of columns by which a new row could take an old one's place."""
    model = _models()[table]
    alone = [[f.column] for f in model._meta.concrete_fields if f.unique]
    together = [c.fields for c in model._meta.total_unique_constraints]
    return alone + [[model._meta.get_field(name).column for name in names] for names in together]


def _sqlite_sql(table: str) -> dict[str, str]:
    same = (" AND ".join(f'"{c}" = NEW."{c}"' for c in columns) for columns in _unique_columns(table))
    clash = " OR ".join(f'EXISTS (SELECT 1 FROM "{table}" WHERE {s})' for s in same)
    made = {
        f"{table}_no_{event.lower()}": (
            f'CREATE TRIGGER "{table}_no_{event.lower()}" BEFORE {event} ON "{table}" '
            f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
        )
        for event in ("UPDATE", "DELETE")
    }
    made[f"{table}_no_replace"] = (
        f'CREATE TRIGGER "{table}_no_replace" BEFORE INSERT ON "{table}" WHEN {clash} '
        f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
    )
    return made


POSTGRESQL_FUNCTION = f"""
CREATE OR REPLACE FUNCTION records_refuse() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = '23000';
END $$
"""


def _postgresql_sql(table: str) -> dict[str, str]:
    row = {
        f"{table}_no_{event.lower()}": (
            f'CREATE TRIGGER "{table}_no_{event.lower()}" BEFORE {event} ON "{table}" '
            "FOR EACH ROW EXECUTE FUNCTION records_refuse()"
        )
        for event in ("UPDATE", "DELETE")
    }
    row[f"{table}_no_truncate"] = (
        f'CREATE TRIGGER "{table}_no_truncate" BEFORE TRUNCATE ON "{table}" '
        "FOR EACH STATEMENT EXECUTE FUNCTION records_refuse()"
    )
    return row


def sql_for(table: str, vendor: str) -> dict[str, str]:
    """Trigger name to CREATE statement. Raises ValueError on a database we have no text for."""
    if vendor == "sqlite":
        return _sqlite_sql(table)
    if vendor == "postgresql":
        return _postgresql_sql(table)
    raise ValueError(f"No append-only triggers are written for {vendor}; use SQLite or PostgreSQL.")


def _existing_tables(connection) -> set[str]:
    return set(connection.introspection.table_names())


def installed(connection) -> set[str]:
    """Names of the triggers now in the database."""
    query = {
        "sqlite": "SELECT name FROM sqlite_master WHERE type = 'trigger'",
        "postgresql": "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal",
    }[connection.vendor]
    with connection.cursor() as cursor:
        cursor.execute(query)
        return {row[0] for row in cursor.fetchall()}


def missing(connection) -> list[str]:
    """Triggers that should be there and are not, for the tables that exist."""
    there, have = _existing_tables(connection), installed(connection)
    wanted = [n for t in tables() if t in there for n in sql_for(t, connection.vendor)]
    return [n for n in wanted if n not in have]


def drop(connection) -> None:
    there, have = _existing_tables(connection), installed(connection)
    with connection.cursor() as cursor:
        for table in (t for t in tables() if t in there):
            for name in sql_for(table, connection.vendor):
                if name in have:
                    on = f' ON "{table}"' if connection.vendor == "postgresql" else ""
                    cursor.execute(f'DROP TRIGGER "{name}"{on}')


def install(connection) -> None:
    """Bring every trigger in, those that are there already included."""
    drop(connection)
    there = _existing_tables(connection)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(POSTGRESQL_FUNCTION)
        for table in (t for t in tables() if t in there):
            for statement in sql_for(table, connection.vendor).values():
                cursor.execute(statement)


@contextmanager
def lifted(connection):
    """Without triggers for a while. For flushing a test database and for migrations that say so in the ledger."""
    drop(connection)
    try:
        yield
    finally:
        install(connection)


def before_migrate(sender, using, **kwargs):
    if router.allow_migrate(using, "records"):
        drop(connections[using])


def after_migrate(sender, using, **kwargs):
    if router.allow_migrate(using, "records"):
        install(connections[using])


def check_installed(app_configs=None, databases=None, **kwargs):
    """System check: an append-only table without its triggers is an error."""
    errors = []
    for alias in databases or []:
        connection = connections[alias]
        for name in missing(connection):
            errors.append(
                Error(
                    f"The trigger {name} is missing from database {alias}: records could be changed unseen.",
                    hint="Run `python manage.py migrate`, which installs every trigger again.",
                    id="records.E001",
                )
            )
    return errors
