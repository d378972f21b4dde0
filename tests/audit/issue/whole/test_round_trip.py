"""Taken out and brought into an empty place, a record is the same: answers, coverage, binder, refs and hashes."""

from __future__ import annotations

import json
import random
from datetime import timedelta
from unittest import mock

import pytest
from django.db import connection

from audit.gather.heads import heads
from audit.gather.read import clinic_facts
from audit.issue import make
from audit.issue.whole import brought, check, load
from audit.issue.whole.write import write
from audit.issue.wish import Wish
from audit.judge.evaluate import evaluate
from audit.models import BroughtLedger
from records import access, log
from records import models as m
from records.ledger import database, on_disk, tamper_check
from records.log import put_back
from tests import world as made
from tests.examples import examples

from .conftest import AT, empty
from .test_check import members_of, packed, summed_again

pytestmark = pytest.mark.django_db
PHRASE = "four quiet lamps walking"
WISH = Wish(made.TODAY - timedelta(days=120), made.TODAY, made.TODAY)


def told(clinic: m.Clinic, wish: Wish = WISH) -> dict:
    """All that is said of the clinic, and by what: facts, answers with coverage, the binder's contents, hashes.

    A binder also names the newest entry of each company's book. Of those, only what the record rests on comes along,
    so another one may be the newest there: these heads are left out here, that of the clinic's own ledger is not.
    """
    facts = clinic_facts(clinic)
    with mock.patch.object(make, "heads", lambda *args: heads(*args)[:1]):
        binder, papers = make.contents(clinic, wish)
    rows = [
        (model._meta.model_name, str(row.ref), str(row.origin), row.line, row.entry.number)
        for model in m.fact_models()
        for row in model.objects.filter(entry__ledger__organisation=clinic.pk).order_by("pk").select_related("entry")
    ]
    entries = m.Entry.objects.filter(ledger__organisation=clinic.pk).order_by("number")
    hashes = list(entries.values_list("number", "hash", "logged_at"))
    return {
        "facts": facts,
        "answers": evaluate(facts, wish.as_of),
        "binder": binder,
        "papers": papers,
        "hashes": hashes,
        "rows": rows,
    }


def gone_round(clinic: m.Clinic, settings, tmp_path, by: str = "coordinator") -> load.Brought:
    """Take everything out, empty the place, bring it in."""
    path = tmp_path / "round.zip"
    write(clinic, path, by="Ana Coordinator", at=AT)
    empty(settings, tmp_path / "other-blobs")
    return load.bring(path, by=by, phrase=PHRASE, at=AT)


def test_everything_is_the_same_in_another_place(world, settings, tmp_path):
    before = told(world.clinic)
    found = gone_round(world.clinic, settings, tmp_path)
    assert found.clinic.pk and (found.files, found.lost) == (1, 0)
    assert told(m.Clinic.objects.get(slug="first")) == before


def test_there_it_verifies_says_where_it_came_from_lets_its_people_in_and_goes_on(world, settings, tmp_path):
    last = m.Ledger.objects.get(organisation=world.clinic).number
    found = gone_round(world.clinic, settings, tmp_path)
    assert tamper_check.verify(found.clinic).whole and database.faults() == []
    assert list(on_disk.faults(found.clinic)) == []
    origin = brought.origin_of(found.clinic)
    assert (origin.last, origin.made_by, origin.brought_by) == (last, "Ana Coordinator", "Ana Coordinator")
    _only_its_people(found)
    _book_of_the_company(found)
    row = log.log_counter(
        by=found.account, request_key=made.key(), clinic=found.clinic, unit=m.Unit.objects.get(), on=made.TODAY,
        counter="cycles", shown=1300,
    )  # fmt: skip
    assert row.entry.number == last + 1 and tamper_check.verify(found.clinic).whole


def _only_its_people(found: load.Brought) -> None:
    """They come along; whoever brings it has a pass phrase, and nobody else."""
    account = found.account
    assert account.check_password(PHRASE) and access.rights(account, found.clinic).may_set_rules
    others = m.Account.objects.exclude(pk=account.pk)
    assert [a.username for a in others if a.has_usable_password()] == []
    assert sorted(a.username for a in others if a.is_active) == ["operator", "viewer"]
    assert not m.Organisation.objects.filter(slug__in=("other", "strangers")).exists()


