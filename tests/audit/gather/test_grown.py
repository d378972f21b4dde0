"""What was kept, with what was logged since, is what the tables say; and of what it cannot tell it says nothing."""

from __future__ import annotations

import random
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from audit.gather import grown, kept_facts
from audit.gather.packing import written
from audit.gather.read import clinic_facts
from records import clock, log, signals
from records import models as m
from records.models import fact_models
from tests import world as build
from tests.examples import examples
from tests.records.one_of_each import log_one_of_each

pytestmark = pytest.mark.django_db


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.make(units=2)


def by(world, who="coordinator", **more) -> dict:
    return {"by": world.people[who], "request_key": build.key()} | more


def at(world, who="coordinator", **more) -> dict:
    return by(world, who, clinic=world.clinic) | more


@pytest.fixture
def grew(monkeypatch):
    """Of each time that what was kept was out of date, whether it grew."""
    told = []

    def watched(*asked):
        facts = grown.grown(*asked)
        told.append(facts is not None)
        return facts

    monkeypatch.setattr(kept_facts, "grown", watched)
    return told


def is_as_the_tables_say(clinic) -> bool:
    fresh, got = clinic_facts(clinic), kept_facts.kept_facts(clinic)
    again = kept_facts.kept_facts(clinic)
    return got == fresh == again and written(got) == written(fresh) == written(again)


def test_after_every_kind_of_entry_it_is_what_the_tables_say(world, tmp_path, settings, monkeypatch, grew):
    """One row of every kind there is; each kind that may be added is added at least once."""
    settings.BLOBS_DIR = tmp_path
    kept_facts.kept_facts(world.clinic)
    added, wrong = set(), []

    def compare(sender, entry, **_):
        before = len(grew)
        if not is_as_the_tables_say(world.clinic):
            wrong.append(entry.what)
        kinds = {kind for kind, _ in grown._rows([entry.pk])}
        if any(grew[before:]):
            added.update(kinds)
        elif len(grew) > before:
            assert kinds - grown.OF_CLINIC - grown.OF_COMPANY or entry.what in ("correction", "entered in error")

    monkeypatch.setattr(transaction, "on_commit", lambda work, **_: work())
    signals.logged.connect(compare)
    try:
        log_one_of_each(world, tmp_path)
        log.log_indicator_lot(
            **at(world), kind="biological", name="Invented strip", lot="B-9", on=build.TODAY, incubation_hours=24
        )
        log.log_counter(**at(world), unit=world.unit, on=build.TODAY, counter="cycles", shown=Decimal(1234))
    finally:
        signals.logged.disconnect(compare)
    assert wrong == []
    assert grown.OF_CLINIC - added == set()
    assert {m.Part, m.StockPlace, m.PartLot, m.StockMove, m.Kit} <= added
    assert added <= grown.OF_CLINIC | grown.OF_COMPANY


def _load(world, chance):
    own = at(world, unit=chance.choice(world.units), on=build.TODAY - timedelta(days=chance.randrange(60)))
    strips = {"mechanical": "pass", "chemical": chance.choice(["pass", "fail"])}
    log.log_load(**own, **strips, cycle_number=str(chance.randrange(1, 10**6)), program="wrapped")


def _released(world, chance):
    waiting = list(m.Load.objects.in_force().exclude(origin__in=m.LoadRelease.objects.values("load__origin")))
    if waiting:
        load = chance.choice(waiting)
        log.release_load(**at(world), load=load, decision="rejected", reason="dropped", on=build.TODAY)


def _run(world, chance):
    on = build.TODAY - timedelta(days=chance.randrange(2, 60))
    build.spore_test(world, on, chance.choice(["", "growth", "no growth"]), unit=chance.choice(world.units))


def _read(world, chance):
    unread = list(m.BioTest.objects.in_force().filter(readings__isnull=True))
    if unread:
        test = chance.choice(unread)
        log.read_bio_test(
            **at(world), bio_test=test, test=chance.choice(["growth", "no growth"]), control="growth",
            on=test.happened_on + timedelta(days=1), incubated_hours=Decimal(24),
        )  # fmt: skip


def _step(world, chance):
    cases = list(m.FailureCase.objects.in_force())
    if cases:
        case = chance.choice(cases)
        done = {"done_on": build.TODAY, "outcome": "done"} if chance.random() < 0.5 else {}
        log.log_follow_up(**at(world), case=case, action="retest", what="repeat it", on=build.TODAY, **done)


def _strip(world, chance):
    log.log_chemical(
        **at(world), unit=chance.choice(world.units), on=build.TODAY, type=5, result=chance.choice(["pass", "fail"])
    )


