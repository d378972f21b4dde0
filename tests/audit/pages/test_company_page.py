"""The company's page: the list of units, its filters and its pages."""

from __future__ import annotations

import csv
import re
from datetime import date
from io import BytesIO, StringIO

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from records import log
from tests import world as made
from tests.audit.pages.tools import get, signed_in, text_of

pytestmark = pytest.mark.django_db


def test_the_company_page_lists_units_and_filters_by_the_address(client):
    world = made.make(units=3)
    made.spore_test(world, date(2026, 3, 9), test="growth", unit=world.units[1])
    made.spore_test(world, date(2026, 3, 9), unit=world.units[2])
    made.spore_test(world, made.TODAY, test="", unit=world.units[2])
    signed_in(client, world, "dispatcher")

    def shown(**query):
        return [row.record.label for row in get(client, "company", "keepers", **query).context["table"].rows]

    assert sorted(shown()) == ["Unit 1", "Unit 2", "Unit 3"]
    assert shown(word="Out of service") == ["Unit 2"]
    assert shown(q="unit 3 first") == ["Unit 3"]
    assert shown(q="nothing like it") == []
    assert sorted(shown(clinic="first")) == ["Unit 1", "Unit 2", "Unit 3"]
    assert "Unit 1" in shown(due="past") and "Unit 3" not in shown(due="past")
    assert shown(due="2026-03", q="Unit 3") == ["Unit 3"]
    page = get(client, "company", "keepers", word="Out of service", q="unit")
    assert 'value="unit"' in page.content.decode()
    assert re.search(r'<option value="Out of service" selected', page.content.decode())
    assert "Stranger" not in text_of(get(client, "company", "keepers"))


def test_a_clinic_without_a_listed_unit_is_named_and_not_passed_over(client, world):
    empty = made.clinic_of(world.people["coordinator"], "empty", "Empty Clinic")
    log.log_agreement(
        by=world.people["coordinator"], request_key=made.key(), clinic=empty, company=world.company,
        effective_on=made.BEGIN,
    )  # fmt: skip
    seen = text_of(get(signed_in(client, world, "dispatcher"), "company", "keepers"))
    assert "No unit is listed yet for Empty Clinic" in seen


@pytest.mark.parametrize("query", [{}, {"word": "Out of service", "q": "unit"}])
def test_a_company_whose_clinics_have_no_unit_is_told_so_not_that_none_fits(client, world, query):
    """No choice was made that could be cleared, or none that matters: there is nothing to narrow yet."""
    person = made.account("newcomer", "New", "Comer")
    company = log.open_company(
        by=person, request_key=made.key(), slug="starters", name="Starters", effective_on=made.BEGIN
    )
    empty = made.clinic_of(world.people["coordinator"], "empty", "Empty Clinic")
    log.log_agreement(
        by=world.people["coordinator"], request_key=made.key(), clinic=empty, company=company,
        effective_on=made.BEGIN,
    )  # fmt: skip
    client.force_login(person)
    page = get(client, "company", "starters", **query)
    seen = text_of(page)
    assert "No unit has an answer here yet. Either none is registered at the clinic, or" in seen
    assert "No unit fits these choices" not in seen and "Show these" not in seen
    assert reverse("clinic", args=["empty"]) in page.content.decode(), "the way to register one"


def test_a_choice_that_no_unit_fits_still_says_so(client, world):
    seen = text_of(get(signed_in(client, world, "dispatcher"), "company", "keepers", q="nothing like it"))
    assert "No unit fits these choices. Clear one of them to see more." in seen


def test_choices_that_do_not_exist_are_told_and_never_a_fault(client, world):
    signed_in(client, world, "dispatcher")
    answer = get(client, "company", "keepers", word="Golden", due="2026-99", clinic="other", sort="reason", page="x")
    assert answer.status_code == 200
    assert "Golden is not one of the available choices" in text_of(answer)


def test_a_long_list_has_pages_that_keep_the_filter(client):
    from audit.pages import company

    world = made.make(units=4)
    signed_in(client, world, "dispatcher")
    whole = company.PER_PAGE
    company.PER_PAGE = 3
    try:
        page = get(client, "company", "keepers", q="Unit", sort="label")
    finally:
        company.PER_PAGE = whole
    assert "Page 1 of 2, 4 lines" in text_of(page)
    assert re.search(r'rel="next" href="\?[^"]*q=Unit[^"]*page=2|rel="next" href="\?[^"]*page=2[^"]*q=Unit',
                     page.content.decode())  # fmt: skip


def test_the_list_as_it_is_narrowed_and_sorted_is_a_file(client):
    world = made.make(units=3)
    made.spore_test(world, date(2026, 3, 9), test="growth", unit=world.units[1])
    signed_in(client, world, "dispatcher")

    def rows(ending="csv", **query):
        body = get(client, "company-units-file", "keepers", ending, **query).content
        if ending == "xlsx":
            return [[cell.value for cell in row] for row in load_workbook(BytesIO(body)).active.iter_rows()]
        return list(csv.DictReader(StringIO(body.decode("utf-8-sig"))))

    assert [row["unit"] for row in rows(sort="-label")] == ["Unit 3", "Unit 2", "Unit 1"]
    [row] = rows(word="Out of service")
    assert (row["unit"], row["clinic"], row["may it be used"]) == ("Unit 2", "First Clinic", "Out of service")
    assert row["why"] and row["open items"] != "0" and row["answer as of"]
    assert rows(q="nothing like it") == []
    heads, only = rows("xlsx", word="Out of service")
    assert only[heads.index("unit")] == "Unit 2" and only[heads.index("open items")] == int(row["open items"])
    page = get(client, "company", "keepers", word="Out of service").content.decode()
    assert "/company/keepers/units.csv?word=Out+of+service" in page
    assert get(client, "company-units-file", "keepers", "pdf").status_code == 404
    assert get(client, "company-units-file", "keepers", "csv", due="never").status_code == 302
    signed_in(client, world, "other-dispatcher")
    assert get(client, "company-units-file", "keepers", "csv").status_code == 404
