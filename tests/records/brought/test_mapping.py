"""Which column holds what: proposed from heads in one row or two, and nothing that could be a row taken for heads."""

from __future__ import annotations

import pytest

from records.brought.kinds import KINDS, READING, code_of
from records.brought.mapping import Mapping, digest_of, left_out, missing, propose, unclear
from records.files.table_file import read

SPORES, LOADS, LEAKS = (KINDS[code] for code in ("spore-tests", "loads", "leak-tests"))


def sheet(text: str):
    (found,) = read(text.encode(), "t.csv")
    return found


def proposed(kind, text: str) -> Mapping:
    return propose(kind, sheet(text))


def test_a_column_is_chosen_once_and_the_closest_head_first():
    mapping = proposed(SPORES, "Date,Date read,Lot,Lot of the control,Result,Control\n2025-03-03,,,,,\n")
    assert mapping.columns == {
        "on": 0, READING + "on": 1, "lot": 2, "control_lot": 3, READING + "test": 4, READING + "control": 5,
    }  # fmt: skip


def test_heads_in_two_rows_and_titles_above_them():
    text = "Log of the year,,\n,,\nSterilizer,Run,\n,Date,Cycle number\nUnit 1,2025-03-03,7\n"
    mapping = proposed(LOADS, text)
    assert (mapping.head, mapping.heads) == (4, ("Sterilizer", "Run Date", "Run Cycle number"))
    assert mapping.columns == {"unit": 0, "on": 1, "cycle_number": 2}


def test_a_first_row_that_is_a_row_is_never_taken_for_heads():
    mapping = proposed(LOADS, "Unit 1,2025-03-03,wrapped\nUnit 1,2025-03-04,wrapped\n")
    assert (mapping.head, mapping.heads, mapping.columns) == (0, (), {})


@pytest.mark.parametrize("head, unit", [("Temp (°F)", "°F"), ("Temperature [C]", "°C"), ("Temp", None)])
def test_the_unit_of_measure_that_a_head_names(head, unit):
    mapping = proposed(LOADS, f"Date,{head}\n2025-03-03,270\n")
    assert "exposure_temperature" in mapping.columns
    assert mapping.units.get("exposure_temperature") == unit


def test_no_result_is_proposed_for_a_word_that_has_two_meanings():
    result = SPORES.columns[READING + "test"]
    assert {word: code_of(result, word) for word in ("Neg.", "positive", "pass", "+", "ok", "-")} == {
        "Neg.": "no growth", "positive": "growth", "pass": "", "+": "", "ok": "", "-": "",
    }  # fmt: skip


def test_what_must_be_chosen_is_said():
    mapping = proposed(LEAKS, "Date,Rise\n03/04/2025,1.5\n")
    assert [each.split(":")[0] for each in missing(mapping)] == ["Unit", "Measured in", "Over how many minutes"]
    assert unclear(mapping, sheet("Date,Rise\n03/04/2025,1.5\n"))[0].startswith("Days such as 03/04/2025")
    spores = proposed(SPORES, "Sterilizer,Date,Lot,Program,Result\nUnit 1,2025-03-03,B,wrapped,negative\n")
    assert any("What the control shows" in each for each in missing(spores))


@pytest.mark.parametrize(
    "row, why",
    [
        ("Total,,12,,", "a line of totals"),
        ("Average per week,,3,,", "a line of totals"),
        ("March,,,,", "a heading between the rows"),
        ("Unit,Date,Cycle no,Program,Gauges", "the heads once more"),
        ("Total failure,2025-03-03,7,wrapped,fail", ""),
        ("Total,,7,wrapped,fail", ""),
        ("Unit 1,,7,wrapped,pass", ""),
        ("Unit 1,2025-03-03,7,Total,", ""),
    ],
)
def test_only_what_has_no_day_and_no_result_is_ever_left_out(row, why):
    """A row with a result whose day is missing is wrong, and is told: bad news is never taken for a total."""
    text = f"Unit,Date,Cycle no,Program,Gauges\n{row}\n"
    mapping = proposed(LOADS, text)
    assert left_out(mapping, sheet(text).rows[1][1]) == why


def test_heads_are_the_same_however_they_are_written_and_beside_what_is_wrong():
    one = digest_of("loads", ("Date ", "Cycle  No."))
    assert one == digest_of("loads", ("DATE", "cycle no", "", "Row in the file", "What is wrong"))
    assert one != digest_of("spore-tests", ("Date", "Cycle no")) != digest_of("loads", ("Date", "Cycle"))


def test_a_mapping_is_kept_and_read_back():
    mapping = proposed(LOADS, "Date,Temp (°F),Gauges\n2025-03-03,270,pass\n")
    assert Mapping.from_json(mapping.to_json()) == mapping
