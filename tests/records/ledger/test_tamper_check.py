"""The tamper check: a whole ledger is found whole, and whatever is altered is found at its entry."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db import connection, transaction

from records import clock, log
from records import models as m
from records.ledger import canon, tamper_check, triggers
from tests import world as build

pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def loaded(django_db_setup, django_db_blocker):
    """The small world with entries, made once for this module and rolled back after it."""
    with django_db_blocker.unblock(), transaction.atomic(), clock.at(build.NOW):
        made = filled(build.make(units=2))
        connection.check_constraints()  # once, and not by every test before it is rolled back
        yield made
        transaction.set_rollback(True)


@pytest.fixture
def kept(loaded):
    with clock.at(build.NOW):
        yield loaded


def filled(world):
    """The first clinic with a failing and a passing spore test and a visit; its newest entry is a chemical result."""
    build.spore_test(world, build.TODAY.replace(day=2), test="growth")
    build.seal_replaced(world, build.TODAY.replace(day=3))
    build.spore_test(world, build.TODAY.replace(day=9))
    log.log_chemical(
        by=world.people["coordinator"], request_key=build.key(), clinic=world.clinic, unit=world.unit,
        on=build.TODAY.replace(day=10), type=5, result="pass",
    )  # fmt: skip
    return world


def tamper(*statements: str) -> None:
    """Alter the database as somebody with full rights could: triggers off, alter, triggers on."""
    connection.check_constraints()
    with triggers.lifted(connection), connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
        connection.check_constraints()


def entry_of(row) -> int:
    return row.entry.number


def broken(world) -> tuple[int | None, str]:
    verdict = tamper_check.verify(world.clinic)
    assert verdict.whole is (verdict.broken_at is None)
    return verdict.broken_at, verdict.why


def test_untouched_ledgers_are_whole(kept):
    for organisation in m.Organisation.objects.all():
        verdict = tamper_check.verify(organisation)
        assert verdict.whole and verdict.entries > 0 and verdict.broken_at is None
        assert verdict.head == m.Ledger.objects.get(organisation=organisation).hash
        assert "unaltered" in verdict.sentence


def test_numbers_have_no_gap_and_moments_only_grow(kept):
    for head in m.Ledger.objects.all():
        entries = list(head.entries.order_by("number"))
        assert [e.number for e in entries] == list(range(1, head.number + 1))
        moments = [e.logged_at for e in entries]
        assert all(a < b for a, b in zip(moments, moments[1:], strict=False))
        previous = [e.previous for e in entries]
        assert previous == ["0" * 64, *[e.hash for e in entries[:-1]]]


def test_a_clock_set_back_does_not_turn_the_order(kept):
    before = m.Ledger.objects.get(organisation=kept.clinic)
    with clock.at(build.NOW.replace(hour=2)):
        row = build.spore_test(kept, build.TODAY.replace(day=11), test="")
    assert row.entry.number == before.number + 1
    assert row.entry.logged_at > before.logged_at
    assert tamper_check.verify(kept.clinic).whole


ALTERED = {
    "a result": (m.BioReading, "test = 'no growth'"),
    "a day": (m.BioTest, "happened_on = '2026-03-01'"),
    "a number": (m.Reading, "as_found = 134.7"),
    "an empty value": (m.Reading, "lower = NULL"),
    "the lot of a part": (m.FittedPart, "lot = 'S-10'"),
    "steps as JSON": (m.Job, "make_safe = '[]'"),
    "a reason": (m.BioTest, "amend_reason = 'because'"),
    "the zone": (m.BioTest, "zone = 'Europe/Dublin'"),
    "the order of rows": (m.Job, "line = 90"),
}


@pytest.mark.parametrize("what", ALTERED)
def test_an_altered_value_is_found_at_its_entry(kept, what):
    model, change = ALTERED[what]
    row = model.objects.filter(clinic=kept.clinic).order_by("pk").first()
    tamper(f'UPDATE "{model._meta.db_table}" SET {change} WHERE id = {row.pk}')
    at, why = broken(kept)
    assert at == entry_of(row) and why


def test_a_row_hung_on_another_parent_is_found(kept):
    first, second = m.BioTest.objects.order_by("pk")
    reading = m.BioReading.objects.get(bio_test=second)
    tamper(f"UPDATE records_bioreading SET bio_test_id = {first.pk} WHERE id = {reading.pk}")
    assert broken(kept)[0] == entry_of(reading)


def test_a_row_moved_to_another_unit_is_found(kept):
    row = m.ChemicalResult.objects.get()
    other = kept.units[1]
    tamper(f"UPDATE records_chemicalresult SET unit_id = {other.pk} WHERE id = {row.pk}")
    assert broken(kept)[0] == entry_of(row)


def test_a_removed_row_is_found(kept):
    row = m.Signature.objects.order_by("pk").first()
    tamper(f"DELETE FROM records_signature WHERE id = {row.pk}")
    at, why = broken(kept)
    assert at == entry_of(row) and "removed" in why


def test_a_row_moved_to_another_entry_is_found_at_the_earlier_one(kept):
    row = m.ChemicalResult.objects.get()
    earlier = m.BioTest.objects.order_by("pk").first().entry
    tamper(f"UPDATE records_chemicalresult SET entry_id = {earlier.pk}, line = 2 WHERE id = {row.pk}")
    assert broken(kept)[0] == earlier.number


def test_the_newest_entry_removed_is_found_past_the_end(kept):
    row = m.ChemicalResult.objects.select_related("entry").get()
    tamper("DELETE FROM records_chemicalresult", f"DELETE FROM records_entry WHERE id = {row.entry_id}")
    at, why = broken(kept)
    assert at == entry_of(row) and "removed" in why


def test_a_middle_entry_removed_is_found(kept):
    reading = m.BioReading.objects.select_related("entry").order_by("-pk").first()
    tamper(
        f"DELETE FROM records_bioreading WHERE id = {reading.pk}",
        f"DELETE FROM records_entry WHERE id = {reading.entry_id}",
    )
    assert broken(kept) == (entry_of(reading), f"entry {entry_of(reading)} is missing")


def test_two_entries_with_their_numbers_swapped_are_found(kept):
    first, second = m.BioTest.objects.order_by("pk")
    a, b = first.entry, second.entry
    tamper(
        f"UPDATE records_entry SET number = 30000 WHERE id = {a.pk}",
        f"UPDATE records_entry SET number = {a.number} WHERE id = {b.pk}",
        f"UPDATE records_entry SET number = {b.number} WHERE id = {a.pk}",
    )
    assert broken(kept)[0] == min(a.number, b.number)


ENTRY_COLUMNS = {
    "what": "'spore test read'",
    "request_key": {"sqlite": "'" + "7" * 32 + "'", "postgresql": f"'{'7' * 8}-7777-7777-7777-{'7' * 12}'"},
    "content": "'" + "0" * 64 + "'",
    "account_id": "(SELECT id FROM records_account WHERE username = 'operator')",
    "logged_at": "'2026-03-15 08:00:00+00:00'",
    "logged_by_id": "(SELECT logged_by_id FROM records_entry WHERE logged_by_id <> {was} LIMIT 1)",
    "logged_for_id": "(SELECT id FROM records_organisation WHERE slug = 'keepers')",
    "written_at": "'2026-03-01 08:00:00+00:00'",
    "paper": "'page 7'",
    "clock_off": "7",
    "previous": "'" + "1" * 64 + "'",
    "hash": "'" + "2" * 64 + "'",
}


def test_every_column_of_an_entry_is_tried():
    """`form` is tried on its own; the ledger and the number are where the entry stands."""
    assert {f.column for f in m.Entry._meta.concrete_fields} == {*ENTRY_COLUMNS, "id", "ledger_id", "number", "form"}


@pytest.mark.parametrize("column", ENTRY_COLUMNS)
def test_an_altered_column_of_an_entry_is_found(kept, column):
    entry = m.BioTest.objects.order_by("pk").first().entry
    value = ENTRY_COLUMNS[column]
    value = value[connection.vendor] if isinstance(value, dict) else value.format(was=entry.logged_by_id)
    tamper(f"UPDATE records_entry SET {column} = {value} WHERE id = {entry.pk}")
    assert broken(kept)[0] == entry.number


def test_a_form_that_was_never_frozen_is_found(kept):
    entry = m.BioTest.objects.order_by("pk").first().entry
    tamper(f"UPDATE records_entry SET form = 999 WHERE id = {entry.pk}")
    at, why = broken(kept)
    assert at == entry.number and "form 999" in why


def test_entries_rewritten_with_new_hashes_leave_the_head(kept):
    """Somebody who recomputes the newest entry's hash still has the head, and every printed head, against them."""
    row = m.ChemicalResult.objects.get()
    tamper(f"UPDATE records_chemicalresult SET type = 6 WHERE id = {row.pk}")
    row = m.ChemicalResult.objects.select_related("entry__ledger__organisation").get()
    rewritten = canon.hash_of(row.entry, [row])
    tamper(f"UPDATE records_entry SET hash = '{rewritten}' WHERE id = {row.entry_id}")
    assert not tamper_check.verify(kept.clinic).whole


