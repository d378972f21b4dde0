"""Ledgers of every form, written by the code of its day: whole after an upgrade that was killed in the middle and
begun again, and what is altered is found.

On SQLite, whichever database the tests use: the ledgers are kept as files of it (`ledgers/README.md`).
"""

from __future__ import annotations

import json
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import pytest
from django.contrib.contenttypes.models import ContentType
from django.core.management import call_command
from django.db import connection, connections, transaction
from django.db.utils import load_backend

from audit.gather.read import clinic_facts
from records import clock, log
from records import models as m
from records.ledger import canon, tamper_check, triggers
from tests import world as build
from tests.in_turn import ALL
from tests.records.ledger.upgraded import FORMS, LEDGERS, upgraded


@dataclass(frozen=True)
class Old:
    """`said` is what the code of that day said of its ledgers, `found` what the check finds after the upgrade."""

    form: int
    file: Path
    said: dict
    found: dict

    @property
    def stands_at(self) -> datetime:
        return datetime.fromisoformat(self.said["stands_at"])


@contextmanager
def database(file: Path):
    """The default database is that SQLite file for a while."""
    usual = connections["default"]
    settings = connections.settings["default"]
    settings = settings | {"ENGINE": "django.db.backends.sqlite3", "NAME": str(file), "OPTIONS": {}}
    connections["default"] = load_backend(settings["ENGINE"]).DatabaseWrapper(settings, "default")
    ContentType.objects.clear_cache()
    try:
        yield
    finally:
        connections["default"].close()
        connections["default"] = usual
        ContentType.objects.clear_cache()


_upgraded: dict[int, Old] = {}


@pytest.fixture(params=FORMS, ids=lambda n: f"form {n}")
def today(request, tmp_path_factory):
    """The database of that day upgraded to today, made once in a process, in whatever order tests come."""
    form = request.param
    if form not in _upgraded:
        folder = tmp_path_factory.mktemp("ledger")
        said, found = upgraded(form, {"STANDING_DATABASE": "sqlite", "STANDING_DATA": str(folder)})
        _upgraded[form] = Old(form, folder / "standing.sqlite3", said, found)
    return _upgraded[form]


@pytest.fixture
def old(today, django_db_blocker):
    """That database at its moment; what a test does to it is rolled back."""
    with django_db_blocker.unblock(), database(today.file), transaction.atomic(), clock.at(today.stands_at):
        yield today
        transaction.set_rollback(True)


def verdicts() -> dict[str, tamper_check.LedgerVerdict]:
    return {each.slug: tamper_check.verify(each) for each in m.Organisation.objects.order_by("slug")}


def test_every_form_has_its_ledger():
    there = {n: (LEDGERS / f"form_{n}.sql.xz").exists() and (LEDGERS / f"form_{n}.json").exists() for n in FORMS}
    assert all(there.values()), f"Make the missing one with the code that freezes the form, see {LEDGERS}/README.md"


def test_an_upgrade_that_was_killed_goes_on_and_every_entry_stands(old):
    assert old.found["faults"] == [] and old.found["triggers"] == []
    assert old.found["ledgers"] == old.said["ledgers"] and old.found["kinds"] == old.said["kinds"]
    assert set(m.Entry.objects.values_list("form", flat=True)) == {old.form}
    assert old.said["kinds"].keys() == canon.form_of(old.form).keys() - set(canon.RESERVED)


def test_the_clinic_can_be_judged_from_it(old, capsys):
    facts = clinic_facts(m.Clinic.objects.get(slug="first"))
    # From form 9 on a unit registered from a template and a loaner stand beside the two of the small world.
    assert len(facts.units) == (4 if old.form >= 9 else 2)
    units = [u for u in facts.units if u.label in ("Unit 1", "Unit 2")]
    assert [u.label for u in units] == ["Unit 1", "Unit 2"]
    assert [len(u.bio_tests) for u in units] == [1, 0]
    assert [len(u.jobs) for u in units] == [2, 1]
    with pytest.raises(SystemExit) as end:
        call_command("status", "first")
    said = capsys.readouterr().out
    assert end.value.code == 1  # a unit may not be used
    assert "Unit 1: Out of service since 2026-03-10" in said and "spore test of 2026-03-09: failed" in said
    assert "Unit 2: In service, overdue" in said


