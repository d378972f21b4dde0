"""A unit goes from one clinic to another: an entry in each ledger, and from then on two records."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse

from audit.gather.read import clinic_facts
from audit.judge.evaluate import evaluate
from audit.judge.judgement import Word
from records import access, clock, log
from records.ledger import tamper_check
from records.models import Entry, Placement, PlanLine, Position, Unit, UnitEvent
from tests import world as build

from .page_form import form_of

pytestmark = pytest.mark.django_db
ON = date(2026, 3, 10)


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(build.NOW):
        yield


@pytest.fixture
def two(world):
    """The company serves the other clinic too."""
    log.log_agreement(
        by=world.people["other-coordinator"], request_key=build.key(), clinic=world.other_clinic,
        company=world.company, effective_on=build.BEGIN,
    )  # fmt: skip
    return world


def moved(world, by="dispatcher", **more):
    values = {"unit": world.unit, "clinic": world.clinic, "to": world.other_clinic, "on": ON, "label": "Ours"}
    values |= {"room": "Cellar", "reason": "bought second-hand", "request_key": build.key()} | more
    return log.hand_over_unit(by=world.people[by], **values)


def judged(clinic, label):
    facts = clinic_facts(clinic)
    unit = next(u for u in facts.units if u.label == label)
    said = evaluate(facts, build.TODAY)
    return facts, unit, next(u for u in said.units if u.unit == unit.ref)


def test_each_ledger_gets_its_entry_in_the_company_s_name_and_stays_whole(two):
    before = Entry.objects.count()
    here = moved(two)
    left, came = Entry.objects.order_by("pk")[before:]
    assert (left.ledger.organisation_id, came.ledger.organisation_id) == (two.clinic.pk, two.other_clinic.pk)
    assert {left.logged_for_id, came.logged_for_id} == {two.company.pk}
    assert here.entry == came and here.owner_id == two.other_clinic.pk and here.pk != two.unit.pk
    for clinic in (two.clinic, two.other_clinic):
        assert tamper_check.verify(clinic).broken_at is None


def test_the_old_clinic_keeps_its_record_which_ends_that_day(two):
    with clock.at(build.NOW - timedelta(days=20)):
        test = build.spore_test(two, date(2026, 2, 20))
    moved(two)
    _, unit, said = judged(two.clinic, "Unit 1")
    assert said.standing.word is Word.NOT_IN_USE and said.standing.since == ON
    assert "moved to another place: bought second-hand" in said.standing.reason
    assert "Other Clinic" not in said.standing.reason
    assert [t.row.ref for t in unit.bio_tests] == [str(test.ref)]
    # What was owed before it left stays said; nothing falls due there any more.
    late = [c for c in said.clocks if c.state.value in ("overdue", "no evidence")]
    assert all(c.overdue_on is not None and c.overdue_on <= ON for c in late)


def test_the_new_clinic_has_plate_positions_and_plan_and_no_evidence_of_another_one(two):
    with clock.at(build.NOW - timedelta(days=20)):
        build.spore_test(two, date(2026, 2, 20))
        build.seal_replaced(two, date(2026, 2, 2))
    log.log_plan_line(
        by=two.people["coordinator"], request_key=build.key(), clinic=two.clinic, unit=two.unit,
        effective_on=build.BEGIN, code="replace-air-filter", title="x", action="replace", source="x", retired=True,
    )  # fmt: skip
    here = moved(two)
    _, unit, said = judged(two.other_clinic, "Ours")
    old = two.unit
    assert (unit.serial, unit.maker, unit.model, unit.equipment_type) == (
        old.serial, old.maker, old.model, old.equipment_type,
    )  # fmt: skip
    assert [(p.room, p.effective_on) for p in unit.placements] == [("Cellar", ON)]
    assert {p.code for p in unit.positions} == set(Position.objects.filter(unit=old).values_list("code", flat=True))
    assert {f.state for f in unit.fits} == {"yes"} and len(unit.fits) == len(unit.positions)
    assert [line.code for line in unit.plan] == ["replace-seal"]  # the line given up stays behind
    line = PlanLine.objects.get(unit=here)
    assert line.position.unit_id == here.pk and line.months == PlanLine.objects.filter(unit=old).first().months
    assert (unit.bio_tests, unit.jobs, unit.counters) == ((), (), ())
    assert said.standing.word is Word.OUT and "not installed and proved at this place yet" in said.standing.reason
    # Nothing done elsewhere counts as done here, and nothing counts from the day it came as if its parts were new.
    state = next(c for c in said.clocks if c.id == "plan:replace-seal").state
    assert state.value == "no evidence"


def test_who_may_look_follows_the_two_records(two):
    here = moved(two)
    at = {"first": two.unit.ref, "other": here.ref}

    def sees(role, slug, ref):
        client = Client()
        client.force_login(two.people[role])
        return client.get(reverse("unit", args=[slug, ref])).status_code

    assert sees("coordinator", "first", at["first"]) == sees("other-coordinator", "other", at["other"]) == 200
    assert sees("coordinator", "other", at["other"]) == sees("other-coordinator", "first", at["first"]) == 404
    assert sees("coordinator", "first", at["other"]) == sees("other-coordinator", "other", at["first"]) == 404
    assert sees("technician", "first", at["first"]) == sees("technician", "other", at["other"]) == 200


def test_the_same_request_twice_moves_once_and_another_content_is_told(two):
    key = build.key()
    first = moved(two, request_key=key)
    before = Entry.objects.count()
    assert moved(two, request_key=key) == first and Entry.objects.count() == before
    with pytest.raises(log.SubmissionConflict):
        moved(two, request_key=key, room="Attic")
    assert Entry.objects.count() == before


@pytest.mark.parametrize("role", ["coordinator", "other-coordinator", "technician", "stores", "viewer", "nobody"])
def test_only_who_manages_both_moves_it(two, role):
    with pytest.raises(log.NotYours):
        moved(two, role)
    assert not UnitEvent.objects.filter(kind="decommissioned").exists()


def test_a_dispatcher_cannot_move_it_to_a_clinic_the_company_does_not_serve(world):
    with pytest.raises(log.NotYours):
        moved(world)


def test_a_coordinator_of_both_moves_it_in_the_clinic_s_own_name(world):
    second = build.clinic_of(world.people["coordinator"], "second", "Second Clinic")
    assert moved(world, "coordinator", to=second).entry.logged_for is None


@pytest.mark.parametrize(
    ("more", "field"),
    [
        ({"on": build.TODAY + timedelta(days=1)}, "on"),
        ({"on": build.BEGIN - timedelta(days=1)}, "on"),
        ({"reason": " "}, "reason"),
        ({"label": ""}, "unit.label"),
    ],
)
def test_what_cannot_be_is_told_and_neither_ledger_gets_anything(two, more, field):
    before = Entry.objects.count(), Unit.objects.count()
    with pytest.raises(log.Refused) as refused:
        moved(two, **more)
    assert field in {p.field for p in refused.value.problems}
    assert (Entry.objects.count(), Unit.objects.count()) == before


def test_it_moves_once_and_not_to_where_it_has_a_record(two):
    here = moved(two)
    with pytest.raises(log.Refused, match="decommissioned here"):
        moved(two)
    with pytest.raises(log.Refused, match="Return that one to use there"):
        moved(two, unit=here, clinic=two.other_clinic, to=two.clinic)
    with pytest.raises(log.Refused, match="stands there already"):
        moved(two, unit=here, clinic=two.other_clinic, to=two.other_clinic)


def test_the_page_moves_it_and_leads_to_its_new_record(two):
    client = Client()
    client.force_login(two.people["dispatcher"])
    address = reverse("hand-over-unit", args=["first", two.unit.ref])
    assert address in client.get(reverse("set-up", args=["first"])).content.decode()
    page = form_of(client.get(address))
    assert (page["label"], page["on"]) == (["Unit 1"], [str(build.TODAY)])
    refused = client.post(address, page | {"to": two.other_clinic.ref, "reason": "sold"})
    assert refused.status_code == 422 and "Room there" in refused.content.decode()
    answer = client.post(address, page | {"to": two.other_clinic.ref, "reason": "sold", "room": "Cellar"})
    here = Unit.objects.get(owner=two.other_clinic, serial=two.unit.serial)
    assert (answer.status_code, answer.url) == (302, reverse("unit", args=["other", here.ref]))
    assert "Out of service" in client.get(answer.url).content.decode()
    assert Placement.objects.filter(unit=here, clinic=two.other_clinic).exists()


def test_who_manages_one_clinic_learns_who_can(world):
    client = Client()
    client.force_login(world.people["coordinator"])
    page = client.get(reverse("hand-over-unit", args=["first", world.unit.ref])).content.decode()
    assert "You manage no other clinic" in page and "decommission it" in page
    assert list(access.clinics_managed(world.people["coordinator"])) == [world.clinic]
    assert list(access.clinics_managed(world.people["technician"])) == []