def test_another_clinics_fault_breaks_only_its_own_ledger(kept):
    tamper(f"UPDATE records_chemicalresult SET type = 6 WHERE clinic_id = {kept.clinic.pk}")
    assert not tamper_check.verify(kept.clinic).whole
    assert tamper_check.verify(kept.other_clinic).whole and tamper_check.verify(kept.company).whole


def test_an_altered_name_is_found_at_the_first_entry_that_names_it(kept):
    signed = m.Visit.objects.get().technician
    m.PersonText.objects.filter(pk=signed.pk).update(value="Somebody Else")
    at, why = broken(kept)
    assert at == entry_of(m.Visit.objects.get()) and "name" in why
    assert tamper_check.verify(kept.other_clinic).whole


def test_a_name_altered_with_its_digest_is_found_too(kept):
    signed = m.Visit.objects.get().technician
    digest = m.PersonText.digest_of(signed.salt, "Somebody Else")
    m.PersonText.objects.filter(pk=signed.pk).update(value="Somebody Else", digest=digest)
    assert broken(kept)[0] == entry_of(m.Visit.objects.get())


def test_an_erased_name_leaves_the_chain_whole(kept):
    signed = m.Visit.objects.get().technician
    m.Account.objects.filter(person=signed.person).update(is_active=False)
    log.erase_name(
        by=kept.people["coordinator"], request_key=build.key(), organisation=kept.clinic, name=signed,
        reason="asked for it",
    )  # fmt: skip
    assert tamper_check.verify(kept.clinic).whole
    assert "erased on 2026-03-16" in str(m.Visit.objects.get().technician)


# ------------------------------------------------------------------------------------------------ the command


def run(*args) -> int:
    with pytest.raises(SystemExit) as end:
        call_command("verify_ledger", *args)
    return end.value.code


def test_command_says_that_all_is_whole(kept, capsys):
    assert run() == 0
    said = capsys.readouterr().out.splitlines()
    assert len(said) == m.Organisation.objects.count()
    assert all("unaltered" in line for line in said)


def test_command_names_the_broken_entry(kept, capsys):
    tamper("UPDATE records_chemicalresult SET type = 6")
    assert run("first") == 1
    assert f"entry {entry_of(m.ChemicalResult.objects.get())} is broken" in capsys.readouterr().out
    assert run() == 1
    assert run("other") == 0


def test_command_refuses_an_unknown_clinic(kept, capsys):
    assert run("nowhere") == 2
    said = capsys.readouterr().err
    assert "nowhere" in said and "first" in said
