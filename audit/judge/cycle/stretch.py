"""Stretches of rows in a band: the hold (all sensors) and the plateau (the reference).

A stretch is of samples: from its first to its last, nothing between samples is guessed. A row with an empty cell
neither breaks a stretch nor begins or ends it, but one in which another sensor is out of the band breaks it all the
same: losing a value never helps. EN 285 and ISO 11139 define plateau, equilibration and holding time (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from .file import LogColumn


@dataclass(frozen=True, slots=True)
class HoldStretch:
    """First and last row, both inclusive."""

    first: int
    last: int


@dataclass(frozen=True, slots=True)
class InBand:
    """For each of n rows: whether all columns are filled and in the band, and whether any value is out of it."""

    good: np.ndarray
    bad: np.ndarray

    def longest(self, time: np.ndarray) -> HoldStretch | None:
        """The longest stretch by time, of two equally long the first; None where no row is good."""
        rows = np.flatnonzero(self.good)
        if not len(rows):
            return None
        edges = self._after_breaks(rows)
        firsts = rows[np.concatenate(([0], edges))]
        lasts = rows[np.concatenate((edges - 1, [len(rows) - 1]))]
        best = int(np.argmax(time[lasts] - time[firsts]))
        return HoldStretch(int(firsts[best]), int(lasts[best]))

    def _after_breaks(self, rows: np.ndarray) -> np.ndarray:
        """Places in `rows` (those that are good) before which a bad row lies: only where one was left out it can."""
        steps = np.flatnonzero(rows[1:] - rows[:-1] > 1)
        if not len(steps):
            return steps
        bad = np.flatnonzero(self.bad)
        return steps[np.searchsorted(bad, rows[steps]) != np.searchsorted(bad, rows[steps + 1])] + 1

    def around(self, row: int) -> int:
        """The first good row of the stretch that a row lies in; the row itself is not bad."""
        broken = np.flatnonzero(self.bad[:row])
        first = int(broken[-1]) + 1 if len(broken) else 0
        return first + int(np.argmax(self.good[first : row + 1]))


def edges(column: LogColumn, low: Fraction, high: Fraction) -> tuple[int, int]:
    """The band in the whole numbers of a column, both inclusive: exact, as there are none between."""
    scale = column.scale
    return -(-low.numerator * scale // low.denominator), high.numerator * scale // high.denominator


def in_band(column: LogColumn, low: Fraction, high: Fraction) -> InBand:
    """One column against a band in °C, both ends inclusive."""
    least, greatest = edges(column, low, high)
    inside = (column.values >= least) & (column.values <= greatest)
    if column.there is None:
        return InBand(inside, ~inside)
    return InBand(inside & column.there, ~inside & column.there)


def all_in(bands: list[InBand]) -> InBand:
    """Several columns together."""
    if len(bands) == 1:
        return bands[0]
    good, bad = bands[0].good, bands[0].bad
    for band in bands[1:]:
        good, bad = good & band.good, bad | band.bad
    return InBand(good, bad)
