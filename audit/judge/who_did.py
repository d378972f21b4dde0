"""Who did what on a unit, by the names on record: what answers count and what the binder lists, told once.

Pure. A deed of the clinic's own people is one that no company logged and no laboratory's report tells.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from audit.facts import LoadFact, UnitFacts

# What a person must be trained for: running, reading, checking, loading, deciding about loads.
STERILIZES = frozenset({"run", "read", "check", "test", "load", "loaded", "decided"})


@dataclass(slots=True, unsafe_hash=True)  # not frozen, nor ever changed: there is one for each load of a year
class Deed:
    """`name` is "" where the row should name somebody and does not; `of` is the test, load or job that it belongs to.

    `own`: of the clinic's own people, as far as the record tells.
    """

    what: str
    name: str
    fact: object
    of: object
    own: bool = True


def deeds(unit: UnitFacts, first: date = date.min, loads: Sequence[LoadFact] | None = None) -> Iterator[Deed]:
    """Everything that people did on the unit on `first` and later; each reading and step by its own day.

    `loads`: of those alone it is told what was done with loads.
    """
    yield from _service(unit, first)
    yield from _tests(unit, first)
    yield from _loads(_from(unit.loads if loads is None else loads, first))
    for event in _from(unit.events, first):
        yield Deed("event", event.by, event, event)
    for case in unit.cases:
        for step in case.followups:
            if step.done_on is not None and step.done_on >= first:
                yield Deed("step", step.done_by, step, case)


def _service(unit: UnitFacts, first: date) -> Iterator[Deed]:
    for job in unit.jobs:
        if job.row.happened_on >= first:
            yield Deed("service", job.worked_by, job, job, own=False)
        for signature in _from(job.signatures, first):
            yield Deed("signature", signature.name, signature, job, own=False)


def _tests(unit: UnitFacts, first: date) -> Iterator[Deed]:
    for test in unit.bio_tests:
        if test.row.happened_on >= first:
            yield Deed("run", test.run_by, test, test, not test.row.logged_for)
        for reading in _from(test.readings, first):
            own = not (reading.report or reading.row.logged_for)
            yield Deed("read", reading.read_by, reading, test, own)
    for check in _from(unit.checks, first):
        yield Deed("check", check.signed_by or check.row.logged_by, check, check, not check.row.logged_for)
    for kind in (unit.air_removal, unit.leaks, unit.chemical):
        for test in _from(kind, first):
            yield Deed("test", test.row.logged_by, test, test, not test.row.logged_for)


def _loads(loads: Sequence[LoadFact]) -> Iterator[Deed]:
    for load in loads:
        row, decided = load.row, load.released_row
        yield Deed("load", row.logged_by, load, load, not row.logged_for)
        if load.loaded_by:
            yield Deed("loaded", load.loaded_by, load, load, not row.logged_for)
        if decided is not None and load.released:
            yield Deed("decided", decided.logged_by, load, load, not decided.logged_for)


def plainly_logged(loads: Sequence[LoadFact]) -> tuple[list[LoadFact], list[LoadFact]]:
    """(loads that one of the clinic's own people logged whole, the others), each in turn.

    Most are so: of these the names in the row tell all that `deeds` tells.
    """
    plain = [x for x in loads if x.released_row is None and not x.row.logged_for]
    others = [] if len(plain) == len(loads) else [x for x in loads if x.released_row is not None or x.row.logged_for]
    return plain, others


def _from(rows: Sequence, first: date) -> list:
    return [row for row in rows if row.row.happened_on >= first]
