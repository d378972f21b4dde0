"""Who coordinates and who serves, as known at a moment: what ended, was corrected or was a mistake does not hold."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from audit.gather.responsible import responsible
from records import clock, log
from records.models import Agreement, Membership
from tests import world as made

pytestmark = pytest.mark.django_db


@pytest.fixture
def world():
    with clock.at(made.NOW):
        yield made.make()


def test_coordinators_and_companies_stand_with_their_entries(world):
    found = responsible(world.clinic)
    names = [each.name for each in found.coordinators if each.holds(made.TODAY)]
    assert world.people["coordinator"].full_name in names
    agreed = Agreement.objects.get(clinic=world.clinic, company=world.company)
    (held,) = [each for each in found.agreements if each.holds(made.TODAY)]
    assert (held.company, held.scope, held.effective_on) == ("Keepers", agreed.scope, agreed.effective_on)
    assert (held.row.ref, held.row.number) == (str(agreed.ref), agreed.entry.number)


def test_only_the_role_that_coordinates_counts(world):
    roles = Membership.objects.filter(organisation_id=world.clinic.pk)
    expected = roles.filter(role="coordinator").count()
    assert len(responsible(world.clinic).coordinators) == expected < roles.count()


def test_the_queries_do_not_grow_with_people(world, django_assert_max_num_queries):
    with django_assert_max_num_queries(6):
        responsible(world.clinic)


def test_nothing_logged_after_the_moment_is_known(world):
    before = responsible(world.clinic, made.NOW - timedelta(days=36500))
    assert (before.coordinators, before.agreements) == ((), ())


def test_an_agreement_ends_on_the_first_day_on_which_it_no_longer_holds(world):
    agreed = Agreement.objects.get(clinic=world.clinic, company=world.company)
    log.end_agreement(
        by=world.people["coordinator"], request_key=made.key(), agreement=agreed, effective_on=made.TODAY,
        reason="served by others",
    )  # fmt: skip
    (held,) = responsible(world.clinic).agreements
    assert held.until == made.TODAY
    assert held.holds(made.TODAY - timedelta(days=1)) and not held.holds(made.TODAY)
    assert not held.holds(date(1990, 1, 1))
