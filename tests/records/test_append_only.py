"""No way leads to a changed or deleted record: not the instance, not the query set, not SQL past Django."""

from __future__ import annotations

import pytest
from django.db import IntegrityError, connection, transaction
from django.db.models import ProtectedError

from records import clock
from records import models as m
from records.ledger import triggers
from records.models import FactIsPermanent
from tests import world as build

from .one_of_each import log_one_of_each

KINDS = [*m.fact_models(), m.Entry]
each_kind = pytest.mark.parametrize("model", KINDS, ids=lambda k: k._meta.model_name)
pytestmark = pytest.mark.django_db
on_postgresql = pytest.mark.skipif(connection.vendor != "postgresql", reason="SQLite has no TRUNCATE")


@pytest.fixture(scope="module", autouse=True)
def every_kind(django_db_setup, django_db_blocker, tmp_path_factory):
    """A row of every kind, logged once for this module and rolled back after it."""
    with django_db_blocker.unblock(), transaction.atomic(), clock.at(build.NOW):
        log_one_of_each(build.make(), tmp_path_factory.mktemp("papers"))
        connection.check_constraints()  # once, and not by every test before it is rolled back
        yield
        transaction.set_rollback(True)


def contents(model) -> list:
    return list(model.objects.order_by("pk").values())


def columns(model) -> list[str]:
    return [f.column for f in model._meta.concrete_fields]


def refused_by_database(sql: str, params=()) -> str:
    """Run SQL past Django, expect a refusal and return its words."""
    with pytest.raises(IntegrityError) as refusal, transaction.atomic(), connection.cursor() as cursor:
        cursor.execute(sql, params)
    return str(refusal.value)


def test_every_kind_of_fact_has_a_row_here():
    assert [k.__name__ for k in KINDS if not k.objects.exists()] == []


@each_kind
def test_saving_or_deleting_what_is_recorded_is_refused(model):
    before = contents(model)
    row = model.objects.first()
    with pytest.raises(FactIsPermanent):
        row.save()
    with pytest.raises(FactIsPermanent):
        row.save(update_fields=["id"])
    with pytest.raises(FactIsPermanent):
        row.delete()
    assert contents(model) == before


@each_kind
def test_a_copy_that_claims_to_be_new_does_not_overwrite(model):
    before = contents(model)
    row = model.objects.first()
    row._state.adding = True
    with pytest.raises(IntegrityError), transaction.atomic():
        row.save()
    assert contents(model) == before


@each_kind
def test_query_sets_refuse(model):
    before = contents(model)
    name = "line" if issubclass(model, m.Fact) else "what"
    rows = model.objects.all()
    for attempt in (
        lambda: rows.update(**{name: 9}),
        lambda: rows.delete(),
        lambda: rows.bulk_update([rows.first()], [name]),
        lambda: rows.bulk_create([rows.first()], ignore_conflicts=True),
        lambda: model._base_manager.update(**{name: 9}),
        lambda: model._default_manager.filter(pk=0).delete(),
    ):
        with pytest.raises(FactIsPermanent):
            attempt()
    assert contents(model) == before


@each_kind
def test_raw_delete_of_a_query_set_is_refused_by_the_database(model):
    before = contents(model)
    rows = model.objects.all()
    with pytest.raises(IntegrityError), transaction.atomic():
        rows._raw_delete(rows.db)
    assert contents(model) == before


@each_kind
def test_every_column_is_refused_to_update(model):
    before = contents(model)
    table = model._meta.db_table
    for column in columns(model):
        assert triggers.REFUSAL in refused_by_database(f'UPDATE "{table}" SET "{column}" = "{column}"')
    assert contents(model) == before


@each_kind
def test_delete_is_refused(model):
    before = contents(model)
    assert triggers.REFUSAL in refused_by_database(f'DELETE FROM "{model._meta.db_table}"')
    assert contents(model) == before


def unique_indexes(table: str) -> list[list[str]]:
    """Every set of columns by which the database itself keeps rows apart."""
    found = [["id"]]
    with connection.cursor() as cursor:
        cursor.execute(f'SELECT name FROM pragma_index_list("{table}") WHERE "unique"')
        for (index,) in cursor.fetchall():
            cursor.execute(f'SELECT name FROM pragma_index_info("{index}")')
            found.append([row[0] for row in cursor.fetchall()])
    return found


# What a column gets when the new row is to clash by another one; a ref gets a fresh one.
OTHERWISE = {
    "id": "1000000",
    "number": "30000",
    "amends_id": "NULL",
    "ledger_id": "ledger_id",
    "account_id": "account_id",
}


@pytest.mark.skipif(connection.vendor != "sqlite", reason="INSERT OR REPLACE is SQLite's own")
def test_insert_or_replace_is_refused_by_every_unique_index():
    tried = set()
    for model in KINDS:
        before, table = contents(model), model._meta.db_table
        indexes = unique_indexes(table)
        apart = {column for index in indexes for column in index}
        for index in indexes:
            changed = {c: OTHERWISE.get(c, "lower(hex(randomblob(16)))") for c in apart - set(index)}
            listed = ", ".join(f'"{c}"' for c in columns(model))
            values = ", ".join(changed.get(c, f'"{c}"') for c in columns(model))
            full = " AND ".join(f'"{c}" IS NOT NULL' for c in index)
            source = f"SELECT {values} FROM {table} WHERE {full} LIMIT 1"
            with connection.cursor() as cursor:
                cursor.execute(source)
                if cursor.fetchone() is None:
                    continue  # no row of this kind was corrected
            words = refused_by_database(f"INSERT OR REPLACE INTO {table} ({listed}) {source}")
            assert triggers.REFUSAL in words
            tried.add((model.__name__, *index))
        assert contents(model) == before
    assert {("Entry", "ledger_id", "number"), ("Entry", "account_id", "request_key")} <= tried
    assert {("Voiding", "target"), ("ChemicalResult", "amends_id"), ("Unit", "id"), ("Unit", "ref")} <= tried
    assert len(tried) >= 2 * len(KINDS)


@on_postgresql
def test_truncate_is_refused():
    connection.check_constraints()  # else it is refused for the checks that wait for the end of the transaction
    for model in KINDS:
        before = contents(model)
        assert triggers.REFUSAL in refused_by_database(f'TRUNCATE "{model._meta.db_table}" CASCADE')
        assert contents(model) == before


@pytest.mark.parametrize("model", m.fact_models(), ids=lambda k: k._meta.model_name)
def test_a_row_outside_an_entry_is_refused(model):
    before = contents(model)
    row = model.objects.first()
    new = model(**{f.attname: getattr(row, f.attname) for f in model._meta.concrete_fields if f.name != "id"})
    new.entry_id = None
    with pytest.raises(FactIsPermanent, match="records.log"):
        new.save()
    assert contents(model) == before


@pytest.mark.parametrize("name", ["clinic", "company"])
def test_an_organisation_with_records_is_not_deleted(name):
    model = {"clinic": m.Clinic, "company": m.ServiceCompany}[name]
    with pytest.raises(ProtectedError):
        model.objects.first().delete()


def test_an_account_or_a_name_in_records_is_not_deleted():
    with pytest.raises(ProtectedError):
        m.Entry.objects.first().account.delete()
    with pytest.raises(ProtectedError):
        m.Entry.objects.first().logged_by.delete()
