"""From work to weeks: which clinic is visited in which week, and what is done there early.

Of each clinic the earliest work sets a stop in its own week; what falls due within the window after that week can be
done on the same stop, and the next stop is set by the earliest work that is left. With each thing being allowed from
`window` days before the week of its day on, no plan has fewer stops: taking the earliest deadline first is the usual
argument for covering intervals by points. That work may be done early at all is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from .values import ClinicWork, Forward, Round, Stop, Week, WorkItem

WEEKS = 12
WINDOW = 28
WINDOWS = (0, 14, 28, 60)  # days offered on the page


def week_of(day: date) -> date:
    """The Monday on or before `day`: a round's week runs from Monday to Sunday (ISO 8601)."""
    return day - timedelta(days=day.weekday())


def _end(start: date) -> date:
    return start + timedelta(days=6)


def plan_round(clinics: Iterable[ClinicWork], today: date, *, weeks: int = WEEKS, window: int = WINDOW) -> Round:
    """The next `weeks` weeks, this one first. What is overdue or has no day stands in the first.

    Everything whose day lies before the end of the last week is in exactly one week, and in none after its day.
    Later work is in the round only where it can be done early: at most `window` days after the end of a stop's week.
    """
    first = week_of(today)
    starts = [first + timedelta(weeks=n) for n in range(weeks)]
    stops: dict[date, list[Stop]] = {start: [] for start in starts}
    saved = 0
    for clinic in clinics:
        for start, stop in _stops(clinic, first, starts[-1], window):
            stops[start].append(stop)
            saved += len({f.own_week for f in stop.forward if f.own_week <= starts[-1]})
    made = tuple(Week(start, _end(start), tuple(sorted(stops[start], key=_by_urgency))) for start in starts)
    return Round(made, window, saved)


def own_week(item: WorkItem, first: date) -> date:
    """The week of the item's day, never before the first of the round."""
    return first if item.day is None else max(first, week_of(item.day))


def _stops(clinic: ClinicWork, first: date, last: date, window: int) -> list[tuple[date, Stop]]:
    """The stops at a clinic in order of weeks, each with the first day of its week."""
    left = sorted(clinic.items, key=lambda item: (own_week(item, first), _order(item)))
    found: list[tuple[date, list[WorkItem], list[WorkItem]]] = []
    while left and (start := own_week(left[0], first)) <= last:
        until = _end(start) + timedelta(days=window)
        due = [item for item in left if own_week(item, first) == start]
        early = [item for item in left[len(due) :] if item.day is not None and item.day <= until]
        found.append((start, due, early))
        left = left[len(due) + len(early) :]
    after = [start for start, _, _ in found[1:]] + [own_week(left[0], first) if left else None]
    return [
        (
            start,
            Stop(clinic.clinic, clinic.name, tuple(due), tuple(Forward(i, own_week(i, first), nxt) for i in early)),
        )
        for (start, due, early), nxt in zip(found, after, strict=False)
    ]


def _order(item: WorkItem):
    """A unit out of service first, then overdue before due, what has no day first; by day, unit and title."""
    late = (not item.out, not item.overdue, item.day is not None, item.day or date.min)
    return (*late, item.label, item.unit, item.title, item.id)


def _by_urgency(stop: Stop):
    out, late = any(item.out for item in stop.due), any(item.overdue for item in stop.due)
    return (not out, not late, stop.name, stop.clinic)
