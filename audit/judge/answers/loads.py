"""Answers about loads: monitored, complete, released on proof, cycle numbers without gaps."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from itertools import chain

from audit.facts import LoadFact, UnitFacts, in_order

from .asked import (
    IN_PART,
    RECENT_MONTHS,
    YES,
    AskedPlace,
    Question,
    Reply,
    View,
    cited,
    day_of,
    how_many_good,
    joined,
    none_found,
    number,
)

READ = ("pass", "fail")
_MOST_MISSING = 1000  # a larger step in the numbers is another way of numbering, not missing cycles


def loads_monitored(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether time, temperature and pressure of each load were looked at and recorded."""
    return _loads(place, view, question, lambda x: x.mechanical in READ, "with the mechanical result recorded")


def chemical_used(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether each load has a chemical result: its own, or an indicator recorded for the same day and cycle."""
    rows = place.recent(view.facts.chemical, RECENT_MONTHS)
    read = {(c.row.happened_on, c.cycle_number) for c in rows if c.result in READ and c.cycle_number}

    def good(load: LoadFact) -> bool:
        return load.chemical in READ or (load.row.happened_on, load.cycle_number) in read

    return _loads(place, view, question, good, "with a chemical result recorded")


def load_entries_complete(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether each load states cycle, contents, both results and its release or rejection."""

    def good(load: LoadFact) -> bool:
        results = load.mechanical in READ and load.chemical in READ
        return bool(load.cycle_number and load.contents.strip() and results and load.released)

    what = "with cycle number, contents, mechanical and chemical result, and release or rejection"
    return _loads(place, view, question, good, what)


def released_on_proof(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether every load released had a passing mechanical and a passing chemical result."""

    def good(load: LoadFact) -> bool:
        return load.mechanical == "pass" and load.chemical == "pass"

    what = "with a passing mechanical and a passing chemical result"
    return _loads(place, view, question, good, what, only=lambda x: x.released == "released", name="released load")


def held_without_data(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether no load without a mechanical result was released."""
    return _loads(
        place,
        view,
        question,
        lambda x: x.mechanical == "pass",
        "with a passing mechanical result",
        only=lambda x: x.released == "released",
        name="released load",
    )


def _loads(
    place: AskedPlace,
    view: View,
    question: Question,
    good: Callable[[LoadFact], bool],
    what: str,
    *,
    only: Callable[[LoadFact], bool] = lambda load: True,
    name: str = "load",
) -> Reply:
    """How many of the loads of a year are good."""
    loads = [x for x in place.recent(view.facts.loads, RECENT_MONTHS) if only(x)]
    bad = [x for x in loads if not good(x)]
    proof = cited((x, f"cycle {x.cycle_number or '?'} of {day_of(x)}") for x in (bad or loads[-1:]))
    gap = ""
    if bad:
        gap = f"{number(len(bad), name)} not so, {day_of(bad[0])} to {day_of(bad[-1])}"
        gap += f"; {question.gap}" if question.gap else ""
    return how_many_good(question, loads, bad, name, f"{{}} {what}.", proof, gap, RECENT_MONTHS)


# ------------------------------------------------------------------------------------------------ continuity


def cycle_numbers_without_gaps(place: AskedPlace, view: View, question: Question) -> Reply:
    """Whether the cycle numbers of a year follow one another, over loads, tests and checks alike."""
    numbers = sorted(set(_numbers(place, view.facts)))
    without = sum(not _plain(x.cycle_number) for x in place.recent(view.facts.loads, RECENT_MONTHS))
    if len(numbers) < 2:
        return none_found(question, "Fewer than two cycles of the last 12 months have a plain number.")
    missing = list(_missing(numbers))
    count = sum(end - start + 1 for start, end in missing)
    first, last = (numbers[n][0].isoformat() for n in (0, -1))
    words = f"{number(len(numbers), 'cycle number')} from {first} to {last}; "
    words += f"{count} missing between them." if count else "none is missing between them."
    words += f" {number(without, 'load')} without a plain number." if without else ""
    rows = in_order(view.facts.loads)[-1:] or in_order(view.facts.bio_tests)[-1:]
    proof = cited((x, f"cycle {x.cycle_number or '?'} of {day_of(x)}") for x in rows)
    gaps = [str(start) if start == end else f"{start} to {end}" for start, end in missing]
    gap = f"cycles {joined(gaps)}: {question.gap}" if gaps else f"{number(without, 'number')}" if without else ""
    return Reply(IN_PART if missing or without else YES, words, proof, gap)


def _numbers(place: AskedPlace, unit: UnitFacts) -> Iterator[tuple[date, int]]:
    """(day, cycle number) of everything that ran a cycle."""
    kinds = (unit.loads, unit.bio_tests, unit.air_removal, unit.chemical, unit.checks)
    for fact in chain.from_iterable(place.recent(rows, RECENT_MONTHS) for rows in kinds):
        if _plain(fact.cycle_number):
            yield fact.row.happened_on, int(fact.cycle_number)


def _plain(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) < 10


def _missing(numbers: list[tuple[date, int]]) -> Iterator[tuple[int, int]]:
    """Stretches of numbers left out, both ends inclusive; a number that falls back starts another count."""
    before = None
    for _, n in numbers:
        if before is not None and 1 < n - before <= _MOST_MISSING:
            yield before + 1, n - 1
        before = n
