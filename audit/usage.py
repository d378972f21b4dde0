"""When a unit was in use: installed, placed, not stored, withdrawn or on loan elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from .dates import ONE_DAY
from .facts import PlacementFact, UnitEventFact, UnitFacts, in_order

STORED = "stored as spare"
_STOPS = {"withdrawn", "decommissioned", "loaner out"}
_STARTS = {"returned", "installed", "loaner in"}


@dataclass(frozen=True, slots=True)
class Usage:
    """Begin of use, and the spans without use: first day inclusive, last day inclusive or None (still so)."""

    begin: date
    begin_known: bool  # an installation is on record; else records merely begin here
    idle: tuple[tuple[date, date | None, str], ...]

    def in_use(self, day: date) -> bool:
        """Whether the unit may have been used on any part of that day."""
        return day >= self.begin and not self.why_idle(day)

    def why_idle(self, day: date) -> str:
        """Why the unit was out of use the whole day, or ""."""
        for first, last, why in self.idle:
            if first <= day and (last is None or day <= last):
                return why
        return ""

    def any_use(self, first: date, last: date) -> bool:
        """Whether it may have been in use on any day between both ends, inclusive."""
        day = max(first, self.begin)
        while day <= last:
            stop = self._idle_until(day)
            if stop is _NEVER_IDLE:
                return True
            if stop is None:
                return False
            day = stop + ONE_DAY
        return False

    def resumed(self, day: date) -> date:
        """The first day of the span of use that holds `day`."""
        ends = [last + ONE_DAY for _, last, _ in self.idle if last is not None and last < day]
        return max([self.begin, *ends])

    def _idle_until(self, day: date):
        spans = [last for first, last, _ in self.idle if first <= day and (last is None or day <= last)]
        if not spans:
            return _NEVER_IDLE
        return None if None in spans else max(spans)


_NEVER_IDLE = object()


def placement_on(unit: UnitFacts, day: date) -> PlacementFact | None:
    """The placement in effect on `day`, or None."""
    current = [p for p in unit.placements if p.effective_on <= day]
    return max(current, key=lambda p: (p.effective_on, p.row.number, p.row.line), default=None)


def installation(unit: UnitFacts) -> UnitEventFact | None:
    """The newest installation event, or None."""
    return next((e for e in reversed(in_order(unit.events)) if e.kind == "installed"), None)


def usage_of(unit: UnitFacts, out_spans=()) -> Usage:
    """The unit's use from its facts; `out_spans` are further spans (first, last or None, why) out of service.

    A day on which the unit was withdrawn or returned is a day in use: it may have been used for part of it.
    """
    first_events = [e.row.happened_on for e in unit.events if e.kind in ("installed", "loaner in")]
    placed = [p.effective_on for p in unit.placements]
    begin = min(first_events) if first_events else min([*placed, unit.row.happened_on])
    idle = [*_stored(unit), *_stopped(unit), *out_spans]
    spans = tuple(s for s in idle if s[1] is None or s[0] <= s[1])
    return Usage(begin, bool(first_events), spans)


def _stored(unit: UnitFacts):
    """Spans in store. Of several placements with one day, the last logged holds."""
    by_day = {}
    for p in sorted(unit.placements, key=lambda p: (p.effective_on, p.row.number, p.row.line)):
        by_day[p.effective_on] = p
    days = sorted(by_day)
    for n, day in enumerate(days):
        if by_day[day].use == STORED:
            yield day, days[n + 1] - ONE_DAY if n + 1 < len(days) else None, STORED


def _stopped(unit: UnitFacts):
    since, why = None, ""
    for event in in_order(unit.events):
        if event.kind in _STOPS and since is None:
            since, why = event.row.happened_on, event.kind
        elif event.kind in _STARTS and since is not None:
            yield since + ONE_DAY, event.row.happened_on - ONE_DAY, why
            since = None
    if since is not None:
        yield since + ONE_DAY, None, why
