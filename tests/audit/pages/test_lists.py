"""Lists on screen and as files: the same rows and words, real days and numbers, no formula out of what was typed."""

from __future__ import annotations

import csv
from datetime import date, datetime, timedelta
from io import BytesIO, StringIO

import pytest
from django.urls import reverse
from openpyxl import load_workbook

from audit.pages import lists as pages
from audit.pages import round_read
from audit.pages.table_files import csv_of, workbook
from audit.planning.lists import KINDS, Month
from records import log
from records.models import Position
from tests import world as made
from tests.audit.pages.test_round import due_on, second_clinic
from tests.audit.pages.test_work import fault
from tests.audit.pages.tools import signed_in, text_of
from tests.budget import MOST_QUERIES

pytestmark = pytest.mark.django_db
EVIL = "=HYPERLINK(1)"


@pytest.fixture(autouse=True)
def _nothing_kept():
    round_read.kept.clear()


@pytest.fixture
def worked(world):
    """A seal that is overdue, a filter that is due, a fault, and a visit of this month that fitted a part."""
    due_on(world, date(2026, 3, 6))
    due_on(world, date(2026, 4, 6), "replace-air-filter")
    fault(world, what=EVIL)
    position = Position.objects.get(unit=world.unit, code="air-filter")
    part = {
        "name": "@Invented filter", "number": "-7", "lot": "2026-03-01", "lot_state": "printed",
        "receipt_lot": "R1", "expiry": date(2027, 1, 31), "quantity": 2, "action": "replaced on condition",
        "old_part": "scrapped",
    }  # fmt: skip
    outcome = {"action": "clean", "position": position, "outcome": "done", "found": "dusty"}
    job = {
        "unit": world.unit, "reason": "planned", "contamination": "declared clean", "parts": [part],
        "outcomes": [outcome], "conclusion": {"conclusion": "not released", "reason": "told why"},
    }  # fmt: skip
    log.log_visit(
        by=world.people["technician"], request_key=made.key(), clinic=world.clinic, on=made.TODAY, jobs=[job]
    )
    return world


def address(world, of: str, kind: str, ending: str = "", **query) -> str:
    slug = (world.clinic if of == "clinic" else world.company).slug
    place = (
        reverse(f"{of}-list-file", args=[slug, kind, ending]) if ending else reverse(f"{of}-list", args=[slug, kind])
    )
    return place + ("?" + "&".join(f"{k}={v}" for k, v in query.items()) if query else "")


def of_csv(answer) -> list[list[str]]:
    assert answer["Content-Type"].startswith("text/csv") and answer.content.startswith(b"\xef\xbb\xbf")
    return list(csv.reader(StringIO(answer.content.decode("utf-8-sig"))))


def of_xlsx(answer) -> list[list]:
    body = answer.content if hasattr(answer, "content") else answer
    sheet = load_workbook(BytesIO(body)).active
    assert not [cell for row in sheet.iter_rows() for cell in row if cell.data_type == "f"], "a formula"
    return [list(row) for row in sheet.iter_rows(values_only=True)]


def of_page(answer) -> list[list[str]]:
    return [list(answer.context["heads"]), *([text for _, text, _ in row] for row in answer.context["rows"])]


@pytest.mark.parametrize("of", ["clinic", "company"])
@pytest.mark.parametrize("kind", KINDS)
def test_page_and_files_hold_the_same_rows_and_words(client, worked, of, kind):
    signed_in(client, worked, "technician")
    shown = of_page(client.get(address(worked, of, kind)))
    assert len(shown) > 1 and {len(row) for row in shown} == {len(shown[0])}
    as_csv = of_csv(client.get(address(worked, of, kind, "csv")))
    neutral = [[cell[1:] if cell[:1] == "'" else cell for cell in row] for row in as_csv]
    assert neutral == [[str(cell) for cell in row] for row in shown]
    as_xlsx = of_xlsx(client.get(address(worked, of, kind, "xlsx")))

    def text(cell) -> str:
        return pages.day_text(cell.date()) if isinstance(cell, datetime) else "" if cell is None else str(cell)

    assert [[text(cell) for cell in row] for row in as_xlsx] == as_csv_without(as_csv)


def as_csv_without(rows) -> list[list[str]]:
    """A workbook has no need of the apostrophe."""
    return [[cell[1:] if cell[:1] == "'" else cell for cell in row] for row in rows]


def test_what_stands_in_each_list(client, worked):
    signed_in(client, worked, "technician")

    def column(kind, head, of="company"):
        heads, *rows = of_page(client.get(address(worked, of, kind)))
        return [row[heads.index(head)] for row in rows]

    late = column("overdue", "work")
    assert late == [f"Fault reported: {EVIL}", "Return visit: left out of use on 16 Mar 2026, told why",
                    "Replace cassette seal"]  # fmt: skip
    assert column("due", "work") == ["Replace air filter"] and column("due", "due on") == ["6 Apr 2026"]
    assert column("done", "work") == ["clean, Air filter"] and column("done", "how it ended") == ["not released"]
    assert column("parts", "part") == ["@Invented filter"] and column("parts", "how many") == [2]
    assert column("parts", "lot") == ["2026-03-01"], "a lot that reads like a day stays as it was typed"
    own = column("overdue", "work", "clinic") + column("due", "work", "clinic")
    assert set(late) < set(own) and any("spore" in each.lower() for each in own), "what its users do is due there too"


