"""Faults reported and settled, visits agreed, moved and called off: what is recorded, and what is refused."""

from __future__ import annotations

from datetime import timedelta

import pytest

from records import log
from records import models as m
from records.log.errors import NotYours, Refused
from tests import world as build

pytestmark = pytest.mark.django_db
TODAY = build.TODAY


def common(world, role="coordinator"):
    return {"by": world.people[role], "request_key": build.key(), "clinic": world.clinic, "on": TODAY}


def reported(world, role="coordinator", **more):
    fields = {"unit": world.unit, "what": "it hisses", "meanwhile": "out", "reported_by": "Ana Example"} | more
    return log.report_fault(**common(world, role) | fields)


def agreed(world, role="technician", **more):
    fields = {"company": world.company, "visit_on": TODAY + timedelta(days=2), "agreed_with": "Rae Reception"} | more
    return log.agree_visit(**common(world, role) | fields)


def refused(place, write, *args, **more):
    with pytest.raises(Refused) as error:
        write(*args, **more)
    assert place in {p.field for p in error.value.problems}
    return " ".join(p.message for p in error.value.problems)


def test_a_fault_takes_the_unit_out_in_the_same_entry(world):
    row = reported(world)
    out = m.UnitEvent.objects.get(kind="withdrawn")
    assert row.withdrawal == out and out.entry == row.entry and out.reason == "fault reported: it hisses"
    assert str(row.reported_by) == "Ana Example" and row.kept_because == ""


def test_a_fault_that_leaves_the_unit_in_use_says_why(world):
    row = reported(world, meanwhile="kept", kept_because="Ana: it only dries badly")
    assert row.withdrawal is None and not m.UnitEvent.objects.filter(kind="withdrawn").exists()


@pytest.mark.parametrize("meanwhile", ["", "not known", None])
def test_a_fault_never_leaves_open_whether_the_unit_may_be_used(world, meanwhile):
    assert "When nobody knows, take it out" in refused("meanwhile", reported, world, meanwhile=meanwhile)
    assert not m.FaultReport.objects.exists()


def test_bad_reports_are_refused_with_the_way_out(world):
    refused("kept_because", reported, world, meanwhile="kept")
    refused("kept_because", reported, world, kept_because="it is fine")
    refused("what", reported, world, what=" ")
    refused("on", reported, world, on=TODAY + timedelta(days=1))
    refused("unit", reported, world, unit=None)
    with pytest.raises(NotYours):
        reported(world, "viewer")
    assert not m.FaultReport.objects.exists()


def test_sent_twice_it_is_one_report_and_one_withdrawal(world):
    key = build.key()
    first, again = (reported(world, request_key=key) for _ in range(2))
    assert first == again and m.UnitEvent.objects.filter(kind="withdrawn").count() == 1


def test_a_fault_is_settled_once_and_not_before_it_was_reported(world):
    row = reported(world)
    settle = {"fault": row, "outcome": "a towel was in the door"}
    refused("on", log.settle_fault, **common(world) | settle | {"on": TODAY - timedelta(days=1)})
    refused("outcome", log.settle_fault, **common(world) | settle | {"outcome": ""})
    done = log.settle_fault(**common(world), **settle)
    assert done.fault == row and m.UnitEvent.objects.filter(kind="returned").count() == 0
    assert "settled already" in refused("outcome", log.settle_fault, **common(world), **settle)


def test_an_agreed_visit_is_moved_with_a_reason_and_called_off_once(world):
    first = agreed(world, hour="09:30", about="the hissing door")
    assert log.agreements_standing(world.clinic) == [first]
    refused("reason", agreed, world, instead_of=first)
    moved = agreed(world, instead_of=first, reason="patients all day", visit_on=TODAY + timedelta(days=5))
    assert log.agreements_standing(world.clinic) == [moved]
    refused("instead_of", agreed, world, instead_of=first, reason="again")
    off = {"agreed": moved, "reason": "it was a towel", "told_to": "Pat Technician"}
    refused("told_to", log.call_off_visit, **common(world) | off | {"told_to": ""})
    refused("reason", log.call_off_visit, **common(world) | off | {"reason": ""})
    log.call_off_visit(**common(world), **off)
    assert log.agreements_standing(world.clinic) == []
    assert "already" in refused("agreed", log.call_off_visit, **common(world), **off)


def test_who_told_whom_is_named(world):
    refused("agreed_with", agreed, world, agreed_with="")
    row = agreed(world)
    assert (str(row.agreed_with), str(row.agreed_by)) == ("Rae Reception", world.people["technician"].full_name)
    assert row.entry.logged_for == world.company


def test_another_clinics_fault_or_agreement_is_refused(world):
    other = build.clinic_of(world.people["coordinator"], "second", "Second Clinic")
    row, visit = reported(world), agreed(world)
    place = common(world) | {"clinic": other}
    refused("fault", log.settle_fault, **place, fault=row, outcome="x")
    refused("agreed", log.call_off_visit, **place, agreed=visit, reason="x", told_to="y")
