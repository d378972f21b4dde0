"""Moments of ISO 8601 with their zone, to every decimal that was written."""

from __future__ import annotations

import re
from datetime import date, time
from fractions import Fraction

_MOMENT = re.compile(
    r"([0-9]{4})-?([0-9]{2})-?([0-9]{2})T([0-9]{2})(?::?([0-9]{2})(?::?([0-9]{2}))?)?(?:[.,]([0-9]{1,60}))?"
    r"(Z|[+-][0-9]{2}(?::?[0-9]{2})?)?",
    re.ASCII,
)


class NoMoment(ValueError):
    """A text that is no moment of ISO 8601, or one without its zone; the message says which."""


def seconds_of(text: str) -> tuple[int, int]:
    """Seconds since the beginning of the year 1 in UTC, as a whole number and how many decimals it counts.

    Calendar days with `T`, with or without the marks between; decimals of seconds. Raises NoMoment.
    """
    found = _MOMENT.fullmatch(text)
    if found is None:
        raise NoMoment(f"“{text[:40]}” is no moment of ISO 8601, such as 2026-06-09T08:12:00-05:00")
    year, month, day, hour, minute, second, part, zone = found.groups()
    if zone is None:
        raise NoMoment(f"“{text[:40]}” has no zone: add Z or the offset, such as -05:00")
    if part is not None and second is None:
        raise NoMoment(f"“{text[:40]}” has decimals of minutes or hours: write the seconds")
    try:
        days = date(int(year), int(month), int(day)).toordinal()
        clock = time(int(hour), int(minute or 0), int(second or 0))
    except ValueError:
        raise NoMoment(f"“{text[:40]}” names no day or time that there is") from None
    whole = days * 86400 + clock.hour * 3600 + clock.minute * 60 + clock.second - _offset(zone, text)
    part = part or ""
    return whole * 10 ** len(part) + int(part or 0), len(part)


def fraction_of(text: str) -> Fraction:
    """As `seconds_of`, as a fraction."""
    digits, places = seconds_of(text)
    return Fraction(digits, 10**places)


def _offset(zone: str, text: str) -> int:
    if zone == "Z":
        return 0
    hours, minutes = int(zone[1:3]), int(zone[-2:]) if len(zone) > 3 else 0
    if hours > 23 or minutes > 59:
        raise NoMoment(f"“{text[:40]}” has an offset that there is not")
    return (hours * 60 + minutes) * (60 if zone[0] == "+" else -60)
