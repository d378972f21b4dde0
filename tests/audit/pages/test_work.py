"""Work to be done: what is owed, given, agreed, moved, called off; a day's stops in order; who may."""

from __future__ import annotations

import io
from datetime import timedelta

import pytest
from django.urls import reverse
from pypdf import PdfReader

from audit.models import PlannedStop, PlannedWork
from audit.pages import round_read
from records import log
from records.models import Entry, SiteAccess, VisitAgreed, VisitCalledOff
from tests import world as made
from tests.audit.pages.test_round import due_on, second_clinic
from tests.audit.pages.tools import signed_in, text_of
from tests.budget import MOST_QUERIES

pytestmark = pytest.mark.django_db
TOMORROW = made.TODAY + timedelta(days=1)


@pytest.fixture(autouse=True)
def _nothing_kept():
    round_read.kept.clear()


def fault(world, **more):
    fields = {"unit": world.unit, "what": "it hisses", "meanwhile": "out", "reported_by": "Rae"} | more
    common = {"by": world.people["coordinator"], "request_key": made.key(), "clinic": world.clinic, "on": made.TODAY}
    return log.report_fault(**common | fields)


def agreed_for(client, stop, on=TOMORROW, **more) -> VisitAgreed:
    """The stop agreed with the clinic, by its page."""
    form = {"request_key": made.key(), "agreed_with": "Rae", "how": "telephone", "on": made.TODAY, "visit_on": on}
    answer = client.post(reverse("agree-stop", args=[stop.clinic.slug, stop.pk]), form | more)
    assert answer.status_code == 302, text_of(answer)
    return VisitAgreed.objects.last()


def called_off(agreed: VisitAgreed) -> str:
    return reverse("call-off-visit", args=[agreed.clinic.slug, agreed.origin])


def work(client, world, **typed):
    address = reverse("work", args=[world.company.slug])
    return client.post(address, typed) if typed else client.get(address)


def given(client, world, row, *, to="technician", on=TOMORROW, hour="09:30", clinic=None):
    place = clinic or world.clinic
    item = f"{row.unit.origin}|fault:{row.origin}"
    person = world.people[to].ref if to else ""
    answer = work(client, world, clinic=place.slug, item=item, given_to=person, on=on.isoformat(), hour=hour)
    assert answer.status_code == 302, text_of(answer)
    return PlannedStop.objects.get(clinic=place, on=on)


def test_a_reported_fault_stands_first_and_says_that_the_unit_is_not_to_be_used(client, world):
    due_on(world, made.BEGIN.replace(year=2026, month=4))
    fault(world)
    seen = text_of(work(signed_in(client, world, "dispatcher"), world))
    assert "Fault reported: it hisses" in seen and "Not to be used" in seen and "Given to nobody yet" in seen
    assert seen.index("Fault reported: it hisses") < seen.index("Week of") < seen.rindex("due ")


def test_what_is_owed_is_given_to_a_person_with_a_day_and_an_hour(client, world):
    row = fault(world)
    stop = given(signed_in(client, world, "dispatcher"), world, row)
    assert (stop.given_to, stop.hour, stop.changed_by) == (
        world.people["technician"], "09:30", world.people["dispatcher"],
    )  # fmt: skip
    seen = text_of(work(client, world))
    assert "09:30: Pat Technician" in seen and "not agreed with the clinic yet" in seen
    again = given(client, world, row, to="dispatcher", on=TOMORROW + timedelta(days=1))
    assert [w.stop for w in PlannedWork.objects.all()] == [again] and not PlannedStop.objects.filter(
        pk=stop.pk
    ).exists()


