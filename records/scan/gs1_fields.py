"""The fields of a GS1 element string, and the ways in which one can be read when its separators are lost."""

from __future__ import annotations

import calendar
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

SEPARATOR = "\x1d"  # how a scanner sends FNC1, the end of a field of variable length
MOST_READINGS = 6

DATES = {
    "11": "Production date",
    "12": "Due date",
    "13": "Packaging date",
    "15": "Best before",
    "16": "Sell by",
    "17": "Use by",
}
# Fields that stand on parts and indicators: only these are looked for where a separator may be missing.
USUAL = {"01", "02", "10", "11", "13", "15", "17", "20", "21", "22", "30", "37", "240", "241"}
ARTICLES = ("01", "02")
TITLES = DATES | {
    "01": "Article number (GTIN)",
    "02": "Article number of the contents (GTIN)",
    "10": "Lot",
    "21": "Serial number",
    "30": "Count",
    "37": "Count of the contents",
    "240": "Maker’s own number",
    "241": "Customer’s part number",
    "8004": "Individual asset number (GIAI)",
    "8013": "Model number (GMN)",
}


class UnreadableCode(Exception):
    """The text breaks the rules of GS1 element strings; says what to do."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something to look at. `ask`: nothing may be filled in before somebody has looked at the label."""

    code: str
    message: str
    ask: bool = True


class CodeField(NamedTuple):
    """One field: identifier, what it is called, and the value as it stands in the code."""

    ai: str
    title: str
    value: str


@dataclass(frozen=True, slots=True)
class CodeReading:
    """One way to read a scan. Empty where the code does not say, or what it says cannot be right."""

    gtin: str = ""
    lot: str = ""
    expiry: date | None = None
    produced: date | None = None
    serial: str = ""
    fields: tuple[CodeField, ...] = ()
    doubts: tuple[Doubt, ...] = ()

    @property
    def udi(self) -> str:
        """The fields as they are printed under the code, "" without an article number."""
        return "".join(f"({f.ai}){f.value}" for f in self.fields) if self.gtin else ""


class CutField(NamedTuple):
    """A field as it was cut out. `open`: of variable length and not ended by a separator that was sent."""

    ai: str
    value: str
    open: bool = False
    unread: bool = False


def _library():
    """The identifiers of GS1; loaded late, for it takes a tenth of a second."""
    from biip import ParseConfig, ParseError
    from biip.gs1_application_identifiers import GS1ApplicationIdentifier
    from biip.gs1_element_strings import GS1ElementString

    # Days are read here: the library asks the machine for the year.
    return ParseError, ParseConfig(gs1_element_strings_verify_date=False), GS1ApplicationIdentifier, GS1ElementString


def _first(text: str) -> tuple[CutField, bool]:
    """The first field, and whether it is of variable length. Raises Unreadable."""
    if text[:2] in DATES and re.match(r"[0-9]{6}", text[2:]):
        return CutField(text[:2], text[2:8]), False  # the library refuses a month 13, and with it the whole scan
    error, config, identifiers, strings = _library()
    try:
        ai = identifiers.extract(text)
    except error:
        raise UnreadableCode(
            f"“{_shown(text)}” begins with no field that GS1 knows. Type what the label says."
        ) from None
    try:
        found = strings.extract(text, config=config)
    except error:
        raise UnreadableCode(
            f"The field {TITLES.get(ai.ai, ai.description)} ({ai.ai}) does not fit: “{_shown(text[len(ai.ai) :])}”. "
            f"It is written as {ai.format.split('+', 1)[-1]}. Scan again, or type what the label says."
        ) from None
    return CutField(ai.ai, found.value), ai.separator_required


def _shown(text: str) -> str:
    text = text.replace(SEPARATOR, "·")
    return text if len(text) <= 30 else text[:30] + "…"


def _cut(text: str) -> list[CutField]:
    """All fields one after another. What comes after a readable beginning and cannot be read is a Part of its own."""
    found: list[CutField] = []
    rest = text.lstrip(SEPARATOR)
    while rest:
        try:
            part, variable = _first(rest)
        except UnreadableCode:
            if not found:
                raise
            return [*found, CutField("", rest.replace(SEPARATOR, ""), unread=True)]
        rest = rest[len(part.ai) + len(part.value) :]
        ended = rest.startswith(SEPARATOR)
        found.append(part._replace(open=variable and not ended))
        rest = rest.lstrip(SEPARATOR)
    return found


