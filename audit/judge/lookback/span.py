"""The window of a look-back: from the last good proof to the event, and what of a unit's rows lies inside it.

Rows of one day whose order is not known count as inside: what cannot be shown to have come before the proof is in
doubt, and what cannot be shown to have come before a failure is no proof before it. Ends: the proof itself is
outside, its own cycle too; the last day is inside, whole. A withdrawal ends no window: a load on record after it
contradicts it, and is in doubt as the others are.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TypeVar

from audit.facts import BioTestFact, JobFact, LoadFact, UnitFacts, happened_on, in_order, within
from audit.facts.dates import ONE_DAY
from audit.judge.biological import Run, cycle_key, number_key, ran_after, run_of, shown_before
from audit.judge.judgement import TestVerdict

F = TypeVar("F")
KNOWN = "after it was known"  # why what came later is outside


@dataclass(frozen=True, slots=True)
class Point:
    """A proof, or a beginning: what came after it is in doubt. `cycle` and `visit` "" where there is none."""

    day: date
    at: datetime | None
    cycle: str
    text: str
    visit: str = ""  # origin of the job in which it was done

    def after(self, day: date, at: datetime | None, cycle: str = "") -> bool | None:
        """Whether another run of `day`, `at` and `cycle` came after this point; None when its order is not known."""
        if day != self.day:
            return day > self.day
        later = ran_after(day, at, self.day, self.at)
        if later is None and cycle.isdecimal() and self.cycle.isdecimal():
            return int(cycle) > int(self.cycle)
        return later


@dataclass(frozen=True, slots=True)
class DoubtSpan:
    """What is in doubt: after `after` (None: all that is on record), up to and with the day `to`."""

    after: Point | None
    to: date
    why_end: str  # why what came after `to` is outside
    why_before: str = "before the last good proof"


@dataclass(frozen=True, slots=True)
class Cut:
    """Loads sorted out by a span; each load is in exactly one of `before`, `own`, `inside` and `later`, oldest first.

    There may be very many before and later: these are not copied to be counted.
    """

    rows: Sequence[LoadFact]  # all of them
    first: int  # so many of them are of the days before that of the proof
    same_day: tuple[LoadFact, ...]  # of the day of the proof, and before it
    own: tuple[LoadFact, ...]  # the cycle of the proof itself
    inside: Sequence[LoadFact]
    end: int  # the place of the first one later

    @property
    def before(self) -> Sequence[LoadFact]:
        """Those shown to lie before the proof."""
        return (*self.rows[: self.first], *self.same_day)

    @property
    def later(self) -> Sequence[LoadFact]:
        """Those after the end."""
        return self.rows[self.end :]

    @property
    def last_before(self) -> tuple[Sequence[LoadFact], int]:
        """(the last one before, or none; how many there are)."""
        last = self.same_day[-1:] or self.rows[max(self.first - 1, 0) : self.first]
        return last, self.first + len(self.same_day)

    @property
    def first_later(self) -> tuple[Sequence[LoadFact], int]:
        """(the first one later, or none; how many there are)."""
        return self.rows[self.end : self.end + 1], len(self.rows) - self.end


def between(facts, after: date | None, to: date) -> Sequence:
    """The facts of the days after `after` (None: from the first) up to `to`, in order."""
    return within(facts, date.min if after is None else after + ONE_DAY, to)


def cut_loads(unit: UnitFacts, span: DoubtSpan) -> Cut:
    """The unit's loads sorted out. Only the loads of the proof's own day are looked at one by one."""
    rows, good = in_order(unit.loads), span.after
    end = bisect_right(rows, span.to, key=happened_on)
    if good is None:
        return Cut(rows, 0, (), (), rows[:end], end)
    first = bisect_left(rows, good.day, key=happened_on)
    second = bisect_right(rows, good.day, key=happened_on)
    end = max(end, second)  # a span whose end lies before its proof holds nothing but loads of the proof's own day
    before, own, inside = [], [], []
    for load in rows[first:second]:
        if good.cycle and cycle_key(load) == number_key(good.cycle):
            own.append(load)
        elif good.after(happened_on(load), load.row.happened_at, load.cycle_number) is False or span.to < good.day:
            before.append(load)
        else:
            inside.append(load)
    return Cut(rows, first, tuple(before), tuple(own), (*inside, *rows[second:end]), end)


def jobs_inside(unit: UnitFacts, span: DoubtSpan, without: frozenset[str] = frozenset()) -> list[JobFact]:
    """The jobs inside the span but for those with an origin in `without`, and for the proof's own visit."""
    rows, good = in_order(unit.jobs), span.after
    if good is None:
        inside = list(between(rows, None, span.to))
    else:
        near = within(rows, good.day, good.day) if good.day <= span.to else ()
        same = [j for j in near if good.after(happened_on(j), j.row.happened_at) is not False]
        inside = [*(j for j in same if j.row.origin != good.visit), *between(rows, good.day, span.to)]
    return [j for j in inside if j.row.origin not in without]


def last_before(passed: Sequence[F], failures: Sequence[Run]) -> F | None:
    """The newest of the facts `passed` that is shown to have been run before each of the failures, or None.

    `passed` in order; at least one failure.
    """
    first = min(day for day, _, _ in failures)
    near = [f for f in failures if f[0] == first]
    for n in range(bisect_right(passed, first, key=happened_on) - 1, -1, -1):
        if all(shown_before(run_of(passed[n]), f) for f in near):
            return passed[n]
    return None


def spore_point(test: BioTestFact, verdict: TestVerdict) -> Point:
    """A passed spore test as the proof a window starts from."""
    cycle = f", cycle {test.cycle_number}" if test.cycle_number else ""
    known = verdict.known_on.isoformat() if verdict.known_on else "not yet"
    text = f"last negative spore test {test.row.happened_on.isoformat()}{cycle} (known {known})"
    return Point(test.row.happened_on, test.row.happened_at, test.cycle_number, text)
