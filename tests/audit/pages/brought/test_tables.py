"""A table on its way into the record, page by page: chosen, its columns named, looked through, recorded."""

from __future__ import annotations

import csv
import io
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.urls import reverse
from openpyxl import Workbook

from audit.issue.jobs import tables, workers
from audit.models import BroughtTable, RememberedColumns
from records import clock
from records import models as m
from records.ledger import tamper_check
from tests import world as build

pytestmark = pytest.mark.django_db


@pytest.fixture
def world():
    with clock.at(build.NOW):
        yield build.make(units=2)


@pytest.fixture
def bring(client, world):
    """Send a file, then whatever the page of its columns is to be told; the table as it then stands."""
    client.force_login(world.people["coordinator"])

    def do(content: bytes | str, kind="spore-tests", name="log.csv", **said):
        body = content.encode() if isinstance(content, str) else content
        file = SimpleUploadedFile(name, body)
        answer = client.post(reverse("tables-in", args=["first"]), {"kind": kind, "file": file})
        assert answer.status_code == 302, answer.content.decode()
        do.table = BroughtTable.objects.latest("pk")
        do.columns = client.get(answer.url)
        do.answer = client.post(answer.url, sent(do.table, **said))
        do.table.refresh_from_db()
        return do.table

    return do


def sent(table, **said) -> dict:
    """What the page of the columns sends where nothing on it is changed, but for `said`."""
    mapping = table.mapping
    data = {"sheet": mapping["sheet"], "order": mapping["order"], "decimal": mapping["decimal"], "who": "Old Hand"}
    data |= {f"column:{name}": n for name, n in mapping["columns"].items()}
    data |= {f"fixed:{name}": text for name, text in mapping["fixed"].items()}
    data |= {f"unit:{name}": unit for name, unit in mapping["units"].items()}
    return data | said


def act(client, table, **what):
    answer = client.post(reverse("table-in", args=["first", table.ref]), what)
    table.refresh_from_db()
    return answer


def page(client, table) -> str:
    return " ".join(client.get(reverse("table-in", args=["first", table.ref])).content.decode().split())


HEADS = "Sterilizer,Date,Lot,Control lot,Program,Read on,Result,Control,Operator\n"
WEEK = "Unit 1,2025-03-0{day},B-100,B-100,wrapped,2025-03-0{day},negative,positive,Ann Old\n"
GOOD = HEADS + "".join(WEEK.format(day=day) for day in (3, 4, 5))


def test_a_table_is_recorded_as_one_entry_with_its_source_named(client, world, bring):
    table = bring(GOOD, paper="log book 2, in the cellar")
    assert (table.state, table.found["right"], table.found["wrong"]) == ("judged", 3, [])
    assert m.BioTest.objects.count() == 0, "nothing is written before it is asked for"
    act(client, table, record="1")
    assert table.state == "done" and m.BioTest.objects.count() == m.BioReading.objects.count() == 3
    (entry,) = m.Entry.objects.filter(number__in=table.entries)
    assert entry.what == "spore tests from a table"
    assert entry.paper == "log book 2, in the cellar; table “log.csv”, sheet “log.csv”"
    assert {str(test.run_by) for test in m.BioTest.objects.all()} == {"Ann Old"}
    assert tamper_check.verify(world.clinic).whole
    assert "The rows are recorded" in page(client, table)
    assert RememberedColumns.objects.get().mapping["columns"] == table.mapping["columns"]


def test_the_same_rows_again_write_nothing(client, bring):
    act(client, bring(GOOD), record="1")
    numbers = m.Entry.objects.count()
    again = bring(GOOD, who="Somebody Else")
    assert (again.found["right"], again.found["known"]) == (0, 3)
    answer = act(client, again, record="1")
    assert answer.status_code == 422 and "There is nothing to record" in answer.content.decode()
    assert m.Entry.objects.count() == numbers
    more = bring(GOOD + WEEK.format(day=6))
    assert (more.found["right"], more.found["known"]) == (1, 3)
    act(client, more, record="1")
    assert m.BioTest.objects.count() == 4