def sent_readings(text: str) -> tuple[list[list[CutField]], bool]:
    """The ways to read a code as a scanner sends it, the one by the rules first; and whether they are guesses.

    They are when a separator seems to be lost. Raises Unreadable.
    """
    by_rule = _cut(text)
    if SEPARATOR in text.strip(SEPARATOR):
        return [by_rule], False  # the scanner sends separators, so none is missing
    # A field of variable length that is not the last must have been ended; without, the scanner swallowed it.
    swallowed = any(part.open for part in by_rule[:-1])
    flat = _rejoined(by_rule)
    certain = list(_split(flat, certain=True))
    found = [*([] if swallowed else [by_rule]), *certain]
    if certain or swallowed:
        found += [split for each in [flat, *certain] for split in _split(each, certain=False)]
    unique = [each for n, each in enumerate(found) if _said(each) not in map(_said, found[:n])]
    return unique[:MOST_READINGS] or [by_rule], swallowed or len(unique) > 1


def _said(parts: list[CutField]) -> list[tuple[str, str]]:
    return [(p.ai, p.value) for p in parts]


def _rejoined(parts: list[CutField]) -> list[CutField]:
    """From the first open field on everything is one value again: where it was cut was a guess."""
    for n, part in enumerate(parts):
        if part.open:
            return [*parts[:n], part._replace(value=part.value + "".join(p.ai + p.value for p in parts[n + 1 :]))]
    return parts


def _split(parts: list[CutField], *, certain: bool) -> Iterator[list[CutField]]:
    """The readings in which an open value ends earlier and further fields follow."""
    for n, part in enumerate(parts):
        if not part.open:
            continue
        for at in range(1, len(part.value)):
            tail = _tail(part.value[at:], {p.ai for p in parts}, certain)
            if tail and at <= 20:
                yield [*parts[:n], part._replace(value=part.value[:at]), *tail, *parts[n + 1 :]]


def _tail(text: str, seen: set[str], certain: bool) -> list[CutField]:
    """The fields that the text would be, [] when it would not be any. `certain`: it begins with what can be checked.

    A date that is a day of the calendar or an article number with its check digit is hardly there by chance; a lot
    or a serial number may begin with any two digits.
    """
    if text[:2] not in ("01", "02", *DATES) if certain else text[:2] not in ("10", "21"):
        return []
    try:
        found = _cut(text)
    except UnreadableCode:
        return []
    names = [p.ai for p in found]
    if (
        len(set(names)) < len(names)
        or seen & set(names)
        or not set(names) <= USUAL
        or any(p.open for p in found[:-1])
    ):
        return []
    return found if all(_holds(p) for p in found) else []


def _holds(part: CutField) -> bool:
    if part.ai in DATES:
        return _day(part.value, 2000) is not None
    return part.ai not in ARTICLES or check_digit(part.value[:-1]) == int(part.value[-1])


def printed_fields(text: str) -> list[CutField]:
    """The fields of the form printed under a code, with its identifiers in brackets. Raises Unreadable.

    A lot may hold brackets itself, so only a bracket around an identifier that was not there before begins a field.
    """
    error, _, identifiers, _ = _library()
    text = "".join(text.split())
    starts: list[re.Match] = []
    for match in re.finditer(r"\(([0-9]{2,4})\)", text):
        try:
            known = identifiers.extract(match[1]).ai == match[1]
        except error:
            known = False
        if known and match[1] not in {m[1] for m in starts}:
            starts.append(match)
    if not starts or starts[0].start():
        raise UnreadableCode(f"“{_shown(text)}” begins with no field that GS1 knows. Type what the label says.")
    ends = [*(m.start() for m in starts[1:]), len(text)]
    return [_whole(m[1], text[m.end() : end]) for m, end in zip(starts, ends, strict=True)]


