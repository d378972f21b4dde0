"""Pages of loaners: the pool, the swap at a clinic, the history of one by its serial, back again."""

from __future__ import annotations

from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from records import clock, log
from records.log.loaners import pool_of
from records.models import Agreement, Loan, UnitEvent
from tests import world as build
from tests.budget import MOST_QUERIES
from tests.records import template_world as made
from tests.records.page_form import form_of

from .tools import text_of

pytestmark = pytest.mark.django_db
LEND = "/clinic/first/loaners/lend/"


@pytest.fixture(autouse=True)
def _standing_now():
    with clock.at(build.NOW):
        yield


@pytest.fixture
def served(world):
    """Keepers serve both clinics; their store, and a template of the units that they lend."""
    log.log_agreement(
        by=world.people["other-coordinator"], request_key=build.key(), clinic=world.other_clinic,
        company=world.company, effective_on=build.BEGIN,
    )  # fmt: skip
    who = {"by": world.people["dispatcher"], "owner": world.company}
    world.store = log.log_stock_place(**who, request_key=build.key(), name="Store", kind="store")
    world.template = made.template_of(world)
    return world


def signed(world, role="technician") -> Client:
    client = Client()
    client.force_login(world.people[role])
    return client


def of_company(name, *args) -> str:
    return reverse(name, args=["keepers", *args])


@pytest.fixture
def pool(served):
    who = {"by": served.people["dispatcher"], "owner": served.company, "on": build.BEGIN, "place": served.store}
    served.lends = log.log_pool_unit(
        **who, request_key=build.key(), label="L-1", serial="INV-L1", template=served.template
    )
    return served


def swapped(world, client, **more):
    at = f"{LEND}?unit={world.unit.ref}"
    sent = form_of(client.get(at)) | {"room": "Room 1", "on": "2026-03-10"} | more
    return client.post(at, sent), sent


def test_a_unit_joins_the_pool_with_the_plate_of_its_template(served):
    client = signed(served)
    sent = form_of(client.get(of_company("add-loaner"))) | {"label": "L-1", "serial": "INV-L1"}
    refused = client.post(of_company("add-loaner"), sent)
    assert refused.status_code == 422 and "Read it off the plate" in text_of(refused)
    sent |= {"template": str(served.template.ref)}
    for _ in range(2):
        assert client.post(of_company("add-loaner"), sent).status_code == 302
    (line,) = pool_of(served.company)
    assert (line.unit.model, line.place, line.free) == ("Cassette Two", served.store, True)
    assert "free, in Store" in text_of(client.get(of_company("loaners")))


def test_the_swap_offers_the_pool_and_the_store_and_links_the_two_units(pool):
    client = signed(pool)
    page = text_of(client.get(f"{LEND}?unit={pool.unit.ref}"))
    assert "L-1, Cassette Two, serial INV-L1; in Store" in page and "is taken along to Store" in page
    answer, sent = swapped(pool, client, to_store=str(pool.store.ref), cycles="412")
    assert answer.status_code == 302, text_of(answer)
    loan = Loan.objects.get()
    assert client.post(f"{LEND}?unit={pool.unit.ref}", sent).status_code in (302, 422)
    assert Loan.objects.count() == 1
    here = text_of(client.get(answer["Location"]))
    assert "A loaner: lent by Keepers" in here and "in place of Unit 1" in here
    assert "not installed and proved at this place yet" in here
    own = text_of(client.get(reverse("unit", args=["first", pool.unit.ref])))
    assert "stands in for it since" in own
    assert "at First Clinic since" in text_of(client.get(of_company("loaners")))
    back = of_company("loaner-back", pool.lends.ref)
    sent = form_of(client.get(back)) | {"on": "2026-03-12"}
    refused = client.post(back, sent)
    assert refused.status_code == 422 and "Nothing is chosen" in text_of(refused)
    sent |= {"contamination": "declared clean", "note": "one tray is bent"}
    for _ in range(2):
        assert client.post(back, sent).status_code == 302
    assert UnitEvent.objects.filter(kind="loaner out").count() == 1
    told = text_of(client.get(of_company("loaner", pool.lends.ref)))
    assert "in place of Unit 1" in told and "back in Store, declared clean, one tray is bent" in told
    assert "stands in for it since" not in text_of(client.get(reverse("unit", args=["first", pool.unit.ref])))
    assert loan.in_place_of == pool.unit.ref


