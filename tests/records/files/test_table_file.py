"""Foreign tables as cells: encodings, separators, workbooks with formulas, merged cells and hidden sheets."""

from __future__ import annotations

import io
from datetime import date, datetime, time

import pytest
from openpyxl import Workbook

from records.files import apart, table_file
from records.files.table_file import Unreadable, packed, read, rows_of, unpacked


def texts(content: bytes) -> list[tuple[int, list[str]]]:
    (sheet,) = read(content, "t.csv")
    return [(number, [text for _, text in cells]) for number, cells in sheet.rows]


@pytest.mark.parametrize(
    "content",
    [
        "Gerät,Tag\nA,ü\n".encode(),
        "\ufeffGerät;Tag\r\nA;ü\r\n".encode(),
        "Gerät\tTag\nA\tü\n".encode("utf-16"),
        "Gerät|Tag\nA|ü\n".encode("cp1252"),
        'sep=;\n"Gerät";"Tag"\nA;ü\n'.encode(),
    ],
)
def test_encodings_and_separators(content):
    found = [cells for _, cells in texts(content)]
    assert found == [["Gerät", "Tag"], ["A", "ü"]]


def test_rows_keep_the_number_that_a_table_program_shows():
    assert texts(b'a,b\n\n"two\nlines",c\n,,\nd,e\n') == [
        (1, ["a", "b"]), (3, ["two\nlines", "c"]), (5, ["d", "e"]),
    ]  # fmt: skip


def test_a_comma_inside_quotes_parts_nothing():
    assert texts(b'a;b\n"1,5 h, 2,5 h";x\n') == [(1, ["a", "b"]), (2, ["1,5 h, 2,5 h", "x"])]


def test_a_quote_that_is_never_closed_is_said_and_nothing_is_swallowed():
    with pytest.raises(Unreadable, match="a quote is opened and never closed"):
        read(b'a,b\n"never,closed\n' + b"x,y\n" * 800, "t.csv")


def test_too_many_rows_and_columns_are_refused():
    with pytest.raises(Unreadable, match="more than 20,000 rows"):
        read(b"a,b\n" * 21_001, "t.csv")
    with pytest.raises(Unreadable, match="has 81 columns"):
        read(b",".join([b"x"] * 81), "t.csv")


def workbook(fill, **more) -> bytes:
    book = Workbook()
    fill(book.active, book)
    held = io.BytesIO()
    book.save(held)
    return held.getvalue()


def test_a_workbook_keeps_the_kind_of_each_cell():
    row = [
        date(2025, 3, 4),
        datetime.combine(date(2025, 3, 4), time(9, 15)),
        time(14, 30),
        134.2,
        7,
        True,
        " text ",
        0.1 + 0.2,
    ]
    (sheet,) = read(workbook(lambda sheet, _: sheet.append(row)), "t.xlsx")
    assert sheet.rows == [(1, [
        ("d", "2025-03-04"), ("m", "2025-03-04T09:15"), ("t", "14:30"), ("n", "134.2"), ("n", "7"), ("", "yes"),
        ("", "text"), ("n", "0.3"),
    ])]  # fmt: skip


def test_a_formula_without_a_value_is_no_blank_cell():
    """A program other than a table program wrote it and computed nothing: taken for blank, a result would be lost."""
    (sheet,) = read(workbook(lambda sheet, _: sheet.append(["a", "=1+1", "#N/A"])), "t.xlsx")
    assert sheet.rows == [(1, [("", "a"), ("f", "=1+1"), ("e", "#N/A")])]
    assert "1 cell of" in sheet.notes[0] and "is a formula" in sheet.notes[0]


def test_what_stands_in_a_merged_cell_counts_for_each_of_its_rows_and_no_other():
    def fill(sheet, _):
        for row in (["day", "no"], [date(2025, 3, 4), 1], [None, 2], [None, 3], [None, 4]):
            sheet.append(row)
        sheet.merge_cells("A2:A4")

    (sheet,) = read(workbook(fill), "t.xlsx")
    assert [cells[0][1] for _, cells in sheet.rows] == ["day", *["2025-03-04"] * 3, ""]


def test_a_hidden_sheet_is_named_as_hidden_and_an_empty_one_left_out():
    def fill(sheet, book):
        sheet.append(["a"])
        book.create_sheet("old").append(["b"])
        book["old"].sheet_state = "hidden"
        book.create_sheet("empty")

    found = read(workbook(fill), "t.xlsx")
    assert [(sheet.name, sheet.hidden) for sheet in found] == [("Sheet", False), ("old", True)]


def test_what_is_kept_is_what_was_read():
    content = workbook(lambda sheet, _: sheet.append([date(2025, 3, 4), "é\n", 3, "=A1"]))
    sheets = read(content, "t.xlsx")
    assert unpacked(packed(sheets)) == sheets
    assert list(rows_of(packed(sheets), "Sheet")) == sheets[0].rows


def test_it_is_read_in_a_process_apart_and_refusals_come_back_as_they_are():
    assert unpacked(apart.table_read(b"a,b\n1,2\n", "t.csv")) == read(b"a,b\n1,2\n", "t.csv")
    with pytest.raises(Unreadable, match="old kind"):
        apart.table_read(b"\xd0\xcf\x11\xe0", "t.xls")


def test_a_workbook_that_is_far_larger_inside_is_not_unpacked(monkeypatch):
    monkeypatch.setattr(table_file, "LARGEST_OPENED", 1000)
    with pytest.raises(Unreadable, match="far more than a table"):
        read(workbook(lambda sheet, _: sheet.append(["a"])), "t.xlsx")