def test_a_row_entered_in_error_does_not_come_back_with_its_table(client, world, bring):
    from records import log

    act(client, bring(GOOD), record="1")
    reading = m.BioReading.objects.order_by("pk").first()
    log.void(by=world.people["coordinator"], request_key=build.key(), row=reading, reason="another unit’s")
    assert bring(GOOD).found["right"] == 0


def test_every_fault_names_row_column_what_and_the_way_out_and_nothing_is_written(client, bring):
    bad = GOOD + "Unit 9,2025-03-06,B-100,B-100,wrapped,2025-03-07,negative,positive,Ann\n"
    bad += "Unit 1,2025-13-06,B-100,B-100,wrapped,2025-03-07,negative,positive,Ann\n"
    bad += "Unit 1,2026-03-17,B-100,B-100,wrapped,,,,Ann\n"
    bad += "Unit 1,2025-03-08,B-999,B-100,wrapped,2025-03-07,negative,positive,Ann\n"
    table = bring(bad)
    said = {(f["row"], f["column"], f["said"]): f["message"] for f in table.found["faults"]}
    assert said[5, "A", "Unit 9"].startswith("No unit stands here that is called “Unit 9”.")
    assert said[6, "B", "2025-13-06"] == (
        "“2025-13-06” is no day of the calendar. Look at the paper, and write year-month-day."
    )
    assert "is in the future (today is 2026-03-16)" in said[7, "B", "2026-03-17"]
    assert said[8, "C", "B-999"].startswith("No box of that kind is known here that is called “B-999”.")
    shown = page(client, table)
    assert "Column A, Unit" in shown and "Register the unit “Unit 9”" in shown and "Add the box “B-999”" in shown
    answer = act(client, table, record="1")
    assert answer.status_code == 422 and m.BioTest.objects.count() == 0


def test_wrong_rows_are_set_aside_in_a_file_that_can_be_mended_and_brought_in(client, bring):
    table = bring(GOOD + "Unit 1,2025-13-06,B-100,B-100,wrapped,2025-03-07,negative,positive,Ann\n")
    act(client, table, aside="1")
    assert (table.state, table.found["right"], table.found["wrong"]) == ("judged", 3, [])
    act(client, table, record="1")
    assert m.BioTest.objects.count() == 3
    answer = client.get(reverse("table-aside", args=["first", table.ref]))
    heads, row = csv.reader(io.StringIO(answer.content.decode("utf-8-sig")))
    assert heads[:9] == HEADS.strip().split(",") and row[9] == "5" and "no day of the calendar" in row[10]
    mended = answer.content.decode("utf-8-sig").replace("2025-13-06", "2025-03-06")
    act(client, bring(mended, name="set-aside.csv"), record="1")
    assert m.BioTest.objects.count() == 4


def test_a_unit_that_is_called_otherwise_is_chosen_and_remembered(client, world, bring):
    other = GOOD.replace("Unit 1", "The old one")
    table = bring(other, **{"said:unit:0": "The old one", "name:unit:0": str(world.unit.ref)})
    assert table.found["right"] == 3
    act(client, table, record="1")
    assert bring(other).found["known"] == 3


def test_two_readings_of_a_day_are_asked_and_not_guessed(client, bring):
    slashed = HEADS + "Unit 1,03/04/2025,B-100,B-100,wrapped,05/04/2025,negative,positive,Ann\n"
    table = bring(slashed)
    assert (bring.answer.status_code, table.state) == (422, "mapping")
    assert "two days to two people" in bring.answer.content.decode()
    answer = client.post(reverse("table-columns", args=["first", table.ref]), sent(table, order="day first"))
    table.refresh_from_db()
    assert answer.status_code == 302 and table.found["first"] == "2025-04-03"


def test_a_word_that_is_none_of_ours_is_asked_for(client, bring):
    table = bring(GOOD.replace("negative", "pass"))
    assert (bring.answer.status_code, table.state) == (422, "mapping")
    assert "say what “pass” stand for" in bring.answer.content.decode()
    client.post(reverse("table-columns", args=["first", table.ref]), sent(table, **{"word:read:test:0": "no growth"}))
    table.refresh_from_db()
    assert (table.state, table.found["right"]) == ("judged", 3)


