"""Cycle numbers that run on, none twice and none missing: most logs are so, and that is seen at a glance.

The numbers are compared with the plain ones from the lowest of the first day on; only what stands in another place is
read. Loads of one day may stand in any order.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import compress, takewhile
from operator import ne

from audit.facts import LoadFact

_LONG_DAY = 50  # more loads than a unit runs in a day
_USUAL = 50_000  # most logs have lower numbers
_DIGITS = 10  # a plain cycle number has fewer
_PICKED = 32  # so many numbers tell whether most are in turn


@dataclass(slots=True)
class NumberRun:
    """Plain numbers from `start` on, each once. `places`: where another stands than that which is in turn there;
    `own`: the place in turn of the one that does.
    """

    start: int
    places: list[int]
    own: list[int]

    def by_day(self, loads: Sequence[LoadFact], since: int = 0) -> bool:
        """Whether, from the place `since` on, the numbers rise from day to day.

        Where no number that stands too late has its place in an earlier day, none that stands too early has one in a
        later day either.
        """
        k = bisect_left(self.places, since)
        moved = zip(self.places[k:], self.own[k:], strict=True)
        return not any([m < since or loads[n].row.happened_on != loads[m].row.happened_on for n, m in moved if n > m])


def run_of_numbers(loads: Sequence[LoadFact], written: list[str]) -> NumberRun | None:
    """How the numbers of the loads run on, as `written`; None where they don't, or are no plain numbers."""
    start = _lowest_of_first_day(loads, written)
    last = str(start + len(written) - 1)
    if start < 0 or len(last) >= _DIGITS or last not in written[-_LONG_DAY:]:
        return None
    held = _plainly_from(start, len(written))
    if held == written:
        return NumberRun(start, [], [])
    places = list(compress(range(len(held)), map(ne, written, held)))
    place_of = dict(zip([held[n] for n in places], places, strict=True))
    own = list(map(place_of.get, [written[n] for n in places]))
    return NumberRun(start, places, own) if None not in own and len(set(own)) == len(own) else None


def mostly_in_turn(written: Sequence[str]) -> bool:
    """Whether few of some numbers, picked evenly, stand elsewhere than in turn: then all are soon compared."""
    if not written or not _is_plain(written[0]):
        return False
    start, apart = int(written[0]), max(1, len(written) // _PICKED)
    plain = map(str, range(start, start + len(written), apart))
    return sum(map(ne, written[::apart], plain)) <= _PICKED // 4


def _is_plain(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < _DIGITS


def _lowest_of_first_day(loads: Sequence[LoadFact], written: list[str]) -> int:
    """The lowest of the numbers; -1 without a load, or where one is no plain number."""
    if not loads:
        return -1
    first = loads[0].row.happened_on
    texts = written[: len(list(takewhile(lambda x: x.row.happened_on == first, loads)))]
    return min(map(int, texts)) if all(map(_is_plain, texts)) else -1


def _plainly_from(start: int, count: int) -> list[str]:
    """So many plain numbers in a row, as they are written."""
    if start + count > _USUAL:
        return list(map(str, range(start, start + count)))
    return _usual()[start : start + count]


@cache
def _usual() -> list[str]:
    """The numbers of most logs, written out once; whoever takes some of them takes a copy."""
    return list(map(str, range(_USUAL)))
