"""Pages of what is set up once and changed seldom: each change is an entry of its own, what was stays on record."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest

from records import clock, log
from records.models import ClinicTerms, CounterReading, Entry, LocalDuty, Part, PartLot, Placement, PlanLine
from tests import world as build

from .page_form import form_of

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(build.NOW):
        yield


def sent(at, page_name, *args, **typed):
    """The form of the page sent as it was shown, but for what is typed."""
    page = at.open(page_name, *args)
    assert page.status_code == 200
    return at.send(page_name, *args, data=form_of(page) | typed)


def test_a_plan_line_is_added_and_its_next_version_leaves_the_first_on_record(at, world):
    unit = world.unit
    answer = sent(
        at, "add-plan-line", unit.ref, code="clean-chamber", title="Clean the chamber", action="clean", months="6",
        source="Invented manual, section 3",
    )  # fmt: skip
    assert (answer.status_code, answer.url) == (302, at.address("plan", unit.ref))
    first = PlanLine.objects.get(code="clean-chamber")
    assert (first.months, first.lead_days, first.grace_days, first.repair_class) == (6, 60, 0, "A")
    assert first.position is None and first.effective_on == build.TODAY
    changed = sent(at, "change-plan-line", unit.ref, "clean-chamber", months="4", effective_on="2026-04-01")
    assert changed.status_code == 302
    lines = PlanLine.objects.filter(code="clean-chamber").order_by("pk")
    assert [(p.months, p.effective_on, p.title) for p in lines] == [
        (6, date(2026, 3, 16), "Clean the chamber"), (4, date(2026, 4, 1), "Clean the chamber"),
    ]  # fmt: skip
    seen = at.open("plan", unit.ref).content.decode()
    assert "every 6 months" in seen and "From a later day on" in seen


def test_a_line_is_ended_and_taken_up_again(at, world):
    unit = world.unit
    assert sent(at, "change-plan-line", unit.ref, "replace-seal", retired="on").status_code == 302
    seen = at.open("plan", unit.ref).content.decode()
    assert "Replace cassette seal" not in seen and "take up again" in seen
    page = form_of(at.open("change-plan-line", unit.ref, "replace-seal"))
    page.pop("retired")
    assert at.send("change-plan-line", unit.ref, "replace-seal", data=page).status_code == 302
    assert "Replace cassette seal" in at.open("plan", unit.ref).content.decode()


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ({"months": ""}, "Nothing says when this is due"),
        ({"months": "0"}, "due always"),
        ({"months": "six"}, "not a whole number"),
        ({"code": "replace-seal"}, "has this code"),
        ({"code": "no good"}, "letters, digits and hyphens"),
        ({"source": ""}, "missing"),
    ],
)
def test_a_plan_line_that_cannot_be_is_told_and_what_was_typed_is_kept(at, world, typed, says):
    good = {"code": "clean-chamber", "title": "Clean the chamber", "action": "clean", "months": "6", "source": "S"}
    before = Entry.objects.count()
    answer = sent(at, "add-plan-line", world.unit.ref, **(good | typed))
    assert answer.status_code == 422 and says in answer.content.decode()
    assert 'value="Clean the chamber"' in answer.content.decode()
    assert Entry.objects.count() == before


def test_a_line_without_an_interval_needs_its_rule_in_words(at, world):
    typed = {"code": "look", "title": "Look", "action": "inspect", "source": "S", "rule": "if it leaks, then replace"}
    assert sent(at, "add-plan-line", world.unit.ref, **typed).status_code == 302


def test_a_unit_moves_to_another_room_and_its_earlier_room_stays_on_record(at, world):
    page = form_of(at.open("place-unit", world.unit.ref))
    assert (page["room"], page["use"]) == (["Room 1"], ["in use"])
    typed = {"room": "Cellar", "use": "stored as spare", "effective_on": "2026-03-10"}
    assert at.send("place-unit", world.unit.ref, data=page | typed).status_code == 302
    rows = Placement.objects.filter(unit=world.unit).order_by("pk")
    assert [(r.room, r.use) for r in rows] == [("Room 1", "in use"), ("Cellar", "stored as spare")]


def test_a_counter_is_read_outside_a_visit_and_never_falls_without_a_reason(at, world):
    assert sent(at, "log-counter", world.unit.ref, counter="cycles", shown="120").status_code == 302
    assert sent(at, "log-counter", world.unit.ref, counter="cycles", shown="20").status_code == 422
    answer = sent(
        at, "log-counter", world.unit.ref, counter="cycles", shown="20", offset="120", offset_reason="new board"
    )
    assert answer.status_code == 302
    totals = [r.shown + r.offset for r in CounterReading.objects.order_by("pk")]
    assert totals == [Decimal(120), Decimal(140)]


def test_new_terms_hold_from_their_day_and_the_rules_are_those_on_file(at, world):
    page = form_of(at.open("log-terms"))
    assert (page["name"], page["regime"], page["week_start"]) == (["First Clinic"], ["us-dental-cdc-2003"], ["0"])
    typed = {"week_start": "6", "effective_on": "2026-03-10"}
    assert at.send("log-terms", data=page | typed).status_code == 302
    newest = ClinicTerms.objects.filter(clinic=world.clinic).order_by("pk").last()
    assert (newest.week_start, newest.effective_on, newest.regime) == (6, date(2026, 3, 10), "us-dental-cdc-2003")
    assert ClinicTerms.objects.filter(clinic=world.clinic).count() == 2
    assert "Sunday" in at.open("set-up").content.decode()
    assert sent(at, "log-terms", regime="made-up").status_code == 422
    answer = sent(at, "log-terms", time_zone="Mars/Base")
    assert answer.status_code == 422 and "not a time zone" in answer.content.decode()


def test_a_duty_of_our_own_is_set_with_its_source(at, world):
    typed = {"duty": "biological-test", "every": "rolling-days", "count": "3", "source": "Our procedure 4"}
    assert sent(at, "log-local-duty", **(typed | {"source": ""})).status_code == 422
    assert sent(at, "log-local-duty", **(typed | {"count": "0"})).status_code == 422
    stated = sent(at, "log-local-duty", **(typed | {"every": "stated-date"}))
    assert stated.status_code == 422 and "Only a paper states" in stated.content.decode()
    assert sent(at, "log-local-duty", **typed).status_code == 302
    row = LocalDuty.objects.get()
    assert (row.duty, row.every, row.count, row.effective_on) == ("biological-test", "rolling-days", 3, build.TODAY)
    assert "Our procedure 4" in at.open("set-up").content.decode()


def test_parts_and_their_receipts_go_to_the_books_of_who_enters_them(at, world):
    at.sign_in("stores")
    assert sent(at, "add-part", name="Cassette seal", number="INV-77", component="seal").status_code == 302
    part = Part.objects.get()
    assert part.owner_id == world.company.pk
    typed = {"part": part.ref, "receipt_lot": "R-1", "lot": "S-9", "expiry": "2027-01-31"}
    assert sent(at, "add-part-lot", **(typed | {"on": "2027-01-01"})).status_code == 422  # has not happened yet
    assert sent(at, "add-part-lot", **typed).status_code == 302
    lot = PartLot.objects.get()
    assert (lot.owner_id, lot.part_id, lot.receipt_lot, lot.lot, lot.expiry) == (
        world.company.pk, part.pk, "R-1", "S-9", date(2027, 1, 31),
    )  # fmt: skip
    assert "1 receipt of lots" in at.open("set-up").content.decode()
    at.sign_in("coordinator")
    assert "INV-77" not in at.open("add-part-lot").content.decode()  # a company's stock is not the clinic's


def test_set_up_leads_to_every_page_of_it_for_who_may_and_only_shows_it_to_others(at, world):
    seen = at.open("set-up").content.decode()
    links = [
        "log-terms",
        "log-local-duty",
        "register-unit",
        "add-part",
        "add-part-lot",
        "clinic-people",
        "log-closure",
    ]
    assert all(at.address(name) in seen for name in links)
    assert at.address("plan", world.unit.ref) in seen and at.address("place-unit", world.unit.ref) in seen
    seen = at.sign_in("viewer").open("set-up").content.decode()
    assert at.address("log-terms") not in seen and at.address("add-part") not in seen
    seen = at.open("plan", world.unit.ref).content.decode()
    assert at.address("change-plan-line", world.unit.ref, "replace-seal") not in seen


RULES = [
    ("log_terms", {"effective_on": build.BEGIN, "name": "First Clinic", "programme": "dental", "address": "",
                   "time_zone": "America/Chicago", "week_start": 0, "regime": "base"}),
    ("log_closure", {"from_on": date(2026, 1, 1), "to_on": date(2026, 3, 15), "why": "closed"}),
    ("log_gap", {"from_on": date(2026, 1, 1), "to_on": date(2026, 3, 15), "what": "tests", "why": "lost"}),
    ("log_local_duty", {"effective_on": build.TODAY, "duty": "water", "every": "calendar-week", "count": 1,
                        "source": "ours"}),
]  # fmt: skip


@pytest.mark.parametrize(("writer", "values"), RULES, ids=[name for name, _ in RULES])
@pytest.mark.parametrize("role", ["dispatcher", "technician", "operator"])
def test_who_keeps_the_units_does_not_choose_what_the_work_is_judged_by(world, writer, values, role):
    before = Entry.objects.count()
    with pytest.raises(log.NotYours, match="Only the coordinator of First Clinic"):
        getattr(log, writer)(by=world.people[role], request_key=build.key(), clinic=world.clinic, **values)
    assert Entry.objects.count() == before


@pytest.mark.parametrize("role", ["operator", "stores"])
def test_who_records_no_visit_takes_no_task_off_the_plan(world, role):
    line = PlanLine.objects.filter(unit=world.unit, code="replace-seal").last()
    common = {"by": world.people[role], "request_key": build.key(), "clinic": world.clinic, "unit": world.unit}
    with pytest.raises(log.NotYours):
        log.log_plan_line(
            effective_on=build.BEGIN, code=line.code, title=line.title, action=line.action, source="x", retired=True,
            **common,
        )  # fmt: skip
    with pytest.raises(log.NotYours):
        log.place_unit(effective_on=build.TODAY, room="Cellar", use="stored as spare", **common)
    with pytest.raises(log.NotYours):
        log.void(by=world.people["operator"], request_key=build.key(), row=line, reason="not ours")
    assert PlanLine.objects.filter(unit=world.unit, code="replace-seal").count() == 1


@pytest.mark.parametrize("role", ["operator", "viewer"])
def test_parts_are_entered_by_stores_and_who_records_visits(world, role):
    with pytest.raises(log.NotYours):
        log.log_part(
            by=world.people[role], request_key=build.key(), owner=world.clinic, name="Seal", component="seal"
        )
    assert not Part.objects.exists()
