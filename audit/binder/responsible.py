"""Who answers for a place, and from when there is evidence: two short lists of the first page."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from audit.binder.named_units import units_words
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Cell, Column, KeyValues, Table
from audit.binder.written_on_paper import day, lines, span
from audit.facts import CredentialFact, in_order

_NOBODY = "nobody on record; the clinic names one"
_NO_COMPANY = "no agreement on record; the clinic supplies it"
_PREVENTION = ("infection prevention", "infection control", "reprocessing")


def _holding(scope: Scope, credentials: Iterable[CredentialFact]) -> list[CredentialFact]:
    """Those that hold on the day of the answer."""
    return [
        c for c in credentials if c.valid_from <= scope.as_of and (c.valid_to is None or c.valid_to >= scope.as_of)
    ]


def _training(scope: Scope, name: str) -> str:
    """How long what is on file under the name holds, the last to end."""
    own = [c for c in scope.facts.credentials if c.person.casefold() == name.casefold() and c.holder == "clinic"]
    holding = _holding(scope, own)
    if not holding:
        return "training: none on record that holds"
    ends = [c.valid_to for c in holding if c.valid_to]
    return f"training valid to {day(max(ends))}" if ends else "training valid, no end stated"


def _letter(scope: Scope) -> str:
    """The letter that appoints somebody: a paper of that kind which holds."""
    letters = [d for d in scope.facts.documents if d.kind == "appointment" and d.valid_from <= scope.as_of]
    holding = [d for d in letters if d.valid_to is None or d.valid_to >= scope.as_of]
    return (
        f"letter of appointment of {day(holding[-1].valid_from)}"
        if holding
        else "letter of appointment: none on record"
    )


def _infection_control(scope: Scope) -> Cell:
    """Who coordinates at the clinic on the day of the answer; the clinic's number is how they are reached."""
    held = [c for c in scope.responsible.coordinators if c.holds(scope.as_of)]
    if not held:
        return Cell(_NOBODY, strong=True)
    phone = f", {scope.responsible.phone}" if scope.responsible.phone else ", no telephone number on record"
    told = [f"{each.name}, coordinator{phone}; {_training(scope, each.name)}" for each in held]
    return Cell(lines(*dict.fromkeys(told), _letter(scope)))


def _service(scope: Scope) -> Cell:
    held = [a for a in scope.responsible.agreements if a.holds(scope.as_of)]
    if not held:
        return Cell(_NO_COMPANY, strong=True)
    return Cell(
        lines(
            *(
                f"{a.company}, {a.phone or 'no telephone number on record'}; agreement since {day(a.effective_on)}"
                + (f", {a.scope}" if a.scope else "")
                for a in held
            )
        )
    )


def _technicians(scope: Scope) -> Iterable[tuple[str, Cell]]:
    """Who worked on a unit last, one name a line, with what is on file of it."""
    names = dict.fromkeys(in_order(unit.facts.jobs)[-1].worked_by for unit in scope.units if unit.facts.jobs)
    told = []
    for name in names:
        if not name:
            continue
        own = [c for c in scope.facts.credentials if c.person.casefold() == name.casefold()]
        holding = _holding(scope, own)
        ends = [c.valid_to for c in holding if c.valid_to]
        until = f"valid to {day(max(ends))}" if ends else "valid, no end stated"
        told.append(f"{name}; {f'certificate {until}' if holding else 'no certificate on record that holds'}")
    if told:
        yield "Technician", Cell(lines(*told))


def who_answers(scope: Scope) -> KeyValues:
    """Who is responsible for infection control and for service, with how they are reached."""
    pairs = (
        ("Infection control", _infection_control(scope)),
        ("Service", _service(scope)),
        *_technicians(scope),
    )
    return KeyValues("Who is responsible", pairs)


def _begins(unit: UnitScope) -> tuple[date | None, date | None]:
    """The first days of which a spore test and a service are on record."""
    tests, jobs = unit.facts.bio_tests, unit.facts.jobs
    return (
        in_order(tests)[0].row.happened_on if tests else None,
        in_order(jobs)[0].row.happened_on if jobs else None,
    )


def _begin_words(days: list[tuple[date | None, date | None]]) -> str:
    """The first day of which there is evidence, of each of these units: the earliest and the latest of them."""
    told = []
    for what, found in zip(("spore test", "service"), zip(*days, strict=True), strict=True):
        known = [each for each in found if each]
        later = f" to {day(max(known))}" if len(set(known)) > 1 else ""
        told.append(f"first {what} {day(min(known))}{later}" if known else f"no {what} on record")
    return "; ".join(told)


def _gaps(scope: Scope) -> Iterable[tuple[str, Cell]]:
    found = {g.row.ref: g for unit in (None, *scope.units) for g in (unit.facts.gaps if unit else scope.facts.gaps)}
    for gap in sorted(found.values(), key=lambda g: (g.from_on, g.row.number, g.row.line))[:3]:
        if gap.row.happened_on <= scope.as_of:
            text = f"{gap.what}, {span(gap.from_on, gap.to_on)}; accepted by {gap.accepted_by}"
            yield "Known gap", Cell(text)


def _loads(scope: Scope) -> Cell:
    count = sum(len(unit.facts.loads) for unit in scope.units)
    if not count:
        return Cell("none on record; the clinic holds what it logs of them", strong=True)
    rule = "cycle-numbers-not-logged"
    torn = [u.label for u in scope.units if u.judgement and any(f.rule == rule for f in u.judgement.findings)]
    left = "; not every cycle is logged" if len(torn) == len(scope.units) else ""
    left = left or (f"; not every cycle of {units_words(torn)} is logged" if torn else "")
    return Cell(f"{count} on record{left}")


def evidence_begins(scope: Scope) -> KeyValues:
    """From when there is evidence, units that begin in one month together; then known gaps, and loads."""
    groups: dict[object, list[UnitScope]] = {}
    for unit in scope.units:
        test, job = _begins(unit)
        groups.setdefault((test and (test.year, test.month), job is None), []).append(unit)
    pairs = tuple(
        (units_words([unit.label for unit in units]), Cell(_begin_words([_begins(unit) for unit in units])))
        for units in groups.values()
    )
    return KeyValues("From when there is evidence", (*pairs, *_gaps(scope), ("Loads", _loads(scope))))


def agreements_table(scope: Scope) -> Table:
    """Every agreement and coordinator on record by the day of the answer, oldest first, with their records."""
    columns = (
        Column("Who", 150, names=True),
        Column("What for", 200),
        Column("From", 61),
        Column("Until", 61),
        Column("Record", 38, small=True),
    )
    people = [(c.effective_on, c.name, "coordinates at the clinic", c) for c in scope.responsible.coordinators]
    companies = [
        (a.effective_on, a.company, a.scope or "service, as agreed", a) for a in scope.responsible.agreements
    ]
    rows = tuple(
        (Cell(who), Cell(what), Cell(day(on)), Cell(day(fact.until, "")), Cell(scope.number_of(fact.row), proof=True))
        for on, who, what, fact in sorted((*people, *companies), key=lambda each: each[:3])
        if on <= scope.as_of
    )
    return Table("Coordinators and agreements", columns, rows, "Coordinators and agreements: none on record.")