def test_a_plan_writes_no_entry_and_settles_nothing(client, world):
    row = fault(world)
    before = Entry.objects.count()
    given(signed_in(client, world, "dispatcher"), world, row)
    assert Entry.objects.count() == before
    assert "Fault reported: it hisses" in text_of(work(client, world))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({}, "Nothing is ticked"),
        ({"item": "x|y"}, "not owed any more"),
        ({"on": "soon"}, "not a day of the calendar"),
        ({"clinic": "elsewhere"}, "not served by this company"),
        ({"given_to": "somebody"}, "not known here"),
    ],
)
def test_bad_input_is_refused_and_kept(client, world, typed, said):
    row = fault(world)
    fields = {"clinic": "first", "on": TOMORROW.isoformat(), "hour": "before ten"}
    if typed and "item" not in typed:
        fields["item"] = f"{row.unit.origin}|fault:{row.origin}"
    answer = work(signed_in(client, world, "dispatcher"), world, **fields | typed)
    assert answer.status_code == 422 and said in text_of(answer) and not PlannedStop.objects.exists()
    assert "clinic" in typed or b"before ten" in answer.content


def test_agreed_moved_and_called_off_are_entries_and_the_plan_follows(client, world):
    row = fault(world)
    stop = given(signed_in(client, world, "dispatcher"), world, row)
    agree = reverse("agree-stop", args=["first", stop.pk])
    assert client.get(reverse("call-off-visit", args=["first", made.key()])).status_code == 404, "nothing is agreed"
    form = {"request_key": made.key(), "agreed_with": "Rae Reception", "how": "telephone", "on": made.TODAY}
    assert client.post(agree, form | {"visit_on": TOMORROW, "hour": "10:00"}).status_code == 302
    first, stop = VisitAgreed.objects.get(), PlannedStop.objects.get()
    assert (stop.agreed, stop.on, stop.hour) == (first.origin, TOMORROW, "10:00")
    assert first.about.endswith("Fault reported: it hisses") and first.company == world.company

    own = reverse("stop", args=[world.company.slug, stop.pk])
    kept = {"given_to": world.people["technician"].ref, "on": TOMORROW + timedelta(days=3), "hour": "10:00"}
    refused = client.post(own, kept)
    assert refused.status_code == 422 and "Move the visit" in text_of(refused)
    assert "Call it off" in text_of(client.post(own, kept | {"do": "off"}))
    taken = work(
        client, world, clinic="first", item=f"{row.unit.origin}|fault:{row.origin}", on=made.TODAY.isoformat()
    )
    assert taken.status_code == 422 and "agreed with the clinic" in text_of(taken)

    later = TOMORROW + timedelta(days=2)
    moved = form | {"request_key": made.key(), "visit_on": later, "instead_of": first.origin}
    assert client.post(agree, moved).status_code == 422
    assert client.post(agree, moved | {"reason": "patients all day"}).status_code == 302
    second, stop = VisitAgreed.objects.last(), PlannedStop.objects.get()
    assert (second.instead_of, stop.on, stop.agreed) == (first, later, second.origin)

    off = reverse("call-off-visit", args=["first", second.origin])
    told = {"request_key": made.key(), "told_to": "Rae", "how": "message", "reason": "a towel", "on": made.TODAY}
    assert client.post(off, told | {"reason": ""}).status_code == 422
    assert client.post(off, told).status_code == 302
    assert VisitCalledOff.objects.get().agreed == second and not PlannedStop.objects.exists()
    assert "Fault reported: it hisses" in text_of(work(client, world)), "what is owed stays owed"


def test_the_stops_of_a_day_stand_in_their_order_with_how_one_gets_in(client, world):
    other, _ = two_stops(client, world)
    SiteAccess.objects.create(
        clinic=world.clinic, contact="Rae at the desk", phone="555 0100", notes="side door", hours="8 to 5",
        changed_by=world.people["dispatcher"], changed_at=made.NOW,
    )  # fmt: skip
    address = reverse("stops", args=[world.company.slug])
    seen = text_of(client.get(address, {"on": TOMORROW}))
    assert seen.index("First Clinic") < seen.index("Second Clinic")
    assert "Rae at the desk" in seen and "555 0100" in seen and "side door" in seen and "8 to 5" in seen
    order = reverse("order-stop", args=[world.company.slug, other.pk])
    assert client.post(order, {"way": "up"}).status_code == 302
    seen = text_of(client.get(address, {"on": TOMORROW}))
    assert seen.index("Second Clinic") < seen.index("First Clinic")
    client.post(order, {"way": "up"})
    assert list(PlannedStop.objects.order_by("place").values_list("place", flat=True)) == [1, 2]
    nobody = text_of(client.get(address, {"on": TOMORROW, "person": world.people["dispatcher"].ref}))
    assert "No stop stands on this day" in nobody and "First Clinic" not in nobody
    assert client.get(address, {"on": "x"}).status_code == 400


