"""Where a fact comes from, and in which order facts stand."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import TypeVar

F = TypeVar("F")


@dataclass(frozen=True, slots=True)
class Row:
    """Where a fact comes from: the row, its entry in the ledger, and the two kinds of time."""

    ref: str  # of the version in force
    origin: str  # of the first version; what other facts point to
    number: int  # of the ledger entry; larger is later
    line: int  # within the entry
    happened_on: date
    happened_at: datetime | None  # None: the time of day is not known
    logged_at: datetime
    logged_by: str = ""
    logged_for: str = ""  # the company on whose behalf, "" for the clinic's own people
    late: bool = False  # written after the end of the next working day
    paper: str = ""  # the page it was transcribed from, "" when it was witnessed
    corrected: bool = False  # an earlier version exists
    # The ref of the organisation whose ledger it stands in, "" for the clinic's own. Not in the open format yet.
    ledger: str = field(default="", compare=False, metadata={"written": False})


class Ordered(tuple):
    """Facts already in order, so that they are not sorted again. Made by `in_order`, kept by the cut by day."""

    __slots__ = ()


_LAST = datetime.max  # noqa: DTZ901 (compared only with moments made naive below)


def _key(fact):
    row = fact.row
    at = row.happened_at.replace(tzinfo=None) if row.happened_at else _LAST
    return (row.happened_on, at, row.number, row.line)


def in_order(facts) -> Ordered:
    """The facts sorted by day, then time where both know it, then ledger number and line.

    A row without a time sorts last of its day.
    """
    return facts if type(facts) is Ordered else Ordered(sorted(facts, key=_key))


def happened_on(fact) -> date:
    """The day of a fact, as the key of a search."""
    return fact.row.happened_on


def within(facts, first: date, last: date) -> Sequence:
    """The facts of the days `first` to `last`, both inclusive, in order."""
    rows = in_order(facts)
    low = bisect_left(rows, first, key=happened_on)
    return rows[low : bisect_right(rows, last, lo=low, key=happened_on)]


def newest(facts: Iterable[F], day_of: Callable[[F], date]) -> F | None:
    """The newest fact by the day that `day_of` gives, later ledger entries winning; None when there is none."""
    return max(facts, key=lambda f: (day_of(f), f.row.number, f.row.line), default=None)
