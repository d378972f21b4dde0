"""The last year of a unit at a glance: fifty-two weeks in four rows, and one sentence for those who do not see them.

Every week that is not simply passed or not asked is named in the sentence, with its days; the rest is counted.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date

from audit.facts import UnitFacts
from audit.facts.dates import ONE_DAY

from .judgement import UnitJudgement, WeekCell
from .response import ERROR

ROWS, WEEKS = 4, 13
# What a week may be, and how the sentence counts it; the first five are named one by one.
COUNTED = {"passed": "passed", "exempt": "not asked", "before": "before the first duty", "open": "not over yet"}
_MOST_NAMED = 12


@dataclass(frozen=True, slots=True)
class YearWeek:
    """One week, and whether the unit had a visit in it, and was out of service on one of its days."""

    cell: WeekCell
    visit: bool
    out: bool


@dataclass(frozen=True, slots=True)
class Year:
    """`rows`: thirteen weeks each, oldest first; the newest row may be shorter. `named`: of each, days and what."""

    rows: tuple[tuple[YearWeek, ...], ...]
    counts: tuple[tuple[int, str], ...]  # how many weeks, and what they are
    named: tuple[tuple[date, date, str], ...]  # first day, last day, what; oldest first
    more: int  # weeks that would be named too
    visits: tuple[date, ...]  # newest first
    results: tuple[str, ...]  # what its weeks are, each once, in the order in which they come

    @property
    def was_out(self) -> bool:
        """Whether it was out of service in one of the weeks."""
        return any(week.out for row in self.rows for week in row)

    @property
    def counted(self) -> str:
        """ "50 weeks passed, 1 week not asked." """
        return ", ".join(f"{_many(count, 'week')} {what}" for count, what in self.counts) + "."

    @property
    def lapses(self) -> tuple[str, ...]:
        """A sentence for each week that is named, oldest first; days in ISO text."""
        return tuple(f"{first.isoformat()} to {last.isoformat()}: {what}." for first, last, what in self.named)

    @property
    def rest(self) -> str:
        """How many more weeks would be named, and the visits; "" for none of them."""
        told = [f"And {self.more} more before."] if self.more else []
        if self.visits:
            told.append(f"{_many(len(self.visits), 'visit')}, the last {self.visits[0].isoformat()}.")
        return " ".join(told)


def _many(count: int, one: str) -> str:
    return f"{count} {one}" + ("" if count == 1 else "s")


def year_of(facts: UnitFacts, judged: UnitJudgement) -> Year | None:
    """The year up to the day that is judged; None where no week is counted yet. `facts`: those up to that day."""
    cells = judged.weeks[-ROWS * WEEKS :]
    if not cells:
        return None
    visited = {job.row.happened_on for job in facts.jobs}
    out = out_of_service(judged)
    weeks = tuple(_week(cell, visited, out) for cell in cells)
    found = Counter(COUNTED.get(cell.result) for cell in cells)
    told = [(cell.start, cell.end, cell.result) for cell in cells if cell.result not in COUNTED]
    return Year(
        rows=tuple(weeks[n : n + WEEKS] for n in range(0, len(weeks), WEEKS)),
        counts=tuple((found[words], words) for words in COUNTED.values() if found[words]),
        named=tuple(told[-_MOST_NAMED:]),
        more=max(0, len(told) - _MOST_NAMED),
        visits=tuple(sorted((d for d in visited if d >= cells[0].start), reverse=True)),
        results=tuple(dict.fromkeys(cell.result for cell in cells)),
    )


def _week(cell: WeekCell, visited: set[date], out: list[tuple[date, date]]) -> YearWeek:
    visit = any(cell.start <= day <= cell.end for day in visited)
    return YearWeek(cell, visit, any(first <= cell.end and last >= cell.start for first, last in out))


def out_of_service(judged: UnitJudgement) -> list[tuple[date, date]]:
    """Spans, both ends inclusive, in which it was out: from a failure or a withdrawal to the return or to the day."""
    spans = [(c.known_on, c.resolved_on or judged.as_of) for c in judged.cases if c.phase != ERROR]
    by_hand = [(first, ended and max(first, ended - ONE_DAY)) for first, ended in judged.withdrawn]
    return spans + [(first, last or judged.as_of) for first, last in by_hand]
