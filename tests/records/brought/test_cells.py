"""What a cell says, in the words of a table: one meaning or a question, never a guess."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.brought import cells
from records.brought.cells import DAY_FIRST, MONTH_FIRST, Odd, day_of, decimal_in, number_of, order_in, time_of

DAYS = """
    2025-03-04            |             | 2025-03-04 |
    2025/3/4              |             | 2025-03-04 |
    4 March 2025          |             | 2025-03-04 |
    Mar 4, 2025           |             | 2025-03-04 |
    March 4th 2025        |             | 2025-03-04 |
    4-Mar-25              |             | 2025-03-04 |
    Tue 4.3.2025          | month first | 2025-03-04 |
    04/03/2025            | day first   | 2025-03-04 |
    03/04/2025            | month first | 2025-03-04 |
    Tuesday, 03-04-25     | month first | 2025-03-04 |
    2025-03-04 14:30      |             | 2025-03-04 | 14:30
    03/04/2025 2:30 PM    | month first | 2025-03-04 | 14:30
    2025-03-04T08:05:11   |             | 2025-03-04 | 08:05
    03/04/2025            |             | two people |
    13/04/2025            | month first | no day with the month first |
    2025-02-30            |             | no day of the calendar |
    next week             |             | cannot be read as a day |
"""


@pytest.mark.parametrize("row", [line for line in DAYS.strip().splitlines()])
def test_a_day(row):
    text, order, found, clock = (part.strip() for part in row.split("|"))
    if found[0].isdigit():
        assert day_of(("", text), order) == (date.fromisoformat(found), clock)
    else:
        with pytest.raises(Odd, match=found):
            day_of(("", text), order)


def test_a_day_of_a_workbook_and_a_number_that_is_none():
    assert day_of(("d", "2025-03-04"), "") == (date(2025, 3, 4), "")
    assert day_of(("m", "2025-03-04T09:15"), "") == (date(2025, 3, 4), "09:15")
    assert day_of(("n", "20250304"), "") == (date(2025, 3, 4), "")
    with pytest.raises(Odd, match="is a number, not a day"):
        day_of(("n", "45720"), "")


@given(st.dates(date(2000, 1, 1), date(2099, 12, 31)), st.sampled_from("/-. "), st.booleans())
def test_every_day_is_read_back_in_the_order_in_which_it_was_written(day, sign, short):
    year = f"{day.year % 100:02}" if short else str(day.year)
    assert day_of(("", sign.join((str(day.day), str(day.month), year))), DAY_FIRST)[0] == day
    if sign != ".":
        assert day_of(("", sign.join((str(day.month), str(day.day), year))), MONTH_FIRST)[0] == day


@pytest.mark.parametrize(
    "texts, found",
    [
        (["03/04/2025", "25/04/2025"], (DAY_FIRST, True)),
        (["03/04/2025", "04/25/2025"], (MONTH_FIRST, True)),
        (["03/04/2025"], ("", True)),
        (["25/04/2025", "04/25/2025"], ("", True)),
        (["2025-03-04", "4 Mar 2025", "4.3.2025"], ("", False)),
    ],
)
def test_the_order_that_a_column_shows(texts, found):
    assert order_in(("", text) for text in texts) == found


TIMES = {"14:30": "14:30", "2:30 PM": "14:30", "12:05 am": "00:05", "8h30": "08:30", "830": "08:30", "7.45": "07:45",
         "2 p.m.": "14:00", "": ""}  # fmt: skip


@pytest.mark.parametrize("text", TIMES)
def test_a_time_of_day(text):
    assert time_of(("", text)) == TIMES[text]


@pytest.mark.parametrize("text", ["25:00", "14:75", "13 pm", "noon", "7"])
def test_no_time_of_day(text):
    with pytest.raises(Odd, match="cannot be read as a time of day"):
        time_of(("", text))


NUMBERS = """
    134.2      | . | 134.2   |
    134,2      | , | 134.2   |
    1,234.5    | . | 1234.5  |
    1.234,5    | , | 1234.5  |
    1'234      | . | 1234    |
    −3.5       | . | -3.5    |
    134.2 °C   | . | 134.2   | °C
    134,2      | . | choose “,” for the file |
    12,34.5    | . | is not a number  |
    about 4    | . | is not a number  |
    1.2.3      | . | is not a number  |
"""


@pytest.mark.parametrize("row", [line for line in NUMBERS.strip().splitlines()])
def test_a_number(row):
    text, decimal, found, unit = (part.strip() for part in row.split("|"))
    if found.lstrip("-")[0].isdigit():
        assert number_of(("", text), decimal) == (Decimal(found), unit)
    else:
        with pytest.raises(Odd, match=found):
            number_of(("", text), decimal)


@given(st.decimals(-99999, 99999, places=2), st.sampled_from(".,"))
def test_every_number_is_read_back_as_it_was_written(number, decimal):
    assert number_of(("", f"{number:f}".replace(".", decimal)), decimal)[0] == number


def test_three_decimals_alone_show_no_sign_of_decimals():
    assert decimal_in([("", "1,234"), ("", "5")]) == ""
    assert decimal_in([("", "1,234"), ("", "5,5")]) == ","
    assert decimal_in([("", "1.5"), ("", "5,5")]) == ""


def test_a_formula_without_a_value_and_a_fault_are_never_read_as_text():
    odd = {("f", "=A1"): "holds the formula =A1 and no value", ("e", "#REF!"): "a fault of its formula"}
    others = (lambda cell: day_of(cell, ""), lambda cell: number_of(cell, "."))
    for cell, words in odd.items():
        for reads in (cells.text_of, cells.tick_of, cells.time_of, *others):
            with pytest.raises(Odd, match=words):
                reads(cell)


def test_blank_is_no_and_an_odd_word_is_asked():
    assert not cells.tick_of(("", "")) and cells.tick_of(("", "X"))
    with pytest.raises(Odd, match="neither yes nor no"):
        cells.tick_of(("", "maybe"))
