"""How days, moments, numbers and codes read on paper.

What is read as one is not torn at the end of a line: value and unit, day, month and year, noun and number are joined
by no-break spaces (U+00A0), here and so everywhere that text is made.
"""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from records.wording import SHORT_MONTHS

NO_BREAK = "\u00a0"
NO_RECORD = "no record found"
OUTRANKED = "Local codes, the maker's instructions and licensed practice outrank this answer."

# A day as judgement writes it; not a part of a longer number, word or path, nor a lot or a serial number.
_ISO_DAY = re.compile(r"(?<!lot )(?<!serial )(?<!number )(?<!cycle )(?<![\w./-])(\d{4})-(\d{2})-(\d{2})(?![\w/-])")


# Units of measure as records and rules write them, and the words that a number stands behind or before.
_MEASURE = (
    r"(?:°C|°F|%|kPa|MPa|bar|mbar|psi|mmHg|min|minutes?|h|hours?|s|seconds?|ms|L|litres?|ml|mm|cm|V|A|Ω|MΩ|mA|µS/cm)"
)
_BEFORE = (
    r"(?:[Uu]nits?|[Cc]ycles?|[Ee]ntry|[Pp]age|[Ll]ine|[Rr]ow|[Pp]aper|[Ss]tep|[Rr]ule|[Tt]ype|[Gg]rade|[Cc]lass)"
)
_LONG_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
_MONTH = rf"(?:{'|'.join((*_LONG_MONTHS, *SHORT_MONTHS))})"
_AFTER = (
    r"(?:tests?|loads?|cycles?|days?|weeks?|months?|years?|visits?|jobs?|parts?|units?|packs?|entries|pages?|lines?)"
)
_TIED = (
    re.compile(rf"(?<=\d) (?={_MEASURE}(?![\w-]))"),
    re.compile(rf"(?<=\b\d) (?={_MONTH}\b)|(?<=\b\d\d) (?={_MONTH}\b)"),
    re.compile(rf"(?<=\d{NO_BREAK}[A-Z][a-z][a-z]) (?=\d{{4}}\b)"),
    re.compile(rf"(\b{_BEFORE}) (?=\d)"),
    re.compile(rf"(?<=\d) (?={_AFTER}\b)"),
)


def tied(text: str) -> str:
    """The text with no-break spaces where a line must not end; nothing else is changed.

    >>> tied("2 tests on 9 Jun 2026 at 134 °C in cycle 311").count(NO_BREAK)
    5
    """
    if not any(each.isdigit() for each in text):
        return text
    first, second, third, fourth, fifth = _TIED
    text = third.sub(NO_BREAK, second.sub(NO_BREAK, first.sub(NO_BREAK, text)))
    return fifth.sub(NO_BREAK, fourth.sub(rf"\1{NO_BREAK}", text))


def plain(text: str) -> str:
    """With spaces at which a line may end: for mails, calendars and commands, where a no-break one is a stranger."""
    return text.replace(NO_BREAK, " ")


def quantity(value: Decimal | int | None, unit: str, none: str = "not stated") -> str:
    """A value with its unit of measure: "134.2 °C"; a value without one stands alone."""
    return number(value, none) if value is None or not unit else f"{number(value)}{NO_BREAK}{unit}"


def day(value: date | None, none: str = "no day on record") -> str:
    """A day that reads the same on both sides of the ocean: 9 Mar 2026."""
    return none if value is None else NO_BREAK.join((str(value.day), SHORT_MONTHS[value.month - 1], str(value.year)))


def span(from_on: date, to_on: date) -> str:
    """Two days, both inclusive."""
    return f"{day(from_on)} to {day(to_on)}"


def dated(sentence: str) -> str:
    """The sentence with its ISO days (2026-03-09) in the words of `day`, and `tied`; what is no day stays as it is.

    For sentences of the judgement only: a lot or a serial as printed on a plate must never pass through here.
    """

    def spoken(found: re.Match) -> str:
        try:
            return day(date(*(int(part) for part in found.groups())))
        except ValueError:
            return found.group()

    return tied(_ISO_DAY.sub(spoken, sentence))


def how_often(every: str, count: int) -> str:
    """A frequency kind of `audit.regimes` in words; `count` is days for "rolling-days" and says nothing else."""
    if every == "rolling-days":
        return "every day" if count == 1 else f"every {days(count)}"
    return f"once in each {every.replace('-', ' ')}"


def month(value: date) -> str:
    return f"{SHORT_MONTHS[value.month - 1]}{NO_BREAK}{value.year}"


def month_name(value: date) -> str:
    return SHORT_MONTHS[value.month - 1]


def moment(value: datetime) -> str:
    """A moment in UTC to the minute."""
    utc = value.astimezone(UTC)
    return f"{day(utc.date())} {utc:%H:%M}{NO_BREAK}UTC"


def local_time(value: datetime, zone: str) -> str:
    """The time of day in a zone (an IANA name), to the minute."""
    return f"{value.astimezone(ZoneInfo(zone)):%H:%M}"


def unit_title(label: str) -> str:
    """The unit in a heading: "Unit A", and not "Unit Unit 1"."""
    return label if label.lower().startswith("unit") else f"Unit {label}"


def number(value: Decimal | int | None, none: str = "not stated") -> str:
    """A number as it was written: trailing zeros say how finely it was read."""
    return none if value is None else format(value, "f") if isinstance(value, Decimal) else str(value)


def days(count: int) -> str:
    return counted(count, "day")


def counted(count: int, one: str, many: str = "") -> str:
    """1 visit, 2 visits: the number and the first word are not torn."""
    return f"{count}{NO_BREAK}{one if count == 1 else many or one + 's'}"


def first_upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def lines(*texts: str) -> str:
    """The texts that are not empty, one to a line."""
    return "\n".join(text for text in texts if text)


def labelled(label: str, text: str) -> str:
    return f"{label}: {text}" if text else ""
