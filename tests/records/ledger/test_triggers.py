"""The triggers are there, are noticed when gone, and come back with `migrate`."""

from __future__ import annotations

import pytest
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection, models, transaction
from django.urls import get_resolver

from records import clock, log
from records import models as m
from records.ledger import triggers
from tests import world as build

KINDS = [*m.fact_models(), m.Entry]


@pytest.fixture
def committed():
    """The small world in a database that keeps what is committed; every trigger back afterwards."""
    with clock.at(build.NOW):
        yield build.make()
    connection.records_triggers_seen = False
    triggers.install(connection)


def unlooked() -> None:
    """As in a new process, which has not looked for the triggers yet."""
    connection.records_triggers_seen = False


def drop(name: str, table: str) -> None:
    on = f' ON "{table}"' if connection.vendor == "postgresql" else ""
    with connection.cursor() as cursor:
        cursor.execute(f'DROP TRIGGER "{name}"{on}')


def messages() -> list[str]:
    return [e.msg for e in triggers.check_installed(databases=["default"])]


def update_refused(table: str) -> bool:
    try:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(f'UPDATE "{table}" SET id = id')
    except IntegrityError as error:
        return triggers.REFUSAL in str(error)
    return False


def migrate() -> None:
    """As on the command line, its system checks included: missing triggers must not stop what mends them."""
    get_resolver().url_patterns  # noqa: B018 (as a started site has it)
    call_command("migrate", verbosity=0, skip_checks=False)


@pytest.mark.django_db
def test_every_fact_table_has_three_triggers():
    third = {"sqlite": "no_replace", "postgresql": "no_truncate"}[connection.vendor]
    wanted = {f"{k._meta.db_table}_{end}" for k in KINDS for end in ("no_update", "no_delete", third)}
    assert triggers.installed(connection) >= wanted
    assert triggers.missing(connection) == []
    assert messages() == []


def test_both_databases_have_their_text():
    for table in triggers.tables():
        sqlite = " ".join(triggers.sql_for(table, "sqlite").values())
        postgresql = " ".join(triggers.sql_for(table, "postgresql").values())
        assert all(f"BEFORE {event} " in sqlite for event in ("UPDATE", "DELETE", "INSERT"))
        assert all(f"BEFORE {event} " in postgresql for event in ("UPDATE", "DELETE", "TRUNCATE"))
    assert "ERRCODE = '23000'" in triggers.POSTGRESQL_FUNCTION
    with pytest.raises(ValueError, match="SQLite or PostgreSQL"):
        triggers.sql_for("records_unit", "oracle")


def test_a_body_names_no_table_but_its_own():
    """A body that names another table makes remaking that other table fail on SQLite."""
    for table in triggers.tables():
        others = [t for t in triggers.tables() if t != table]
        for statement in triggers.sql_for(table, "sqlite").values():
            assert [t for t in others if f'"{t}"' in statement] == []


@pytest.mark.django_db
@pytest.mark.parametrize("model", KINDS, ids=lambda k: k._meta.model_name)
def test_each_missing_trigger_is_named(model):
    table = model._meta.db_table
    gone = list(triggers.sql_for(table, connection.vendor))
    for name in gone:
        drop(name, table)
    assert triggers.missing(connection) == gone
    assert [name in message for name, message in zip(gone, messages(), strict=True)] == [True] * 3
    assert all(
        "migrate" in e.hint and e.id == "records.E001" for e in triggers.check_installed(databases=["default"])
    )


@pytest.mark.django_db
def test_every_missing_trigger_is_brought_back():
    """Those of one table while all others stand, and those of all tables; each is at work again."""
    for kinds in ([m.Visit], KINDS):
        for table in (model._meta.db_table for model in kinds):
            for name in triggers.sql_for(table, connection.vendor):
                drop(name, table)
        assert len(messages()) == 3 * len(kinds)
        triggers.install(connection)
        assert triggers.missing(connection) == [] and messages() == []


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL keeps triggers when a column is added")
def test_a_rebuilt_table_is_noticed_refused_and_mended(committed):
    column = models.CharField(max_length=5, default="")
    column.set_attributes_from_name("later")
    names = list(triggers.sql_for("records_unitevent", "sqlite"))
    with connection.schema_editor() as editor:
        editor.add_field(m.UnitEvent, column)
    try:
        assert triggers.missing(connection) == names, "SQLite lost the triggers with the old table"
        with pytest.raises(CommandError) as failed:
            call_command("check", tags=["database"], databases=["default"])
        assert all(name in str(failed.value) for name in names)
        unlooked()
        with pytest.raises(log.Refused, match="migrate"):
            build.spore_test(committed, build.TODAY, test="")
        assert not m.BioTest.objects.exists()

        migrate()
        assert triggers.missing(connection) == []
        assert update_refused("records_unitevent")
    finally:
        with triggers.lifted(connection), connection.schema_editor() as editor:
            editor.remove_field(m.UnitEvent, column)
    assert build.spore_test(committed, build.TODAY, test="").pk


@pytest.mark.django_db(transaction=True)
def test_migrate_brings_back_what_is_gone(committed):
    triggers.drop(connection)
    assert not update_refused("records_unit")
    unlooked()
    with pytest.raises(log.Refused, match="no longer protects its records"):
        build.spore_test(committed, build.TODAY, test="")
    migrate()
    assert messages() == []
    for model in KINDS:
        if model.objects.exists():
            assert update_refused(model._meta.db_table)
    assert build.spore_test(committed, build.TODAY, test="").pk


@pytest.mark.django_db(transaction=True)
def test_lifting_is_undone_even_when_the_work_fails(committed):
    with pytest.raises(RuntimeError), triggers.lifted(connection):
        assert len(triggers.missing(connection)) == 3 * len(KINDS)
        raise RuntimeError("the work failed")
    assert triggers.missing(connection) == []


@pytest.mark.django_db(transaction=True)
def test_a_test_that_commits_finds_an_empty_database_and_every_trigger():
    """The tests before this one committed rows; emptying the tables went past the triggers and put them back."""
    assert not m.Entry.objects.exists() and not m.Unit.objects.exists()
    assert triggers.missing(connection) == []