def test_what_the_form_asks_about_is_asked_once_for_all_rows(client, world, bring):
    """A spore test with a box that had expired doesn't count: it is asked about, confirmed, and recorded."""
    late = HEADS + "Unit 1,2025-03-03,B-77,B-77,wrapped,2025-03-04,negative,positive,Ann\n"
    from records import log

    log.log_indicator_lot(
        by=world.people["coordinator"], request_key=build.key(), clinic=world.clinic, kind="biological", name="Old",
        lot="B-77", on=build.BEGIN, incubation_hours=24, expiry=date(2025, 2, 1),
    )  # fmt: skip
    table = bring(late)
    assert table.found["wrong"] == [2] and table.found["asked"] == {"expired-lot": 1}
    assert "In all these rows it really happened like this: the lot had expired" in page(client, table)
    act(client, table, again="1", confirmed="expired-lot")
    assert table.found["wrong"] == [] and table.confirmed == ["expired-lot"]
    act(client, table, record="1")
    assert m.BioTest.objects.get().lot.lot == "B-77"


def workbook(rows, *, merge=(), hidden=()) -> bytes:
    book = Workbook()
    sheet = book.active
    sheet.title = "2025"
    for row in rows:
        sheet.append(row)
    for area in merge:
        sheet.merge_cells(area)
    for name in hidden:
        book.create_sheet(name).sheet_state = "hidden"
        book[name].append(["Sterilizer", "Date", "Result"])
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def test_a_real_spreadsheet(client, bring):
    """Merged heads, a title, blank rows, three ways to write a day, a heading between rows, and a line of totals."""
    rows = [
        ["Spore tests of the year", None, None, None, None, None, None, None],
        [None] * 8,
        ["Sterilizer", "Run", None, "Lot", "Control lot", "Reading", None, None],
        [None, "Date", "Cycle type", None, None, "Date read", "Result", "Control"],
        ["March", None, None, None, None, None, None, None],
        ["Unit 1", date(2025, 3, 3), "wrapped", "B-100", "B-100", date(2025, 3, 4), "Neg.", "POS"],
        [None] * 8,
        ["Unit 2", "10 March 2025", "wrapped", "B-100", "B-100", "Mar 11, 2025", "negative", "positive"],
        ["Unit 1", "Mon 17.03.2025", "wrapped", "B-100", "B-100", "18.3.2025", "negative", "positive"],
        ["Total", None, None, None, None, None, "3", None],
    ]
    table = bring(workbook(rows, merge=["B3:C3", "F3:H3"], hidden=["old"]), name="log.xlsx")
    assert table.mapping["sheet"] == "2025"
    assert (table.found["right"], table.found["wrong"]) == (3, []), table.found["faults"]
    assert [(row, why) for row, why, _ in table.found["left_out"]] == [
        (5, "a heading between the rows"), (10, "a line of totals"),
    ]  # fmt: skip
    act(client, table, record="1")
    assert [t.happened_on.day for t in m.BioTest.objects.order_by("happened_on")] == [3, 10, 17]


def test_growth_opens_a_case_as_the_form_does(client, bring):
    act(client, bring(GOOD.replace("negative", "positive", 1)), record="1")
    case = m.FailureCase.objects.get()
    assert case.kind == "biological" and case.opened_by in {t.origin for t in m.BioTest.objects.all()}


def test_loads_with_decimal_commas_and_fahrenheit_and_what_a_table_says_of_who_released_is_told(client, world, bring):
    from records.log import signatures

    rows = "Sterilizer;Date;Time;Cycle no;Program;Temp (°F);Exposure;Gauges;Strip;Released;Operator\n"
    rows += "Unit 1;03.03.2025;08:30;100;wrapped;270;4,5;pass;pass;released;Ann Old\n"
    rows += "Unit 1;03.03.2025;2:30 PM;101;wrapped;270;4,0;pass;pass;released;Ann Old\n"
    table = bring(rows, "loads")
    asked = table.found["asked"]
    act(client, table, again="1", confirmed=list(asked))
    assert table.found["wrong"] == [], table.found["faults"]
    act(client, table, record="1")
    load = m.Load.objects.get(cycle_number="100")
    assert (str(load.exposure_temperature), str(load.exposure_minutes)) == ("132.2", "4.5")
    assert {signatures.given(row) for row in m.LoadRelease.objects.all()} == {"told"}
    twice = bring(rows.replace("08:30", "09:30").replace("2:30", "3:30"), "loads")
    assert "cycle-repeated" in twice.found["asked"], "a number that is on record is asked about, as in the form"


