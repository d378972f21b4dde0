"""One submission is one entry: the same request twice is one, and whatever fails leaves nothing written."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import transaction

from records import clock, log, signals
from records import models as m
from records.ledger import tamper_check
from records.log.submission import submission
from tests import world as build

pytestmark = pytest.mark.django_db

DAY = build.TODAY - timedelta(days=3)


def counts() -> dict[str, int]:
    kept = [*m.fact_models(), m.Entry, m.Person, m.PersonText, m.Organisation]
    return {k.__name__: k.objects.count() for k in kept} | {
        f"head of {head.organisation_id}": head.number for head in m.Ledger.objects.all()
    }


def visit(world, **job):
    """The arguments of a visit with one job."""
    plain = {"unit": world.unit, "reason": "planned", "contamination": "declared clean", "worked_by": "New Name"}
    plain["conclusion"] = {"conclusion": "released"}
    return {"by": world.people["technician"], "clinic": world.clinic, "on": DAY, "jobs": [plain | job]}


def requests(world) -> dict:
    """A writer, its arguments, and a change of them."""
    own = {"by": world.people["coordinator"], "clinic": world.clinic}
    at_unit = own | {"unit": world.unit}
    lot = {"lot": world.lot, "control_lot": world.lot, "cycle_type": "wrapped"}
    test = build.spore_test(world, DAY, test="")
    reading = {"bio_test": test, "test": "no growth", "control": "growth", "incubated_hours": Decimal(24)}
    terms = {"programme": "dental", "time_zone": "Europe/Dublin", "week_start": 0, "regime": "base"}
    plate = {
        "label": "New", "serial": "N-1", "maker": "Invented Works", "model": "Two", "equipment_type": "gravity",
        "chamber_litres": Decimal(18),
    }  # fmt: skip
    return {
        "visit": (log.log_visit, visit(world), {"report_number": "R-2"}),
        "spore test": (log.start_bio_test, at_unit | lot | {"on": DAY}, {"cycle_number": "7"}),
        "reading": (log.read_bio_test, own | reading | {"on": build.TODAY}, {"control": "no growth"}),
        "counter": (log.log_counter, at_unit | {"counter": "cycles", "shown": Decimal(5), "on": DAY}, {"shown": 6}),
        "unit": (
            log.register_unit,
            own | {"room": "Room 2", "on": DAY, "unit": plate},
            {"room": "Room 3"},
        ),
        "event": (
            log.log_unit_event,
            at_unit | {"kind": "withdrawn", "on": DAY, "reason": "leaks"},
            {"reason": "steams"},
        ),
        "clinic": (
            log.open_clinic,
            {"by": own["by"], "slug": "new", "name": "New", "effective_on": DAY, "terms": terms},
            {"name": "Newer"},
        ),
        "terms": (log.log_terms, own | terms | {"name": "First Clinic", "effective_on": DAY}, {"week_start": 6}),
        "correction": (
            log.correct,
            {"by": own["by"], "row": test, "changes": {"cycle_number": "9"}, "reason": "misread"},
            {"reason": "misread it"},
        ),
        "void": (log.void, {"by": own["by"], "row": test, "reason": "other unit"}, {"reason": "other day"}),
    }


WRITERS = ["visit", "spore test", "reading", "counter", "unit", "event", "clinic", "terms", "correction", "void"]


@pytest.mark.parametrize("name", WRITERS)
def test_the_same_request_twice_is_one_entry(world, name):
    known = requests(world)
    assert list(known) == WRITERS
    write, arguments, _ = known[name]
    key = build.key()
    first = write(request_key=key, **arguments)
    before = counts()
    again = write(request_key=key, **arguments)
    assert again == first and type(again) is type(first)
    assert counts() == before


@pytest.mark.parametrize("name", WRITERS)
def test_the_same_key_with_other_content_is_a_conflict_that_shows_what_stands(world, name):
    write, arguments, change = requests(world)[name]
    key = build.key()
    write(request_key=key, **arguments)
    stands, before = m.Entry.objects.order_by("pk").last(), counts()
    with pytest.raises(log.SubmissionConflict, match=f"stands as entry {stands.number}") as conflict:
        write(request_key=key, **(arguments | change))
    assert conflict.value.entry == stands
    assert counts() == before


def test_one_key_of_two_accounts_is_two_requests(world):
    key = build.key()
    write = {"request_key": key, "clinic": world.clinic, "unit": world.unit, "on": DAY, "type": 5, "result": "pass"}
    first = log.log_chemical(by=world.people["coordinator"], **write)
    second = log.log_chemical(by=world.people["operator"], **write)
    assert first.ref != second.ref and first.entry != second.entry


def test_the_rows_of_a_request_have_the_same_refs_wherever_it_is_recorded(world):
    """A ref comes from the account, the request and the line, so a retry after a lost answer names the same rows."""
    key, refs = build.key(), []
    for _ in range(2):
        with pytest.raises(RuntimeError), transaction.atomic():
            build.seal_replaced(world, DAY, request_key=key)
            refs.append([str(r.ref) for r in m.Reading.objects.all()])
            raise RuntimeError("the answer was lost")
    assert refs[0] == refs[1] != []


REFUSED = {
    "a future day": {"on": build.TODAY + timedelta(days=1)},
    "no unit": {"unit": None},
    "a reading without its unit of measure": {"readings": [{"quantity": "temperature", "as_found": Decimal(134)}]},
    "a wrong choice, seen only when the rows are checked": {"contamination": "perhaps"},
    "a text longer than its column": {"class_reason": "x" * 301},
    "a number that is no number": {"parts": [{"name": "seal", "lot": "1", "lot_state": "printed", "quantity": -1,
                                              "action": "replaced on plan", "old_part": "scrapped"}]},
}  # fmt: skip


@pytest.mark.parametrize("why", REFUSED)
def test_what_is_refused_writes_nothing(world, why):
    change = dict(REFUSED[why])
    arguments = visit(world) | ({"on": change.pop("on")} if "on" in change else {})
    arguments["jobs"] = [arguments["jobs"][0] | change]
    before = counts()
    with pytest.raises(log.Refused) as refusal:
        log.log_visit(request_key=build.key(), **arguments)
    assert all(p.message for p in refusal.value.problems)
    assert counts() == before
    assert tamper_check.verify(world.clinic).whole


def test_a_refused_key_may_be_used_again(world):
    key = build.key()
    with pytest.raises(log.Refused):
        log.log_visit(request_key=key, **visit(world, contamination="perhaps"))
    assert log.log_visit(request_key=key, **visit(world)).jobs.count() == 1


def test_a_repeat_is_answered_though_later_readings_stand_higher(world):
    key = build.key()
    counter = {"clinic": world.clinic, "unit": world.unit, "counter": "cycles", "on": DAY}
    counter["by"] = world.people["operator"]
    first = log.log_counter(request_key=key, shown=Decimal(5), **counter)
    visit_key = build.key()
    counted = visit(world, counters=[{"counter": "cycles", "shown": Decimal(6)}])
    visited = log.log_visit(request_key=visit_key, **counted)
    log.log_counter(request_key=build.key(), shown=Decimal(9), **counter)
    assert log.log_counter(request_key=key, shown=Decimal(5), **counter) == first
    assert log.log_visit(request_key=visit_key, **counted) == visited


def test_an_empty_submission_is_refused(world):
    before = counts()
    with pytest.raises(log.Refused, match="nothing to record"):
        with submission(world.clinic, world.people["coordinator"], build.key(), "nothing", {}):
            pass
    assert counts() == before


def test_what_is_raised_inside_leaves_nothing(world):
    before = counts()
    by = world.people["coordinator"]
    with pytest.raises(RuntimeError):
        with submission(world.clinic, by, build.key(), "event", {}) as s:
            m.Person.objects.create()
            s.add(
                m.UnitEvent(clinic=world.clinic, unit=world.unit, kind="relocated", by=by.signed(), happened_on=DAY)
            )
            raise RuntimeError("the power went")
    assert counts() == before


@pytest.mark.parametrize("after", [0, 1, 5])
def test_a_fault_while_the_rows_are_saved_leaves_nothing(world, monkeypatch, after):
    before, saved, plain = counts(), [], m.Fact.save

    def save(self, *args, **kwargs):
        if len(saved) == after:
            raise RuntimeError("the disk is full")
        saved.append(self)
        plain(self, *args, **kwargs)

    monkeypatch.setattr(m.Fact, "save", save)
    with pytest.raises(RuntimeError, match="disk"):
        build.seal_replaced(world, DAY)
    assert len(saved) == after
    assert counts() == before
    monkeypatch.undo()
    assert build.seal_replaced(world, DAY).jobs.count() == 1
    assert tamper_check.verify(world.clinic).whole


def test_a_visit_is_one_entry_of_the_clinics_ledger_in_the_companys_name(world):
    entry = build.seal_replaced(world, DAY).entry
    assert (entry.what, entry.logged_for_id, entry.account) == ("visit", world.company.pk, world.people["technician"])
    assert entry.ledger.organisation_id == world.clinic.pk
    lines = sorted(row.line for k in m.fact_models() for row in k.objects.filter(entry=entry))
    assert lines == list(range(1, len(lines) + 1)) and len(lines) >= 9


def test_rows_of_no_clinic_enter_the_companys_ledger(world):
    part = log.log_part(
        by=world.people["stores"], request_key=build.key(), owner=world.company, name="Seal", component="seal"
    )
    assert part.entry.ledger.organisation_id == world.company.pk


def test_listeners_hear_after_the_commit_and_cannot_undo_it(world, django_capture_on_commit_callbacks, caplog):
    heard = []

    def listener(sender, entry, clinic, **kwargs):
        heard.append((entry, clinic))
        raise RuntimeError("a fault in a listener")

    signals.logged.connect(listener)
    try:
        with django_capture_on_commit_callbacks(execute=True):
            test = build.spore_test(world, DAY, test="")
            assert heard == []
    finally:
        signals.logged.disconnect(listener)
    assert heard == [(test.entry, world.clinic)]
    assert "a fault in a listener" in caplog.text
    assert m.BioTest.objects.get() == test


def test_an_address_that_is_taken_is_not_opened_again(world):
    """Opening makes the account its coordinator: a stranger must not enter another's clinic that way."""
    terms = {"programme": "dental", "time_zone": "Europe/Dublin", "week_start": 0, "regime": "base"}
    before = counts()
    with pytest.raises(log.Refused, match="taken"):
        log.open_clinic(
            by=world.people["nobody"],
            request_key=build.key(),
            slug="first",
            name="Mine",
            effective_on=DAY,
            terms=terms,
        )
    assert counts() == before


