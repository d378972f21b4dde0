"""What the tamper check names beyond a changed value: heads, order, malformed values, orphans, files, triggers."""

from __future__ import annotations

from dataclasses import dataclass

import pytest
from django.core.management import call_command
from django.db import connection, transaction

from records import clock, log
from records import models as m
from records.ledger import database, on_disk, tamper_check, triggers
from tests import world as build
from tests.kept import kept

pytestmark = pytest.mark.django_db
sqlite_only = pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL holds the types of its columns")
postgresql_only = pytest.mark.skipif(connection.vendor != "postgresql", reason="only PostgreSQL has these")


@kept
def made():
    world = build.make(units=2)
    build.spore_test(world, build.TODAY.replace(day=2))
    build.seal_replaced(world, build.TODAY.replace(day=3))
    build.spore_test(world, build.TODAY.replace(day=9))
    return world


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield made()


def tamper(*statements: str) -> None:
    """As somebody with full rights could: no trigger, no constraint between tables."""
    with triggers.lifted(connection), connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            connection.check_constraints()
            cursor.execute("SET LOCAL session_replication_role = replica")
        else:
            cursor.execute("PRAGMA ignore_check_constraints = ON")
        for statement in statements:
            cursor.execute(statement)
        if connection.vendor == "postgresql":
            cursor.execute("SET LOCAL session_replication_role = origin")
        else:
            cursor.execute("PRAGMA ignore_check_constraints = OFF")


@dataclass(frozen=True)
class Said:
    entry: int | None
    row: str
    column: str
    what: str


def found(organisation) -> list[Said]:
    verdict = tamper_check.verify(organisation)
    assert verdict.whole is (not verdict.faults)
    assert all(fault.organisation == organisation.name for fault in verdict.faults)
    return [Said(fault.entry, fault.row, fault.column, fault.what) for fault in verdict.faults]


def head(organisation) -> m.Ledger:
    return m.Ledger.objects.get(organisation=organisation)


def run(*args) -> int:
    with pytest.raises(SystemExit) as end:
        call_command("verify_ledger", *args)
    return end.value.code


# ------------------------------------------------------------------------------------------------ heads


def test_no_head_is_found_and_its_entries_are_named_as_nobodys(world):
    number, ledger = head(world.clinic).number, head(world.clinic).pk
    tamper(f"DELETE FROM records_ledger WHERE id = {ledger}")
    (said,) = found(world.clinic)
    assert said.entry == 1 and "has no head" in said.what
    orphans = [fault for fault in database.faults() if fault.column == "ledger_id"]
    assert len(orphans) == number and all(f"ledger {ledger}, which is not there" in f.what for f in orphans)
    tamper(f"INSERT INTO records_ledger (id, organisation_id, number, hash) "
           f"VALUES ({ledger}, {world.clinic.pk}, 0, '{'0' * 64}')")  # fmt: skip


def test_an_emptied_ledger_is_not_unaltered(world):
    count = head(world.other_clinic).number
    tables = [kind._meta.db_table for kind in m.fact_models()]
    entries = f"SELECT id FROM records_entry WHERE ledger_id = {head(world.other_clinic).pk}"
    removed = [f"DELETE FROM {table} WHERE entry_id IN ({entries})" for table in tables]
    removed.append(f"DELETE FROM records_entry WHERE ledger_id = {head(world.other_clinic).pk}")
    tamper(*removed)
    (said,) = found(world.other_clinic)
    assert said.what == f"all {count} entries were removed"
    tamper(f"UPDATE records_ledger SET number = 0, hash = '{'0' * 64}', logged_at = NULL "
           f"WHERE organisation_id = {world.other_clinic.pk}")  # fmt: skip
    (said,) = found(world.other_clinic)
    assert "it holds no entry" in said.what
    assert tamper_check.verify(world.clinic).whole


SAID_BY_A_HEAD = [
    ("number", "{n} - 1"), ("hash", f"'{'3' * 64}'"), ("logged_at", "'2026-03-15 08:00:00'"), ("logged_at", "NULL"),
]  # fmt: skip


