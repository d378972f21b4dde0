"""The weeks of a clinic, each cut by the first day of the week that its terms of then name.

A change re-cuts no earlier week: weeks that begin before it stay as they were, the new ones begin on or after it.
Where days would lie between the two, the first new week begins seven days sooner and overlaps the last old one: each
week is a whole one, and a test in both counts for both. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from audit.facts import TermsFact
from audit.facts.dates import ONE_DAY, week_of

_WEEK, _SIX_DAYS = timedelta(weeks=1), timedelta(days=6)
_FIRST, _LAST = date.min + 2 * _WEEK, date.max - 2 * _WEEK


@dataclass(frozen=True, slots=True)
class Weeks:
    """Rows of weeks, oldest first: the first days of the first and of the last week of each row, seven days apart."""

    rows: tuple[tuple[date, date], ...]

    @classmethod
    def of(cls, terms: Iterable[TermsFact]) -> Weeks:
        """The weeks by the terms, from the day each takes effect; before all of them those of the first."""
        changes = list(_changes(terms))
        rows: list[tuple[date, date]] = []
        for n, (day, week_start) in enumerate(changes):
            until = changes[n + 1][0] if n + 1 < len(changes) else _LAST
            first = week_of((day if n else _FIRST) + _SIX_DAYS, week_start)[0]  # the first one of that day or later
            last = week_of(until - ONE_DAY, week_start)[0]
            if rows and first > rows[-1][1] + _WEEK:
                first -= _WEEK
            if first <= last:
                rows.append((first, last))
        return cls(tuple(rows))

    @property
    def unchanged(self) -> bool:
        """Whether all weeks begin on the same day of the week."""
        return len(self.rows) == 1

    def holding(self, day: date) -> tuple[date, date]:
        """The last week, first and last day inclusive, that holds the day."""
        n = self._row(day)
        start = min(self._begun(n, day), self.rows[n][1])
        return start, start + _SIX_DAYS

    def first_holding(self, day: date) -> tuple[date, date]:
        """The first week that holds the day: another than the last one where weeks overlap."""
        n = self._row(day)
        if n and day <= self.rows[n - 1][1] + _SIX_DAYS:
            return self.rows[n - 1][1], self.rows[n - 1][1] + _SIX_DAYS
        return self.holding(day)

    def following(self, start: date, end: date) -> tuple[date, date]:
        """The week after the one with these two days."""
        if self.unchanged:
            return start + _WEEK, end + _WEEK
        n = self._row(start)
        start = start + _WEEK if start < self.rows[n][1] or n + 1 == len(self.rows) else self.rows[n + 1][0]
        return start, start + _SIX_DAYS

    def _row(self, day: date) -> int:
        """The place of the last row that has begun by the day; of the first one before all of them."""
        return 0 if self.unchanged else max(bisect_right(self.rows, (day, date.max)) - 1, 0)

    def _begun(self, n: int, day: date) -> date:
        return day - timedelta(days=(day - self.rows[n][0]).days % 7)


def _changes(terms: Iterable[TermsFact]) -> Iterator[tuple[date, int]]:
    """(day, first day of the week) of the first terms and of each change, oldest first; Monday without terms."""
    held = None
    by_day = {t.effective_on: t.week_start for t in sorted(terms, key=lambda t: (t.row.number, t.row.line))}
    for day in sorted(by_day) or [_FIRST]:
        week_start = by_day.get(day, 0)
        if week_start != held:
            yield day, week_start
        held = week_start