def test_a_company_does_not_take_the_address_of_a_clinic(world):
    before = counts()
    with pytest.raises(log.Refused, match="“first” is taken"):
        log.open_company(
            by=world.people["nobody"], request_key=build.key(), slug="first", name="Mine", effective_on=DAY
        )
    assert counts() == before


def test_a_moment_is_stamped_when_the_ledger_is_held(world):
    with clock.at(build.NOW + timedelta(hours=3)):
        test = build.spore_test(world, DAY, test="")
    assert test.entry.logged_at == test.entry.written_at == build.NOW + timedelta(hours=3)


def test_a_day_before_the_unit_was_on_the_register_is_asked_about_then_recorded(world):
    run = {
        "by": world.people["coordinator"], "clinic": world.clinic, "unit": world.unit, "on": date(2016, 3, 2),
        "lot": world.lot, "control_lot": world.lot, "cycle_type": "wrapped",
    }  # fmt: skip
    with pytest.raises(log.Refused) as refused:
        log.start_bio_test(request_key=build.key(), **run)
    assert [p.confirm for p in refused.value.problems] == ["before-register"]
    assert "Check the year" in str(refused.value)
    assert log.start_bio_test(request_key=build.key(), confirmed=("before-register",), **run).happened_on.year == 2016
    on_paper = run | {"on": date(2016, 3, 9), "paper": "log book 1, page 3"}
    assert log.start_bio_test(request_key=build.key(), **on_paper).entry.paper


@pytest.mark.parametrize("hidden", ["\u202e", "\x07", "\u2066"])
def test_characters_that_cannot_be_seen_are_refused(world, hidden):
    with pytest.raises(log.Refused) as refused:
        build.spore_test(world, DAY, test="", cycle_number=f"12{hidden}34")
    assert f"U+{ord(hidden):04X}" in str(refused.value)
    assert build.spore_test(world, DAY, test="", cycle_number="12 ž 34 🙂").cycle_number == "12 ž 34 🙂"
