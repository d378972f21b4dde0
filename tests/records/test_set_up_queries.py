"""How many queries the pages of people and set-up take: no more than any page may, whatever is on record."""

from __future__ import annotations

import pytest
from django.urls import reverse

from records import clock
from tests import world as build
from tests.budget import MOST_QUERIES

pytestmark = pytest.mark.django_db
PAGES = [
    ("coordinator", "set-up", ["first"]),
    ("coordinator", "clinic-people", ["first"]),
    ("coordinator", "plan", ["first", "unit"]),
    ("coordinator", "add-plan-line", ["first", "unit"]),
    ("coordinator", "change-plan-line", ["first", "unit", "replace-seal"]),
    ("coordinator", "place-unit", ["first", "unit"]),
    ("coordinator", "log-counter", ["first", "unit"]),
    ("coordinator", "log-terms", ["first"]),
    ("coordinator", "log-local-duty", ["first"]),
    ("technician", "set-up", ["first"]),
    ("technician", "plan", ["first", "unit"]),
    ("stores", "add-part", ["first"]),
    ("stores", "add-part-lot", ["first"]),
    ("dispatcher", "company-people", ["keepers"]),
    ("dispatcher", "company-invite", ["keepers"]),
]


@pytest.mark.parametrize(("role", "name", "args"), PAGES)
def test_pages_take_few_queries_whatever_the_number_of_units(client, django_assert_max_num_queries, role, name, args):
    with clock.at(build.NOW):
        world = build.make()
        client.force_login(world.people[role])
        address = reverse(name, args=[str(world.unit.ref) if a == "unit" else a for a in args])
        counts = []
        for n in (2, 3, 4):
            with django_assert_max_num_queries(MOST_QUERIES) as taken:
                assert client.get(address).status_code == 200
            counts.append(len(taken.captured_queries))
            build.unit_at(world.clinic, world.people["coordinator"], f"Unit {n}")
    assert len(set(counts)) == 1
