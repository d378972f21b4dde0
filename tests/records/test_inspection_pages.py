"""Pages of inspections: what was typed is what is recorded, also when it is sent twice or refused."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from records.models import Inspection, InspectionPoint, PointMet
from tests import world as made

pytestmark = pytest.mark.django_db
DAY = made.TODAY - timedelta(days=20)
DUE = DAY + timedelta(days=15)
SAID = {
    "on": DAY.isoformat(), "visitor": "Iva Inspector", "office": "Invented Board", "occasion": "yearly",
    "asked": "the loads of a week", "what": "hang up the certificate\n\n  label the racks \n",
    "due_on": DUE.isoformat(),
}  # fmt: skip


def address(world, name, *about) -> str:
    return reverse(name, args=[world.clinic.slug, *about])


def of_clinic(browser) -> str:
    return browser.get(reverse("clinic", args=["first"])).content.decode()


@pytest.fixture
def browser(client, world):
    client.force_login(world.people["coordinator"])
    return client


def sent(browser, world, **changes):
    values = {"request_key": str(made.key())} | SAID | changes
    return browser.post(address(world, "log-inspection"), values)


def test_an_inspection_and_its_points_are_recorded_as_typed_and_stand_on_the_list(browser, world):
    answer = sent(browser, world)
    assert answer.status_code == 302 and answer.url == address(world, "inspections")
    row = Inspection.objects.get()
    told = (row.happened_on, row.visitor.value, row.office, row.occasion, row.asked)
    assert told == (DAY, "Iva Inspector", "Invented Board", "yearly", "the loads of a week")
    points = InspectionPoint.objects.order_by("id").values_list("what", "due_on")
    assert list(points) == [("hang up the certificate", DUE), ("label the racks", DUE)]
    page = browser.get(answer.url).content.decode()
    assert "Invented Board" in page and page.count("<strong>Overdue</strong>") == 2
    assert of_clinic(browser).count("Asked to be corrected at the inspection of") == 2


def test_the_same_form_sent_twice_is_one_inspection(browser, world):
    key = str(made.key())
    assert sent(browser, world, request_key=key).status_code == 302
    assert sent(browser, world, request_key=key).status_code == 302
    assert (Inspection.objects.count(), InspectionPoint.objects.count()) == (1, 2)
    assert sent(browser, world, request_key=key, office="Another Board").status_code == 409
    assert Inspection.objects.get().office == "Invented Board"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"visitor": ""}, "id_visitor"),
        ({"on": (made.TODAY + timedelta(days=1)).isoformat()}, "is in the future"),
        ({"due_on": (DAY - timedelta(days=1)).isoformat()}, "the day of the inspection"),
        ({"what": "", "due_on": DUE.isoformat()}, "A day for which points?"),
        ({"what": "a\n" + "b" * 1001}, "Point 2 has more than 1000 letters"),
    ],
)
def test_what_is_refused_comes_back_as_typed(browser, world, changes, words):
    answer = sent(browser, world, **changes)
    page = answer.content.decode()
    assert answer.status_code == 422 and words in page
    assert all(value in page for name, value in (SAID | changes).items() if name in ("office", "asked") and value)
    assert not Inspection.objects.exists()


def test_a_point_is_added_then_met_with_what_was_done_and_is_no_open_item_any_more(browser, world):
    sent(browser, world, what="hang up the certificate")
    row = Inspection.objects.get()
    more = {
        "on": DAY.isoformat(),
        "what": "test the alarm",
        "unit": str(world.unit.ref),
        "citation": "Invented code 9",
    }
    added = browser.post(
        address(world, "log-inspection-point", row.origin), {"request_key": str(made.key()), "due_on": ""} | more
    )
    assert added.status_code == 302
    point = InspectionPoint.objects.get(what="test the alarm")
    assert (point.unit, point.citation, point.due_on, point.inspection) == (world.unit, "Invented code 9", None, row)
    assert "test the alarm" in of_clinic(browser)
    done = {"request_key": str(made.key()), "on": DUE.isoformat(), "outcome": "it sounds", "done_by": "Pat Doer"}
    address_of_point = address(world, "point-met", point.origin)
    assert browser.post(address_of_point, done).status_code == 302
    met = PointMet.objects.get()
    assert (met.outcome, met.done_by.value, met.happened_on) == ("it sounds", "Pat Doer", DUE)
    assert "test the alarm" not in of_clinic(browser)
    assert "Corrected on" in browser.get(address(world, "inspections")).content.decode()
    again = browser.post(address_of_point, done | {"request_key": str(made.key())})
    assert again.status_code == 422 and "met already" in again.content.decode()


def test_an_empty_list_says_what_it_is_for(browser, world):
    page = browser.get(address(world, "inspections")).content.decode()
    assert "No inspection is on record" in page and address(world, "log-inspection") in page
