"""Cycle numbers that run on, none twice and none missing: most logs are so, and that is seen at a glance.

The numbers are compared with the plain ones from the lowest of the first day on; only what stands in another place is
read. Loads of one day may stand in any order.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from itertools import compress, takewhile
from operator import ne

from audit.facts import LoadFact, happened_on

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

    def by_day(self, loads: Sequence[LoadFact]) -> bool:
        """Whether the numbers rise from day to day.

        Where no number that stands too late has its place in an earlier day, none that stands too early has one in a
        later day either.
        """
        moved = zip(self.places, self.own, strict=True)
        return not any([loads[n].row.happened_on != loads[m].row.happened_on for n, m in moved if n > m])


@dataclass(slots=True)
class OutOfTurn:
    """Of numbers that run on, each once: the loads whose number is another than that in turn there, in their order.

    `in_turn`: beside each the number that is.
    """

    loads: list[LoadFact]
    in_turn: list[str]

    def by_day(self, since: date) -> bool:
        """Whether, from the day `since` on, the numbers rise from day to day: each has its place within its day."""
        first = bisect_left(self.loads, since, key=happened_on)
        late = self.loads[first:]
        there = dict(zip(self.in_turn[first:], late, strict=True))
        places = [(x, there.get(x.cycle_number)) for x in late]
        return all([y is not None and y.row.happened_on == x.row.happened_on for x, y in places])


def run_of_numbers(loads: Sequence[LoadFact], written: list[str]) -> NumberRun | None:
    """How the numbers of the loads run on, as `written`; None where they don't, or are no plain numbers."""
    start = _lowest_of_first_day(loads)
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


def numbers_in_turn(loads: Sequence[LoadFact]) -> list[str] | None:
    """The number of each load if they ran on from the lowest of the first day; None where they plainly do not, as the
    last loads lack the last of them or have the next one, or where of a few, picked evenly, many are out of turn.
    """
    start, late = _lowest_of_first_day(loads), [x.cycle_number for x in loads[-_LONG_DAY:]]
    last = str(start + len(loads) - 1)
    if start < 0 or len(last) >= _DIGITS or last not in late or str(start + len(loads)) in late:
        return None
    plain, apart = _plainly_from(start, len(loads)), max(1, len(loads) // _PICKED)
    moved = sum(map(ne, [x.cycle_number for x in loads[::apart]], plain[::apart]))
    return plain if moved <= _PICKED // 4 else None


def out_of_turn(moved: list[LoadFact], in_turn: list[str]) -> OutOfTurn | None:
    """What is out of turn: of all loads those with another number than that in turn there, which stands beside each.

    None where one of their numbers came twice or has no place: then they do not run on.
    """
    return OutOfTurn(moved, in_turn) if {x.cycle_number for x in moved} == set(in_turn) else None


def _is_plain(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < _DIGITS


def _lowest_of_first_day(loads: Sequence[LoadFact]) -> int:
    """The lowest of the numbers; -1 without a load, or where one is no plain number."""
    if not loads:
        return -1
    first = loads[0].row.happened_on
    texts = [x.cycle_number for x in takewhile(lambda x: x.row.happened_on == first, loads)]
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
