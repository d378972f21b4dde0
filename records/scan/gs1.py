"""What a scanned code says: GS1 element strings, labels of our own units, or a lot as plain text.

A reading is a suggestion to be compared with the label, never a record. The raw scan is kept beside it. Pure apart
from the library that knows the GS1 identifiers, which is loaded when the first GS1 code is read.

Source of formats and rules: GS1 General Specifications, sections 3 (element strings) and 7.8 (separator), 7.9 (check
digit) and 7.12 (century of a two-digit year); section numbers as far as remembered.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date

from .gs1_fields import (
    SEPARATOR,
    CodeField,
    CodeReading,
    Doubt,
    UnreadableCode,
    printed_fields,
    reading_of,
    sent_readings,
    web_link,
)

__all__ = ["SEPARATOR", "Doubt", "CodeField", "CodeReading", "Scan", "read"]

LONGEST = 400  # characters; GS1 codes hold at most 90 a field, and a web address is shorter than this
LONGEST_LOT = 80

# AIM symbology identifiers (ISO/IEC 15424) that a scanner may send before the data; those of `GS1` promise fields.
GS1 = {"]C1": "GS1-128", "]d2": "GS1 DataMatrix", "]Q3": "GS1 QR code", "]e0": "GS1 DataBar"}
PLAIN = {
    "]C0": "Code 128",
    "]d1": "DataMatrix",
    "]d0": "DataMatrix",
    "]Q0": "QR code",
    "]Q1": "QR code",
    "]A0": "Code 39",
}
RETAIL = {"]E0": "EAN-13 or UPC-A", "]E4": "EAN-8"}

RUN_TOGETHER = (
    "The scanner seems to leave out the separator between fields, so where one ends is a guess. Compare with the "
    "label and choose; set the scanner to send the separator (FNC1, ASCII 29)."
)

_OWN_LABEL = re.compile(r"^https?://[^/\s]+/(?:[^\s?#]*/)?u/([0-9a-f]{8}(?:[0-9a-f-]{24,28})?)/?$", re.IGNORECASE)
_FIELDS = re.compile(r"^01[0-9]{14}")
_PRINTED = re.compile(r"^\s*\([0-9]{2,4}\)")


@dataclass(frozen=True, slots=True)
class Scan:
    """One scan. `kind` is "fields" (GS1), "unit label", "lot" (plain text) or "unread".

    `raw` is what came from the scanner, unchanged. `readings` holds more than one when the code can be read in
    several ways: then nothing may be filled in before somebody has chosen. `unit` is the ref (or its first eight
    digits) on a label of our own.
    """

    raw: str
    kind: str
    readings: tuple[CodeReading, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    symbology: str = ""
    unit: str = ""

    @property
    def ask(self) -> bool:
        """Whether somebody must look before anything is filled in."""
        return len(self.readings) != 1 or any(d.ask for d in (*self.doubts, *self.readings[0].doubts))


def read(scan: str, today: date) -> Scan:
    """What the scan says, held against `today` (a use-by day counts as good on that day). Never raises."""
    # Spaces, tabs and line ends are what keyboards and scanners add; a separator in front says nothing.
    text = scan.strip(" \t\r\n")
    prefix = text[:3] if text[:3] in GS1 | PLAIN | RETAIL else ""
    symbology = (GS1 | PLAIN | RETAIL).get(prefix, "")
    found = _read(text[len(prefix) :].strip(" \t\r\n"), prefix, today)
    return replace(found, raw=scan, symbology=symbology)


def _read(text: str, prefix: str, today: date) -> Scan:
    if not text.strip(SEPARATOR):
        return _unread("empty", "The scan is empty. Scan again, or type what the label says.")
    if len(text) > LONGEST:
        return _unread("long", f"The scan has {len(text)} characters; no label here holds that many. Scan again.")
    if own := _OWN_LABEL.match(text):
        return Scan("", "unit label", unit=own[1].lower())
    if re.match(r"^https?://", text, re.IGNORECASE):
        return _web(text, today)
    if text[0] in "+=":
        return _other_format(text)
    if _PRINTED.match(text):
        return _of_fields(lambda: ([printed_fields(text)], False), today)
    if prefix in GS1 or SEPARATOR in text or _FIELDS.match(text):
        return _of_fields(lambda: sent_readings(text), today)
    if prefix in RETAIL or re.fullmatch(r"[0-9]{13,14}", text):
        return _bare_number(text, prefix, today)
    return _plain(text)


def _unread(code: str, message: str) -> Scan:
    return Scan("", "unread", doubts=(Doubt(code, message),))


def _of_fields(take, today: date) -> Scan:
    try:
        found, guessed = take()
    except UnreadableCode as problem:
        return _unread("unreadable", str(problem))
    readings = tuple(reading_of(each, today) for each in found)
    return Scan("", "fields", readings, (Doubt("run-together", RUN_TOGETHER),) if guessed else ())


def _web(text: str, today: date) -> Scan:
    try:
        elements = web_link(text)
    except UnreadableCode:
        return _unread(
            "address",
            "This is a web address, but neither a unit label of ours nor a GS1 code. Type what the label says.",
        )
    return _of_fields(lambda: ([elements], False), today)


def _other_format(text: str) -> Scan:
    # Marks of the other two formats that the US device rules accept; from memory.
    name = "HIBC" if text[0] == "+" else "ICCBBA"
    return _unread(
        "format", f"This looks like a code in the {name} format, which is not read here. Type what is printed."
    )


def _bare_number(text: str, prefix: str, today: date) -> Scan:
    """The number of an article alone, as on a retail pack."""
    found = (
        _of_fields(lambda: sent_readings("01" + text.zfill(14)), today)
        if re.fullmatch(r"[0-9]{1,14}", text)
        else _plain(text)
    )
    wrong = found.readings and not found.readings[0].gtin
    return _plain(text) if wrong and prefix not in RETAIL else found


def _plain(text: str) -> Scan:
    if len(text) > LONGEST_LOT or not text.isprintable():
        return _unread("text", "This is no lot: it is too long, or holds signs that no label prints. Type the lot.")
    return Scan("", "lot", (CodeReading(lot=text),))