def test_each_clinic_sees_its_own_part_and_the_company_the_whole_history(pool):
    client = signed(pool)
    swapped(pool, client)
    who = {"by": pool.people["technician"], "owner": pool.company}
    loan = Loan.objects.get()
    log.take_back(
        **who, request_key=build.key(), loan=loan, place=pool.store, on=date(2026, 3, 12),
        contamination="declared clean",
    )  # fmt: skip
    second = log.lend_unit(
        **who, request_key=build.key(), pool_unit=pool.lends, clinic=pool.other_clinic, on=date(2026, 3, 12), room="R"
    )
    page = text_of(client.get(of_company("loaner", pool.lends.ref)))
    assert page.index("Other Clinic, L-1") < page.index("First Clinic, L-1")
    for role, own, other in (
        ("coordinator", ("first", loan.record), ("other", second.record)),
        ("other-coordinator", ("other", second.record), ("first", loan.record)),
    ):
        person = signed(pool, role)
        assert person.get(reverse("unit", args=own)).status_code == 200
        for args in (other, (own[0], other[1])):
            assert person.get(reverse("unit", args=args)).status_code == 404
        assert person.get(of_company("loaner", pool.lends.ref)).status_code == 404


def test_of_a_clinic_that_is_not_served_any_more_only_the_days_are_told(pool):
    client = signed(pool)
    swapped(pool, client)
    log.end_agreement(
        by=pool.people["coordinator"], request_key=build.key(), effective_on=build.TODAY, reason="ended",
        agreement=Agreement.objects.get(clinic=pool.clinic, company=pool.company),
    )  # fmt: skip
    page = client.get(of_company("loaner", pool.lends.ref))
    assert "its record there is not open to you" in text_of(page) and "in place of" not in text_of(page)
    assert str(Loan.objects.get().record) not in page.content.decode()


@pytest.mark.parametrize(
    ("role", "status"),
    [("technician", 200), ("dispatcher", 200), ("stores", 403), ("coordinator", 403), ("viewer", 403),
     ("other-dispatcher", 404), ("nobody", 404)],
)  # fmt: skip
def test_who_lends(pool, role, status):
    assert signed(pool, role).get(LEND).status_code == status


def test_a_unit_of_another_clinic_is_not_swapped(pool):
    client = signed(pool)
    assert client.get(f"{LEND}?unit={pool.other_unit.ref}").status_code == 404
    sent = form_of(client.get(LEND)) | {"room": "R", "in_place_of": str(pool.other_unit.ref)}
    assert client.post(LEND, sent).status_code == 422
    assert not Loan.objects.exists()


def test_what_is_not_lent_any_more_is_offered_no_more(pool):
    client = signed(pool)
    at = of_company("end-loaner", pool.lends.ref)
    sent = form_of(client.get(at)) | {"reason": "sold"}
    assert client.post(at, sent).status_code == 302
    assert "No unit of the pool is free" in text_of(client.get(LEND))
    assert "Not lent any more" in text_of(client.get(of_company("loaners")))


def test_the_pages_ask_the_database_little(pool):
    client = signed(pool)
    swapped(pool, client)
    unit = reverse("unit", args=["first", pool.unit.ref])
    for at in (of_company("loaners"), of_company("loaner", pool.lends.ref), LEND, unit):
        client.get(at)
        with CaptureQueriesContext(connection) as asked:
            assert client.get(at).status_code == 200
        assert len(asked) <= MOST_QUERIES, (at, len(asked))
