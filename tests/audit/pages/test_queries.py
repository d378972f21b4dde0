"""How many queries a page takes, whatever its size."""

from __future__ import annotations

from datetime import date

import pytest
from django.urls import reverse

from audit.gather import clinic_facts
from tests import world as made
from tests.audit.pages.tools import BEYOND_GATHER, pages_of, signed_in

pytestmark = pytest.mark.django_db


def queries_of(client, django_assert_max_num_queries, address: str) -> int:
    with django_assert_max_num_queries(200) as taken:
        assert client.get(address).status_code == 200
    return len(taken.captured_queries)


def gather_queries(world, django_assert_max_num_queries) -> int:
    with django_assert_max_num_queries(200) as taken:
        clinic_facts(world.clinic)
    return len(taken.captured_queries)


@pytest.mark.parametrize("role", ["coordinator", "technician"])
def test_queries_do_not_grow_with_units_and_rows(client, django_assert_max_num_queries, role):
    count = django_assert_max_num_queries
    world = made.make(units=1)
    signed_in(client, world, role)
    addresses = [reverse(name, args=args) for name, args in pages_of(world)]
    small = [queries_of(client, count, a) for a in addresses]
    for n in (2, 3):
        unit = made.unit_at(world.clinic, world.people["coordinator"], f"Unit {n}")
        made.seal_replaced(world, date(2026, 2, n), unit=unit)
        made.spore_test(world, date(2026, 3, 9), test="growth", unit=unit)
        made.weekly_tests(world, 3, unit=unit)
    large = [queries_of(client, count, a) for a in addresses]
    assert small == large
    allowed = gather_queries(world, count) + BEYOND_GATHER
    assert max(large) <= allowed


def test_the_company_page_takes_few_queries_whatever_its_size(client, django_assert_max_num_queries):
    count = django_assert_max_num_queries
    world = made.make(units=1)
    signed_in(client, world, "dispatcher")
    address = reverse("company", args=["keepers"])
    client.get(address)  # fills the stored standings
    small = queries_of(client, count, address)
    for n in (2, 3):
        made.unit_at(world.clinic, world.people["coordinator"], f"Unit {n}")
    client.get(address)
    assert queries_of(client, count, address) == small
    assert small <= 12
