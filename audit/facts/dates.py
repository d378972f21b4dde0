"""Calendar arithmetic: months that clamp, weeks with a chosen first day. Days in, days out; no wall clock.

Months clamp: 31 January plus one month is 28 (29) February, not 2 or 3 March. A month later means "by the same day
of the next month"; where that day does not exist the last day of the month is never later than any other reading,
so clamping is the stricter choice for a due date. It does not undo itself: 31 January + 1 month - 1 month is
28 January. So due dates are always counted in one step from the day the work was done, never month by month.
"""

from __future__ import annotations

from calendar import monthrange
from datetime import date, timedelta

ONE_DAY = timedelta(days=1)


def add_months(day: date, months: int) -> date:
    """`day` plus `months` calendar months (may be negative), clamped to the last day of the month reached."""
    index = day.year * 12 + day.month - 1 + months
    year, month = divmod(index, 12)
    if day.day <= 28:  # no month is shorter
        return date(year, month + 1, day.day)
    last = monthrange(year, month + 1)[1]
    return date(year, month + 1, min(day.day, last))


def add_days(day: date, days: int) -> date:
    """`day` plus `days` (may be negative)."""
    return day + timedelta(days=days)


def week_of(day: date, week_start: int) -> tuple[date, date]:
    """First and last day, both inclusive, of the week of `day`. `week_start`: 0 is Monday, 6 is Sunday."""
    if not 0 <= week_start <= 6:
        raise ValueError(f"week_start is {week_start}; it must be 0 (Monday) to 6 (Sunday)")
    start = day - timedelta(days=(day.weekday() - week_start) % 7)
    return start, start + timedelta(days=6)


def month_of(day: date) -> tuple[date, date]:
    """First and last day, both inclusive, of the calendar month of `day`."""
    return day.replace(day=1), day.replace(day=monthrange(day.year, day.month)[1])


def days_words(days: int) -> str:
    """ "1 day", "12 days"."""
    return f"{days} day" if days == 1 else f"{days} days"