def _part(world, chance):
    log.log_part(**by(world, "dispatcher"), owner=world.company, name=f"Seal {chance.random()}", component="seal")


def _corrected(world, chance):
    loads = list(m.Load.objects.in_force())
    if loads:
        changes = {"program": f"wrapped {chance.randrange(99)}"}
        log.correct(**by(world), row=chance.choice(loads), changes=changes, reason="misread")


def _void(world, chance):
    rows = [*m.Load.objects.in_force(), *m.BioTest.objects.in_force()]
    if rows:
        log.void(**by(world), row=chance.choice(rows), reason="another unit")


@pytest.mark.laws
@pytest.mark.parametrize("seed", range(examples(4)))
def test_whatever_the_day_brings_in_whatever_order(world, seed, grew):
    chance = random.Random(seed)
    kept_facts.kept_facts(world.clinic)
    often = [_load, _load, _released, _run, _read, _step, _strip, _part, _corrected, _void]
    for _ in range(6):
        for work in chance.choices(often, k=chance.choice([1, 1, 3])):
            work(world, chance)
        assert is_as_the_tables_say(world.clinic)
    assert any(grew)


def test_a_load_a_day_reads_few_tables_and_writes_what_is_kept(world, django_assert_max_num_queries):
    kept_facts.kept_facts(world.clinic)
    for number in range(2):
        _load(world, random.Random(number))
        with CaptureQueriesContext(connection) as taken:
            kept_facts.kept_facts(world.clinic)
        assert len(taken) <= 22
        assert not [
            q for q in taken.captured_queries if "records_documents" in q["sql"] or "records_job" in q["sql"][:40]
        ]


def test_of_many_entries_everything_is_read(world, grew, monkeypatch):
    monkeypatch.setattr(grown, "AT_MOST", 4)
    kept_facts.kept_facts(world.clinic)
    for number in range(grown.AT_MOST + 1):
        _strip(world, random.Random(number))
        if number == grown.AT_MOST - 1:
            with transaction.atomic():
                assert is_as_the_tables_say(world.clinic) and grew == [True]
                transaction.set_rollback(True)
    assert is_as_the_tables_say(world.clinic) and grew == [True, False]


def test_another_ledger_of_the_same_length_is_not_added_to(world, grew):
    """As after a backup was put back: the entry that it ended with is another one."""
    kept_facts.kept_facts(world.clinic)
    was = kept_facts.heads_of([world.clinic])[world.clinic.pk]
    hashed = m.Ledger.objects.get(organisation=world.clinic).hash
    _strip(world, random.Random(1))
    now = kept_facts.heads_of([world.clinic])[world.clinic.pk]
    facts = clinic_facts(world.clinic)
    assert grown.grown(world.clinic, facts, was, now) is not None
    assert grown.grown(world.clinic, facts, was.replace(hashed, "0" * 64), now) is None
    assert grown.grown(world.clinic, facts, now, was) is None


@pytest.mark.parametrize("differs", ["code", "name", "erased", "another company", "damaged", "no list"])
def test_what_else_differs_is_read_anew(world, differs):
    was = kept_facts.heads_of([world.clinic])[world.clinic.pk]
    now = {
        "code": was.replace(kept_facts.code_digest(), "0" * 64),
        "name": was.replace(world.company.name, "Another name"),
        "erased": was[:-2].rpartition(", ")[0].rpartition(", ")[0] + ', 1, "2026-03-16"]]',
        "another company": was[:-1] + ', [99, "x", "y", 1, "z", 0, null]]',
        "damaged": was[:90],
        "no list": "7",
    }[differs]
    assert grown.may_grow(was, was) and now != was
    assert not grown.may_grow(was, now) and not grown.may_grow(now, was)


def test_no_facts_are_read_of_what_is_kept_apart(world, tmp_path, settings):
    """Where one day a clinic's facts hold such rows, this fails: then they may no longer be passed over."""
    settings.BLOBS_DIR = tmp_path
    log_one_of_each(world, tmp_path)
    with CaptureQueriesContext(connection) as taken:
        clinic_facts(world.clinic)
    asked = " ".join(q["sql"] for q in taken.captured_queries)
    assert all(f'"{kind._meta.db_table}"' in asked for kind in grown.DAILY.values())
    apart = (grown.APART | grown.OF_COMPANY) - {m.IndicatorLot}
    assert [kind for kind in apart if f'"{kind._meta.db_table}"' in asked] == []
    assert apart | grown.OF_CLINIC <= set(fact_models())
