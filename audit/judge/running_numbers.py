"""Cycle numbers that run on, none twice and none missing: most logs are so, and that is seen at a glance.

The numbers are compared with the plain ones from the lowest of the first day on; only what stands in another place is
read. Loads of one day may stand in any order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import compress, takewhile
from operator import ne

from audit.facts import LoadFact

_LONG_DAY = 50  # more loads than a unit runs in a day
_USUAL = 50_000  # most logs have lower numbers
_DIGITS = 10  # a plain cycle number has fewer


@dataclass(slots=True)
class Run:
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
        late = [(n, m) for n, m in zip(self.places, self.own, strict=True) if n > m]
        return not any([loads[n].row.happened_on != loads[m].row.happened_on for n, m in late])


def run_of_numbers(loads: Sequence[LoadFact], written: list[str]) -> Run | None:
    """How the numbers of the loads run on, as `written`; None where they don't, or are no plain numbers."""
    start = _lowest_of_first_day(loads, written)
    last = start + len(written) - 1
    if start < 0 or len(str(last)) >= _DIGITS or str(last) not in written[-_LONG_DAY:]:
        return None
    held = _plainly_from(start, len(written))
    if held == written:
        return Run(start, [], [])
    places = list(compress(range(len(held)), map(ne, written, held)))
    moved = [written[n] for n in places]
    if not all(moved) or not _are_plain("".join(moved)) or max(map(len, moved)) >= _DIGITS:
        return None
    own = [int(text) - start for text in moved]
    return Run(start, places, own) if sorted(own) == places else None


def _are_plain(text: str) -> bool:
    return text.isascii() and text.isdigit()


def _lowest_of_first_day(loads: Sequence[LoadFact], written: list[str]) -> int:
    """The lowest of the numbers; -1 without a load, or where one is no plain number."""
    if not loads:
        return -1
    first = loads[0].row.happened_on
    texts = written[: len(list(takewhile(lambda x: x.row.happened_on == first, loads)))]
    return min(map(int, texts)) if all(map(_are_plain, texts)) else -1


def _plainly_from(start: int, count: int) -> list[str]:
    """So many plain numbers in a row, as they are written."""
    if start + count > _USUAL:
        return list(map(str, range(start, start + count)))
    return list(_usual()[start : start + count])


@cache
def _usual() -> tuple[str, ...]:
    """The numbers of most logs, written out once."""
    return tuple(map(str, range(_USUAL)))