def _whole(ai: str, value: str) -> CutField:
    part, _ = _first(ai + value)
    if part.value != value:
        raise UnreadableCode(
            f"The field {TITLES.get(ai, '')} ({ai}) is longer than it may be: “{_shown(value)}”. "
            "Compare with the label, and type what it says."
        )
    return part


def web_link(text: str) -> list[CutField]:
    """The fields in a GS1 web address. Raises Unreadable."""
    error, config, *_ = _library()
    from biip.gs1_digital_link_uris import GS1DigitalLinkURI

    try:
        found = GS1DigitalLinkURI.parse(text, config=config)
    except (error, ValueError):
        raise UnreadableCode("This web address holds no GS1 code.") from None
    return [CutField(each.ai.ai, each.value) for each in found.element_strings]


def check_digit(digits: str) -> int:
    """The check digit for the digits before it: weights 3 and 1 from the right, modulo 10."""
    return -sum(int(d) * (3, 1)[n % 2] for n, d in enumerate(reversed(digits))) % 10


def _day(value: str, this_year: int) -> date | None:
    """YYMMDD as a day, None when the calendar has none. Day 00 is the last of the month.

    The year is the one from 49 years back to 50 years ahead (General Specifications 7.12).
    """
    year, month, day = (int(value[n : n + 2]) for n in (0, 2, 4))
    year += this_year - this_year % 100
    year += 100 if year - this_year <= -50 else -100 if year - this_year >= 51 else 0
    if not 1 <= month <= 12:
        return None
    last = calendar.monthrange(year, month)[1]
    return date(year, month, day or last) if day <= last else None


def reading_of(parts: list[CutField], today: date) -> CodeReading:
    """The fields as values, with what is doubtful about them on that day."""
    values = {p.ai: p.value for p in parts}
    days = {ai: _day(values[ai], today.year) for ai in DATES if ai in values}
    article = next((values[ai] for ai in ARTICLES if ai in values), "")
    right = bool(article) and _holds(CutField("01", article))
    return CodeReading(
        gtin=article if right else "",
        lot=values.get("10", ""),
        expiry=days.get("17"),
        produced=days.get("11"),
        serial=values.get("21", ""),
        fields=tuple(CodeField(p.ai, _title(p.ai), p.value) for p in parts),
        doubts=tuple(_doubts(parts, article if not right else "", days, today)),
    )


def _title(ai: str) -> str:
    if not ai:
        return "Not readable"
    if ai in TITLES:
        return TITLES[ai]
    _, _, identifiers, _ = _library()
    return identifiers.extract(ai).description


def _doubts(parts: list[CutField], wrong: str, days: dict[str, date | None], today: date) -> Iterator[Doubt]:
    if wrong:
        yield Doubt(
            "check-digit",
            f"The article number {wrong} is wrong: its last digit should be {check_digit(wrong[:-1])}. The code was "
            "misread or mistyped. Scan again, or leave the number out.",
        )
    for part in parts:
        if part.ai in DATES and days[part.ai] is None:
            yield Doubt(
                "no-day",
                f"{DATES[part.ai]} is written as {part.value} (year, month, day), which is no day of the calendar. "
                "Read it from the label and type it.",
            )
        if part.unread:
            yield Doubt(
                "rest", f"The end of the code cannot be read: “{_shown(part.value)}”. Compare with the label."
            )
        if part.ai in ("10", "21") and set("()") & set(part.value):
            yield Doubt(
                "brackets", f"“{part.value}” holds brackets, which also mark fields. Compare it with the label."
            )
    # Without its day it may have been any day of that month: not yet one to come.
    whole = next((p.value for p in parts if p.ai == "11"), "")[4:] != "00"
    yield from _out_of_time(days.get("11"), days.get("17"), today, whole)


def _out_of_time(produced: date | None, expiry: date | None, today: date, whole: bool) -> Iterator[Doubt]:
    if expiry and expiry < today:
        yield Doubt("expired", f"It was to be used by {expiry}. That day has passed: take another one.", ask=False)
    if produced and (produced if whole else produced.replace(day=1)) > today:
        yield Doubt("not-made-yet", f"It would have been made on {produced}, a day yet to come. Look at the label.")
    if produced and expiry and expiry < produced:
        yield Doubt("backwards", f"It would have expired on {expiry}, before it was made on {produced}.")