def test_a_workbook_has_real_days_and_numbers_and_a_file_of_commas_the_clinics_writing(client, worked):
    worked.clinic.written = "kPa.C.dmy"
    worked.clinic.save()
    signed_in(client, worked, "viewer")
    heads, row = of_xlsx(client.get(address(worked, "clinic", "parts", "xlsx")))
    said = dict(zip(heads, row, strict=True))
    days = [said[name].date() for name in ("day", "to be fitted by")]
    assert (days, said["how many"]) == ([date(2026, 3, 16), date(2027, 1, 31)], 2)
    assert isinstance(said["lot"], str) and said["from kit"] is None
    sheet = load_workbook(BytesIO(client.get(address(worked, "clinic", "parts", "xlsx")).content)).active
    assert sheet["D2"].number_format == "dd/mm/yyyy" and sheet.freeze_panes == "A2"
    heads, row = of_csv(client.get(address(worked, "clinic", "parts", "csv")))
    said = dict(zip(heads, row, strict=True))
    assert (said["day"], said["to be fitted by"], said["how many"]) == ("16/03/2026", "31/01/2027", "2")


@pytest.mark.parametrize("typed", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "=cmd|' /C calc'!A0"])
def test_nothing_typed_becomes_a_formula(typed):
    rows = [(typed, 3, date(2026, 3, 1), None)]
    heads = ("a", "b", "c", typed)
    text = csv_of(heads, rows).decode("utf-8-sig")
    table = list(csv.reader(StringIO(text, newline="")))
    assert table[1][0] == f"'{typed}" and table[0][3] == f"'{typed}"
    (head, row) = of_xlsx(workbook("x", heads, rows))
    assert str(row[0]).strip() == typed.strip() and row[1] == 3 and head[3].strip() == typed.strip()
    cell = load_workbook(BytesIO(workbook("x", heads, rows))).active["A2"]
    assert cell.data_type == "s" and cell.quotePrefix


def test_characters_that_a_workbook_cannot_hold_are_left_out():
    assert of_xlsx(workbook("x", ["a"], [["be\x07ll"]])) == [["a"], ["bell"]]


@pytest.mark.parametrize("bad", ["2026-13", "2026", "March", "2026-03-01", "2026-3", "=1"])
def test_a_month_that_is_none_is_said_and_gives_no_file(client, worked, bad):
    signed_in(client, worked, "technician")
    for of in ("clinic", "company"):
        for ending in ("", "csv", "xlsx"):
            answer = client.get(address(worked, of, "done", ending, month=bad))
            assert answer.status_code == 400 and "is not a month" in text_of(answer)


def test_a_month_holds_its_first_and_last_day():
    month = Month.read("2026-02")
    days = [date(2026, 1, 31), date(2026, 2, 1), date(2026, 2, 28), date(2026, 3, 1)]
    assert [day in month for day in days] == [False, True, True, False]
    assert (str(month.before), str(month.after), str(Month.read("2025-12").after)) == (
        "2026-01",
        "2026-03",
        "2026-01",
    )


def test_last_month_holds_nothing_of_this_one(client, worked):
    signed_in(client, worked, "technician")
    assert of_page(client.get(address(worked, "company", "done", month="2026-02")))[1:] == []
    assert len(of_page(client.get(address(worked, "company", "done", month="2026-03")))) == 2


def test_a_company_lists_only_what_it_did_itself(client, worked):
    job = {"unit": worked.unit, "reason": "planned", "contamination": "declared clean",
           "conclusion": {"conclusion": "released"}}  # fmt: skip
    log.log_visit(
        by=worked.people["coordinator"], request_key=made.key(), clinic=worked.clinic, on=made.TODAY, jobs=[job]
    )
    signed_in(client, worked, "technician")
    assert len(of_page(client.get(address(worked, "company", "done")))) == 2
    assert len(of_page(client.get(address(worked, "clinic", "done")))) == 3


def test_no_file_while_a_clinic_is_still_to_be_judged(client, worked, monkeypatch):
    second_clinic(worked)
    signed_in(client, worked, "technician")
    whole = round_read.read_works
    monkeypatch.setattr(pages, "read_works", lambda clinics: whole(clinics, at_most=0))
    answer = client.get(address(worked, "company", "due", "csv"))
    assert answer.status_code == 503 and "still being judged: First Clinic" in text_of(answer)
    assert "text/csv" not in answer["Content-Type"] and answer["Retry-After"] == "5"


@pytest.mark.parametrize("role", ["other-coordinator", "other-dispatcher", "nobody"])
def test_strangers_find_no_list(client, worked, role):
    signed_in(client, worked, role)
    for of in ("clinic", "company"):
        for ending in ("", "csv", "xlsx"):
            assert client.get(address(worked, of, "due", ending)).status_code == 404
    signed_in(client, worked, "technician")
    for wrong in ("nothing/", "due.pdf", "nothing.csv"):
        for place in ("clinic/first", "company/keepers"):
            assert client.get(f"/{place}/lists/{wrong}").status_code == 404, wrong
    assert client.post(address(worked, "company", "due")).status_code == 405


def test_queries_do_not_grow_with_clinics_and_their_work(client, worked, django_assert_max_num_queries):
    signed_in(client, worked, "technician")
    for grown in (False, True):
        if grown:
            clinic, unit = second_clinic(worked)
            for n in range(3):
                fault(worked, clinic=clinic, unit=unit, what=f"it leaks {n}", on=made.TODAY - timedelta(days=n))
        for of in ("clinic", "company"):
            for kind in KINDS:
                client.get(address(worked, of, kind))
                with django_assert_max_num_queries(MOST_QUERIES):
                    assert client.get(address(worked, of, kind, "csv")).status_code == 200
