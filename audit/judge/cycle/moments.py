"""Moments of ISO 8601 with their zone, to every decimal that was written."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from fractions import Fraction
from functools import lru_cache

import numpy as np

# The marks between stand in day and time or in neither; an offset may have its own or not, as many clocks write it.
_MOMENT = re.compile(
    r"([0-9]{4})(-?)([0-9]{2})\2([0-9]{2})T([0-9]{2})(?:(:?)([0-9]{2})(?:\6([0-9]{2}))?)?(?:[.,]([0-9]{1,60}))?"
    r"(Z|[+-][0-9]{2}(?::?[0-9]{2})?)?",
    re.ASCII,
)
_ALIKE = str.maketrans("123456789", "0" * 9)
_COMMON = re.compile(r"0000-00-00T00:00:00(?:\.(0{1,6}))?(Z|[+-]00:00)", re.ASCII)
_EPOCH = date(1970, 1, 1).toordinal() * 86400
MILLION = 10**6


class NoMoment(ValueError):
    """A text that is no moment of ISO 8601, or one without its zone; the message says which."""


def seconds_of(text: str) -> tuple[int, int]:
    """Seconds since the beginning of the year 1 in UTC, as a whole number and how many decimals it counts.

    Calendar days with `T`, with or without the marks between; decimals of seconds. Raises NoMoment.
    """
    found = _MOMENT.fullmatch(text)
    if found is None:
        raise NoMoment(f"“{text[:40]}” is no moment of ISO 8601, such as 2026-06-09T08:12:00-05:00")
    year, dash, month, day, hour, colon, minute, second, part, zone = found.groups()
    if minute is not None and bool(dash) != bool(colon):
        raise NoMoment(f"“{text[:40]}” has the marks - and : in one of day and time alone: write both")
    if zone is None:
        raise NoMoment(f"“{text[:40]}” has no zone: add Z or the offset, such as -05:00")
    if part is not None and second is None:
        raise NoMoment(f"“{text[:40]}” has decimals of minutes or hours: write the seconds")
    try:
        days = _days(int(year), int(month), int(day))
    except ValueError:
        raise NoMoment(f"“{text[:40]}” names no day that there is") from None
    clock = int(hour), int(minute or 0), int(second or 0)
    if clock[0] > 23 or clock[1] > 59 or clock[2] > 59:
        raise NoMoment(f"“{text[:40]}” names no time of day that there is")
    whole = days * 86400 + clock[0] * 3600 + clock[1] * 60 + clock[2] - _offset(zone, text)
    part = part or ""
    return whole * 10 ** len(part) + int(part or 0), len(part)


def fraction_of(text: str) -> Fraction:
    """As `seconds_of`, as a fraction."""
    digits, places = seconds_of(text)
    return Fraction(digits, 10**places)


@lru_cache(maxsize=64)
def _days(year: int, month: int, day: int) -> int:
    return date(year, month, day).toordinal()


def plain_moments(cells: Sequence[str]) -> np.ndarray | None:
    """Millionths of a second since the beginning of the year 1, exactly (int64); None where it is no common case.

    Common is one form in all cells, to the second or with at most six decimals, and one zone; with anything that is
    no moment it gives None.
    """
    form = cells[0].translate(_ALIKE)
    found = _COMMON.fullmatch(form)
    if found is None or {cell.translate(_ALIKE) for cell in cells} != {form}:
        return None
    places, zone = len(found[1] or ""), cells[0][found.start(2) :]
    if any(cell[0] == "0" or not cell.endswith(zone) for cell in cells):
        return None
    try:
        whole = np.array([cell[:19] for cell in cells], dtype="datetime64[s]").astype(np.int64)
        offset = _EPOCH - _offset(zone, cells[0])
    except ValueError:
        return None
    parts = np.array([int(cell[20 : 20 + places]) for cell in cells]) * 10 ** (6 - places) if places else 0
    return (whole + offset) * MILLION + parts


def _offset(zone: str, text: str) -> int:
    if zone == "Z":
        return 0
    hours, minutes = int(zone[1:3]), int(zone[-2:]) if len(zone) > 3 else 0
    if hours > 23 or minutes > 59:
        raise NoMoment(f"“{text[:40]}” has an offset that there is not")
    return (hours * 60 + minutes) * (60 if zone[0] == "+" else -60)
