"""What of the database as a whole is not as the program left it: its file, its triggers, rows that belong nowhere."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

from django.apps import apps
from django.db import DatabaseError, connection, models

from records.ledger import names, stored, triggers
from records.ledger.faults import Fault
from records.models import Account, Entry, Ledger, Membership, Organisation, Person, PersonText, fact_models

MOST = 100
CHECKS = ("_file", "_columns", "_triggers", "_links", "_order", "_names", "_nameless", "_taken_out", "_organisations")


def faults() -> list[Fault]:
    """Everything that is wrong with the database as a whole; what cannot be looked at is a fault too."""
    found: list[Fault] = []
    for name in CHECKS:
        try:
            found += list(globals()[name]())
        except (DatabaseError, ValueError, TypeError, UnicodeError) as error:
            found.append(Fault(f"it cannot be read: {error}"))
    return found


def _file() -> Iterator[Fault]:
    """SQLite: pages, records and indexes of the file fit together. An index that lies is asked like its table."""
    if connection.vendor != "sqlite":
        return
    for (said,) in stored.raw_rows(f"PRAGMA integrity_check({MOST})"):
        if said != "ok":
            yield Fault(f"the file is damaged: {said}")


def _columns() -> Iterator[Fault]:
    """SQLite: every column has the type that it was made with; by its type Django's driver decides how it is read."""
    if connection.vendor != "sqlite":
        return
    for model in (*_kinds(), Organisation):
        table = model._meta.db_table
        there = {name: str(kind).lower() for _, name, kind, *_ in stored.raw_rows(f'PRAGMA table_info("{table}")')}
        wanted = {field.column: field.db_type(connection).lower() for field in model._meta.local_concrete_fields}
        for column in sorted(there.keys() | wanted.keys(), key=str):
            if there.get(column) != wanted.get(column):
                said = f"it is of type {there.get(column)!r}, not {wanted.get(column)!r}"
                yield Fault(said.replace("None", "no"), row=table, column=str(column))


def _kinds() -> list[type]:
    return [Ledger, Entry, *fact_models(), PersonText, Person, Account]


def _triggers() -> Iterator[Fault]:
    for table, name, what in triggers.faults(connection):
        yield Fault(f"the trigger {name} {what}, so its rows could be changed unseen", row=table)


def _names() -> Iterator[Fault]:
    """Names that no entry has named yet are read on pages too."""
    known = {key for (key,) in stored.raw_rows(f'SELECT "id" FROM "{PersonText._meta.db_table}"')}
    read = names.read(known, set())
    for key, wrong in sorted(read.wrong.items()):
        for column, what in wrong:
            yield Fault(what, row=f"name {key}", column=column)


def _nameless() -> Iterator[Fault]:
    """Whoever belongs somewhere was named when that was logged: a name that no entry points to has its place too."""
    found = stored.raw_rows(
        f'SELECT DISTINCT a."person_id" FROM "{Membership._meta.db_table}" a '
        f'JOIN "{Person._meta.db_table}" p ON p."id" = a."person_id" '
        f'LEFT JOIN "{PersonText._meta.db_table}" b ON b."person_id" = a."person_id" '
        f'WHERE b."id" IS NULL ORDER BY 1 LIMIT {MOST}'
    )
    for (key,) in found:
        yield Fault("somebody with a membership has no name: it was removed", row=f"person {key}")


def _taken_out() -> Iterator[Fault]:
    """SQLite: people and names are numbered without a gap and never deleted, so one that is missing was removed.

    Not on PostgreSQL, where an entry that is refused uses up numbers. Two names whose places were exchanged and that
    no entry points to are not found: which is which, and whose, stands in the rows themselves.
    """
    if connection.vendor != "sqlite":
        return
    given = {name: last for name, last in stored.raw_rows("SELECT name, seq FROM sqlite_sequence")}
    for model, what in ((Person, "person"), (PersonText, "name")):
        table = model._meta.db_table
        there = {key for (key,) in stored.raw_rows(f'SELECT "id" FROM "{table}"') if type(key) is int}
        last = max([given.get(table) or 0, *there])
        if last > len(there) + MOST:
            yield Fault(f"{last - len(there)} of {last} are missing", row=table)
            continue
        for key in sorted(set(range(1, last + 1)) - there):
            yield Fault("it is missing; rows of this table are never deleted", row=f"{what} {key}")


