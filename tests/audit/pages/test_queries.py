"""How many queries each page takes: at most so many, the same whatever the number of units and rows.

The most is `tests.budget.MOST_QUERIES`. "Warm" is a page whose clinic's facts are kept (see
`audit.gather.kept_facts`), "cold" the first one after an entry: it reads every table of the clinic once.
"""

from __future__ import annotations

from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from audit.models import FactsCache
from tests import world as made
from tests.audit.pages.issued import issue_of
from tests.audit.pages.tools import signed_in
from tests.budget import MOST_QUERIES
from tests.site.every_page import addresses, client_of, full, is_page, seen  # noqa: F401 (fixture)

pytestmark = pytest.mark.django_db

# address: (what it is about beside the clinic, queries warm). One more or less is looked at, not waved through.
WARM = {
    # One of the clinic and of a unit: which company serves the clinic, by whose name what is next is told.
    "clinic": (None, 8),
    "answers": (None, 12),  # six of them: who coordinates, and which company serves
    "unit": ("unit", 10),  # two of them: whether it is a loaner, and which template it follows
    "sheets": (None, 6),
    "binders": (None, 8),
    "make-binder": (None, 4),
    "make-draft": (None, 4),
    "links": (None, 5),
    "entries": (None, 7),
    "record": ("test", 8),
    "visit": ("visit", 20),
    "log-visit": (None, 6),
    "log-bio": (None, 7),
    "read-bio": ("one", 10),
    "log-chemical": (None, 6),
    "log-air-removal": (None, 6),
    "log-leak": (None, 5),
    "log-load": (None, 5),
    "log-user-check": (None, 5),
    "add-credential": (None, 4),
    "add-instrument": (None, 4),
    "log-calibration": (None, 5),
    "log-part-recall": (None, 4),
    "add-indicator-lot": (None, 4),
    "unit-event": ("unit", 8),
    "register-unit": (None, 5),  # one more for whoever is of the clinic: which company serves it
    "log-fit": (None, 6),
    "add-document": (None, 5),
    "log-closure": (None, 5),
    "log-gap": (None, 5),
    "inspections": (None, 8),
    "log-inspection": (None, 6),
    "correct": ("test", 7),
    "void": ("test", 6),
}
# More when cold: every table of the clinic once, its heads again, and keeping (with its savepoint).
MORE_COLD = 58
# More after a spore test: the test, what belongs to it, and keeping; whatever the number of units and rows.
MORE_AFTER_A_TEST = 17
# More after a visit: as when cold, once its entry and the kinds of its rows have been looked at.
MORE_AFTER_A_VISIT = MORE_COLD + 2


def queries_of(client, address: str) -> int:
    with CaptureQueriesContext(connection) as taken:
        assert client.get(address).status_code == 200, address
    return len(taken)


def address_of(world, name: str, about) -> str:
    things = {None: (), "unit": (world.unit.ref,), "one": (world.test.ref,), "test": ("biotest", world.test.ref),
              "visit": (world.visit.ref,)}  # fmt: skip
    return reverse(name, args=[world.clinic.slug, *things[about]])


def grown(world) -> None:
    """Two more units, with entries of many kinds for each."""
    for n in (2, 3):
        unit = made.unit_at(world.clinic, world.people["coordinator"], f"Unit {n}")
        made.seal_replaced(world, date(2026, 2, n), unit=unit)
        made.spore_test(world, date(2026, 3, 9), test="growth", unit=unit)
        made.weekly_tests(world, 3, unit=unit)


@pytest.fixture
def place(world, settings, tmp_path):
    settings.BLOBS_DIR = tmp_path
    world.test = made.spore_test(world, date(2026, 3, 9), test="")
    world.visit = made.seal_replaced(world, date(2026, 1, 5))
    return world


@pytest.mark.parametrize("role", ["coordinator", "technician"])
def test_every_page_takes_so_many_queries_whatever_the_number_of_units(client, place, role):
    signed_in(client, place, role)
    only_managers = {"log-closure", "log-gap", "correct", "void"} if role == "technician" else set()
    addresses = {n: address_of(place, n, about) for n, (about, _) in WARM.items() if n not in only_managers}

    def counted():
        client.get(addresses["clinic"])
        return {name: queries_of(client, address) for name, address in addresses.items()}

    small = counted()
    grown(place)
    large = counted()
    assert large == small
    more = {"register-unit": 1} if role == "coordinator" else {}
    assert small == {name: WARM[name][1] + more.get(name, 0) for name in addresses}
    assert max(small.values()) <= MOST_QUERIES


@pytest.mark.parametrize("name", ["clinic", "unit", "answers", "sheets"])
def test_the_first_page_after_an_entry_reads_the_tables_once_whatever_their_size(client, place, name):
    signed_in(client, place, "coordinator")
    about, warm = WARM[name]
    address, counts = address_of(place, name, about), []
    for more in (lambda: None, lambda: grown(place)):
        more()
        FactsCache.objects.all().delete()
        counts.append(queries_of(client, address))
    assert counts == [warm + MORE_COLD] * 2
    made.spore_test(place, date(2026, 3, 2))
    assert [queries_of(client, address), queries_of(client, address)] == [warm + MORE_AFTER_A_TEST, warm]
    made.seal_replaced(place, date(2026, 3, 3))
    assert [queries_of(client, address), queries_of(client, address)] == [warm + MORE_AFTER_A_VISIT, warm]


def test_the_pages_of_binders_do_not_grow_with_the_binders(client, place):
    signed_in(client, place, "coordinator")
    issue_of(place)
    addresses = [reverse(name, args=[place.clinic.slug]) for name in ("binders", "links")]
    small = [queries_of(client, a) for a in addresses]
    for _ in range(3):
        issue_of(place)
    assert [queries_of(client, a) for a in addresses] == small
    assert max(small) <= MOST_QUERIES


@pytest.mark.parametrize("role, name, args", [
    ("dispatcher", "company", ["keepers"]),
    ("dispatcher", "company-binders", ["keepers"]),
    ("both", "home", []),
])  # fmt: skip
def test_pages_over_many_clinics_take_few_queries_whatever_their_size(client, place, role, name, args):
    from records import log

    if role == "both":
        place.people[role] = place.people["coordinator"]
        log.log_membership(
            by=place.people["other-coordinator"], request_key=made.key(), organisation=place.other_clinic,
            account=place.people[role], role="viewer", effective_on=made.BEGIN,
        )  # fmt: skip
    signed_in(client, place, role)
    address = reverse(name, args=args)
    client.get(address)  # fills the stored standings
    small = queries_of(client, address)
    grown(place)
    client.get(address)
    assert queries_of(client, address) == small
    assert small <= MOST_QUERIES


def test_no_page_at_all_is_over_the_budget(full):  # noqa: F811
    """Warm, whatever page it is: those above are pinned one by one, and a new one is among these by itself."""
    over, pages = {}, {}
    for role in ("coordinator", "dispatcher", "technician", "owner"):
        client = client_of(full, role)
        for address in addresses(full):
            first = seen(full, role, address)
            if first.status_code != 200 or not is_page(first):
                continue
            pages[role] = pages.get(role, 0) + 1
            # It may have been the first of its clinic: then the next one counts, which it kept the facts for.
            if first.queries > MOST_QUERIES and client.get(address).status_code == 200:
                if (taken := queries_of(client, address)) > MOST_QUERIES:
                    over[role, address] = taken
    assert over == {}
    assert pages["coordinator"] > 55 and pages["dispatcher"] > 55 and pages["technician"] > 55, pages
