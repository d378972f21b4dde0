"""Triggers that make fact tables append-only in the database itself, for SQLite and PostgreSQL.

The SQL is made from the list of fact models. SQLite loses a table's triggers silently whenever Django rebuilds the
table, so they are dropped before every `migrate` and installed after it, and a system check names each one that is
missing. `INSERT OR REPLACE` walks past UPDATE and DELETE triggers on SQLite, hence the third one there; PostgreSQL
has TRUNCATE instead. A trigger's body names no table but its own: another one would break that table's remaking.
"""

from __future__ import annotations

import re
from contextlib import contextmanager
from dataclasses import dataclass

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


_BODY = f"""
BEGIN
    RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = '23000';
END """
POSTGRESQL_FUNCTION = f"""
CREATE OR REPLACE FUNCTION records_refuse() RETURNS trigger LANGUAGE plpgsql AS $${_BODY}$$
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


@dataclass(frozen=True, slots=True)
class Trigger:
    """A trigger as it stands in the database; `off` says why it does nothing, "" when it works."""

    name: str
    table: str
    text: str
    off: str = ""


_ON_POSTGRESQL = """
SELECT t.tgname, c.relname, pg_get_triggerdef(t.oid), t.tgenabled, p.prosrc, l.lanname, p.proname
FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_proc p ON p.oid = t.tgfoid
JOIN pg_language l ON l.oid = p.prolang JOIN pg_namespace n ON n.oid = c.relnamespace
WHERE NOT t.tgisinternal AND n.nspname = ANY (current_schemas(false))
"""


def standing(connection) -> list[Trigger]:
    """Every trigger now in the database."""
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute("SELECT name, tbl_name, sql FROM sqlite_master WHERE type = 'trigger'")
            return [Trigger(*row) for row in cursor.fetchall()]
        cursor.execute(_ON_POSTGRESQL)
        found = cursor.fetchall()
        cursor.execute("SHOW session_replication_role")
        replica = cursor.fetchone()[0] == "replica"
    return [Trigger(*row[:3], off=_off(*row[3:], replica)) for row in found]


def _off(enabled, body: str, language: str, function: str, replica: bool) -> str:
    enabled = enabled.decode() if isinstance(enabled, bytes) else enabled
    if enabled == "D" or enabled == ("O" if replica else "R"):
        return "is disabled"
    if function == "records_refuse" and (language, body.split()) != ("plpgsql", _BODY.split()):
        return "calls a function that was altered"
    return ""


def installed(connection) -> set[str]:
    """Names of the triggers now in the database."""
    return {trigger.name for trigger in standing(connection)}


def missing(connection) -> list[str]:
    """Triggers that should be there and are not, for the tables that exist."""
    have = installed(connection)
    return [name for name in _wanted(connection) if name not in have]


def _wanted(connection) -> dict[str, tuple[str, str]]:
    """By name of each trigger that belongs here its table and its text."""
    there = _existing_tables(connection)
    every = (t for t in tables() if t in there)
    return {n: (t, sql) for t in every for n, sql in sql_for(t, connection.vendor).items()}


def faults(connection) -> list[tuple[str, str, str]]:
    """What keeps the append-only tables from being protected, as table, name and what is wrong.

    A trigger that is missing, stands on another table, has another text, is disabled or calls an altered function;
    one that nobody here wrote, and a rule of PostgreSQL, which can turn a statement into another one.
    """
    wanted, found = _wanted(connection), []
    have = {(t.name, t.table): t for t in standing(connection)}
    for name, (table, text) in wanted.items():
        trigger = have.pop((name, table), None)
        if trigger is None:
            elsewhere = next((t.table for n, t in ((t.name, t) for t in have.values()) if n == name), "")
            found.append((table, name, f"stands on {elsewhere} instead" if elsewhere else "is missing"))
        elif _plain(trigger.text) != _plain(text):
            found.append((table, name, "has another text"))
        elif trigger.off:
            found.append((table, name, trigger.off))
    protected = {table for table, _ in wanted.values()}
    found += [(t.table, t.name, "is none of this program's") for t in have.values() if t.table in protected]
    return found + _rules(connection, protected)


def _plain(text: str) -> str:
    """A statement as both databases give it back: PostgreSQL adds the schema and drops quotes and breaks."""
    return re.sub(r" ON [a-z_]+\.", " ON ", " ".join(text.replace('"', "").split()))


def _rules(connection, protected: set[str]) -> list[tuple[str, str, str]]:
    if connection.vendor != "postgresql":
        return []
    with connection.cursor() as cursor:
        cursor.execute("SELECT tablename, rulename FROM pg_rules WHERE schemaname = ANY (current_schemas(false))")
        return [(t, r, "is a rule, none of this program's") for t, r in cursor.fetchall() if t in protected]


def drop(connection) -> None:
    """Take our triggers away, by their names, whatever their text and wherever they stand."""
    wanted = _wanted(connection)
    with connection.cursor() as cursor:
        for trigger in standing(connection):
            if trigger.name in wanted:
                on = f' ON "{trigger.table}"' if connection.vendor == "postgresql" else ""
                cursor.execute(f'DROP TRIGGER "{trigger.name}"{on}')


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
    """System check: an append-only table without its triggers, as they were written and at work, is an error."""
    errors = []
    for alias in databases or []:
        for table, name, what in faults(connections[alias]):
            ours = name in sql_for(table, connections[alias].vendor)
            drop_it = f"Find out who made it, and drop it from {table}: it can undo what protects the record."
            errors.append(
                Error(
                    f"The trigger {name} {what} in database {alias}: records could be changed unseen.",
                    hint="Run `python manage.py migrate`, which installs every trigger again." if ours else drop_it,
                    id="records.E001",
                )
            )
    return errors
