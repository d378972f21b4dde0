"""The facts kept of a clinic are those of its tables, whatever was logged, corrected, or done to what was kept."""

from __future__ import annotations

import random
import threading
from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.management import call_command
from django.db import connection, connections
from django.test.utils import CaptureQueriesContext

from audit.gather import kept_facts as kept
from audit.gather import marks
from audit.gather.packing import packed, written
from audit.gather.read import clinic_facts
from audit.models import FactsCache
from records import clock, log
from records import models as m
from tests import world as build
from tests.examples import examples
from tests.records.one_of_each import log_one_of_each

pytestmark = pytest.mark.django_db


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.make(units=2)


def queries(work) -> int:
    with CaptureQueriesContext(connection) as taken:
        work()
    return len(taken)


def same_as_the_tables(clinic) -> bool:
    """What is read from what is kept, and a second time, is what the tables say."""
    fresh = clinic_facts(clinic)
    return all(
        got == fresh and written(got) == written(fresh) for got in (kept.kept_facts(clinic), kept.kept_facts(clinic))
    )


def test_what_is_kept_takes_two_queries_and_says_the_same(world):
    first = queries(lambda: kept.kept_facts(world.clinic))
    assert first > 40
    assert queries(lambda: kept.kept_facts(world.clinic)) == 2
    assert same_as_the_tables(world.clinic)


def test_many_clinics_take_three_queries_and_each_gets_its_own(world):
    clinics = [world.clinic, world.other_clinic]
    apart = {clinic.pk: kept.kept_facts(clinic) for clinic in clinics}
    assert queries(lambda: kept.kept_of(clinics)) == 3 and kept.kept_of(clinics) == apart
    build.weekly_tests(world, 1)
    assert kept.kept_of(clinics) == {clinic.pk: clinic_facts(clinic) for clinic in clinics}


def test_one_of_every_kind_of_row_comes_back(world, tmp_path, settings):
    settings.BLOBS_DIR = tmp_path
    log_one_of_each(world, tmp_path)
    assert same_as_the_tables(world.clinic)
    assert FactsCache.objects.get().clinic_id == world.clinic.pk


def _spore_test(world, chance):
    build.spore_test(
        world, build.TODAY - timedelta(days=chance.randrange(2, 200)), chance.choice(["growth", "no growth", ""]),
        unit=chance.choice(world.units),
    )  # fmt: skip


def _visit(world, chance):
    build.seal_replaced(world, build.TODAY - timedelta(days=chance.randrange(1, 90)), unit=chance.choice(world.units))


def _paper(world, chance):
    log.log_credential(
        by=world.people["dispatcher"], request_key=build.key(), owner=world.company, kind="training",
        title="Invented course", valid_from=date(2026, 1, chance.randrange(1, 28)), person="Pat Technician",
    )  # fmt: skip


def _correction(world, chance):
    test = chance.choice(list(m.BioTest.objects.in_force()) or [None])
    if test:
        log.correct(
            by=world.people["coordinator"], request_key=build.key(), row=test, reason="misread",
            changes={"cycle_number": str(chance.randrange(1000, 9999))},
        )  # fmt: skip


def _voiding(world, chance):
    test = chance.choice(list(m.BioTest.objects.in_force()) or [None])
    if test:
        log.void(by=world.people["coordinator"], request_key=build.key(), row=test, reason="another unit")


@pytest.mark.laws
@pytest.mark.parametrize("seed", range(examples(4)))
def test_after_every_entry_what_is_kept_is_what_the_tables_say(world, seed):
    chance = random.Random(seed)
    for work in chance.choices([_spore_test, _visit, _paper, _correction, _voiding], k=8):
        kept.kept_facts(world.clinic)
        work(world, chance)
        assert same_as_the_tables(world.clinic), work.__name__


def test_an_entry_in_the_companys_books_counts_and_one_of_a_stranger_does_not(world):
    before = kept.heads_of([world.clinic])
    _paper(world, random.Random(1))
    after = kept.heads_of([world.clinic])
    assert after != before
    log.log_credential(
        by=world.people["other-dispatcher"], request_key=build.key(), owner=world.other_company, kind="training",
        title="Invented course", valid_from=date(2026, 1, 5), person="Somebody",
    )  # fmt: skip
    assert kept.heads_of([world.clinic]) == after


