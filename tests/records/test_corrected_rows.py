"""A correction may say no more than a first entry may: the same rules hold between the fields of a row."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from records import clock, log
from records import models as m
from tests import world as build

pytestmark = pytest.mark.django_db

DAY = build.TODAY - timedelta(days=5)


@pytest.fixture
def world():
    with clock.at(build.NOW):
        made = build.make()
        build.spore_test(made, DAY)
        build.seal_replaced(made, DAY)
        own = {"clinic": made.clinic, "unit": made.unit, "on": DAY, "by": made.people["coordinator"]}
        for n, shown in enumerate((Decimal(1300), Decimal(1400))):
            at = own | {"on": DAY + timedelta(days=n)}
            log.log_counter(request_key=build.key(), counter="cycles", shown=shown, **at)
        log.log_leak(request_key=build.key(), rise=Decimal("0.5"), unit_of_measure="kPa", minutes=Decimal(10), **own)
        log.log_closure(
            by=made.people["coordinator"], request_key=build.key(), clinic=made.clinic, from_on=DAY, to_on=DAY,
            why="holiday",
        )  # fmt: skip
        yield made


AHEAD = build.TODAY + timedelta(days=1)
# kind, role of its author, what the correction says, a word of the message
TABLE = [
    ("biotest", "coordinator", {"happened_at": build.NOW + timedelta(days=900)}, "not come yet"),
    ("biotest", "coordinator", {"happened_at": datetime(2026, 1, 2, 12, tzinfo=UTC)}, "another day"),
    ("biotest", "coordinator", {"happened_on": date(1800, 1, 1)}, "Check the year"),
    ("bioreading", "coordinator", {"known_on": AHEAD}, "in the future"),
    ("bioreading", "coordinator", {"happened_on": DAY - timedelta(days=9)}, "the day the test was run"),
    ("bioreading", "coordinator", {"known_on": DAY - timedelta(days=9)}, "the day it was read"),
    ("counterreading", "coordinator", {"shown": Decimal(1)}, "what to add for the life total"),
    ("reading", "technician", {"as_found": None, "as_left": None}, "Enter what was measured"),
    ("reading", "technician", {"unit_of_measure": " "}, "unit of measure"),
    ("jobconclusion", "technician", {"conclusion": "pending"}, "Who at the clinic accepts"),
    ("jobconclusion", "technician", {"conclusion": "limited"}, "Limited to what"),
    ("fittedpart", "technician", {"lot": ""}, "Enter the lot as printed"),
    ("fittedpart", "technician", {"quantity": 0}, "How many"),
    ("taskoutcome", "technician", {"deferred_until": date(1990, 1, 1)}, "no deferral"),
    ("taskoutcome", "technician", {"outcome": "not possible"}, "needs its reason"),
    ("leaktest", "coordinator", {"rise": Decimal(-5)}, "from 0 on"),
    ("leaktest", "coordinator", {"minutes": Decimal(0)}, "Over how many minutes"),
    ("closure", "coordinator", {"to_on": date(1900, 1, 1)}, "lies before"),
    ("closure", "coordinator", {"to_on": date(9999, 12, 31)}, "at most a year"),
]


@pytest.mark.parametrize(("kind", "role", "changes", "told"), TABLE)
def test_what_may_not_be_entered_may_not_be_corrected_to(world, kind, role, changes, told):
    model = m.fact_model(kind)
    row = model.objects.in_force().order_by("-happened_on", "-pk").first()
    before = m.Entry.objects.count()
    with pytest.raises(log.Refused) as refused:
        log.correct(by=world.people[role], request_key=build.key(), row=row, changes=changes, reason="misread")
    assert told in str(refused.value)
    assert m.Entry.objects.count() == before, "nothing is written"


def test_growth_cannot_be_hidden_behind_a_day_that_has_not_come(world):
    reading = m.BioReading.objects.get()
    with pytest.raises(log.Refused):
        log.correct(
            by=world.people["coordinator"], request_key=build.key(), row=reading,
            changes={"test": "growth", "known_on": date(2040, 1, 1)}, reason="hidden",
        )  # fmt: skip


@pytest.mark.parametrize("act", ["correct", "void"])
def test_who_has_left_corrects_nothing_any_more_not_even_their_own(world, act):
    operator = world.people["operator"]
    mine = log.log_chemical(
        by=operator, request_key=build.key(), clinic=world.clinic, unit=world.unit, on=DAY, type=5, result="fail"
    )
    membership = m.Membership.objects.get(person=operator.person)
    log.end_membership(
        by=world.people["coordinator"], request_key=build.key(), membership=membership, effective_on=build.TODAY,
        reason="left",
    )  # fmt: skip
    with pytest.raises(log.NotYours):
        if act == "correct":
            log.correct(by=operator, request_key=build.key(), row=mine, changes={"result": "pass"}, reason="no")
        else:
            log.void(by=operator, request_key=build.key(), row=mine, reason="no")
    assert m.ChemicalResult.objects.in_force().get().result == "fail"


def test_a_closure_of_centuries_is_refused_at_first_entry_too(world):
    with pytest.raises(log.Refused) as refused:
        log.log_closure(
            by=world.people["coordinator"], request_key=build.key(), clinic=world.clinic,
            from_on=date(1, 1, 1), to_on=date(9999, 12, 31), why="always",
        )  # fmt: skip
    assert "Check the year" in str(refused.value) and "at most a year" in str(refused.value)


def test_a_leak_that_lets_the_pressure_fall_is_refused_at_first_entry_too(world):
    own = {"by": world.people["coordinator"], "clinic": world.clinic, "unit": world.unit, "on": DAY}
    with pytest.raises(log.Refused) as refused:
        log.log_leak(request_key=build.key(), rise=Decimal(-5), unit_of_measure="kPa", minutes=Decimal(10), **own)
    assert "from 0 on" in str(refused.value)
