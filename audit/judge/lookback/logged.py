"""The cycles logged of a unit: its loads, and the cycles of tests, checks and visits; one told twice counts once."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from audit.facts import LoadFact, UnitFacts, VerificationFact, happened_on
from audit.judge.biological import cycle_key, number_key
from audit.judge.running_numbers import NumberRun, run_of_numbers

from .span import between

# The tests of a visit that run a cycle each: function, air leakage, steam penetration (see audit.facts.names.TESTS).
_CYCLE_TESTS = ("V1", "V2", "V3")

Key = tuple[date, str]  # day, and the cycle number or the row: what tells one cycle from another


@dataclass(slots=True)
class LoggedLoads:
    """The loads of some time in order, with the day and the cycle number of each.

    `run`: how the numbers run on from day to day; None where they do not.
    """

    loads: Collection[LoadFact]
    days: list[date]
    numbers: list[str]
    run: NumberRun | None

    @classmethod
    def of(cls, unit: UnitFacts, after: date | None, to: date) -> LoggedLoads:
        """Those after the day `after` up to `to`."""
        loads = between(unit.loads, after, to)
        numbers = [x.cycle_number for x in loads]
        run = run_of_numbers(loads, numbers)
        if run is not None and not run.by_day(loads):
            run = None
        return cls(loads, [x.row.happened_on for x in loads], numbers, run)

    def in_turn(self, more: Collection[tuple[date, int]]) -> tuple[list[date], list[int]]:
        """The days and the numbers of what runs on, and of `more` (day, number), by day and number, each once."""
        start = 0 if self.run is None else self.run.start
        counted = [] if self.run is None else list(range(start, start + len(self.days)))
        held = len(counted)
        more = [pair for pair in more if not (0 <= pair[1] - start < held and self.days[pair[1] - start] == pair[0])]
        if not more:
            return self.days[: len(counted)], counted
        pairs = sorted({*zip(self.days, counted, strict=False), *more})
        return [day for day, _ in pairs], [number for _, number in pairs]

    def cycles(self, others: list[Key]) -> tuple[list[date], list[date]]:
        """The days of the cycles of the loads, in order, and those of the other cycles that are none of theirs."""
        if self.run is None:
            keys = dict.fromkeys([(happened_on(x), cycle_key(x) or x.row.origin) for x in self.loads])
            return [day for day, _ in keys], [key[0] for key in dict.fromkeys(others) if key not in keys]
        held: dict[str, date] = {}
        if any([number.isdigit() for _, number in others]):  # each load has a number of its own, in digits
            held = dict(zip(map(number_key, self.numbers), self.days, strict=True))
        return self.days, [day for day, number in dict.fromkeys(others) if held.get(number) != day]


def cycles_logged(unit: UnitFacts, after: date, to: date) -> int:
    """Cycles logged after the day `after` up to `to`, those of tests and of a visit too; one told twice counts once.

    Indicators and checks are of a cycle only where they name it. A test without a number may have been the cycle of a
    load of its day, unless the chamber was empty: then it adds no cycle.
    """
    return len(cycle_days(unit, after, to))


def cycle_days(unit: UnitFacts, after: date, to: date, loads: LoggedLoads | None = None) -> list[date]:
    """The day of each cycle that `cycles_logged` counts, in no order; `loads`: those of that time, if at hand."""
    leaks = between(unit.leaks, after, to)
    tests = [*between(unit.bio_tests, after, to), *between(unit.air_removal, after, to)]
    named = [*between(unit.chemical, after, to), *between(unit.checks, after, to)]
    work = [f for f in test_cycles_of_work(unit) if after < happened_on(f) <= to]
    unnamed = [t for t in tests if not t.cycle_number]
    own = [*work, *[t for t in unnamed if t.chamber == "empty"]]
    others = [(happened_on(f), cycle_key(f)) for f in (*tests, *named) if f.cycle_number]
    others += [(happened_on(f), cycle_key(f) or f.row.origin) for f in own]
    held, more = (loads or LoggedLoads.of(unit, after, to)).cycles(others)
    perhaps = Counter([happened_on(t) for t in unnamed if t.chamber != "empty"])
    for day, n in perhaps.items():
        more += [day] * (n - (bisect_right(held, day) - bisect_left(held, day)))
    return [*held, *more, *map(happened_on, leaks)]


def test_cycles_of_work(unit: UnitFacts) -> list[VerificationFact]:
    """The tests before return to service that ran a cycle, in no order."""
    ran = ("pass", "fail")
    return [t for j in unit.jobs for t in j.tests if t.code in _CYCLE_TESTS and t.result in ran]