def test_the_ledger_goes_on_under_the_newest_form(old):
    entry, before = chemical_result(), old.said["ledgers"]["first"]
    assert (entry.form, entry.number) == (canon.newest_form(), before["entries"] + 1)
    assert entry.previous == before["head"] and all(v.whole for v in verdicts().values())


def test_a_column_that_is_widened_breaks_no_hash(old, monkeypatch):
    for model, name in ((m.Reading, "as_found"), (m.LeakTest, "minutes"), (m.CounterReading, "shown")):
        field = model._meta.get_field(name)
        monkeypatch.setattr(field, "decimal_places", field.decimal_places + 2)
        assert model.objects.filter(**{f"{name}__isnull": False}).exists()
    assert all(v.whole for v in verdicts().values())


def chemical_result():
    """A new entry in the first clinic's ledger."""
    row = log.log_chemical(
        by=m.Account.objects.get(username="coordinator"), request_key=build.key(), on=build.TODAY, type=5,
        clinic=m.Clinic.objects.get(slug="first"), unit=m.Unit.objects.get(label="Unit 2"), result="pass",
    )  # fmt: skip
    return row.entry


def test_what_joins_the_header_under_a_next_form_breaks_no_hash(old, forms, monkeypatch):
    """As the account once joined it without a form, and every ledger of before was called broken."""
    number = canon.newest_form() + 1
    form = canon.form_of(number - 1)
    form = form | {canon.ENTRY: [*form[canon.ENTRY], "later"]}
    (forms / f"form_{number}.json").write_text(json.dumps(form), encoding="utf-8")
    canon.newest_form.cache_clear()
    monkeypatch.setattr(m.Entry, "later", "as it was said", raising=False)
    entry = chemical_result()
    assert entry.form == number and all(v.whole for v in verdicts().values())
    monkeypatch.setattr(m.Entry, "later", "as it was not said")
    assert {slug: v.broken_at for slug, v in verdicts().items() if not v.whole} == {"first": entry.number}


# Of the first clinic's record: which row, and what of it is altered.
ALTERED = {
    "what an entry is": (m.Entry, {"number": 5}, "what = 'nothing'"),
    "who logged it": (m.Entry, {"number": 5}, "account_id = (SELECT max(id) FROM records_account)"),
    "when it was logged": (m.Entry, {"number": 5}, "logged_at = '2026-03-16 15:00:00'"),
    "the page it is from": (m.Entry, {"paper": "page 7"}, "paper = 'page 8'"),
    "a day": (m.BioTest, {}, "happened_on = '2026-03-08'"),
    "a result": (m.BioReading, {}, "test = 'no growth'"),
    "a number": (m.Reading, {"unit__label": "Unit 2"}, "as_found = 134.7"),
    "the reason of a correction": (m.ChemicalResult, {"amends__isnull": False}, "amend_reason = 'because'"),
}


@contextmanager
def altered(model, which: dict, change: str):
    """Alter one row for a while, as somebody with full rights could. Gives the number of its entry."""
    ledger_of = "ledger" if model is m.Entry else "entry__ledger"
    row = model.objects.get(**which, **{f"{ledger_of}__organisation__slug": "first"})
    with transaction.atomic():
        with connection.cursor() as cursor:
            cursor.execute(f"UPDATE {model._meta.db_table} SET {change} WHERE id = {row.pk}")
        yield row.number if model is m.Entry else row.entry.number
        transaction.set_rollback(True)


def test_whatever_is_altered_is_found_at_its_entry(old):
    clinic = m.Organisation.objects.get(slug="first")
    triggers.drop(connection)
    for what, alteration in next_of(old.form, list(ALTERED.items())):
        with altered(*alteration) as number:
            assert tamper_check.verify(clinic).broken_at == number, what
    assert tamper_check.verify(clinic).whole


def next_of(form: int, each: list) -> list:
    """All of them for the first and the newest form; of the forms between, to each the next three."""
    return (
        each
        if ALL or form in (FORMS[0], FORMS[-1])
        else [each[(3 * form + n) % len(each)] for n in range(min(3, len(each)))]
    )


def test_another_forms_number_is_found(old):
    """Under no other form does an entry have the hash it has: an entry cannot be told to be of an easier one."""
    clinic = m.Organisation.objects.get(slug="first")
    triggers.drop(connection)
    for form in next_of(old.form, sorted({*FORMS, 0} - {old.form})):
        with altered(m.Entry, {"number": 5}, f"form = {form}") as number:
            assert tamper_check.verify(clinic).broken_at == number
