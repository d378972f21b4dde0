"""The round of a company: weeks, clinics, what narrows it, parts to bring, job sheets, how many queries."""

from __future__ import annotations

import html
import io
import re
from datetime import date, timedelta

import pytest
from django.urls import reverse
from pypdf import PdfReader

from audit.pages import round as round_views
from audit.pages import round_read
from records import log
from records.models import Part, PlanLine, Position
from tests import world as made
from tests.audit.pages.tools import get, signed_in, text_of
from tests.budget import MOST_QUERIES
from tests.records import template_world

pytestmark = pytest.mark.django_db
THIS_WEEK = "2026-03-16"


@pytest.fixture(autouse=True)
def _nothing_kept():
    round_read.kept.clear()


def due_on(world, day: date, code="replace-seal", unit=None, by="coordinator", clinic=None):
    """The line falls due on that day: it counts from the installation, in months."""
    unit = unit or world.unit
    line = PlanLine.objects.filter(unit=unit, code=code).last()
    months = (day.year - made.BEGIN.year) * 12 + day.month - made.BEGIN.month
    assert day.day == made.BEGIN.day, "the lines count from the installation by whole months"
    log.log_plan_line(
        by=world.people[by], request_key=made.key(), clinic=clinic or world.clinic, unit=unit,
        effective_on=made.TODAY, position=line.position, code=code, title=line.title, action=line.action,
        months=months, source="Invented manual",
    )  # fmt: skip


def second_clinic(world):
    """Served by the same company, with a unit of its own."""
    clinic = made.clinic_of(world.people["coordinator"], "second", "Second Clinic")
    unit = made.unit_at(clinic, world.people["coordinator"], "Away")
    log.log_agreement(
        by=world.people["coordinator"], request_key=made.key(), clinic=clinic, company=world.company,
        effective_on=made.BEGIN,
    )  # fmt: skip
    return clinic, unit


def stops(answer) -> dict[str, list[str]]:
    return {
        week.start.isoformat(): [f"{s.name}: {', '.join(i.title for i in s.items)}" for s in week.stops]
        for week in answer.context["weeks"]
        if week.stops
    }


def test_weeks_hold_clinics_with_their_work_and_what_can_be_done_early(client, world):
    due_on(world, date(2026, 3, 6))  # overdue
    due_on(world, date(2026, 4, 6), "replace-air-filter")
    clinic, unit = second_clinic(world)
    due_on(world, date(2026, 5, 6), unit=unit, clinic=clinic)
    signed_in(client, world, "technician")
    page = get(client, "round", "keepers")
    assert stops(page) == {
        THIS_WEEK: ["First Clinic: Replace cassette seal, Replace air filter"],
        "2026-05-04": ["Second Clinic: Replace cassette seal"],
    }
    seen = text_of(page)
    assert "of which none is planned: renew now, or make an extra stop" in seen and "saves 1 stop." in seen
    assert "Overdue" in seen
    apart = get(client, "round", "keepers", early="0")
    assert stops(apart)["2026-04-06"] == ["First Clinic: Replace air filter"]


def test_what_narrows_the_round_stands_in_the_address(client, world):
    made.seal_replaced(world, date(2026, 2, 2))
    clinic, unit = second_clinic(world)
    due_on(world, date(2026, 5, 6), unit=unit, clinic=clinic)
    due_on(world, date(2026, 4, 6), "replace-air-filter")
    signed_in(client, world, "dispatcher")
    assert list(stops(get(client, "round", "keepers", clinic="second"))) == ["2026-05-04"]
    assert list(stops(get(client, "round", "keepers", technician="Pat Technician"))) == ["2026-04-06"]
    page = get(client, "round", "keepers", clinic="second", week="2026-05-06", early="0")
    assert [part["week"].start.isoformat() for part in page.context["shown"]] == ["2026-05-04"]
    links = re.findall(r'href="\?([^"]*week=[^"]*)"', page.content.decode())
    assert links and all("clinic=second" in link and "early=0" in link for link in links)
    assert '<option value="second" selected>' in page.content.decode()


