"""How many cycles ran in a period, against how many are logged, as the counter of cycles and the cycle numbers tell.

Each tells for itself, and the greatest that either shows counts. A reading of the counter is the total at the end of
its day. A step in the cycle numbers says how many ran between, unless it falls back, repeats or leaps farther than a
unit can run: then the count is broken, and what ran there is not known. What was shown across the first day of the
period is spread evenly over its days. Where neither tells for more than a month of use it is said that how many
cycles ran is not known. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from itertools import chain, pairwise

from audit.facts import UnitFacts
from audit.facts.dates import ONE_DAY, add_days
from audit.judge.clocks.counters import counter_of
from audit.judge.lookback.inside import cycles_logged, test_cycles_of_work
from audit.judge.usage import Usage, usage_of

from .asked import IN_PART, NO_RECORD, YES, AskedPlace, Reply, View, joined

MOST_A_DAY = 100  # the shortest cycle with loading takes about a quarter of an hour; common practice, no source
UNTOLD_DAYS = 31  # of use without evidence of the number of cycles that are let pass; common practice, no source

Days = tuple[date, date]  # both ends inclusive


@dataclass(frozen=True, slots=True)
class CyclesRun:
    """The cycles of a period, first and last day inclusive. `missing`: shown by `shown_by` and not logged, at least.

    `unknown`: spans, both ends inclusive, for which nothing tells how many cycles ran.
    """

    first: date
    last: date
    logged: int
    missing: int
    shown_by: str  # "the cycle counter", "the cycle numbers"; "" where neither tells
    unknown: tuple[Days, ...]

    @property
    def complete(self) -> bool:
        """Whether as many cycles are logged as ran, as far as the whole period is known."""
        return not self.missing and not self.unknown

    @property
    def words(self) -> str:
        """How many of the cycles are logged, in a sentence."""
        told = [f"{self.logged:,} of about {self.logged + self.missing:,} cycles logged, by {self.shown_by}"]
        if not self.missing:
            told = [f"{self.logged:,} cycles logged"]
            told += [f"none is missing by {self.shown_by}"] if self.shown_by else []
        if self.unknown:
            spans = joined(f"{a.isoformat()} to {b.isoformat()}" for a, b in self.unknown)
            told.append(f"how many cycles ran is not known for {spans}")
        return "; ".join(told) + "."

    @property
    def gap(self) -> str:
        """What is missing, "" for nothing."""
        missing = f"about {self.missing:,} cycles that are not logged" if self.missing else ""
        unknown = "readings of the cycle counter, or cycle numbers" if self.unknown else ""
        return "; ".join(t for t in (missing, unknown) if t)


def measured(place: AskedPlace, view: View, months: int, reply: Reply) -> Reply:
    """A reply about each load, with the cycles of the last `months`: "yes" only where all that ran are logged."""
    run = view.once(("cycles", months), lambda: cycles_run(view.facts, place.since(months), place.as_of))
    if reply.answer == NO_RECORD and not run.missing:
        return reply
    answer = IN_PART if reply.answer == YES and not run.complete else reply.answer
    gap = "; ".join(t for t in (run.gap, reply.gap) if t)
    return Reply(answer, f"{reply.words} {run.words[:1].upper()}{run.words[1:]}", reply.evidence, gap)


def cycles_run(unit: UnitFacts, first: date, last: date) -> CyclesRun:
    """The cycles of the unit from `first` to `last`, both inclusive; facts after `last` must have been left out."""
    logged = cycles_logged(unit, first - ONE_DAY, last)
    counter, numbers = _by_counter(unit, first), _by_numbers(unit, first)
    told = {"the cycle counter": counter, "the cycle numbers": numbers}
    told = {name: evidence for name, evidence in told.items() if evidence.spans}
    missing = max((e.missing for e in told.values()), default=0)
    shown_by = " and ".join(name for name, e in told.items() if e.missing == missing)
    unknown = [*_untold(usage_of(unit), (*counter.spans, *numbers.spans), first, last)]
    unknown += [*_unbridged(counter, numbers, first), *_unbridged(numbers, counter, first)]
    return CyclesRun(first, last, logged, missing, shown_by, tuple(sorted(set(unknown))))


def unlogged_inside(unit: UnitFacts, after: date, before: date) -> int:
    """Cycles not logged that readings or numbers of days between both, exclusive, show to have run between them."""
    counter, numbers = counter_of(unit, "cycles"), numbered(unit)
    days = [] if counter is None else [d for d in counter.days if after < d < before]
    totals = dict(zip(counter.days, counter.totals, strict=True)) if days else {}
    shown = 0
    if len(days) > 1:
        shown = max(0, _whole(totals[days[-1]] - totals[days[0]]) - cycles_logged(unit, days[0], days[-1]))
    steps = [(a, b) for a, b in pairwise(n for n in numbers if after < n[0] < before) if _follows(a, b)]
    return max(shown, sum(b[1] - a[1] - 1 for a, b in steps) - len(_unnumbered(unit, after, before)))


# ------------------------------------------------------------------------------------------------ what tells


@dataclass(frozen=True, slots=True)
class _Told:
    """What one kind of evidence tells: spans of days that it covers, and where its count is broken."""

    missing: int
    spans: tuple[Days, ...]
    breaks: tuple[Days, ...] = ()


def _by_counter(unit: UnitFacts, first: date) -> _Told:
    counter = counter_of(unit, "cycles")
    if counter is None:
        return _Told(0, ())
    fell = counter.fell_on
    breaks = ((fell - ONE_DAY, fell),) if fell is not None and fell >= first else ()
    n = max((k for k, day in enumerate(counter.days) if day < first), default=0)
    days, totals = counter.days[n:], counter.totals[n:]
    if len(days) < 2:
        return _Told(0, (), breaks)
    inside = 1 if days[0] < first else 0
    missing = 0
    if inside:
        before = max(0, _whole(totals[1] - totals[0]) - cycles_logged(unit, days[0], days[1]))
        missing = _share(before, days[0], days[1], first)
    missing += max(0, _whole(totals[-1] - totals[inside]) - cycles_logged(unit, days[inside], days[-1]))
    return _Told(missing, ((days[0], days[-1]),), breaks)


def _by_numbers(unit: UnitFacts, first: date) -> _Told:
    rows = numbered(unit)
    n = max((k for k, (day, _) in enumerate(rows) if day < first), default=0)
    pool = _unnumbered(unit, rows[n][0] - ONE_DAY, date.max) if rows else []
    missing, spans, breaks, start = 0, [], [], n
    for k in range(n + 1, len(rows)):
        (before, one), (day, other) = rows[k - 1], rows[k]
        if not _follows(rows[k - 1], rows[k]):
            spans += [(rows[start][0], before)] if k - 1 > start else []
            breaks += [(before, day)] if day >= first else []
            start = k
        elif other - one > 1:
            filled = [d for d in pool if before <= d <= day][: other - one - 1]
            pool = _without(pool, filled)
            missing += _share(other - one - 1 - len(filled), before, day, first)
    spans += [(rows[start][0], rows[-1][0])] if len(rows) - 1 > start else []
    return _Told(missing, tuple(s for s in spans if s[1] >= first), tuple(breaks))


def numbered(unit: UnitFacts) -> list[tuple[date, int]]:
    """(day, cycle number) of everything that ran a cycle with a plain number, sorted, each once."""
    kinds = (unit.loads, unit.bio_tests, unit.air_removal, unit.chemical, unit.checks, test_cycles_of_work(unit))
    rows = chain.from_iterable(kinds)
    return sorted({(f.row.happened_on, int(f.cycle_number)) for f in rows if plain(f.cycle_number)})


def plain(text: str) -> bool:
    """Whether a cycle number is digits alone, and not too many to be one."""
    return text.isascii() and text.isdigit() and len(text) < 10


def breaks_in(rows: list[tuple[date, int]]) -> Iterator[tuple[tuple[date, int], tuple[date, int]]]:
    """Neighbours of which the second does not follow the first: it falls back, repeats or leaps too far."""
    return ((a, b) for a, b in pairwise(rows) if not _follows(a, b))


def _follows(one: tuple[date, int], other: tuple[date, int]) -> bool:
    """Whether the cycles between two numbers can have been run in the time between them."""
    return 0 < other[1] - one[1] <= MOST_A_DAY * ((other[0] - one[0]).days + 1)


def _unnumbered(unit: UnitFacts, after: date, before: date) -> list[date]:
    """The days, between both exclusive, of cycles logged without a plain number, sorted, one for each."""
    kinds = (unit.loads, unit.bio_tests, unit.air_removal, unit.leaks, test_cycles_of_work(unit))
    days = [f.row.happened_on for f in chain.from_iterable(kinds) if not plain(getattr(f, "cycle_number", ""))]
    return sorted(d for d in days if after < d < before)


def _without(pool: list[date], used: list[date]) -> list[date]:
    left = list(pool)
    for day in used:
        left.remove(day)
    return left


def _share(missing: int, before: date, day: date, first: date) -> int:
    """How many of what is missing between two days, the first exclusive, fall into the period; rounded up."""
    if before >= first or not missing:
        return missing
    return -(-missing * ((day - first).days + 1) // (day - before).days)


def _whole(number) -> int:
    return -int(-number // 1)


# ------------------------------------------------------------------------------------------------ what is not told


def _untold(usage: Usage, spans: Iterable[Days], first: date, last: date) -> Iterator[Days]:
    """Parts of the period in use of which nothing tells, longer than a month; the whole where nothing tells."""
    begin = max(first, usage.begin)
    if not usage.begin_known and usage.begin > first:
        yield first, min(usage.begin - ONE_DAY, last)
    if begin > last:
        return
    held = sorted(s for s in spans if s[1] >= begin)
    if not held:
        yield begin, last
        return
    covered = begin - ONE_DAY
    for start, end in [*held, (add_days(last, 1), last)]:
        left = (covered + ONE_DAY, start - ONE_DAY)
        if (left[1] - left[0]).days + 1 > UNTOLD_DAYS and usage.any_use(*left):
            yield left
        covered = max(covered, end)


def _unbridged(one: _Told, other: _Told, first: date) -> Iterator[Days]:
    """Where the count of one is broken and the other does not reach over it."""
    for start, end in one.breaks:
        if not any(a <= start and end <= b and a < b for a, b in other.spans):
            yield max(start, first), end