def _organisations() -> Iterator[Fault]:
    """Their references and names are read as they are; whoever is neither a clinic nor a company is nobody."""
    kinds = [model for model in apps.get_app_config("records").get_models() if _is_kind(model)]
    for model in (Organisation, Account, Person):
        raws = stored.raw_rows(f'SELECT {stored.columns_of(model)} FROM "{model._meta.db_table}"')
        for row, bad in stored.rows_of(model, raws):
            for each in bad:
                yield Fault(each.what, row=f"{model._meta.verbose_name} {row.pk}", column=each.column)
    every = {key for (key,) in stored.raw_rows('SELECT "id" FROM "records_organisation"')}
    for kind in kinds:
        key = kind._meta.pk.column
        every -= {one for (one,) in stored.raw_rows(f'SELECT "{key}" FROM "{kind._meta.db_table}"')}
    for key in sorted(every, key=str):
        yield Fault("it is neither a clinic nor a service company", row=f"organisation {key}")


def _is_kind(model) -> bool:
    return issubclass(model, Organisation) and model is not Organisation


# ------------------------------------------------------------------------------------------------ rows of nothing


def _order() -> Iterator[Fault]:
    """SQLite, which writes one entry after the other: rows stand in the order of their entries, whosever they are."""
    if connection.vendor != "sqlite":
        return  # entries of two ledgers may be written at the same time there; in each ledger the order is checked
    for model in fact_models():
        last = -1
        for key, entry in stored.raw_rows(f'SELECT "id", "entry_id" FROM "{model._meta.db_table}" ORDER BY "id"'):
            if type(entry) is int:
                if entry < last:
                    row = f"{model._meta.verbose_name} {key}"
                    yield Fault("its place in the table is not that of its entry", row=row, column="id")
                last = max(last, entry)


@cache
def _links_between() -> list[tuple[type, models.ForeignKey]]:
    """Every column of the record that points to a row, with its model."""
    return [(model, f) for model in _kinds() for f in model._meta.concrete_fields if f.is_relation]


def _links() -> Iterator[Fault]:
    """A row whose entry, ledger or other row is not there: no ledger is checked that would hold it."""
    for model, field in _links_between():
        own, other = model._meta.db_table, field.related_model._meta.db_table
        key = field.target_field.column
        found = stored.raw_rows(
            f'SELECT a."{model._meta.pk.column}", a."{field.column}" FROM "{own}" a '
            f'LEFT JOIN "{other}" b ON b."{key}" = a."{field.column}" '
            f'WHERE a."{field.column}" IS NOT NULL AND b."{key}" IS NULL ORDER BY 1 LIMIT {MOST}'
        )
        for row, to in found:
            what = f"it points to {field.related_model._meta.verbose_name} {to}, which is not there"
            clinic = _clinic_of(model, row)
            yield Fault(what, organisation=clinic, row=f"{model._meta.verbose_name} {row}", column=field.column)


def _clinic_of(model, key) -> str:
    """Whose a row without an entry is, as far as it says so itself; "" when it doesn't."""
    column = next(
        (f.column for f in model._meta.concrete_fields if f.name in ("clinic", "owner", "organisation")), ""
    )
    if not column:
        return ""
    table = model._meta.db_table
    found = stored.raw_rows(
        f'SELECT o."name" FROM "records_organisation" o JOIN "{table}" a ON a."{column}" = o."id" '
        f'WHERE a."{model._meta.pk.column}" = %s',
        [key],
    )
    return str(found[0][0]) if found else ""
