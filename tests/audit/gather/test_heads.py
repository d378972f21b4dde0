"""The ledger heads that a binder rests on."""

from __future__ import annotations

from datetime import timedelta

import pytest

from audit.gather.heads import heads
from audit.gather.read import clinic_facts
from records import clock
from records.models import Entry
from tests import world as build

pytestmark = pytest.mark.django_db


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.tested_for_seven_weeks()


def entries(organisation):
    return Entry.objects.filter(ledger__organisation=organisation).order_by("number")


def told(world, known_at=None):
    return heads(world.clinic, clinic_facts(world.clinic, known_at=known_at), build.TODAY)


def test_the_clinics_head_comes_first_and_then_its_companys(world):
    own, company = told(world)
    assert own.organisation == str(world.clinic.ref) and company.organisation == str(world.company.ref)
    for head, organisation in ((own, world.clinic), (company, world.company)):
        newest = entries(organisation).last()
        assert (head.number, head.hash) == (newest.number, newest.hash)


def test_a_company_that_never_served_the_clinic_is_not_named(world):
    assert str(world.other_company.ref) not in {head.organisation for head in told(world)}
    assert entries(world.other_company).exists()


def test_a_head_is_the_newest_entry_logged_by_then(world):
    """The moment itself is included; a microsecond before it is not."""
    last = entries(world.clinic).last()
    before = entries(world.clinic).filter(number=last.number - 1).get()
    assert told(world, known_at=last.logged_at)[0].number == last.number
    assert told(world, known_at=last.logged_at - timedelta(microseconds=1))[0].hash == before.hash


def test_before_the_first_entry_there_is_no_head(world):
    first = min(entries(world.clinic).first().logged_at, entries(world.company).first().logged_at)
    assert told(world, known_at=first - timedelta(days=1)) == ()


def test_the_clinics_head_is_that_of_the_facts(world):
    facts = clinic_facts(world.clinic)
    (stated,) = facts.heads
    own = told(world)[0]
    assert (own.name, own.number, own.hash) == (stated.organisation, stated.number, stated.hash)