def test_from_a_job_one_gets_into_the_visit_with_its_units_chosen(client, world):
    due_on(world, date(2026, 3, 6))
    other = made.unit_at(world.clinic, world.people["coordinator"], "Calm")
    due_on(world, date(2026, 4, 6), unit=other)
    signed_in(client, world, "technician")
    page = get(client, "round", "keepers").content.decode()
    begin = reverse("visit-begin", args=["first"])
    links = [html.unescape(link) for link in re.findall(rf'href="({begin}[^"]*)"', page)]
    one, another = f"unit={world.unit.ref}", f"unit={other.ref}"
    assert links == [f"{begin}?{one}", f"{begin}?{another}", f"{begin}?{one}&{another}"]
    for link, chosen in zip(links, (1, 1, 2), strict=True):
        assert client.get(link).content.decode().count(" checked") == chosen
    stores = get(signed_in(client, world, "stores"), "round", "keepers").content.decode()
    assert begin not in stores  # stores record no visit


def test_choices_that_do_not_exist_are_told_and_never_a_fault(client, world):
    signed_in(client, world, "dispatcher")
    answer = get(client, "round", "keepers", clinic="other", early="99", week="never", technician="X")
    seen = text_of(answer)
    assert answer.status_code == 200 and "not served by this company" in seen and "28 is used" in seen
    assert "not a day of the calendar" in seen
    assert "not among the next twelve" in text_of(get(client, "round", "keepers", week="2027-01-04"))


def test_parts_come_from_what_is_fitted_and_lots_from_the_books(client, world):
    made.seal_replaced(world, date(2026, 2, 2))
    position = Position.objects.get(unit=world.unit, code="air-filter")
    log.log_fit(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit,
        position=position, state="unknown", effective_on=made.TODAY,
    )  # fmt: skip
    due_on(world, date(2026, 3, 6), "replace-air-filter")
    line = PlanLine.objects.filter(unit=world.unit, code="replace-seal").last()
    log.log_plan_line(
        by=world.people["coordinator"], request_key=made.key(), clinic=world.clinic, unit=world.unit,
        effective_on=made.TODAY, position=line.position, code="replace-seal", title="Replace cassette seal",
        action="replace", months=1, source="Invented manual",
    )  # fmt: skip
    stores = {"by": world.people["stores"], "owner": world.company}
    seal = log.log_part(request_key=made.key(), name="Cassette seal", component="seal", number="INV 77", **stores)
    log.log_part(request_key=made.key(), name="Air filter", component="air filter", number="INV-8", **stores)
    store = log.log_stock_place(request_key=made.key(), name="Store", kind="store", **stores)
    counted = {"R1": {"quantity": 5, "place": store}}
    for receipt, lot, expiry in (("R1", "S-9", None), ("R2", "S-10", None), ("R3", "S-8", made.TODAY)):
        log.log_part_lot(
            request_key=made.key(), part=seal, receipt_lot=receipt, lot=lot, on=made.TODAY, expiry=expiry, **stores,
            **counted.get(receipt, {}),
        )  # fmt: skip
    log.log_part_recall(
        by=world.people["stores"], request_key=made.key(), owner=world.company, on=made.TODAY, part="Cassette seal",
        number="INV-77", lot="S10", issued_by="Invented Parts", reason="soft", action="replace",
    )  # fmt: skip
    assert Part.objects.count() == 2
    page = get(signed_in(client, world, "stores"), "round-parts", "keepers", THIS_WEEK)
    lines = {line.name: line for line in page.context["lines"]}
    assert (lines["Cassette seal"].number, lines["Cassette seal"].quantity) == ("INV-77", 1)
    assert [lot.receipt_lot for lot in lines["Cassette seal"].lots] == ["R1"]
    assert [lot.receipt_lot for lot, _ in lines["Cassette seal"].barred] == ["R2", "R3"]
    seen = text_of(page)
    assert "receipt R1; Store: 5" in seen
    assert "fitted or not is unknown" in seen and "bring both" in seen
    assert "not lot S-10, receipt R2: part recall by Invented Parts: replace" in seen
    assert "out of date by then" in seen


