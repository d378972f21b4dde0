"""A second tap, two people, a fault half-way: an agreed visit and its plan stay one, and who comes second is told.

| what | answer | entries | plan |
| --- | --- | --- | --- |
| agreed, the same form again | on record already | 1 | as agreed |
| agreed, the same form again after it was moved | on record already | 2 | as moved |
| agreed by two people from two forms | the second: agreed meanwhile, for which day and by whom | 1 | as the first |
| called off, the same form again | on record already | 1 | gone |
| called off by two people | the second: called off already, by whom and why | 1 | gone |
| the plan cannot be written | nothing is recorded | 0 | as before |
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.urls import reverse

from audit.models import PlannedStop
from audit.pages import stops_agreed
from records import clock
from records.models import Entry, ServiceCompany, StockPlace, VisitAgreed, VisitCalledOff
from tests import world as made
from tests.audit.pages.test_work import TOMORROW, agreed_for, called_off, fault, given
from tests.audit.pages.tools import signed_in, text_of

pytestmark = pytest.mark.django_db
AGREED = {"agreed_with": "Rae Reception", "how": "telephone", "on": made.TODAY, "visit_on": TOMORROW}
OFF = {"told_to": "Rae", "how": "message", "reason": "a towel", "on": made.TODAY}


@pytest.fixture
def stop(client, world):
    return given(signed_in(client, world, "dispatcher"), world, fault(world))


def address(stop) -> str:
    return reverse("agree-stop", args=["first", stop.pk])


def test_a_second_tap_agrees_once(client, stop):
    form = AGREED | {"request_key": made.key(), "hour": "10:00"}
    first, second = (client.post(address(stop), form) for _ in range(2))
    assert (first.status_code, second.status_code) == (302, 302) and first["Location"] == second["Location"]
    assert "already recorded" in text_of(client.get(second["Location"]))
    stop.refresh_from_db()
    assert VisitAgreed.objects.count() == 1 and (stop.agreed, stop.hour) == (
        VisitAgreed.objects.get().origin,
        "10:00",
    )


def test_a_late_repeat_does_not_undo_a_move_or_a_calling_off(client, stop):
    form = AGREED | {"request_key": made.key()}
    client.post(address(stop), form)
    first, later = VisitAgreed.objects.get(), TOMORROW + timedelta(days=2)
    moved = agreed_for(client, stop, later, instead_of=first.origin, reason="patients all day")
    assert client.post(address(stop), form).status_code == 302
    stop.refresh_from_db()
    assert (stop.on, stop.agreed, VisitAgreed.objects.count()) == (later, moved.origin, 2)
    client.post(called_off(moved), OFF | {"request_key": made.key()})
    answer = client.post(address(stop), form, follow=True)
    assert "Since then it was moved to" in text_of(answer) and not PlannedStop.objects.exists()


def test_two_people_agree_and_the_second_is_told(client, stop):
    first = agreed_for(client, stop)
    other = AGREED | {"request_key": made.key(), "visit_on": TOMORROW + timedelta(days=1), "instead_of": ""}
    answer = client.post(address(stop), other)
    assert answer.status_code == 422 and VisitAgreed.objects.get() == first
    seen = text_of(answer)
    assert f"Meanwhile this visit is agreed for {TOMORROW}" in seen and "with Rae" in seen
    stop.refresh_from_db()
    assert stop.on == TOMORROW


def test_called_off_twice_says_that_it_is_called_off(client, stop):
    agreed = agreed_for(client, stop)
    page, form = called_off(agreed), OFF | {"request_key": made.key()}
    assert [client.post(page, form).status_code for _ in range(2)] == [302, 302], "a second tap"
    for answer in (client.get(page), client.post(page, OFF | {"request_key": made.key()})):
        seen = text_of(answer)
        assert "called off already" in seen and "a towel" in seen and "Nothing was recorded now" in seen
    assert answer.status_code == 409 and VisitCalledOff.objects.count() == 1 and not PlannedStop.objects.exists()


def test_a_visit_that_was_moved_is_not_called_off_by_its_old_address(client, stop):
    first = agreed_for(client, stop)
    moved = agreed_for(client, stop, TOMORROW + timedelta(days=1), instead_of=first.origin, reason="patients")
    answer = client.post(called_off(first), OFF | {"request_key": made.key()})
    assert answer.status_code == 409 and "moved already" in text_of(answer)
    stop.refresh_from_db()
    assert stop.agreed == moved.origin and not VisitCalledOff.objects.exists()


@pytest.mark.parametrize("broken", ["change", "delete"])
def test_fact_and_plan_are_one_transaction(client, stop, monkeypatch, broken):
    def fail(*_, **__):
        raise RuntimeError("the disk is full")

    page, form = address(stop), AGREED
    if broken == "delete":
        page, form = called_off(agreed_for(client, stop)), OFF
        monkeypatch.setattr("django.db.models.query.QuerySet.delete", fail)
    else:
        monkeypatch.setattr(stops_agreed, "change", fail)
    before = Entry.objects.count(), PlannedStop.objects.values().get()
    with pytest.raises(RuntimeError):
        client.post(page, form | {"request_key": made.key()})
    assert (Entry.objects.count(), PlannedStop.objects.values().get()) == before


# ------------------------------------------------------------------------------------------- the company's day

NIGHT = datetime(2026, 3, 19, 3, 30, tzinfo=UTC)  # still the 18th in Chicago, the 19th in Dublin


@pytest.mark.parametrize(
    ("zone", "day"), [("", "2026-03-19"), ("America/Chicago", "2026-03-18"), ("Pacific/Auckland", "2026-03-19")]
)
def test_stops_and_books_open_on_the_companys_own_day(client, world, zone, day):
    ServiceCompany.objects.filter(pk=world.company.pk).update(time_zone=zone)
    with clock.at(NIGHT):
        signed_in(client, world, "dispatcher")
        assert client.get(reverse("stops", args=[world.company.slug])).context["day"].isoformat() == day
        assert client.get(reverse("stock", args=[world.company.slug])).context["today"].isoformat() == day
        form = {"request_key": made.key(), "name": "Store", "kind": "store"}
        assert client.post(reverse("add-stock-place", args=[world.company.slug]), form).status_code == 302
    row = StockPlace.objects.get()
    assert (row.happened_on.isoformat(), row.zone) == (day, zone or "UTC")


def test_who_manages_the_company_sets_its_day_and_a_wrong_zone_is_refused(client, world):
    page = reverse("company-day", args=[world.company.slug])
    signed_in(client, world, "technician")
    assert (
        client.get(page).status_code == 200 and client.post(page, {"time_zone": "Europe/Dublin"}).status_code == 403
    )
    signed_in(client, world, "dispatcher")
    refused = client.post(page, {"time_zone": "Europe/Dublim"})
    assert refused.status_code == 422 and "is not a time zone" in text_of(refused)
    assert client.post(page, {"time_zone": "Europe/Dublin"}).status_code == 302
    assert ServiceCompany.objects.get(pk=world.company.pk).time_zone == "Europe/Dublin"
    signed_in(client, world, "other-dispatcher")
    assert client.get(page).status_code == 404
