"""What a file of a recorded cycle holds once it is read: whole numbers, so that limits compare exactly."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

STANDARD_AMBIENT = Fraction("101.325")  # kPa, where the file states none


Rows = slice | np.ndarray  # rows of a file: all of a stretch, or their numbers


class NotInForm(ValueError):
    """A file that is not in the form: the line (from 1; 0 is the whole file), what is wrong and the way out."""

    def __init__(self, line: int, words: str):
        super().__init__(f"line {line}: {words}" if line else words)
        self.line, self.words = line, words


@dataclass(frozen=True, slots=True)
class FileProblem:
    """Something to be known about a file: the line (from 1; 0 is the whole file) and words."""

    line: int
    words: str


@dataclass(frozen=True, slots=True)
class LogColumn:
    """One column of n values, each a whole number of 1/scale, and where there is one.

    `values` is int64, or of Python's own numbers where these would not hold it; what stands where `there` is
    False says nothing.
    `there` None means that no cell is empty.
    """

    name: str
    values: np.ndarray
    scale: int
    there: np.ndarray | None = None

    def at(self, row: int) -> Fraction:
        """The value of a row, which must have one."""
        return Fraction(int(self.values[row]), self.scale)

    def has(self, row: int) -> bool:
        """Whether the cell is filled."""
        return self.there is None or bool(self.there[row])

    def rows(self, first: int, after: int) -> Rows:
        """As `filled`, but a slice where no cell of the column is empty."""
        return slice(first, after) if self.there is None else self.filled(first, after)

    def last_before(self, row: int) -> int | None:
        """The last row with a value before that row; None where there is none."""
        if self.there is None:
            return row - 1 if row else None
        rows = np.flatnonzero(self.there[:row])
        return int(rows[-1]) if len(rows) else None

    def filled(self, first: int, after: int) -> np.ndarray:
        """Rows with a value from `first` (inclusive) to `after` (exclusive)."""
        if self.there is None:
            return np.arange(first, after)
        return first + np.flatnonzero(self.there[first:after])

    def floats(self) -> np.ndarray:
        """The values as floats, each off by one rounding at most."""
        return np.asarray(self.values, float) / self.scale


@dataclass(frozen=True, slots=True)
class Pressure:
    """A column of pressure as it stands in the file, and how it becomes absolute kPa: `per` of each unit, `plus`."""

    column: LogColumn
    per: Fraction
    plus: Fraction
    gauge: bool = False

    def kpa(self, row: int) -> Fraction:
        """Absolute pressure of a row, which must have a value."""
        return self.column.at(row) * self.per + self.plus

    def at_most(self, kpa: Fraction) -> int:
        """The greatest of the column's whole numbers that is not above an absolute pressure."""
        less, per = kpa - self.plus, self.per
        return less.numerator * self.column.scale * per.denominator // (less.denominator * per.numerator)

    def at_least(self, kpa: Fraction) -> int:
        """The least of the column's whole numbers that is not below an absolute pressure."""
        less, per = kpa - self.plus, self.per
        return -(-less.numerator * self.column.scale * per.denominator // (less.denominator * per.numerator))

    def floats(self, rows: np.ndarray | slice) -> np.ndarray:
        """Absolute pressures of rows as floats, good to the last digit or two."""
        return np.asarray(self.column.values[rows], float) * float(self.per / self.column.scale) + float(self.plus)


@dataclass(frozen=True, slots=True)
class RecordedCycle:
    """A file in the form: n rows, of which row 0 stands in `first_line`.

    `time` holds seconds, as in t_s or since the first row. `temperatures` hold °C, the reference first, the others by
    number; all of one scale. `keys` are those of the head, `key_lines` say where they stand.
    """

    time: LogColumn
    temperatures: tuple[LogColumn, ...]
    pressure: Pressure | None
    keys: dict[str, str]
    key_lines: dict[str, int]
    ambient: Fraction | None
    unknown: tuple[str, ...]
    problems: tuple[FileProblem, ...]
    first_line: int

    @staticmethod
    def ambient_of(stated: Fraction | None) -> Fraction:
        """What a file states, else the standard atmosphere."""
        return STANDARD_AMBIENT if stated is None else stated

    @property
    def ambient_kpa(self) -> Fraction:
        """What this file states, else the standard atmosphere."""
        return self.ambient_of(self.ambient)

    @property
    def ambient_assumed(self) -> bool:
        """Whether absolute pressures rest on an ambient pressure that nobody stated."""
        return self.pressure is not None and self.pressure.gauge and self.ambient is None

    def moment(self, row: int) -> Fraction:
        """Seconds as in the file's t_s, or since the first row."""
        return self.time.at(row)

    def between(self, first: int, last: int) -> Fraction:
        """Seconds from one row to another."""
        return Fraction(int(self.time.values[last]) - int(self.time.values[first]), self.time.scale)
