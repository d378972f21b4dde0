"""Scanned codes read back. Numbers are invented or the examples of GS1; lots and serials are invented.

GTIN 09506000134352 is the example that the GS1 General Specifications use throughout (company prefix 9506000, set
aside for examples); that, and the sections named below, are quoted from memory.
"""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from records.scan.gs1 import SEPARATOR as FNC1
from records.scan.gs1 import read
from records.scan.gs1_fields import check_digit

TODAY = date(2026, 3, 16)
GTIN = "09506000134352"


def only(scan: str):
    found = read(scan, TODAY)
    assert found.raw == scan
    assert len(found.readings) == 1, found
    return found, found.readings[0]


def codes(found) -> list[str]:
    return [d.code for d in (*found.doubts, *(x for r in found.readings for x in r.doubts))]


# General Specifications 5.10 (symbology identifiers), 7.8 (fields one after another): from memory.
@pytest.mark.parametrize(
    ("scan", "symbology"),
    [
        (f"]d201{GTIN}1727123110ABC123{FNC1}21SER1", "GS1 DataMatrix"),
        (f"]C101{GTIN}1727123110ABC123{FNC1}21SER1", "GS1-128"),
        (f"]Q301{GTIN}1727123110ABC123{FNC1}21SER1", "GS1 QR code"),
        (f"{FNC1}01{GTIN}1727123110ABC123{FNC1}21SER1", ""),
        (f"01{GTIN}10ABC123{FNC1}17271231{FNC1}21SER1\r\n", ""),  # 7.8.6: a separator after a fixed field is allowed
        (f"(01){GTIN}(17)271231(10)ABC123(21)SER1", ""),
        (f"(01) {GTIN} (17) 271231 (10) ABC123 (21) SER1", ""),
    ],
)
def test_the_same_fields_in_every_form_a_scanner_sends(scan, symbology):
    found, reading = only(scan)
    assert (reading.gtin, reading.lot, reading.serial) == (GTIN, "ABC123", "SER1")
    assert reading.expiry == date(2027, 12, 31) and reading.produced is None
    assert not found.ask and found.symbology == symbology
    assert sorted(reading.udi.split("(")[1:]) == [f"01){GTIN}", "10)ABC123", "17)271231", "21)SER1"]


# General Specifications 7.9, the worked example of the GTIN-13 check digit (629104150021, check digit 3), and GTINs
# printed in its chapters; from memory.
@pytest.mark.parametrize("number", ["6291041500213", "9506000134352", "09506000134352", "614141123452"])
def test_check_digits_of_published_examples(number):
    assert check_digit(number[:-1]) == int(number[-1])


def test_a_wrong_check_digit_is_said_and_the_number_not_filled_in():
    found, reading = only("(01)09506000134353(10)A1")
    assert reading.gtin == "" and reading.lot == "A1" and found.ask
    assert "last digit should be 2" in reading.doubts[0].message


# General Specifications 3.4 (AI 11 to 17): YYMMDD, day 00 is the last day of the month. 7.12: from 49 years back to
# 50 years ahead. From memory.
@pytest.mark.parametrize(
    ("value", "expiry"),
    [
        ("271231", date(2027, 12, 31)),
        ("270200", date(2027, 2, 28)),
        ("280200", date(2028, 2, 29)),
        ("760101", date(2076, 1, 1)),
        ("770101", date(1977, 1, 1)),
    ],
)
def test_dates_with_day_00_and_the_century(value, expiry):
    assert only(f"]d201{GTIN}17{value}")[1].expiry == expiry


@pytest.mark.parametrize("value", ["271331", "270001", "270230", "270431"])
def test_what_is_no_day_is_said_and_the_rest_kept(value):
    found, reading = only(f"]d201{GTIN}17{value}10A1")
    assert reading.expiry is None and (reading.gtin, reading.lot) == (GTIN, "A1")
    assert codes(found) == ["no-day"] and found.ask and value in reading.doubts[0].message


def test_a_use_by_day_is_good_on_that_day_and_past_the_day_after():
    assert codes(only(f"]d201{GTIN}17260316")[0]) == []
    found, reading = only(f"]d201{GTIN}17260315")
    assert codes(found) == ["expired"] and reading.expiry == date(2026, 3, 15)
    assert not found.ask, "it can be filled in: the writer asks for a confirmation"


def test_production_dates_that_cannot_be():
    assert codes(only(f"]d201{GTIN}11260317")[0]) == ["not-made-yet"]
    assert codes(only(f"]d201{GTIN}1125121517251101")[0]) == ["expired", "backwards"]
    # Made in a month, no day of it said: not yet to come while the month is.
    assert codes(only(f"]d201{GTIN}11260300")[0]) == []
    assert codes(only(f"]d201{GTIN}11260400")[0]) == ["not-made-yet"]