@pytest.mark.parametrize("column, value", SAID_BY_A_HEAD)
def test_a_head_that_says_something_else_is_found(world, column, value):
    number = head(world.clinic).number
    tamper(f"UPDATE records_ledger SET {column} = {value.format(n=number)} "
           f"WHERE organisation_id = {world.clinic.pk}")  # fmt: skip
    (said,) = found(world.clinic)
    assert (said.entry, said.row, said.column) == (number + 1, "head", column)


# ------------------------------------------------------------------------------------------------ order of rows


def test_rows_of_one_day_whose_keys_changed_places_are_found(world):
    spare = 9000
    a, b = m.UnitEvent.objects.order_by("pk")[:2]
    tamper(
        f"UPDATE records_unitevent SET id = {spare} WHERE id = {a.pk}",
        f"UPDATE records_unitevent SET id = {a.pk} WHERE id = {b.pk}",
        f"UPDATE records_unitevent SET id = {b.pk} WHERE id = {spare}",
    )
    (said,) = found(world.clinic)
    assert (said.column, said.entry) == ("id", b.entry.number) and "not after that of the row before" in said.what


@sqlite_only
def test_rows_of_two_ledgers_that_changed_places_are_found(world):
    a, b = m.Placement.objects.get(unit=world.units[1]), m.Placement.objects.get(unit=world.other_unit)
    tamper(
        f"UPDATE records_placement SET id = 9000 WHERE id = {a.pk}",
        f"UPDATE records_placement SET id = {a.pk} WHERE id = {b.pk}",
        f"UPDATE records_placement SET id = {b.pk} WHERE id = 9000",
    )
    assert found(world.clinic) == found(world.other_clinic) == []
    (fault,) = database.faults()
    assert fault.row == f"placement {b.pk}" and "not that of its entry" in fault.what


def test_an_entry_whose_key_changed_is_found(world):
    entry = m.UnitEvent.objects.order_by("pk").first().entry
    tamper(
        f"UPDATE records_entry SET id = 9000 WHERE id = {entry.pk}",
        *(f"UPDATE {k._meta.db_table} SET entry_id = 9000 WHERE entry_id = {entry.pk}" for k in m.fact_models()),
    )
    assert ("id", entry.number + 1) in {(said.column, said.entry) for said in found(world.clinic)}


def test_entries_whose_moments_turn_are_found(world):
    entry = head(world.clinic).entries.order_by("-number")[1]
    tamper(f"UPDATE records_entry SET logged_at = '2026-03-20 08:00:00' WHERE id = {entry.pk}")
    said = {(each.entry, each.column) for each in found(world.clinic)}
    assert (entry.number + 1, "logged_at") in said and entry.number in {at for at, _ in said}


# ------------------------------------------------------------------------------------------------ malformed values

MALFORMED = {
    "a day": (m.BioTest, "happened_on", "'2026-3-02'"),
    "a day that is none": (m.BioTest, "happened_on", "'2026-02-30'"),
    "a moment": (m.Entry, "logged_at", "'yesterday'"),
    "a reference": (m.BioTest, "origin", "'not a reference'"),
    "a number": (m.Reading, "as_found", "'warm'"),
    "more digits than there is room for": (m.Reading, "as_found", "134.60000001"),
    "JSON": (m.Job, "make_safe", "'[[\"unplugged\"'"),
    "JSON written otherwise": (m.Job, "make_safe", "replace(make_safe, ', ', ',')"),
    "text that is not UTF-8": (m.Visit, "servicer", "CAST(x'4bc3' AS TEXT)"),
    "bytes for a text": (m.Visit, "servicer", "x'4b'"),
    "a whole number": (m.Entry, "form", "'five'"),
    "an empty value": (m.BioTest, "origin", "''"),
    "neither true nor false": (m.PlanLine, "retired", "2"),
    "a key to nothing": (m.BioTest, "unit_id", "4711"),
}


