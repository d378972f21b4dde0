"""Days, weeks, months, quarters or years as cells in rows."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from audit.binder.written_on_paper import month
from audit.facts.dates import add_days, add_months
from audit.judge.clocks.calendar_weeks import Weeks

DAYS, WEEKS, MONTHS, QUARTERS, YEARS = "days", "weeks", "months", "quarters", "years"
_MONTHS_OF = {MONTHS: 1, QUARTERS: 3, YEARS: 12}
_ONE_ROW = {WEEKS: 54, MONTHS: 12, YEARS: 10}  # cells that stand in one row, whatever the year they are in
_MOST_ROWS = 10  # in a panel of years


@dataclass(frozen=True, slots=True)
class Grid:
    """The cells that touch `first` to `last`, both inclusive; `start` is the first day of the first one.

    Of weeks `weeks` has the first day of each: those of the clinic as they were cut then, so that two of them share
    days where the first day of the week was changed.
    """

    form: str
    first: date
    last: date
    start: date
    weeks: tuple[date, ...] = ()

    @classmethod
    def of(cls, form: str, first: date, last: date, weeks: Weeks) -> Grid:
        starts = tuple(_starts(weeks, first, last)) if form == WEEKS else ()
        return cls(form, first, last, starts[0] if starts else _start(form, first), starts)

    def index(self, day: date) -> int:
        """The number of the last cell that holds a day, 0 for the first; below 0 or too high for a day outside."""
        if self.form == DAYS:
            return (day - self.start).days
        if self.form == WEEKS:
            n = bisect_right(self.weeks, day) - 1
            return n + max((day - self.weeks[n]).days // 7, 0) if n + 1 == len(self.weeks) else n
        months = (day.year - self.start.year) * 12 + day.month - self.start.month
        return months // _MONTHS_OF[self.form]

    def first_index(self, day: date) -> int:
        """The number of the first cell that holds a day: another than `index` where two weeks share it."""
        n = self.index(day)
        return n - 1 if self.form == WEEKS and 0 < n < len(self.weeks) and day <= self.ends(n - 1) else n

    def begins(self, n: int) -> date:
        """The first day of a cell."""
        if self.form == WEEKS:
            return self.weeks[n]
        if self.form == DAYS:
            return add_days(self.start, n)
        return add_months(self.start, n * _MONTHS_OF[self.form])

    def ends(self, n: int) -> date:
        """The last day of a cell."""
        return add_days(self.weeks[n], 6) if self.form == WEEKS else add_days(self.begins(n + 1), -1)

    def __len__(self) -> int:
        return self.index(self.last) + 1

    def cut_again(self, first: int, to: int) -> tuple[date, ...]:
        """The first days of the weeks from one to before another, where they do not lie seven days apart; else ()."""
        weeks = self.weeks[first:to]
        return weeks if weeks and (weeks[-1] - weeks[0]).days != 7 * (len(weeks) - 1) else ()

    def rows(self) -> Iterator[tuple[str, int, int, int]]:
        """(label, column of the first cell, number of the first cell, number after the last), in order."""
        if len(self) <= _ONE_ROW.get(self.form, 0):
            yield self._one_label(), 0, 0, len(self)
            return
        n = 0
        while n < len(self):
            to = n + 1
            while to < len(self) and self._row(to) == self._row(n):
                to += 1
            yield self._label(n), self._column(n) if n == 0 else 0, n, to
            n = to

    def panels(self) -> Iterator[list[tuple[str, int, int, int]]]:
        """Rows that are read together: the months of a year, some years."""
        rows = list(self.rows())
        if self.form != DAYS:
            for n in range(0, len(rows), _MOST_ROWS):
                yield rows[n : n + _MOST_ROWS]
        elif len(rows) <= 12:
            yield rows
        else:
            years = sorted({self.begins(row[2]).year for row in rows})
            yield from ([row for row in rows if self.begins(row[2]).year == year] for year in years)

    def _one_label(self) -> str:
        first, last = max(self.first, self.start).year, self.last.year
        return str(first) if first == last else f"{first}–{last % 100:02}"

    def _label(self, n: int) -> str:
        return month(self.begins(n)) if self.form == DAYS else str(self._stands_for(n).year)

    def _stands_for(self, n: int) -> date:
        """The day that says to which row a cell belongs: of a week its fourth, but one of the period."""
        if self.form != WEEKS:
            return self.begins(n)
        return min(max(add_days(self.begins(n), 3), self.first), self.last)

    def _row(self, n: int) -> tuple[int, ...]:
        day = self._stands_for(n)
        if self.form == DAYS:
            return day.year, day.month
        return (day.year // 10,) if self.form == YEARS else (day.year,)

    def _column(self, n: int) -> int:
        """Where the first cell of all stands in its row."""
        day = self._stands_for(n)
        if self.form == DAYS:
            return day.day - 1
        if self.form == WEEKS:
            return (day.timetuple().tm_yday - 1) // 7
        return day.year % 10 if self.form == YEARS else (day.month - 1) // _MONTHS_OF[self.form]


def _starts(weeks: Weeks, first: date, last: date) -> Iterator[date]:
    """The first day of each week that touches the period, oldest first."""
    start, end = weeks.first_holding(first)
    while start <= max(first, last):
        yield start
        start, end = weeks.following(start, end)


def _start(form: str, first: date) -> date:
    if form == DAYS:
        return first
    months = _MONTHS_OF[form]
    return date(first.year, first.month - (first.month - 1) % months, 1)