def test_an_erased_name_and_a_new_name_of_the_company_are_seen_at_once(world):
    build.seal_replaced(world, date(2026, 2, 2))
    kept.kept_facts(world.clinic)
    m.PersonText.objects.filter(value="Pat Technician").update(erased_on=build.TODAY)
    assert "(name erased on 2026-03-16)" in written(kept.kept_facts(world.clinic))
    assert same_as_the_tables(world.clinic)
    m.ServiceCompany.objects.filter(pk=world.company.pk).update(name="Keepers & Daughters")
    assert "Keepers & Daughters" in written(kept.kept_facts(world.clinic))
    assert same_as_the_tables(world.clinic)


def test_facts_kept_by_other_code_are_not_used(world, monkeypatch):
    kept.kept_facts(world.clinic)
    monkeypatch.setattr(kept, "code_digest", lambda: "other code")
    assert queries(lambda: kept.kept_facts(world.clinic)) > 40
    assert queries(lambda: kept.kept_facts(world.clinic)) == 2


@pytest.mark.parametrize("payload", [b"", b"facts-2\n", b"facts-2 00\nx\x9c\x01", b"columns-1\n", b"something else"])
def test_what_is_damaged_is_read_anew_and_replaced(world, payload, caplog):
    fresh = kept.kept_facts(world.clinic)
    FactsCache.objects.update(payload=payload)
    assert kept.kept_facts(world.clinic) == fresh
    assert "damaged" in caplog.text
    assert bytes(FactsCache.objects.get().payload)[marks.SIZE :] == packed(fresh)


def test_nothing_is_kept_when_something_was_logged_meanwhile(world, monkeypatch):
    def slow(clinic):
        facts = clinic_facts(clinic)
        build.spore_test(world, date(2026, 3, 2))
        return facts

    monkeypatch.setattr(kept, "clinic_facts", slow)
    kept.kept_facts(world.clinic)
    assert not FactsCache.objects.exists()


def test_what_was_known_at_a_moment_is_never_taken_from_what_is_kept(world, client):
    build.spore_test(world, date(2026, 3, 2))
    kept.kept_facts(world.clinic)
    client.force_login(world.people["coordinator"])
    with CaptureQueriesContext(connection) as taken:
        assert client.get(f"/clinic/first/?known_at={build.TODAY}").status_code == 200
    assert not [q for q in taken.captured_queries if "audit_factscache" in q["sql"]]


def test_check_names_facts_that_are_not_those_of_the_tables(world, capsys):
    call_command("recompute")
    with pytest.raises(SystemExit) as end:
        call_command("recompute", "--check")
    assert end.value.code == 0
    row = FactsCache.objects.get(clinic=world.clinic)
    facts = clinic_facts(world.other_clinic)
    FactsCache.objects.filter(pk=row.pk).update(payload=kept._marked(world.clinic, row.heads, facts))
    with pytest.raises(SystemExit) as end:
        call_command("recompute", "--check")
    assert end.value.code == 1
    assert "first: the facts kept are not those of the tables" in capsys.readouterr().out


@pytest.mark.django_db(transaction=True)
def test_several_readers_at_once_keep_one_row_and_all_see_the_same():
    with clock.at(build.NOW):
        world = build.make()
        build.weekly_tests(world, 3)
        log.log_load(
            by=world.people["operator"], request_key=build.key(), clinic=world.clinic, unit=world.unit,
            on=build.TODAY, cycle_number="7", program="wrapped", minutes=Decimal("30.0"),
        )  # fmt: skip
    FactsCache.objects.all().delete()
    seen, start = [], threading.Barrier(4)

    def read():
        try:
            start.wait(timeout=20)
            seen.append(written(kept.kept_facts(m.Clinic.objects.get(pk=world.clinic.pk))))
        finally:
            connections.close_all()

    readers = [threading.Thread(target=read) for _ in range(4)]
    for reader in readers:
        reader.start()
    for reader in readers:
        reader.join()
    assert seen == [written(clinic_facts(world.clinic))] * 4
    assert FactsCache.objects.count() == 1


def test_facts_that_this_program_did_not_keep_are_read_again(world):
    """Whoever can write the database can pack other facts; the mark over them needs the secret key."""
    right, other = written(kept.kept_facts(world.clinic)), packed(clinic_facts(world.other_clinic))
    own = FactsCache.objects.get(clinic=world.clinic)
    for payload in (other, bytes(32) + other, bytes(own.payload)[:32] + other):
        FactsCache.objects.filter(pk=own.pk).update(payload=payload)
        assert "mark" in kept.difference(world.clinic)
        assert written(kept.kept_facts(world.clinic)) == right
    assert kept.difference(world.clinic) == ""
