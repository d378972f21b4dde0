"""How a clinic writes days, pressures and temperatures, and who looks where a device has a choice of its own.

The clinic's is kept beside its name, the device's in a cookie; neither is in a record. Records keep what was written
with its unit, or the base unit (°C, kPa); this only changes what is shown, and which unit a field asks for.
"""

from __future__ import annotations

import re
from contextvars import ContextVar
from dataclasses import dataclass, fields
from datetime import date
from decimal import Decimal

from records.wording import SHORT_MONTHS
from records.writing.measures import PRESSURE, TEMPERATURE, convert, is_level, kind_of

COOKIE = "as_written"
YEAR_SECONDS = 365 * 24 * 3600

# What stands in the cookie, and what it means.
_PRESSURES = {"kPa": "kPa", "bar": "bar", "psi": "psi"}
_TEMPERATURES = {"C": "°C", "F": "°F"}
DAY_STYLES = {
    "dMy": "9 Mar 2026",
    "Mdy": "Mar 9, 2026",
    "ymd": "2026-03-09",
    "mdy": "03/09/2026, month first",
    "dmy": "09/03/2026, day first",
}


@dataclass(frozen=True, slots=True)
class Written:
    """Codes of the cookie: `pressure` kPa, bar, psi; `temperature` C, F; `days` a key of DAY_STYLES."""

    pressure: str = "kPa"
    temperature: str = "C"
    days: str = "dMy"

    @property
    def units(self) -> dict[str, str]:
        """The unit in which each kind is shown."""
        return {PRESSURE: _PRESSURES[self.pressure], TEMPERATURE: _TEMPERATURES[self.temperature]}

    def unit_for(self, unit: str) -> str:
        """The unit in which a value of `unit` is shown: its own where it is not converted."""
        return self.units.get(kind_of(unit), unit)


CHOICES = {"pressure": tuple(_PRESSURES), "temperature": tuple(_TEMPERATURES), "days": tuple(DAY_STYLES)}
USUAL = Written()
_current: ContextVar[Written] = ContextVar("as_written", default=USUAL)
_chosen: ContextVar[bool] = ContextVar("as_written_on_this_device", default=False)


def current() -> Written:
    """How whoever asks now writes; the usual way outside of a request."""
    return _current.get()


def at_clinic(codes: str) -> None:
    """From here on it is written as this clinic does, if the device has no choice of its own."""
    if not _chosen.get():
        _current.set(read(codes))


def read(cookie: str) -> Written:
    """Out of a cookie; whatever is not known in it is the usual way."""
    parts = cookie.split(".")
    names = [field.name for field in fields(Written)]
    known = {name: part for name, part in zip(names, parts, strict=False) if part in CHOICES[name]}
    return Written(**known)


def cookie_of(written: Written) -> str:
    return ".".join(getattr(written, field.name) for field in fields(Written))


def middleware(get_response):
    """What the cookie says holds while the request is answered; without one, what the clinic asked about says."""

    def answer(request):
        cookie = request.COOKIES.get(COOKIE, "")
        tokens = _current.set(read(cookie)), _chosen.set(bool(cookie))
        try:
            return get_response(request)
        finally:
            _current.reset(tokens[0])
            _chosen.reset(tokens[1])

    return answer


# ------------------------------------------------------------------------------------------------ days


def day_text(value: date, written: Written | None = None) -> str:
    """A day as it is written; the months in English."""
    style, name = (written or current()).days, SHORT_MONTHS[value.month - 1]
    return {
        "dMy": f"{value.day} {name} {value.year}",
        "Mdy": f"{name} {value.day}, {value.year}",
        "ymd": value.isoformat(),
        "mdy": f"{value.month:02}/{value.day:02}/{value.year}",
        "dmy": f"{value.day:02}/{value.month:02}/{value.year}",
    }[style]


_SLASHED = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})")
_NAMED = re.compile(r"(?:(\d{1,2})\s+([A-Za-z]{3})[a-z]*|([A-Za-z]{3})[a-z]*\s+(\d{1,2})),?\s+(\d{4})")


def read_day(text: str, written: Written | None = None) -> date:
    """A day as it was typed: year-month-day, a day with the name of its month, or with slashes if that was chosen.

    03/04/2026 is two days to two people, so it is read only where the order was chosen. Raises ValueError.
    """
    text = text.strip()
    if re.fullmatch(r"\d{4}-\d{1,2}-\d{1,2}", text):
        return date(*map(int, text.split("-")))
    if named := _NAMED.fullmatch(text):
        month = (named[2] or named[3]).title()
        if month in SHORT_MONTHS:
            return date(int(named[5]), SHORT_MONTHS.index(month) + 1, int(named[1] or named[4]))
    style = (written or current()).days
    slashed = _SLASHED.fullmatch(text)
    if slashed and style in ("mdy", "dmy"):
        first, second, year = map(int, slashed.groups())
        return date(year, first, second) if style == "mdy" else date(year, second, first)
    raise ValueError(text)


# ------------------------------------------------------------------------------------------------ values


def measured(value: Decimal, unit: str, quantity: str = "", written: Written | None = None) -> str:
    """A value with its unit as it is written, and beside it as it was recorded where that is another unit.

    `quantity` is what was measured: a distance between two temperatures is never converted.
    """
    recorded = f"{value:f} {unit}".strip()
    to = (written or current()).unit_for(unit)
    if to == unit or not is_level(quantity):
        return recorded
    return f"{convert(value, unit, to):f} {to} (recorded: {recorded})"
