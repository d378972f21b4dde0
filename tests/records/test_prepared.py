"""A prepared question answers what the composed one answers, whatever is asked and in whatever order."""

from __future__ import annotations

from datetime import date, timedelta
from uuid import UUID, uuid4

import pytest
from django.db.models import QuerySet

from records import access, clock
from records.log import may_be_logged
from records.models import Clinic, ClinicTerms, Entry, Membership
from records.models.prepared import prepared

pytestmark = pytest.mark.django_db


@prepared
def terms(clinic: int, last: date) -> QuerySet[ClinicTerms]:
    return ClinicTerms.objects.in_force().filter(clinic_id=clinic, effective_on__lte=last).order_by("-effective_on")


@prepared
def sent(account: int, key: UUID) -> QuerySet[Entry]:
    return Entry.objects.filter(account=account, request_key=key)


@prepared
def named(name: str) -> QuerySet:
    return Clinic.objects.filter(name=name).values_list("slug", flat=True)


def test_rows_are_those_of_the_plain_query(world):
    today = clock.today()
    for clinic in Clinic.objects.all():
        for day in (today - timedelta(days=9000), today, today + timedelta(days=1)):
            plain = ClinicTerms.objects.in_force().filter(clinic_id=clinic.pk, effective_on__lte=day)
            assert terms(clinic.pk, day) == list(plain.order_by("-effective_on"))
    assert Clinic.objects.count() > 1


def test_a_request_key_is_looked_up_as_what_it_is(world):
    entry = Entry.objects.first()
    assert sent(entry.account_id, entry.request_key) == [entry]
    assert sent(entry.account_id, uuid4()) == []


def test_values_come_back_flat_where_the_query_is_flat(world):
    clinic = Clinic.objects.first()
    assert named(clinic.name) == [clinic.slug]
    assert named(clinic.name + " ") == []


def test_what_was_asked_before_leaves_nothing_behind(world):
    first, second = Clinic.objects.all()[:2]
    once = named(first.name)
    named(second.name)
    once.append("changed by who asked")
    assert named(first.name) == [first.slug]


def test_related_rows_come_along_as_in_the_plain_query(world, django_assert_num_queries):
    @prepared
    def with_organisation(role: str) -> QuerySet[Membership]:
        return Membership.objects.filter(role=role).select_related("organisation").order_by("pk")

    with django_assert_num_queries(1):
        names = [m.organisation.name for m in with_organisation("coordinator")]
    assert names == [m.organisation.name for m in Membership.objects.filter(role="coordinator").order_by("pk")]
    assert names


def test_the_clinic_of_a_page_and_its_zone(world):
    clinic = Clinic.objects.first()
    plain = may_be_logged.with_zone(Clinic.objects.filter(pk=clinic.pk)).get()
    asked = may_be_logged.clinic_with_zone(clinic.slug)
    assert (asked, may_be_logged.zone_today(asked)) == (plain, may_be_logged.zone_today(plain))
    assert may_be_logged.clinic_with_zone("nowhere") is None


@pytest.mark.parametrize("values", [(), (1,), (1, None), (None, date(2026, 1, 1)), (1, date(2026, 1, 1), 2)])
def test_another_number_of_values_or_none_is_refused(values):
    with pytest.raises(TypeError, match="takes 2 values, none of them None"):
        terms(*values)


def test_a_value_that_stands_nowhere_in_the_query_is_a_fault_of_the_program():
    @prepared
    def without(name: str, unused: int) -> QuerySet[Clinic]:
        return Clinic.objects.filter(name=name)

    with pytest.raises(TypeError, match="Not every value of without"):
        without("x", 1)


def test_rights_of_everybody_at_every_clinic_are_as_by_the_facts_one_by_one(world):
    from records.models import Account

    for account in Account.objects.all():
        for clinic in Clinic.objects.all():
            rights = access.rights(account, clinic)
            roles = set(access.memberships(account).filter(organisation_id=clinic.pk).values_list("role", flat=True))
            serving = access.agreements().filter(clinic=clinic).values("company_id")
            theirs = access.memberships(account).filter(organisation_id__in=serving)
            assert (rights is not None) == bool(roles or theirs.exists()), (account, clinic)
            if rights is not None:
                assert (rights.company is None) == bool(roles)
                assert rights.roles <= roles | set(theirs.values_list("role", flat=True))