def test_job_sheets_are_printed_for_the_units_with_work_of_one_clinic(client, world):
    other = made.unit_at(world.clinic, world.people["coordinator"], "Calm")
    due_on(world, date(2026, 3, 6))
    signed_in(client, world, "technician")
    query = {"clinic": "first", "on": "2026-03-17", "page": "a4"}
    answer = get(client, "round-sheets", "keepers", THIS_WEEK, **query)
    assert answer.headers["Content-Type"] == "application/pdf"
    words = "".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.content)).pages)
    assert "Unit 1" in words and "Calm" not in words and "Replace cassette seal" in words
    assert "Cassette Two" in words and other.label == "Calm"
    assert get(client, "round-sheets", "keepers", "2026-05-04", clinic="first").status_code == 404
    assert get(client, "round-sheets", "keepers", THIS_WEEK, clinic="other").status_code == 404
    refused = get(client, "round-sheets", "keepers", THIS_WEEK, clinic="first", on="someday")
    assert refused.status_code == 400 and "not a day that can be read" in text_of(refused)


@pytest.mark.parametrize("week", ["never", "2026-03-09", "2026-06-08"])
def test_a_week_outside_the_round_does_not_exist(client, world, week):
    assert get(signed_in(client, world, "technician"), "round-parts", "keepers", week).status_code == 404


def test_many_clinics_are_read_a_few_at_a_time_and_the_page_says_so(client, world, monkeypatch):
    second_clinic(world)
    monkeypatch.setattr(round_views, "read_works", lambda clinics: round_read.read_works(clinics, at_most=1))
    signed_in(client, world, "dispatcher")
    first = text_of(get(client, "round", "keepers"))
    assert "1 of 2 clinics are read" in first and "Second Clinic" in first
    assert "clinics are read" not in text_of(get(client, "round", "keepers"))


def test_a_new_entry_is_seen_at_once(client, world):
    signed_in(client, world, "technician")
    assert stops(get(client, "round", "keepers")) == {}
    assert "Nothing falls due" in text_of(get(client, "round", "keepers"))
    due_on(world, date(2026, 3, 6))
    assert list(stops(get(client, "round", "keepers"))) == [THIS_WEEK]


def test_a_company_without_a_clinic_learns_what_to_do(client, world):
    page = get(signed_in(client, world, "other-dispatcher"), "round", "strangers")
    assert "Offer a clinic an agreement" in text_of(page)


def test_a_round_that_was_read_takes_few_queries_whatever_its_size(client, world, django_assert_max_num_queries):
    due_on(world, date(2026, 3, 6))
    signed_in(client, world, "dispatcher")
    address = reverse("round", args=["keepers"])

    def taken() -> int:
        client.get(address)
        with django_assert_max_num_queries(MOST_QUERIES) as queries:
            assert client.get(address).status_code == 200
        return len(queries.captured_queries)

    small = taken()
    clinic, unit = second_clinic(world)
    due_on(world, date(2026, 5, 6), unit=unit, clinic=clinic)
    for n in (2, 3):
        made.unit_at(world.clinic, world.people["coordinator"], f"Unit {n}")
    assert taken() == small


def test_the_board_narrows_by_type_and_by_a_day_and_keeps_it_in_the_address(client, world):
    made.unit_at(world.clinic, world.people["coordinator"], "Big", equipment_type="gravity")
    signed_in(client, world, "dispatcher")

    def shown(**query):
        return [row.record.label for row in get(client, "company", "keepers", **query).context["table"].rows]

    assert shown(type="gravity") == ["Big"]
    assert sorted(shown(type="cassette")) == ["Unit 1"]
    assert shown(before=str(made.TODAY - timedelta(days=3000))) == []
    assert sorted(shown(before="2027-12-31")) == ["Big", "Unit 1"]
    page = get(client, "company", "keepers", type="gravity", before="2027-12-31").content.decode()
    assert '<option value="gravity" selected' in page and 'value="2027-12-31"' in page
    assert "Enter a valid date" in get(client, "company", "keepers", before="x").content.decode()


def test_the_part_that_a_template_gave_the_unit_is_on_the_list_before_one_was_ever_fitted(client, world):
    template = template_world.template_of(world, known=template_world.parts_of(world))
    unit = template_world.registered(world, template)
    due_on(world, date(2026, 4, 6), unit=unit, by="technician")
    answer = get(signed_in(client, world, "dispatcher"), "round", world.company.slug)
    shown = text_of(answer)
    assert "Cassette seal" in shown and "INV-77" in shown
    assert "stated for the unit, and no part is on record at this position" in shown.lower()