def _book_of_the_company(found: load.Brought) -> None:
    """Of it only some entries stand there; without the note that says which, every gap is a fault."""
    [company] = found.others
    assert company.name == "Keepers" and not tamper_check.verify(company).whole
    verdict = tamper_check.verify(company, brought.excerpt_of(company))
    assert verdict.whole and "those of its book that were brought in, unaltered" in verdict.sentence


def test_taken_out_again_its_ledger_has_the_same_bytes_but_for_places(world, settings, tmp_path):
    write(world.clinic, tmp_path / "first.zip", by="Ana", at=AT)
    found = gone_round(world.clinic, settings, tmp_path)
    write(found.clinic, tmp_path / "second.zip", by="Ana", at=AT)
    first, second = (_without_places(members_of(tmp_path / f"{name}.zip")) for name in ("first", "second"))
    assert first == second


def _without_places(members: dict[str, bytes]) -> dict[str, object]:
    """The members but for the order in which entries of all ledgers were written, and what names their sums."""
    kept = {}
    for name, body in members.items():
        if name.endswith(".jsonl"):
            kept[name] = [{k: v for k, v in json.loads(line).items() if k != "at"} for line in body.splitlines()]
        elif name == check.REGISTER:  # a company's people have a name in its own place alone
            kept[name] = [each["digest"] for each in json.loads(body)["names"]]
        elif name not in (check.ABOUT, check.ABOUT_SUM):
            kept[name] = body
    return kept


def test_an_erased_name_stays_erased(world, settings, tmp_path):
    by, person = world.people["coordinator"], world.people["technician"]
    m.Account.objects.filter(pk=person.pk).update(is_active=False)
    name = m.PersonText.objects.get(person=person.person)
    log.erase_name(by=by, request_key=made.key(), organisation=world.clinic, name=name, reason="asked for")
    digest = name.digest
    path = tmp_path / "everything.zip"
    write(world.clinic, path, by="Ana", at=AT)
    assert check.WholeCheck(check.Zip(str(path))).run().faults == []
    found = gone_round(world.clinic, settings, tmp_path)
    again = m.PersonText.objects.get(digest=digest)
    assert (again.value, again.salt) == ("", "") and tamper_check.verify(found.clinic).whole


# ------------------------------------------------------------------------------------------------- refused


def refused(path, by="coordinator") -> str:
    with pytest.raises((load.NotBrought, put_back.NotPutBack)) as error:
        load.bring(path, by=by, phrase=PHRASE, at=AT)
    return str(error.value)


def nothing_there() -> bool:
    kinds = (*m.fact_models(), m.Entry, m.Organisation, m.Account, m.PersonText, BroughtLedger)
    return not any(model._base_manager.exists() for model in kinds)


def test_nothing_is_written_over(world, file):
    before = told(world.clinic)
    assert "This database holds “" in refused(file)
    assert told(world.clinic) == before


def test_what_was_altered_writes_nothing(world, file, settings, tmp_path):
    members = members_of(file)
    members[check.OWN] = members[check.OWN].replace(b"no growth", b"growth", 1)
    empty(settings, tmp_path / "other-blobs")
    path = packed(tmp_path / "altered.zip", members)
    assert "ledger/entries.jsonl: it was altered" in refused(path)
    summed_again(members)
    assert "its hash is another one" in refused(packed(tmp_path / "forged.zip", members))
    assert nothing_there()


def test_an_entry_that_cannot_stand_writes_nothing(world, file, settings, tmp_path):
    """Made up so that every hash fits, and still no row of ours: the database says so, and nothing stays."""
    empty(settings, tmp_path / "other-blobs")
    for name, change, said in (
        ("kind", lambda e: e.update(kinds=["nosuch"] * len(e["kinds"])), "cannot be put back"),
        ("ref", lambda e: e["rows"][0].update(origin="not a ref"), "cannot be put back"),
        ("own ref", lambda e: e["rows"][0].update(ref=str(made.key())), "its reference is not the one it was given"),
        ("unknown", lambda e: e["rows"][0].update(colour="red"), "cannot be put back"),
        ("points", lambda e: e["rows"][0].update(clinic=str(made.key())), "cannot be put back"),
    ):
        path = packed(tmp_path / f"{name}.zip", _made_up(members_of(file), change))
        assert said in _put(path), name
        assert nothing_there(), name


