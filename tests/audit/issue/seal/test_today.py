"""Whether today's records still contain what a binder states, and what became of the rows it names."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from django.core.cache import cache
from django.db import connection, transaction

from audit.issue.seal import today
from audit.issue.seal.verify import UNALTERED, check, nobody
from records import clock, log
from records.ledger import triggers
from records.models import BioReading, BioTest, Entry, FittedPart
from tests import world as made
from tests.audit.issue.seal import files

pytestmark = pytest.mark.django_db


def everything(organisation) -> bool:
    return True


@pytest.fixture(autouse=True)
def _nothing_kept():
    cache.clear()


@pytest.fixture(scope="module")
def loaded(django_db_setup, django_db_blocker):
    """The small world with a spore test and a visit, made once for this module and rolled back after it."""
    with django_db_blocker.unblock(), transaction.atomic(), clock.at(made.NOW):
        world = made.make()
        world.test = made.spore_test(world, date(2026, 3, 2))
        made.seal_replaced(world, date(2026, 3, 3))
        yield world
        transaction.set_rollback(True)


@pytest.fixture
def world(loaded):
    with clock.at(made.NOW + timedelta(hours=1)):
        yield loaded


@pytest.fixture
def rows(world):
    """The rows the binder prints: the test, its reading, the part of the visit."""
    found = [world.test, BioReading.objects.get(bio_test=world.test), FittedPart.objects.first()]
    return {type(row): row for row in found}


def name(row) -> str:
    """Its record number."""
    return str(row.entry.number) if row.line == 1 else f"{row.entry.number}.{row.line}"


def named(row) -> tuple[str, str]:
    return name(row), row.short_ref


@pytest.fixture
def content(world, rows, seal):
    return files.signed(files.body(files.of_world(world, [named(row) for row in rows.values()])))


def state(content, sees=everything):
    verdict = check(content, sees=sees, fresh=True)
    assert verdict.word == UNALTERED
    return verdict.records


def test_nothing_logged_since_and_all_there(content, world):
    records = state(content)
    assert records.hold
    assert [(each.name, each.problem, each.since) for each in records.ledgers] == [
        ("First Clinic", "", 0), ("Keepers", "", 0),
    ]  # fmt: skip
    assert (records.changed, records.about) == ((), 0)


def test_later_entries_are_counted_and_do_not_disturb(content, world):
    made.spore_test(world, date(2026, 3, 10))  # two entries: run, read
    records = state(content)
    assert records.hold and [each.since for each in records.ledgers] == [2, 0]
    assert (records.changed, records.about) == ((), 2)


def test_rows_about_days_beyond_the_binder_are_not_counted_as_about_it(world, rows, seal):
    earlier = replace(files.of_world(world), to_on=date(2026, 3, 9))
    content = files.signed(files.body(earlier))
    made.spore_test(world, date(2026, 3, 9))  # run on the last day, read on the next
    assert state(content).about == 1


def corrected(world, row, **changes):
    by = world.people["coordinator"]
    return log.correct(by=by, request_key=made.key(), row=row, changes=changes, reason="typed wrongly")


def test_a_corrected_row_is_named_with_its_reason(content, world, rows):
    new = corrected(world, rows[BioTest], cycle_type="unwrapped")
    (changed,) = state(content).changed
    assert changed == today.Changed(
        row=name(rows[BioTest]), kind=BioTest._meta.verbose_name, what="corrected", entry=new.entry.number,
        logged_at=new.entry.logged_at, reason="typed wrongly",
    )  # fmt: skip


def test_a_row_corrected_twice_is_named_once_with_its_last_correction(content, world, rows):
    first = corrected(world, rows[BioTest], cycle_type="unwrapped")
    last = corrected(world, first, cycle_type="wrapped")
    (changed,) = state(content).changed
    assert (changed.row, changed.entry) == (name(rows[BioTest]), last.entry.number)


def test_a_row_corrected_before_the_binder_was_made_is_not(world, rows, seal):
    new = corrected(world, rows[BioTest], cycle_type="unwrapped")
    content = files.signed(files.body(files.of_world(world, [named(new)])))
    assert state(content).changed == ()


def test_a_row_entered_in_error_is_named_with_what_hangs_on_it(content, world, rows):
    log.void(by=world.people["coordinator"], request_key=made.key(), row=rows[BioTest], reason="another unit")
    changed = state(content).changed
    assert (name(rows[BioTest]), "entered in error", "another unit") in {(c.row, c.what, c.reason) for c in changed}


def test_a_corrected_row_the_binder_does_not_name_is_left_out(world, rows, seal):
    content = files.signed(files.body(files.of_world(world, [("1", "00000000")])))
    corrected(world, rows[BioTest], cycle_type="unwrapped")
    assert state(content).changed == ()


def test_an_unknown_reader_learns_only_whether_it_still_holds(content, world, rows):
    corrected(world, rows[BioTest], cycle_type="unwrapped")
    records = state(content, sees=nobody)
    assert records.hold
    assert (records.changed, records.about) == (None, None)
    assert [each.since for each in records.ledgers] == [None, None]


def test_who_may_see_the_clinic_learns_of_it_but_not_of_the_companys_ledger(content, world):
    records = state(content, sees=lambda organisation: organisation.pk == world.clinic.pk)
    assert [each.since for each in records.ledgers] == [0, None]
    assert records.changed == ()


def tampered(sql: str, *values) -> None:
    connection.check_constraints()
    with triggers.lifted(connection), connection.cursor() as cursor:
        cursor.execute(sql, values)
        connection.check_constraints()


def test_a_row_altered_in_the_database_is_told_with_its_entry(content, world, rows):
    tampered("UPDATE records_biotest SET cycle_type = 'other' WHERE id = %s", rows[BioTest].pk)
    records = state(content)
    assert not records.hold
    assert f"entry {rows[BioTest].entry.number} was altered" in records.ledgers[0].problem
    assert not check(content, sees=nobody, fresh=True).good


def test_a_break_behind_the_binder_does_not_concern_it(content, world):
    later = made.spore_test(world, date(2026, 3, 10))
    tampered("UPDATE records_biotest SET cycle_type = 'other' WHERE id = %s", later.pk)
    assert state(content).hold


def test_an_entry_with_another_hash_is_told(world, seal):
    other = files.heads_moved(files.of_world(world), hash="f" * 64)
    assert "is another one than the binder was made from" in state(files.signed(files.body(other))).ledgers[0].problem


def test_an_entry_that_is_not_there_is_told(world, seal):
    number = Entry.objects.filter(ledger__organisation=world.clinic).count() + 5
    other = files.heads_moved(files.of_world(world), number=number)
    assert f"entry {number} is not there any more" in state(files.signed(files.body(other))).ledgers[0].problem


def test_a_ledger_that_is_not_there_is_told(world, seal):
    other = files.heads_moved(files.of_world(world), organisation=files.HEAD.organisation)
    records = state(files.signed(files.body(other)))
    assert not records.hold and "no ledger of that organisation" in records.ledgers[0].problem


def test_a_binder_without_ledgers_is_borne_out_by_nothing(world, seal):
    assert not state(files.signed(files.body(files.binder(heads=())))).hold


def test_of_a_long_ledger_a_page_follows_the_links_and_says_so(content, world, rows, monkeypatch):
    monkeypatch.setattr(today, "MOST_RECOMPUTED", 5)
    ledgers = check(content).records.ledgers
    assert [(each.problem, each.recomputed) for each in ledgers] == [
        ("", False),
        ("", True),
    ]  # the company's is short
    assert all(each.recomputed for each in check(content, fresh=True).records.ledgers)
    tampered("UPDATE records_entry SET previous = %s WHERE id = %s", "e" * 64, rows[BioTest].entry.pk)
    number = rows[BioTest].entry.number
    assert f"entry {number} was altered" in check(content).records.ledgers[0].problem


def test_the_chain_is_recomputed_once_in_ten_minutes_unless_asked_afresh(content, world, rows, monkeypatch):
    calls = []
    whole = today.tamper_check.verify

    def counted(organisation, excerpt):
        calls.append(organisation.pk)
        return whole(organisation, excerpt)

    monkeypatch.setattr(today.tamper_check, "verify", counted)
    check(content)
    check(content)
    assert len(calls) == 2  # the clinic's and the company's, once each
    check(content, fresh=True)
    assert len(calls) == 4
    made.spore_test(world, date(2026, 3, 10))
    check(content)
    assert len(calls) == 5  # the clinic's ledger has grown
