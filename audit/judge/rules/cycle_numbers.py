"""Cycle numbers of the log: one that came twice, numbers that fell back, leapt, or are not on record.

Numbers are those of loads, and of tests and checks run as cycles of their own; a test cycle logged as a load is one
cycle. Within a day they stand by number. A step of more than 100 is another way of numbering or a slip: what lies
between is not asked about, the leap itself is, unless it comes again and again, as where numbers hold a day. A fall
to 1, or a long fall that lasts, is another numbering; numbers that begin at 1 again and again are told apart by
day. Numbers missing across a declared gap of the records are not asked about. A fall, a leap and what is missing are
told for twelve months: nobody can mend it later. Common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from datetime import date
from itertools import compress
from operator import ne
from typing import NamedTuple

from audit.facts import LoadFact, happened_on
from audit.facts.dates import add_months
from audit.judge.biological import plain_text
from audit.judge.judgement import Evidence, Finding, Severity
from audit.judge.plain_loads import NUMBERS
from audit.judge.running_numbers import run_of_numbers

from .tools import CLINIC, PRACTICE, Judged, day

STEP = 100  # a longer step from one number to the next is another way of numbering
_LASTS = 3  # so many cycles in a row below the old numbers: the numbering began anew
_DAILY = 3  # so many beginnings at 1: each day is numbered by itself
_SHOWN = 20
_TOLD_MONTHS = 12


class Numbered(NamedTuple):
    """One row with a cycle number: in order of day, then number."""

    day: date
    number: int
    ref: str
    load: LoadFact | None  # None: a test, a check or an indicator of that cycle


def check(judged: Judged) -> Iterator[Finding]:
    """At most one item for each of the four."""
    loads = judged.unit.loads
    moved, written = judged.settled.memo[NUMBERS]
    since = add_months(judged.now.as_of, -_TOLD_MONTHS)
    if moved is not None:
        if moved.by_day(since):
            return
        written = [x.cycle_number for x in loads]
    if not any(written):
        return
    first = bisect_left(loads, since, key=happened_on)
    late = loads[first:]
    differ = moved is not None or len(set(written)) == len(written)
    if differ and (run := run_of_numbers(late, written[first:])) is not None and run.by_day(late):
        return
    numbers = _plain_numbers(written[first:]) if differ else None
    if numbers is not None and _only_rise(late, numbers):
        gaps = [*_gaps_of_loads(judged, late, numbers)]
    else:
        runs = _runs(_in_turn(judged))
        twice = [*_twice(runs), *_same_words(loads)]
        if twice:
            yield _came_twice(twice)
        fell = [f for f in _falls(runs, {x.row.origin for same in twice for x in same}) if f[1].day >= since]
        if fell:
            yield _fell_back(fell)
        held = [sorted(run, key=_number) for run in runs]
        gaps = [gap for run in held for gap in _gaps(judged, run) if not _is_leap(gap)]
        gaps += [gap for a, b in zip(held, runs[1:], strict=False) for gap in _gaps(judged, [a[-1], b[0]])]
        gaps = [gap for gap in gaps if gap[1].day >= since]
    leaps = [gap for gap in gaps if _is_leap(gap)]
    if 0 < len(leaps) < _DAILY:
        yield _leapt(leaps)
    if gaps := [gap for gap in gaps if not _is_leap(gap)]:
        yield _not_logged(gaps)


def _number(cycle: Numbered) -> int:
    return cycle.number


def _is_leap(gap: tuple[Numbered, Numbered]) -> bool:
    return gap[1].number - gap[0].number > STEP


# ------------------------------------------------------------------------------------------------ the common case


def _rise_by_day(loads: Sequence[LoadFact], numbers: list, held: list) -> bool:
    """Whether sorted, as `held`, each place is still of the same day; only what moved is looked at."""
    if held == numbers:
        return True
    moved = list(compress(range(len(held)), map(ne, numbers, held)))
    day_of = {numbers[n]: loads[n].row.happened_on for n in moved}
    return all(day_of[held[n]] == loads[n].row.happened_on for n in moved)


def _plain_numbers(written: list[str]) -> list[int] | None:
    """The numbers of the loads in turn; None where one has none or another kind of number."""
    try:
        return list(map(int, written))
    except ValueError:
        return None


def _only_rise(loads: Sequence[LoadFact], numbers: list[int]) -> bool:
    """Whether no number came twice and none is below those of the days before: settled at a glance."""
    if len(set(numbers)) != len(numbers):
        return False
    return _rise_by_day(loads, numbers, sorted(numbers))


def _gaps_of_loads(judged: Judged, loads, numbers: list[int]) -> Iterator[tuple[Numbered, Numbered]]:
    """The gaps of numbers that only rise; rows are made for the numbers beside a gap alone."""
    held = sorted(numbers)
    if not held or held[-1] - held[0] == len(held) - 1:
        return
    beside = {n for pair in zip(held, held[1:], strict=False) if pair[1] - pair[0] > 1 for n in pair}
    rows = [_of(x, n, x) for x, n in zip(loads, numbers, strict=True) if n in beside]
    low, high = held[0], held[-1]
    rows += [one for one in _others(judged) if low < one.number < high]
    known = set(numbers)
    yield from (
        (one, other) for one, other in _gaps(judged, sorted(rows, key=_number)) if one.number + 1 not in known
    )


# ------------------------------------------------------------------------------------------------ every case


def _of(fact, number: int, load: LoadFact | None) -> Numbered:
    return Numbered(fact.row.happened_on, number, fact.row.ref, load)


def _others(judged: Judged) -> list[Numbered]:
    """Rows with a cycle number that are no loads."""
    unit = judged.unit
    kinds = (unit.bio_tests, unit.air_removal, unit.checks, unit.chemical)
    facts = [f for kind in kinds for f in kind if f.cycle_number]
    facts += [t for job in unit.jobs for t in job.tests if t.cycle_number]
    return [_of(f, int(f.cycle_number), None) for f in facts if f.cycle_number.isdecimal()]


def _in_turn(judged: Judged) -> list[Numbered]:
    numbered = [x for x in judged.unit.loads if x.cycle_number.isdecimal()]
    rows = [*_others(judged), *(_of(x, int(x.cycle_number), x) for x in numbered)]
    return sorted(rows, key=lambda c: c[:2])


def _runs(cycles: list[Numbered]) -> list[list[Numbered]]:
    """The cycles cut where another numbering begins."""
    begun = sum(b.number <= 1 < a.number and a.day < b.day for a, b in zip(cycles, cycles[1:], strict=False))
    daily = begun >= _DAILY
    runs: list[list[Numbered]] = []
    high = 0
    for n, cycle in enumerate(cycles):
        anew = not runs or cycle.number - high > STEP
        if not anew and cycle.number < high:
            anew = _begins_anew(cycles[n : n + _LASTS], high)
        if anew or (daily and cycle.day > runs[-1][-1].day):
            runs.append([])
            high = 0
        runs[-1].append(cycle)
        high = max(high, cycle.number)
    return runs


def _begins_anew(following: list[Numbered], high: int) -> bool:
    first = following[0].number
    if first <= 1:
        return True
    return high - first > STEP and len(following) == _LASTS and max(c.number for c in following) < high


def _twice(runs: list[list[Numbered]]) -> Iterator[list[LoadFact]]:
    """The loads of each number that came more than once in one numbering."""
    for run in runs:
        by_number: dict[int, list[LoadFact]] = {}
        for cycle in run:
            if cycle.load is not None:
                by_number.setdefault(cycle.number, []).append(cycle.load)
        yield from (loads for loads in by_number.values() if len(loads) > 1)


def _same_words(loads: Sequence[LoadFact]) -> Iterator[list[LoadFact]]:
    """The same for numbers that are not plain numbers: these are told apart within a day alone."""
    found: dict[tuple[date, str], list[LoadFact]] = {}
    for load in loads:
        if load.cycle_number.strip() and not load.cycle_number.isdecimal():
            found.setdefault((load.row.happened_on, plain_text(load.cycle_number)), []).append(load)
    yield from (same for same in found.values() if len(same) > 1)


def _falls(runs: list[list[Numbered]], told: set[str]) -> Iterator[tuple[Numbered, Numbered]]:
    """A cycle and the load after it with a lower number; not of loads that are told of as having come twice."""
    for run in runs:
        for one, other in zip(run, run[1:], strict=False):
            if other.number < one.number and other.load is not None and other.load.row.origin not in told:
                yield one, other


def _gaps(judged: Judged, held: list[Numbered]) -> Iterator[tuple[Numbered, Numbered]]:
    """The rows on both sides of numbers that are not on record, leaps too; `held` by number."""
    declared = [g for g in judged.settled.clinic.gaps if g.unit in ("", judged.unit.ref)]
    for low, high in zip(held, held[1:], strict=False):
        if 1 < high.number - low.number:
            first, last = sorted((low.day, high.day))
            if not any(g.from_on <= last and g.to_on >= first for g in declared):
                yield low, high


# ------------------------------------------------------------------------------------------------ the items


def _came_twice(twice: list[list[LoadFact]]) -> Finding:
    twice = sorted(twice, key=lambda loads: max(x.row.happened_on for x in loads))
    newest = twice[-1]
    number, on = newest[0].cycle_number, " and ".join(day(x.row.happened_on) for x in newest)
    said = f"cycle number {number} came {'twice' if len(newest) == 2 else f'{len(newest)} times'}, {on}"
    if len(twice) > 1:
        said = f"{len(twice)} cycle numbers came more than once, the last of them {number}, {on}"
    loads = [x for one in twice for x in one][-_SHOWN:]
    return Finding(
        rule="cycle-number-twice",
        severity=Severity.PUT_RIGHT,
        since=min(max(x.row.happened_on for x in one) for one in twice),
        message=said,
        way_out="look at the printouts or data, and amend the number that is wrong; withdraw a load logged twice",
        evidence=tuple(Evidence(x.row.ref, f"cycle {x.cycle_number} of {day(x.row.happened_on)}") for x in loads),
        source=PRACTICE,
        owner=CLINIC,
    )


def _fell_back(fell: list[tuple[Numbered, Numbered]]) -> Finding:
    before, after = fell[-1]
    times = f"{len(fell)} times, the last " if len(fell) > 1 else ""
    return Finding(
        rule="cycle-numbers-fell",
        severity=Severity.NOTE,
        since=fell[0][1].day,
        message=f"cycle numbers fell back {times}from {before.number} to {after.number} on {day(after.day)}",
        way_out="look at the printouts or data, and amend the number or the day that is wrong",
        evidence=tuple(_told(c) for pair in fell[-_SHOWN // 2 :] for c in pair),
        source=PRACTICE,
        owner=CLINIC,
    )


def _leapt(leaps: list[tuple[Numbered, Numbered]]) -> Finding:
    before, after = leaps[-1]
    times = f"{len(leaps)} times, the last " if len(leaps) > 1 else ""
    return Finding(
        rule="cycle-numbers-leapt",
        severity=Severity.NOTE,
        since=leaps[0][1].day,
        message=f"cycle numbers leapt {times}from {before.number} to {after.number} on {day(after.day)}",
        way_out="look at the printout or data, and amend the number if it is wrong; else log the cycles that ran",
        evidence=tuple(_told(c) for pair in leaps for c in pair),
        source=PRACTICE,
        owner=CLINIC,
    )


def _not_logged(gaps: list[tuple[Numbered, Numbered]]) -> Finding:
    """All gaps in one item, in the order of their days."""
    days = [max(low.day, high.day) for low, high in gaps]
    missing = sum(high.number - low.number - 1 for low, high in gaps)
    first, last = min(low.number for low, _ in gaps), max(high.number for _, high in gaps)
    places = f", in {len(gaps)} places" if len(gaps) > 1 else ""
    what = "1 cycle number is" if missing == 1 else f"{missing} cycle numbers are"
    return Finding(
        rule="cycle-numbers-not-logged",
        severity=Severity.NOTE,
        since=min(days),
        message=f"{what} not on record between {first} and {last}{places}",
        way_out="log the cycles that ran, with what was in them; or declare the gap in the records",
        evidence=tuple(_told(c) for pair in gaps[-_SHOWN // 2 :] for c in pair),
        source=PRACTICE,
        owner=CLINIC,
    )


def _told(cycle: Numbered) -> Evidence:
    return Evidence(cycle.ref, f"cycle {cycle.number} of {day(cycle.day)}")