def _made_up(members: dict[str, bytes], change) -> dict[str, bytes]:
    """A ledger of its first entry alone, changed, with hashes that fit."""
    line = json.loads(members[check.OWN].splitlines()[0])
    change(line)
    line["hash"] = check.hash_of(line["entry"], line["rows"])
    return members | {check.OWN: check.canonical(line) + b"\n"}


def _put(path) -> str:
    looked = check.WholeCheck(check.Zip(str(path)))
    [(entry, rows, kinds, digest, _)] = looked.lines(check.OWN)
    register = json.loads(members_of(path)[check.REGISTER])
    with pytest.raises(put_back.NotPutBack) as error:
        each = put_back.EntryBrought(entry["ledger"], entry, rows, kinds, digest)
        put_back.put_back(register, [each], entry["ledger"], (1, digest))
    return str(error.value)


def test_whoever_does_not_belong_there_brings_nothing_in(world, file, settings, tmp_path):
    empty(settings, tmp_path / "other-blobs")
    assert "Those who do: coordinator, operator, viewer." in refused(file, by="dispatcher")
    assert nothing_there()


def test_an_entry_of_a_book_that_goes_missing_later_is_found(world, settings, tmp_path):
    found = gone_round(world.clinic, settings, tmp_path)
    [company] = found.others
    row = BroughtLedger.objects.get(organisation=company)
    entries = dict(row.entries)
    gone = max(entries, key=int)
    with connection.cursor() as cursor:
        cursor.execute("UPDATE audit_broughtledger SET last = last + 1 WHERE id = %s", [row.pk])
    assert brought.excerpt_of(company) is None  # a note that was altered says nothing
    excerpt = brought.Excerpt({int(n): digest for n, digest in (entries | {str(int(gone) + 1): "0" * 64}).items()})
    assert "brought in are missing" in tamper_check.verify(company, excerpt).why
    other = brought.Excerpt({int(n): digest for n, digest in (entries | {gone: "0" * 64}).items()})
    assert "it is not the entry that was brought in" in {f.what for f in tamper_check.verify(company, other).faults}
    fewer = brought.Excerpt({int(n): digest for n, digest in entries.items() if n != min(entries, key=int)})
    assert tamper_check.verify(company, fewer).whole is False


# ------------------------------------------------------------------------------------------- random histories


@pytest.mark.laws
@pytest.mark.parametrize("seed", range(examples(2)))
def test_a_random_history_goes_round(seed, folders, settings, tmp_path):
    """Tests with any result, a withdrawal, corrections and errors, in any order, at one or two units."""
    chance = random.Random(seed)
    world = made.make(units=chance.choice([1, 2]))
    by = world.people["coordinator"]
    for ago in sorted(chance.sample(range(2, 90), chance.randint(2, 9)), reverse=True):
        made.spore_test(
            world, made.TODAY - timedelta(days=ago), chance.choice(["no growth", "growth", "no result", ""]),
            unit=chance.choice(world.units),
        )  # fmt: skip
    if chance.random() < 0.7:
        made.seal_replaced(world, made.TODAY - timedelta(days=chance.randint(1, 40)), unit=chance.choice(world.units))
    tests = list(m.BioTest.objects.order_by("pk"))
    for row in chance.sample(tests, min(2, len(tests))):
        if chance.random() < 0.5:
            changes = {"cycle_type": "unwrapped"}
            log.correct(by=by, request_key=made.key(), row=row, changes=changes, reason="misread")
        else:
            log.void(by=by, request_key=made.key(), row=row, reason="another unit's test")
    before = told(world.clinic)
    gone_round(world.clinic, settings, tmp_path)
    assert told(m.Clinic.objects.get(slug="first")) == before