@sqlite_only
@pytest.mark.parametrize("what", MALFORMED)
def test_a_malformed_value_is_named_and_the_next_organisation_checked(world, what, capsys):
    model, column, value = MALFORMED[what]
    own = {"ledger__organisation": world.clinic} if model is m.Entry else {"clinic": world.clinic}
    row = model.objects.filter(**own).order_by("-pk").first()
    tamper(f"UPDATE {model._meta.db_table} SET {column} = {value} WHERE id = {row.pk}")
    named = [each for each in tamper_check.verify(world.clinic).faults if each.column == column]
    assert named[0].entry == (row.number if model is m.Entry else row.entry.number)
    assert model is m.Entry or str(row.ref)[:8] in named[0].row
    assert run() == 1
    said = capsys.readouterr().out
    assert named[0].sentence in said and "Other Clinic: " in said and "Strangers: " in said
    if what == "a key to nothing":  # the database itself looks for such at the end of a test
        tamper(f"UPDATE {model._meta.db_table} SET {column} = {world.unit.pk} WHERE id = {row.pk}")


@sqlite_only
def test_an_organisation_whose_name_cannot_be_read_is_checked(world, capsys):
    tamper(f"UPDATE records_organisation SET name = CAST(x'c3' AS TEXT) WHERE id = {world.clinic.pk}")
    assert run() == 1
    said = capsys.readouterr().out
    assert f"organisation {world.clinic.pk}, column name: " in said and "Other Clinic: " in said


# ------------------------------------------------------------------------------------------------ rows of nothing


@sqlite_only
def test_a_row_of_no_entry_is_named_with_its_clinic(world):
    row = m.CounterReading.objects.get()
    tamper(f"UPDATE records_counterreading SET entry_id = 4711 WHERE id = {row.pk}")
    said = [fault for fault in database.faults() if fault.column == "entry_id"]
    tamper(f"UPDATE records_counterreading SET entry_id = {row.entry_id} WHERE id = {row.pk}")
    (fault,) = said
    assert fault.organisation == world.clinic.name and fault.row == f"counter reading {row.pk}"
    assert found(world.clinic) == []


# ------------------------------------------------------------------------------------------------ names


def test_a_name_given_to_another_person_is_found(world):
    signed, other = m.Visit.objects.get().entry.logged_by, m.Visit.objects.get().entry
    somebody = m.Person.objects.exclude(pk=signed.person_id).first()
    m.PersonText.objects.filter(pk=signed.pk).update(person=somebody)
    said = found(world.clinic)
    assert said and other.number in {each.entry for each in said}
    assert any("person" in each.column for each in said)


def test_an_account_given_to_another_person_is_found(world):
    account = world.people["technician"]
    m.Account.objects.filter(pk=account.pk).update(person=m.Person.objects.create())
    assert {"logged_by_id.person_id"} <= {each.column for each in found(world.clinic)}


def of_the_database() -> set[tuple[str, str]]:
    return {(fault.row, fault.what.partition(";")[0].partition(":")[0]) for fault in database.faults()}


def test_a_name_that_no_entry_points_to_is_missed_when_it_is_gone(world):
    """Somebody belongs to the clinic and has signed nothing yet: the name stands on the page of its people."""
    viewer = world.people["viewer"].person
    (name,) = viewer.texts.all()
    number = name.pk
    assert not m.Entry.objects.filter(logged_by=name).exists() and database.faults() == []
    name.delete()
    said = of_the_database()
    assert (f"person {viewer.pk}", "somebody with a membership has no name") in said
    assert ((f"name {number}", "it is missing") in said) is (connection.vendor == "sqlite")


@sqlite_only
@pytest.mark.parametrize("model", [m.PersonText, m.Person])
def test_a_number_that_nobody_has_any_more_is_found_at_the_end_too(world, model):
    somebody = m.Person.objects.create()
    row = somebody if model is m.Person else m.PersonText.named(somebody, "Invented Person")
    later = m.PersonText.named(m.Person.objects.create(), "Invented Later")
    assert database.faults() == []
    what, gone, last = "person" if model is m.Person else "name", row.pk, later.pk
    row.delete()
    missing = {(f"{what} {gone}", "it is missing")}
    assert of_the_database() == missing
    later.delete()
    assert of_the_database() == missing | {(f"name {last}", "it is missing")}