# Scanners set to leave out ASCII 29: a field of variable length swallows what follows (7.8.5, from memory).
@pytest.mark.parametrize(
    ("scan", "lot", "expiry", "serial"),
    [
        (f"]C101{GTIN}10ABC12317271231", "ABC123", date(2027, 12, 31), ""),
        (f"]d201{GTIN}10ABC1231727123121SER1", "ABC123", date(2027, 12, 31), "SER1"),
        (f"01{GTIN}21SER10LOT17271231", "LOT", date(2027, 12, 31), "SER"),
        (f"01{GTIN}10ABCDEFGHIJ0123421XYZ98765", "ABCDEFGHIJ01234", None, "XYZ98765"),
    ],
)
def test_a_lost_separator_is_found_and_asked_about(scan, lot, expiry, serial):
    found = read(scan, TODAY)
    assert found.ask and "run-together" in codes(found)
    assert (lot, expiry, serial) in {(r.lot, r.expiry, r.serial) for r in found.readings}


def test_a_lot_that_merely_holds_digits_is_not_asked_about():
    for lot in ("A2105", "L10991", "17B", "L17279931", "2117"):
        found, reading = only(f"]d201{GTIN}1727123110{lot}")
        assert reading.lot == lot and not found.ask


def test_with_a_separator_sent_nothing_is_guessed():
    found, reading = only(f"]d201{GTIN}10ABC12317271231{FNC1}21S")
    assert reading.lot == "ABC12317271231" and not found.ask


def test_brackets_in_a_lot_are_kept_and_pointed_at():
    """The library that reads the printed form drops what stands in brackets inside a value."""
    found, reading = only(f"(01){GTIN}(17)271231(10)LOT(1)")
    assert reading.lot == "LOT(1)" and codes(found) == ["brackets"] and found.ask
    assert only(f"(01){GTIN}(10)LOT(10)X")[1].lot == "LOT(10)X"


@pytest.mark.parametrize(
    ("scan", "code"),
    [
        ("", "empty"),
        ("]d2", "empty"),
        (FNC1, "empty"),
        ("(01)0950600013435(10)A", "unreadable"),
        ("]d2XYZ", "unreadable"),
        ("(99999)A", "text"),
        ("+A123BJC5D6E71G", "format"),
        ("=A99991234567800", "format"),
        ("https://elsewhere.example/page", "address"),
        ("9" * 500, "long"),
        ("a\x07b", "text"),
    ],
)
def test_what_cannot_be_read_says_why_and_what_to_do(scan, code):
    found = read(scan, TODAY)
    if code == "text" and scan.startswith("("):
        assert found.kind == "lot"  # five digits in brackets are no identifier, so it is text
        return
    assert (found.kind, codes(found), found.ask) == ("unread", [code], True)
    assert any(word in found.doubts[0].message for word in ("Scan again", "Type", "type"))


def test_the_end_that_cannot_be_read_is_shown():
    found, reading = only(f"]d201{GTIN}1727123199")
    assert codes(found) == ["rest"] and reading.expiry == date(2027, 12, 31)


def test_numbers_alone_and_text_alone():
    assert only("9506000134352")[1].gtin == GTIN
    assert only("]E09506000134353")[1].gtin == "" and read("]E09506000134353", TODAY).ask
    assert only("9506000134353")[1].lot == "9506000134353", "without the scanner’s word it may be a lot"
    found, reading = only(" B-100 ")
    assert (found.kind, reading.lot, found.ask) == ("lot", "B-100", False)


def test_a_web_address_of_gs1_and_a_label_of_our_own():
    # GS1 Digital Link: URI syntax, from memory.
    _, reading = only(f"https://id.example/01/{GTIN}/10/ABC123?17=271231")
    assert (reading.gtin, reading.lot, reading.expiry) == (GTIN, "ABC123", date(2027, 12, 31))
    ref = "3f2a1b4c-0000-4000-8000-00000000abcd"
    assert read(f"]Q1https://standing.example/u/{ref}/", TODAY).unit == ref
    assert read("HTTP://HOST:8000/U/3F2A1B4C", TODAY).unit == "3f2a1b4c", "a keyboard with its shift lock on"
    assert read("http://host:8000/unit/3f2a1b4c", TODAY).kind == "unread"


@given(st.text(max_size=60) | st.text(alphabet="0123456789()A\x1d]dC21", max_size=60))
def test_no_scan_breaks_it(scan):
    found = read(scan, TODAY)
    assert found.raw == scan and found.kind in ("fields", "lot", "unit label", "unread")
    assert found.readings or found.doubts or found.unit


LOT = st.text(alphabet="ABCDEFGHJKLMNPQRSTUVWXYZ-/", min_size=1, max_size=20)


@given(LOT, LOT, st.dates(date(2000, 1, 1), date(2070, 12, 31)))
def test_what_was_written_is_read_back(lot, serial, expiry):
    scan = f"]d201{GTIN}17{expiry:%y%m%d}10{lot}{FNC1}21{serial}"
    found, reading = only(scan)
    assert (reading.gtin, reading.lot, reading.serial, reading.expiry) == (GTIN, lot, serial, expiry)
    assert (found.raw, [f.ai for f in reading.fields]) == (scan, ["01", "17", "10", "21"])


@given(LOT, st.dates(date(2000, 1, 1), date(2070, 12, 31)))
def test_without_its_separator_the_right_reading_is_always_among_those_offered(lot, expiry):
    found = read(f"]d201{GTIN}10{lot}17{expiry:%y%m%d}", TODAY)
    assert (lot, expiry) in {(r.lot, r.expiry) for r in found.readings} and found.ask
