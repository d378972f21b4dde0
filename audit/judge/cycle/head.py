"""The head of a file of a recorded cycle: keys, column names and what they mean."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from .file import NotInForm
from .moments import NoMoment, fraction_of
from .numbers import BLANKS, NoNumber, is_whole, number

FIRST = "# cycle 1"
KNOWN = ("serial", "cycle", "program", "started", "ambient_kpa", "logger", "profile")
SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}
# 1 psi is 6.894757293168 kPa: international yard and pound (1959) with standard gravity, exact to these digits.
PER_KPA = {"kpa": Fraction(1), "bar": Fraction(100), "mbar": Fraction(1, 10), "psi": Fraction("6.894757293168")}
_SENSOR = re.compile(r"temperature(?:_([2-9]|1[0-2]))?_([cf])", re.ASCII)
_PRESSURE = re.compile(r"pressure_(kpa|bar|mbar|psi)_(abs|gauge)", re.ASCII)


@dataclass(frozen=True, slots=True)
class Sensor:
    """A column of temperature: its place, its number (1 is the reference) and whether it holds °F."""

    place: int
    number: int
    fahrenheit: bool
    name: str


@dataclass(frozen=True, slots=True)
class ColumnNames:
    """The line of column names: `line` counts from 1, places from 0. Sensors stand by number, the reference first."""

    line: int
    separator: str
    all: tuple[str, ...]
    time: int
    elapsed: bool
    sensors: tuple[Sensor, ...]
    pressure: int | None
    per: Fraction = Fraction(1)
    gauge: bool = False

    @property
    def comma(self) -> bool:
        """Whether a decimal comma may stand in a number."""
        return self.separator != ","

    @property
    def unknown(self) -> tuple[str, ...]:
        """Columns that nobody reads, in order."""
        read = {self.time, self.pressure, *(s.place for s in self.sensors)}
        return tuple(name for place, name in enumerate(self.all) if place not in read)


@dataclass(frozen=True, slots=True)
class Keys:
    """The keys of the head, the line of each, and those that are read as numbers and moments."""

    said: dict[str, str]
    lines: dict[str, int]
    ambient: Fraction | None
    started: Fraction | None


def separator_of(line: str) -> str:
    """What stands between the names: that of comma, semicolon and tab which leaves a column of time; else a comma."""
    for one in SEPARATORS:
        if {"t_s", "time"} & {cell.strip(BLANKS) for cell in line.split(one)}:
            return one
    return next((one for one in (";", "\t") if one in line), ",")


def keys_of(lines: list[str], comma: bool) -> Keys:
    """The lines of the head after the first; the first of them stands in line 2. Raises NotInForm."""
    said: dict[str, str] = {}
    at: dict[str, int] = {}
    ambient = started = None
    for line, text in enumerate(lines, 2):
        key, mark, value = (part.strip(BLANKS) for part in text[1:].partition(":"))
        if not mark or not key:
            raise NotInForm(line, "before the column names a line with # holds “# key: value”")
        if key in said:
            raise NotInForm(line, f"the key “{key}” stands twice: state it once")
        said[key], at[key] = value, line
        if key == "ambient_kpa":
            ambient = _ambient(line, value, comma)
        elif key == "started":
            started = _started(line, value)
        elif key == "cycle" and not is_whole(value):
            raise NotInForm(line, f"the cycle “{value}” is no whole number")
    return Keys(said, at, ambient, started)


def _ambient(line: int, value: str, comma: bool) -> Fraction:
    try:
        ambient = number(value, comma)
    except NoNumber as error:
        raise NotInForm(line, f"ambient_kpa: {error}") from None
    if ambient <= 0:
        raise NotInForm(line, f"ambient_kpa is {value}: an absolute pressure is above zero")
    return ambient


def _started(line: int, value: str) -> Fraction:
    try:
        return fraction_of(value)
    except NoMoment as error:
        raise NotInForm(line, f"started: {error}") from None


def names_of(line: int, text: str) -> ColumnNames:
    """The columns, from the line of their names. Raises NotInForm."""
    separator = separator_of(text)
    names = [cell.strip(BLANKS) for cell in text.split(separator)]
    for name in names:
        if names.count(name) > 1:
            raise NotInForm(line, f"the column “{name}” stands twice: keep one of them")
    times = [name for name in ("t_s", "time") if name in names]
    if len(times) != 1:
        what = "t_s and time stand side by side" if times else "there is no column of time"
        raise NotInForm(line, f"{what}: keep one, t_s (seconds) or time (ISO 8601 with zone)")
    sensors = _sensors(line, names)
    pressures = [name for name in names if _PRESSURE.fullmatch(name)]
    if len(pressures) > 1:
        raise NotInForm(line, f"{' and '.join(pressures)} stand side by side: at most one column of pressure is read")
    place, per, gauge = None, Fraction(1), False
    if pressures:
        unit, kind = _PRESSURE.fullmatch(pressures[0]).groups()
        place, per, gauge = names.index(pressures[0]), PER_KPA[unit], kind == "gauge"
    return ColumnNames(
        line, separator, tuple(names), names.index(times[0]), times == ["t_s"], sensors, place, per, gauge
    )


def _sensors(line: int, names: list[str]) -> tuple[Sensor, ...]:
    found: dict[int, Sensor] = {}
    for place, name in enumerate(names):
        match = _SENSOR.fullmatch(name)
        if match:
            sensor = Sensor(place, int(match[1] or 1), match[2] == "f", name)
            if sensor.number in found:
                raise NotInForm(line, f"{found[sensor.number].name} and {name} stand side by side: keep one of them")
            found[sensor.number] = sensor
    if 1 not in found:
        raise NotInForm(line, "there is no reference column: name it temperature_c or temperature_f")
    return tuple(found[number] for number in sorted(found))
