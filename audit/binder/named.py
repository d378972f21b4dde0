"""The people named in the records of a period: what each did, and what is on file of their training."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator

from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Cell, Column, Table
from audit.binder.usual import entries
from audit.binder.written_on_paper import counted, day, lines, span
from audit.facts import CredentialFact
from audit.judge.who_did import Deed, deeds

# What was done, in the order in which it is told: one, many.
_DEEDS = {
    "service": ("service job", "service jobs"),
    "signature": ("release or return stated", "releases and returns stated"),
    "run": ("spore test run", "spore tests run"),
    "read": ("spore test read", "spore tests read"),
    "check": ("user check signed", "user checks signed"),
    "test": ("other test entered", "other tests entered"),
    "load": ("load entered", "loads entered"),
    "loaded": ("load put in", "loads put in"),
    "decided": ("load decided about", "loads decided about"),
    "event": ("withdrawal, return or move", "withdrawals, returns and moves"),
    "step": ("step after a failure", "steps after failures"),
}


def _deeds(scope: Scope, unit: UnitScope) -> Iterator[Deed]:
    """Every deed of the period that names who did it, as the answers about people count them."""
    for deed in deeds(unit.facts, scope.from_on):
        if deed.name and scope.holds(deed.fact.done_on if deed.what == "step" else deed.fact.row.happened_on):
            yield deed


def _held(scope: Scope, credentials: list[CredentialFact]) -> tuple[str, bool]:
    """What is on file of a person on the day of the answer, and whether nothing of it holds."""
    valid = [
        c for c in credentials if c.valid_from <= scope.as_of and (c.valid_to is None or c.valid_to >= scope.as_of)
    ]
    told = [
        f"{c.title}, up to and with {day(c.valid_to)}" if c.valid_to else f"{c.title}, no end stated" for c in valid
    ]
    if told:
        return lines(*dict.fromkeys(told)), False
    return ("on file, none that holds on this day" if credentials else "no record found under this name"), True


def named_table(scope: Scope) -> Table:
    """One row a name as written, by name; who did nothing in the period is not in it."""
    columns = (
        Column("Name as recorded", 80, names=True),
        Column("What they did in the period", 122),
        Column("First and last", 112),
        Column("Training and licences on the day of the answer", 148),
        Column("Record", 48, small=True),
    )
    done: dict[str, list[tuple[str, object]]] = defaultdict(list)
    for unit in scope.units:
        for deed in _deeds(scope, unit):
            done[deed.name].append((deed.what, deed.fact))
    on_file: dict[str, list[CredentialFact]] = defaultdict(list)
    for credential in scope.facts.credentials:
        on_file[credential.person.casefold()].append(credential)
    rows = []
    for name in sorted(done, key=lambda name: (name.casefold(), name)):
        counts = Counter(deed for deed, _ in done[name])
        told = ", ".join(counted(counts[deed], *words) for deed, words in _DEEDS.items() if counts[deed])
        facts = [fact for _, fact in done[name]]
        days = [fact.row.happened_on for fact in facts]
        held, missing = _held(scope, on_file[name.casefold()])
        when = day(min(days)) if min(days) == max(days) else span(min(days), max(days))
        rows.append((Cell(name), Cell(told), Cell(when), Cell(held, strong=missing), entries(facts)))
    empty = "People named in the records of the period: no record found."
    return Table("People named in the records of the period", columns, tuple(rows), empty)