def test_two_rows_of_a_table_that_give_one_cycle_number_are_asked_about(bring):
    rows = "Sterilizer,Date,Time,Cycle no,Program,Gauges\n"
    rows += "Unit 1,2025-03-03,08:30,100,wrapped,pass\nUnit 1,2025-03-04,08:30,0100,wrapped,pass\n"
    assert "cycle-repeated" in bring(rows, "loads").found["asked"]


@pytest.mark.parametrize(
    "content, name, said",
    [
        (b"", "a.csv", "empty"),
        (b"\xd0\xcf\x11\xe0rest", "a.xls", "old kind"),
        (b"PK\x03\x04broken", "a.xlsx", "damaged"),
        (b"\x89PNG....", "a.png", "Handwriting is not read"),
        (b"\n\n,,\n", "a.csv", "no row with anything"),
        (b"a,b\x00c", "a.csv", "no text and no workbook"),
    ],
)
def test_a_file_that_is_no_table_is_refused_with_the_way_out(client, world, content, name, said):
    client.force_login(world.people["coordinator"])
    file = SimpleUploadedFile(name, content)
    answer = client.post(reverse("tables-in", args=["first"]), {"kind": "loads", "file": file})
    assert answer.status_code == 422 and said in answer.content.decode()
    assert not BroughtTable.objects.exists()


def test_more_rows_than_a_page_waits_for_go_to_a_worker(client, world, bring, monkeypatch, capsys):
    monkeypatch.setattr(tables, "AT_ONCE", 2)
    table = bring(GOOD)
    assert table.state == "waiting" and "It waits for its turn" in page(client, table)
    assert workers.work_off() == 1
    table.refresh_from_db()
    assert (table.state, table.found["right"]) == ("judged", 3)
    act(client, table, record="1")
    assert table.state == "waiting"
    call_command("make_binders", "--once")
    assert capsys.readouterr().out == (
        "first log.csv: recorded\n0 binders and 1 table taken off the queue; nothing waits any more.\n"
    )
    table.refresh_from_db()
    assert table.state == "done" and m.BioTest.objects.count() == 3


def test_a_worker_that_finds_a_row_refused_meanwhile_writes_nothing(client, world, bring, monkeypatch):
    """The unit went elsewhere between looking and recording: no row is written, and the page says which."""
    from records import log

    table = bring(GOOD.replace("Unit 1", "Unit 2", 1))
    log.void(by=world.people["coordinator"], request_key=build.key(), row=world.lot, reason="no such box")
    act(client, table, record="1")
    assert table.state == "judged" and table.found["wrong"] and m.BioTest.objects.count() == 0


def test_who_may_only_look_brings_nothing_in_and_strangers_find_no_table(client, world, bring):
    table = bring(GOOD)
    addresses = [reverse(name, args=["first", table.ref]) for name in ("table-in", "table-columns", "table-aside")]
    addresses += [reverse(name, args=["first", "loads"]) for name in ("type-rows", "check-row")]
    for role, status in (("viewer", 403), ("other-coordinator", 404), ("nobody", 404)):
        client.force_login(world.people[role])
        found = {a: (client.get(a).status_code, client.post(a, {"record": "1"}).status_code) for a in addresses}
        assert found == dict.fromkeys(addresses, (status, status)), role
    client.force_login(world.people["technician"])  # of the company that serves the clinic, who may record there
    assert [client.get(a).status_code for a in addresses] == [200, 200, 200, 200, 405]
    assert client.get(reverse("type-rows", args=["first", "visits"])).status_code == 404
    assert m.BioTest.objects.count() == 0


def test_another_clinics_table_does_not_exist(client, world, bring):
    table = bring(GOOD)
    client.force_login(world.people["other-coordinator"])
    for name in ("table-in", "table-columns", "table-aside"):
        assert client.get(reverse(name, args=["first", table.ref])).status_code == 404
        assert client.get(reverse(name, args=["other", table.ref])).status_code == 404
