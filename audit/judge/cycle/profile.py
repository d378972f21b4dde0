"""What a cycle is held against, as data: one file a profile, each limit with its source.

Numbers in a file are read as the decimals that stand there. A limit that is left out is not judged, and what was
measured is shown. The unit's own instructions are a profile of the same form; with `stricter` both hold.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

from audit.regimes.model import GRADES
from audit.regimes.source import Source

HERE = Path(__file__).parent / "profiles"
# Each limit of a profile: whether what is measured must be at least that, or at most.
AT_LEAST = ("holding-time", "plateau-time", "air-removal", "drying")
AT_MOST = ("equilibration", "spread", "theory-difference", "sampling")
_TABLES = ("band", "limit", "sensors", "pressure")
_TEXTS = ("id", "title", "edition")
_SOURCE = ("citation", "checked_on", "grade")
NO_SOURCE = "common practice, no source"


class ProfileError(ValueError):
    """A profile that cannot be used: the file, the key, what is wrong and the way out."""

    def __init__(self, file: str, key: str, what: str, way_out: str):
        super().__init__(f"{file}: {key} {what}. {way_out}.")
        self.file, self.key = file, key


@dataclass(frozen=True, slots=True)
class ProfileLimit:
    """A number that is judged against, inclusive: seconds, °C, K or a count."""

    value: Fraction
    source: Source


@dataclass(frozen=True, slots=True)
class Profile:
    """Limits of one kind of cycle. The band is in °C, both ends inclusive; `limits` goes by criterion."""

    id: str
    title: str
    edition: str
    low: Fraction
    high: Fraction
    band_source: Source
    limits: Mapping[str, ProfileLimit] = field(default_factory=dict)
    sensors_least: int = 1
    pressure_asked: bool = True
    notes: tuple[str, ...] = ()

    def limit(self, criterion: str) -> Fraction | None:
        """The limit of a criterion; None where it is not judged."""
        found = self.limits.get(criterion)
        return None if found is None else found.value


def profile_ids(folder: Path = HERE) -> list[str]:
    """Names of the profiles on file, sorted."""
    return sorted(path.stem for path in folder.glob("*.toml"))


@lru_cache(maxsize=64)
def load_profile(id: str, folder: Path = HERE) -> Profile:
    """The profile of that name. Raises KeyError where there is none, ProfileError where the file is faulty."""
    if id not in profile_ids(folder):
        raise KeyError(id)
    file = f"{id}.toml"
    profile = read_profile((folder / file).read_text(encoding="utf-8"), file)
    if profile.id != id:
        raise ProfileError(file, "id", f"is {profile.id!r}", "Name the file by it")
    return profile


def read_profile(text: str, file: str = "profile") -> Profile:
    """A profile from the text of its file. Raises ProfileError."""
    try:
        raw = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        raise ProfileError(file, "the file", f"is no TOML: {error}", "Mend it") from None
    _known(file, "", raw, (*_TEXTS, "notes", *_TABLES))
    for key in _TEXTS:
        if not isinstance(raw.get(key), str) or not raw[key].strip():
            raise ProfileError(file, key, "is missing", "Add it (text)")
    band = _table(file, raw, "band", ("low", "high"))
    low, high = (_number(file, band, "band", key) for key in ("low", "high"))
    if low >= high:
        raise ProfileError(file, "band", f"goes from {low} to {high}", "The lower end comes first")
    sensors = _table(file, raw, "sensors", ("least",)) if "sensors" in raw else {"least": 1}
    pressure = _table(file, raw, "pressure", ("asked",)) if "pressure" in raw else {"asked": True}
    least, asked, notes = sensors["least"], pressure["asked"], raw.get("notes", [])
    if type(least) is not int or not 1 <= least <= 12:
        raise ProfileError(file, "sensors.least", f"is {least!r}", "It must be 1 to 12")
    if type(asked) is not bool:
        raise ProfileError(file, "pressure.asked", f"is {asked!r}", "It must be true or false")
    if not isinstance(notes, list) or not all(isinstance(note, str) for note in notes):
        raise ProfileError(file, "notes", f"is {notes!r}", "It must be a list of texts")
    return Profile(
        *(raw[key] for key in _TEXTS), low, high, _source(file, "band", band), _limits(file, raw), least, asked,
        tuple(notes),
    )  # fmt: skip


def _limits(file: str, raw: dict) -> dict[str, ProfileLimit]:
    tables = raw.get("limit", {})
    if not isinstance(tables, dict):
        raise ProfileError(file, "limit", f"is {tables!r}", "It must be tables, such as [limit.spread]")
    _known(file, "limit", tables, (*AT_LEAST, *AT_MOST))
    if "holding-time" not in tables:
        raise ProfileError(file, "limit.holding-time", "is missing", "Without it no cycle could be judged")
    out = {}
    for name in tables:
        table = _table(file, tables, name, ("value",), f"limit.{name}")
        if name == "holding-time" and table["value"] == 0:
            raise ProfileError(file, "limit.holding-time.value", "is 0", "Without a time no cycle could be judged")
        out[name] = ProfileLimit(
            _number(file, table, f"limit.{name}", "value"), _source(file, f"limit.{name}", table)
        )
    return out


def _known(file: str, at: str, table: dict, keys: tuple[str, ...]) -> None:
    for key in table:
        if key not in keys:
            named = f"{at}.{key}" if at else key
            raise ProfileError(file, named, "is not a key known here", f"Use one of: {', '.join(keys)}")


def _table(file: str, raw: dict, key: str, needed: tuple[str, ...], at: str = "") -> dict:
    at, table = at or key, raw.get(key)
    if not isinstance(table, dict):
        raise ProfileError(file, at, "is missing or no table", "Add it with its source")
    _known(file, at, table, (*needed, *_SOURCE))
    for name in (*needed, "citation"):
        if name not in table:
            raise ProfileError(file, f"{at}.{name}", "is missing", "Add it")
    return table


def _number(file: str, table: dict, at: str, key: str) -> Fraction:
    value = table[key]
    if type(value) not in (int, Decimal) or not Decimal(value).is_finite() or value < 0:
        raise ProfileError(file, f"{at}.{key}", f"is {value!r}", "It must be a number, not negative")
    return Fraction(value)


def _source(file: str, at: str, table: dict) -> Source:
    citation, day, grade = table["citation"], table.get("checked_on"), table.get("grade", "")
    if not isinstance(citation, str) or not citation.strip():
        raise ProfileError(file, f"{at}.citation", "is empty", f"Name the source, or write “{NO_SOURCE}”")
    if citation == NO_SOURCE and day is None and not grade:
        return Source(citation)
    if grade not in GRADES:
        raise ProfileError(file, f"{at}.grade", f"is {grade!r}", f"Use one of: {', '.join(GRADES)}")
    if type(day) is not date:
        raise ProfileError(file, f"{at}.checked_on", f"is {day!r}", "It must be a day")
    return Source(citation, day.isoformat(), grade)


def stricter(standard: Profile, own: Profile) -> Profile:
    """Both hold: of each limit the one that permits less, with its own source; named after `own`.

    The band is what lies in both. Raises ProfileError where that is nothing.
    """
    low_of, high_of = max(standard, own, key=lambda p: p.low), min(standard, own, key=lambda p: p.high)
    if low_of.low >= high_of.high:
        what = f"{own.low}–{own.high} °C and {standard.low}–{standard.high} °C share nothing"
        raise ProfileError(own.id, "band", f"does not fit {standard.id}: {what}", "Choose another profile")
    limits = dict(standard.limits)
    for name, limit in own.limits.items():
        held = limits.get(name)
        harder = held is None or (limit.value > held.value if name in AT_LEAST else limit.value < held.value)
        limits[name] = limit if harder else held
    least, asked = max(standard.sensors_least, own.sensors_least), standard.pressure_asked or own.pressure_asked
    band_source = low_of.band_source
    if high_of.band_source != band_source:
        band_source = Source(f"{band_source}; upper end: {high_of.band_source}")
    notes = tuple(dict.fromkeys((*own.notes, *standard.notes)))
    return replace(
        own, low=low_of.low, high=high_of.high, band_source=band_source, limits=limits, sensors_least=least,
        pressure_asked=asked, notes=notes,
    )  # fmt: skip