def test_an_entry_that_was_refused_leaves_no_gap_that_counts(world):
    """What is refused behind the first signature of somebody is rolled back, on PostgreSQL but for the number."""
    person = m.Person.objects.create()
    with pytest.raises(ZeroDivisionError), transaction.atomic():
        m.PersonText.named(person, "Invented Person")
        raise ZeroDivisionError
    m.PersonText.named(person, "Invented Person")
    assert database.faults() == []


# ------------------------------------------------------------------------------------------------ files


@pytest.fixture
def paper(world, settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    return log.log_document(
        by=world.people["coordinator"], request_key=build.key(), clinic=world.clinic, kind="procedure",
        title="Invented procedure", valid_from=build.TODAY, on=build.TODAY, filename="a.txt", content=b"invented",
    )  # fmt: skip


def test_a_file_that_is_gone_or_altered_is_named(world, paper, tmp_path, capsys):
    (file,) = (tmp_path / str(world.clinic.ref)).iterdir()
    assert list(on_disk.faults(world.clinic)) == []
    file.write_bytes(b"altered!")
    (fault,) = on_disk.faults(world.clinic)
    assert (fault.entry, fault.column) == (paper.entry.number, "sha256") and "was altered" in fault.what
    assert fault.row == f"document {paper.short_ref}"
    file.unlink()
    (fault,) = on_disk.faults(world.clinic)
    assert "missing from disk" in fault.what
    assert run() == 1
    assert fault.sentence in capsys.readouterr().out


# ------------------------------------------------------------------------------------------------ triggers


def wrong() -> dict[str, str]:
    return {name: what for _, name, what in triggers.faults(connection)}


def sql(*statements: str) -> None:
    connection.check_constraints()
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


@sqlite_only
def test_an_emptied_trigger_and_one_beside_it_are_found(world, capsys):
    name = "records_biotest_no_update"
    sql(
        f"DROP TRIGGER {name}",
        f"CREATE TRIGGER {name} BEFORE UPDATE ON records_biotest BEGIN SELECT 1; END",
        "CREATE TRIGGER quiet BEFORE DELETE ON records_biotest BEGIN SELECT RAISE(IGNORE); END",
    )
    assert wrong() == {name: "has another text", "quiet": "is none of this program's"}
    assert run() == 1
    assert "records_biotest: the trigger quiet is none of this program's" in capsys.readouterr().out
    triggers.install(connection)
    assert wrong() == {"quiet": "is none of this program's"}


@sqlite_only
def test_a_trigger_of_the_same_name_on_another_table_is_found(world):
    name = "records_biotest_no_update"
    sql(f"DROP TRIGGER {name}", f"CREATE TRIGGER {name} BEFORE UPDATE ON records_unit BEGIN SELECT 1; END")
    assert triggers.faults(connection)[0] == ("records_biotest", name, "stands on records_unit instead")
    triggers.install(connection)
    assert wrong() == {}


@postgresql_only
def test_a_disabled_trigger_an_altered_function_and_a_rule_are_found(world):
    name = "records_biotest_no_update"
    sql(f"ALTER TABLE records_biotest DISABLE TRIGGER {name}")
    assert wrong() == {name: "is disabled"}
    sql(f"ALTER TABLE records_biotest ENABLE TRIGGER {name}",
        "CREATE RULE quiet AS ON DELETE TO records_biotest DO INSTEAD NOTHING")  # fmt: skip
    assert wrong() == {"quiet": "is a rule, none of this program's"}
    sql("DROP RULE quiet ON records_biotest", "SET LOCAL session_replication_role = replica")
    assert set(wrong().values()) == {"is disabled"}
    empty = "CREATE OR REPLACE FUNCTION records_refuse() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NEW; END'"
    sql("SET LOCAL session_replication_role = origin", empty)
    assert set(wrong().values()) == {"calls a function that was altered"}
    triggers.install(connection)
    assert wrong() == {}


@postgresql_only
def test_a_trigger_that_acts_on_nothing_is_found(world):
    name = "records_biotest_no_update"
    sql(
        f"DROP TRIGGER {name} ON records_biotest",
        f"CREATE TRIGGER {name} BEFORE UPDATE ON records_biotest FOR EACH ROW WHEN (false) "
        "EXECUTE FUNCTION records_refuse()",
    )
    assert wrong() == {name: "has another text"}