def two_stops(client, world):
    clinic, unit = second_clinic(world)
    rows = fault(world), fault(world, clinic=clinic, unit=unit, what="it leaks")
    signed_in(client, world, "dispatcher")
    first = given(client, world, rows[0])
    return given(client, world, rows[1], clinic=clinic), first


def test_the_job_sheets_of_a_day_are_one_file_with_address_and_telephone(client, world):
    two_stops(client, world)
    SiteAccess.objects.create(
        clinic=world.clinic, phone="555 0100", changed_by=world.people["dispatcher"], changed_at=made.NOW
    )
    address = reverse("stops-sheets", args=[world.company.slug])
    answer = client.get(address, {"on": TOMORROW})
    assert answer.status_code == 200, text_of(answer)
    told = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    told = " ".join(told.split())
    assert "Telephone: 555 0100" in told and "First Clinic" in told and "Second Clinic" in told
    assert told.index("First Clinic") < told.index("Second Clinic")
    for query in ({"on": made.TODAY}, {"on": "x"}, {"on": TOMORROW, "page": "a9"}):
        assert client.get(address, query).status_code == 400


def test_how_one_gets_in_is_written_over_and_stands_on_the_round(client, world):
    fault(world)
    signed_in(client, world, "technician")
    address = reverse("site-access", args=["first"])
    assert client.post(address, {"phone": "555 0100", "notes": "side door"}).status_code == 302
    assert client.post(address, {"phone": "x" * 81}).status_code == 422
    assert client.post(address, {"phone": "555 0199"}).status_code == 302
    row = SiteAccess.objects.get()
    assert (row.phone, row.notes, row.changed_by) == ("555 0199", "", world.people["technician"])
    seen = text_of(client.get(reverse("round", args=[world.company.slug])))
    assert "555 0199" in seen and "Not to be used" in seen


def test_a_company_sees_no_other_companys_stops(client, world):
    stop = given(signed_in(client, world, "dispatcher"), world, fault(world))
    agreed = agreed_for(client, stop)
    ours, theirs = world.company.slug, world.other_company.slug
    addresses = [reverse("stop", args=[company, stop.pk]) for company in (ours, theirs)]
    addresses += [reverse(name, args=[ours]) for name in ("work", "stops", "stops-sheets")]
    for role in ("other-dispatcher", "coordinator"):
        signed_in(client, world, role)
        assert {client.get(each).status_code for each in addresses} == {404}, role
        for company in (ours, theirs):
            assert client.post(reverse("order-stop", args=[company, stop.pk])).status_code == 404, role
    stop.refresh_from_db()
    for address in (reverse("agree-stop", args=["first", stop.pk]), called_off(agreed)):
        assert client.get(address).status_code == 404, "a coordinator has no stop of it"


def test_stores_look_and_plan_nothing(client, world):
    row = fault(world)
    stop = given(signed_in(client, world, "dispatcher"), world, row)
    signed_in(client, world, "stores")
    assert work(client, world).status_code == 200
    assert work(client, world, clinic="first").status_code == 403
    assert client.post(reverse("stop", args=[world.company.slug, stop.pk]), {"do": "off"}).status_code == 403
    assert client.post(reverse("order-stop", args=[world.company.slug, stop.pk])).status_code == 403


def test_queries_do_not_grow_with_what_is_owed(client, world, django_assert_max_num_queries):
    two_stops(client, world)
    for name, query in (("work", {}), ("stops", {"on": TOMORROW})):
        address = reverse(name, args=[world.company.slug])
        client.get(address, query)
        with django_assert_max_num_queries(MOST_QUERIES):
            assert client.get(address, query).status_code == 200
