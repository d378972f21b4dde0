"""How many cycles ran in a period, against how many are logged, as the counter of cycles and the cycle numbers tell.

Each tells for itself, and the greatest that either shows counts. A reading of the counter is the total at the end of
its day. A step in the cycle numbers says how many ran between, unless it falls back, repeats or leaps farther than a
unit can run: then the count is broken, and what ran there is not known. What was shown across the first day of the
period is spread evenly over its days. Where neither tells for more than a month of use it is said that how many
cycles ran is not known. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from operator import sub

from audit.facts import UnitFacts, happened_on, in_order
from audit.facts.dates import ONE_DAY, add_days
from audit.judge.clocks.counters import Counter, counter_of
from audit.judge.lookback.logged import LoggedLoads, cycle_days, cycles_logged, test_cycles_of_work
from audit.judge.usage import Usage, usage_of

from .asked import IN_PART, LONG_MONTHS, NO_RECORD, YES, AskedPlace, Reply, View, joined

MOST_A_DAY = 100  # the shortest cycle with loading takes about a quarter of an hour; common practice, no source
UNTOLD_DAYS = 31  # of use without evidence of the number of cycles that are let pass; common practice, no source

Days = tuple[date, date]  # both ends inclusive
Step = tuple[tuple[date, int], tuple[date, int]]  # two neighbours, each with its day and number


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
    run = run_of(place, view, months)
    if reply.answer == NO_RECORD and not run.missing:
        return reply
    answer = IN_PART if reply.answer == YES and not run.complete else reply.answer
    gap = "; ".join(t for t in (run.gap, reply.gap) if t)
    return Reply(answer, f"{reply.words} {run.words[:1].upper()}{run.words[1:]}", reply.evidence, gap)


def run_of(place: AskedPlace, view: View, months: int) -> CyclesRun:
    """The cycles of the last `months`, at most LONG_MONTHS, made once for each length."""
    first = place.since(months)
    return view.once(("cycles", months), lambda: _run(log_of(place, view), view.usage, first, place.as_of))


def log_of(place: AskedPlace, view: View) -> CycleLog:
    """The cycles on record of the longest time that is asked about, made once."""
    return view.once("log", lambda: CycleLog.since(view.facts, place.since(LONG_MONTHS), place.as_of))


def cycles_run(unit: UnitFacts, first: date, last: date) -> CyclesRun:
    """The cycles of the unit from `first` to `last`, both inclusive; facts after `last` must have been left out."""
    return _run(CycleLog.since(unit, first, last), usage_of(unit), first, last)


def _run(log: CycleLog, usage: Usage, first: date, last: date) -> CyclesRun:
    counter, numbers = _by_counter(log, first), _by_numbers(log, first)
    told = {"the cycle counter": counter, "the cycle numbers": numbers}
    told = {name: evidence for name, evidence in told.items() if evidence.spans}
    missing = max((e.missing for e in told.values()), default=0)
    shown_by = " and ".join(name for name, e in told.items() if e.missing == missing)
    unknown = [*_untold(usage, (*counter.spans, *numbers.spans), first, last)]
    plainless = [(day, day) for day in dict.fromkeys(log.plainless) if day >= first]
    numbers = replace(numbers, breaks=(*numbers.breaks, *plainless)) if plainless else numbers
    unknown += [*_unbridged(counter, numbers, first), *_unbridged(numbers, counter, first)]
    return CyclesRun(first, last, log.logged(first - ONE_DAY, last), missing, shown_by, tuple(_merged(unknown)))


def unlogged_inside(unit: UnitFacts, after: date, before: date) -> int:
    """Cycles not logged that readings or numbers of days between both, exclusive, show to have run between them."""
    if after + ONE_DAY >= before:
        return 0
    log = CycleLog.since(unit, after + ONE_DAY, before - ONE_DAY)
    counter = log.counter
    days = [] if counter is None else [d for d in counter.days if after < d < before]
    totals = dict(zip(counter.days, counter.totals, strict=True)) if days else {}
    shown = 0
    if len(days) > 1:
        shown = max(0, _whole(totals[days[-1]] - totals[days[0]]) - log.logged(days[0], days[-1]))
    steps = [(a, b) for a, b in log.steps(after + ONE_DAY) if follows(a, b)]
    return max(shown, sum(b[1] - a[1] - 1 for a, b in steps) - len(log.unnumbered))


# ------------------------------------------------------------------------------------------------ what tells


@dataclass(frozen=True, slots=True)
class _Told:
    """What one kind of evidence tells: spans of days that it covers, and where its count is broken."""

    missing: int
    spans: tuple[Days, ...]
    breaks: tuple[Days, ...] = ()


def _by_counter(log: CycleLog, first: date) -> _Told:
    counter = log.counter
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
        before = max(0, _whole(totals[1] - totals[0]) - log.logged(days[0], days[1]))
        missing = _share(before, days[0], days[1], first)
    missing += max(0, _whole(totals[-1] - totals[inside]) - log.logged(days[inside], days[-1]))
    return _Told(missing, ((days[0], days[-1]),), breaks)


def _by_numbers(log: CycleLog, first: date) -> _Told:
    days, numbers = log.number_days, log.numbers
    begin = max(0, bisect_left(days, first) - 1)
    pool: list[date] | None = None
    missing, spans, breaks, start = 0, [], [], begin
    for k in [k for k in log.jumps if k > begin]:
        before, one, day, other = days[k - 1], numbers[k - 1], days[k], numbers[k]
        if not follows((before, one), (day, other)):
            spans += [(days[start], before)] if k - 1 > start else []
            breaks += [(before, day)] if day >= first else []
            start = k
        else:
            pool = list(log.unnumbered) if pool is None else pool
            filled = [d for d in pool if before <= d <= day][: other - one - 1]
            pool = _without(pool, filled)
            missing += _share(other - one - 1 - len(filled), before, day, first)
    spans += [(days[start], days[-1])] if len(days) - 1 > start else []
    return _Told(missing, tuple(s for s in spans if s[1] >= first), tuple(breaks))


@dataclass(frozen=True, slots=True)
class CycleLog:
    """The cycles of a unit on record from `first` on.

    `numbers`: of everything with a plain cycle number, by day and number, each once, with the newest such of the days
    before; `number_days`: the day of each; `unnumbered`: a day for each cycle without one, sorted; `days`: a day for
    each cycle, sorted; `plainless`: the day of each load without a plain number, sorted.
    """

    unit: UnitFacts
    first: date
    number_days: list[date]
    numbers: list[int]
    jumps: list[int]  # the places of the numbers that are not the next after the one before
    unnumbered: list[date]
    plainless: list[date]
    days: list[date]
    counter: Counter | None

    @classmethod
    def since(cls, unit: UnitFacts, first: date, last: date) -> CycleLog:
        """The cycles from `first` to `last`, both inclusive."""
        loads = LoggedLoads.of(unit, first - ONE_DAY, last)
        numbers, earlier, unnumbered, plainless = {}, [], [], []
        kinds = (unit.loads, unit.bio_tests, unit.air_removal, test_cycles_of_work(unit), unit.chemical, unit.checks)
        for n, rows in enumerate(map(in_order, kinds)):
            low, high = bisect_left(rows, first, key=happened_on), bisect_right(rows, last, key=happened_on)
            earlier += _newest(rows, low) if n < 4 else []  # indicators and checks seldom name a cycle
            if n == 0 and loads.run is not None:
                continue
            days = loads.days if n == 0 else [x.row.happened_on for x in rows[low:high]]
            texts = loads.numbers if n == 0 else [x.cycle_number for x in rows[low:high]]
            if any(texts):
                pairs = zip(days, texts, strict=True)
                numbers |= dict.fromkeys([(day, int(text)) for day, text in pairs if plain(text)])
                days = [day for day, text in zip(days, texts, strict=True) if not plain(text)]
            unnumbered += days if n < 4 else []
            plainless += days if n == 0 else []
        newest = [max(earlier)] if earlier else []
        before = [number for _, number in newest]
        leaks = [happened_on(x) for x in unit.leaks if first <= happened_on(x) <= last]
        in_turn, counted = loads.in_turn(numbers)
        runs_on = loads.run is not None and len(counted) == len(loads.days)
        jumps = _jumps([*before, *counted[:1]] if runs_on else [*before, *counted])
        return cls(
            unit,
            first,
            [*(day for day, _ in newest), *in_turn],
            [*before, *counted],
            jumps,
            sorted([*unnumbered, *leaks]),
            plainless,
            sorted(cycle_days(unit, first - ONE_DAY, last, loads)),
            counter_of(unit, "cycles"),
        )

    def logged(self, after: date, to: date) -> int:
        """How many cycles are logged after the day `after` up to `to`, within the time of this log or before it."""
        if after + ONE_DAY < self.first:
            return cycles_logged(self.unit, after, to)
        return bisect_right(self.days, to) - bisect_right(self.days, after)

    def inside(self, first: date) -> tuple[list[date], list[int]]:
        """(days, numbers) since `first`, which is not before this log begins."""
        n = bisect_left(self.number_days, first)
        return self.number_days[n:], self.numbers[n:]

    def steps(self, first: date) -> list[Step]:
        """Neighbours since `first` of which the second is not the next number."""
        n, days, numbers = bisect_left(self.number_days, first), self.number_days, self.numbers
        return [((days[k - 1], numbers[k - 1]), (days[k], numbers[k])) for k in self.jumps if k > n]


def _newest(rows: Sequence, n: int) -> list[tuple[date, int]]:
    """(day, number) of those before the `n`-th row that have a plain number, of the newest such day alone."""
    found: list[tuple[date, int]] = []
    for k in range(n - 1, -1, -1):
        if found and happened_on(rows[k]) < found[0][0]:
            break
        if plain(rows[k].cycle_number):
            found.append((happened_on(rows[k]), int(rows[k].cycle_number)))
    return found


def plain(text: str) -> bool:
    """Whether a cycle number is digits alone, and not too many to be one."""
    return text.isascii() and text.isdigit() and len(text) < 10


def breaks_in(steps: Iterable[Step]) -> list[Step]:
    """Those of which the second does not follow the first: it falls back, repeats or leaps too far."""
    return [(a, b) for a, b in steps if not follows(a, b)]


def _jumps(numbers: list[int]) -> list[int]:
    return [k for k, step in enumerate(map(sub, numbers[1:], numbers), start=1) if step != 1]


def follows(one: tuple[date, int], other: tuple[date, int]) -> bool:
    """Whether the cycles between two numbers can have been run in the time between them."""
    step = other[1] - one[1]
    if 0 < step <= MOST_A_DAY and one[0] <= other[0]:  # most follow by a few: no days need be counted
        return True
    return 0 < step <= MOST_A_DAY * ((other[0] - one[0]).days + 1)


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


def _merged(spans: Iterable[Days]) -> Iterator[Days]:
    """The spans in order, those that touch or overlap as one."""
    held: Days | None = None
    for start, end in sorted(spans):
        if held is not None and start <= held[1] + ONE_DAY:
            held = (held[0], max(held[1], end))
            continue
        if held is not None:
            yield held
        held = (start, end)
    if held is not None:
        yield held


def _unbridged(one: _Told, other: _Told, first: date) -> Iterator[Days]:
    """Where the count of one is broken and the other does not reach over it."""
    for start, end in one.breaks:
        if not any(a <= start and end <= b and a < b for a, b in other.spans):
            yield max(start, first), end
