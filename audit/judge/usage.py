"""When a unit was in use: installed, placed, not stored, withdrawn or on loan elsewhere.

A day on which a load is logged is a day of use, whatever is said of the unit that day: the record of its being out of
use does not make what ran unasked. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from itertools import chain

from audit.facts import LoadFact, PlacementFact, UnitEventFact, UnitFacts, happened_on, in_order, within
from audit.facts.dates import ONE_DAY

from .biological import cycle_key

STORED = "stored as spare"
_STOPS = {"withdrawn", "decommissioned", "loaner out"}
_STARTS = {"returned", "installed", "loaner in"}


@dataclass(frozen=True, slots=True)
class Usage:
    """Begin of use, and the spans without use: first day inclusive, last day inclusive or None (still so)."""

    begin: date
    begin_known: bool  # an installation is on record; else records merely begin here
    idle: tuple[tuple[date, date | None, str], ...]  # as they are on record
    loaded: frozenset[date] = frozenset()  # days within them on which a load was run all the same
    # the same spans joined where they meet, without the days loaded; the last day of one still open is date.max
    _firsts: tuple[date, ...] = field(init=False, repr=False, compare=False)
    _lasts: tuple[date, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self):
        joined = list(_without(_joined(self.idle), sorted(self.loaded))) if self.idle else []
        object.__setattr__(self, "_firsts", tuple([first for first, _ in joined]))
        object.__setattr__(self, "_lasts", tuple([last for _, last in joined]))

    @property
    def unused(self) -> tuple[tuple[date, date], ...]:
        """The spans without use joined where they meet, oldest first; date.max is the end of one still open."""
        return tuple(zip(self._firsts, self._lasts, strict=True))

    def in_use(self, day: date) -> bool:
        """Whether the unit may have been used on any part of that day."""
        return day >= self.begin and self._idle_at(day) is None

    def why_idle(self, day: date) -> str:
        """Why the unit was out of use the whole day, or ""."""
        if day in self.loaded:
            return ""
        for first, last, why in self.idle:
            if first <= day and (last is None or day <= last):
                return why
        return ""

    def any_use(self, first: date, last: date) -> bool:
        """Whether it may have been in use on any day between both ends, inclusive."""
        day = max(first, self.begin)
        if day > last:
            return False
        n = self._idle_at(day)
        return n is None or self._lasts[n] < last

    def resumed(self, day: date) -> date:
        """The first day of the span of use that holds `day`; of the one before it where `day` is in none."""
        n = bisect_left(self._lasts, day)
        return max(self.begin, self._lasts[n - 1] + ONE_DAY) if n else self.begin

    def stretches(self, first: date, last: date) -> Iterator[tuple[date, date]]:
        """Spans of use that touch `first` to `last`, oldest first, whole: (first day, last day or date.max)."""
        n = bisect_left(self._lasts, max(first, self.begin))
        if n < len(self._lasts) and self._firsts[n] <= max(first, self.begin):
            n += 1
        while n == 0 or self._lasts[n - 1] < date.max:
            start = max(self.begin, self._lasts[n - 1] + ONE_DAY) if n else self.begin
            if start > last:
                return
            if n == len(self._firsts):
                yield start, date.max
                return
            end = self._firsts[n] - ONE_DAY
            if end >= max(first, start):
                yield start, end
            n += 1

    def _idle_at(self, day: date) -> int | None:
        """The place of the joined span without use that holds `day`, or None."""
        n = bisect_right(self._firsts, day) - 1
        return n if n >= 0 and day <= self._lasts[n] else None


def _joined(idle: Iterable[tuple[date, date | None, str]]) -> Iterator[tuple[date, date]]:
    held: tuple[date, date] | None = None
    for first, last in sorted((first, last or date.max) for first, last, _ in idle):
        if held is not None and (held[1] == date.max or first <= held[1] + ONE_DAY):
            held = (held[0], max(held[1], last))
            continue
        if held is not None:
            yield held
        held = (first, last)
    if held is not None:
        yield held


def _without(spans: Iterable[tuple[date, date]], days: list[date]) -> Iterator[tuple[date, date]]:
    """The spans less the days, which are sorted."""
    for first, last in spans:
        for day in days:
            if first <= day <= last:
                if first < day:
                    yield first, day - ONE_DAY
                first = day + ONE_DAY
        if first <= last:
            yield first, last


def placement_on(unit: UnitFacts, day: date) -> PlacementFact | None:
    """The placement in effect on `day`, or None."""
    current = [p for p in unit.placements if p.effective_on <= day]
    if len(current) < 2:
        return current[0] if current else None
    return max(current, key=lambda p: (p.effective_on, p.row.number, p.row.line))


def installation(unit: UnitFacts) -> UnitEventFact | None:
    """The first installation event, or None: to be installed once more renews nothing of a unit."""
    return next((e for e in in_order(unit.events) if e.kind == "installed"), None)


def usage_of(unit: UnitFacts, out_spans=()) -> Usage:
    """The unit's use from its facts; `out_spans` are further spans (first, last or None, why) out of service.

    A day on which the unit was withdrawn or returned is a day in use: it may have been used for part of it.
    """
    first_events = [e.row.happened_on for e in unit.events if e.kind in ("installed", "loaner in")]
    placed = [p.effective_on for p in unit.placements]
    begin = min(first_events) if first_events else min([*placed, unit.row.happened_on])
    idle = [*_stored(unit), *_stopped(unit), *out_spans]
    spans = tuple([s for s in idle if s[1] is None or s[0] <= s[1]])
    return Usage(begin, bool(first_events), spans, frozenset(_loaded(unit, spans)))


def loads_within(unit: UnitFacts, first: date, last: date | None) -> list[LoadFact]:
    """The loads of those days, both inclusive, None without end; without the cycles of tests logged as loads."""
    loads = in_order(unit.loads)
    low = bisect_left(loads, first, key=happened_on)
    held = loads[low:] if last is None else loads[low : bisect_right(loads, last, lo=low, key=happened_on)]
    if not held:
        return []
    begin, end = happened_on(held[0]), happened_on(held[-1])
    rows = chain(within(unit.bio_tests, begin, end), within(unit.air_removal, begin, end))
    tests = {(happened_on(t), cycle_key(t)) for t in rows if t.cycle_number}
    return [x for x in held if (x.row.happened_on, cycle_key(x)) not in tests] if tests else list(held)


def _loaded(unit: UnitFacts, spans) -> Iterator[date]:
    for first, last, _ in spans:
        yield from (happened_on(x) for x in loads_within(unit, first, last))


def _stored(unit: UnitFacts):
    """Spans in store. Of several placements with one day, the last logged holds."""
    if not any([p.use == STORED for p in unit.placements]):
        return
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
