"""How long an answer holds: the first day on which (word, rule) changes with no new fact.

With the facts fixed the answer can only change on days that the facts themselves name: a due item's days, the end of
a deadline, of a document, of the wait for a result, a change that is to take effect. So only those days are judged,
each giving the days to look at next; a test compares with judging every single day.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from datetime import date

from audit.facts.dates import ONE_DAY, add_days, add_months
from audit.regimes.model import Regime

from .biological import AWAITED, awaited_until
from .clocks.rows import rows_of
from .clocks.used_days import EACH_DAY
from .judgement import UnitStanding, Word
from .situation import Settled, Situation, at
from .standing import GAP_MONTHS, stand

_OVERDUE = "overdue "  # how the reason of what is overdue begins
_SHORT = 120  # letters of a reason that are shown beside another answer
_IN_FACTS = "days in facts"  # kept under this name for all days that are looked at


def held_until(
    now: Situation, held: UnitStanding, settled_for: Callable[[date], Settled], turns: Iterable[date] = ()
) -> UnitStanding:
    """`held` with the first later day on which word or rule are others, and what it becomes then, and why.

    Without a day where it never changes by itself.

    `settled_for` gives the settled facts under the rules in effect on a day; `turns` are days on which another
    edition of the rules comes into force.
    """
    turns = tuple(turns)
    current = now
    while True:
        day = min((d for d in (*_days_named(current), *turns) if d > current.as_of), default=None)
        if day is None:
            return replace(held, holds_until=None, becomes="")
        current = at(settled_for(day), day)
        answer = stand(current)
        if (answer.word, answer.rule) != (held.word, held.rule):
            return replace(held, holds_until=day, becomes=becomes_words(held, answer))


def becomes_words(held: UnitStanding, then: UnitStanding) -> str:
    """What an answer becomes, in words: a bare day reads as "may be used until" that day, which is often false."""
    still = then.word is held.word
    word = f"still {then.word}, for another reason" if still else str(then.word)
    reason = then.reason if len(then.reason) <= _SHORT else then.reason[: _SHORT - 1].rstrip() + "…"
    if then.word is Word.OVERDUE and reason.startswith(_OVERDUE):  # the word says it already
        return f"{word}{':' if still else ''} {reason.removeprefix(_OVERDUE)}"
    return f"{word}: {reason}"


def _days_named(s: Situation) -> Iterator[date]:
    """The days on which something may change: those that the day itself brings, and those that stand in the facts."""
    for clock in s.clocks:
        if clock.overdue_on is not None:
            yield clock.overdue_on
    for duty in s.duty.duties():
        if duty.forbids and duty.every in EACH_DAY:  # what was done today is to be done again tomorrow
            newest = rows_of(s.duty, duty).last()
            if newest is not None:
                yield newest.row.happened_on + ONE_DAY
    yield from s.duty.once(_IN_FACTS, lambda: sorted(set(_days_in_facts(s.settled, s.regime))))


def _days_in_facts(settled: Settled, regime: Regime) -> Iterator[date]:
    unit, clinic = settled.unit, settled.clinic
    for test, verdict in settled.unsettled:
        if verdict.verdict == AWAITED:
            yield awaited_until(test, regime.validity) + ONE_DAY
    for document in (*unit.documents, *clinic.documents):
        yield document.valid_from
        if document.valid_to is not None:
            yield document.valid_to + ONE_DAY
    for fact in (*unit.placements, *unit.fits, *unit.plan, *clinic.terms, *clinic.local_duties):
        yield fact.effective_on
    for job in unit.jobs:
        if job.conclusion is not None and job.conclusion.deadline is not None:
            yield job.conclusion.deadline + ONE_DAY
    for gap in (*unit.gaps, *clinic.gaps):
        yield gap.from_on
        for days in range(4):  # clamped months: the window moves past an end of month by up to three days at once
            yield add_days(add_months(gap.to_on, GAP_MONTHS), days)
    yield settled.usage.begin
