"""The table of the sterilizers on the first page: what each is, the answer, last test, last service, next due day."""

from __future__ import annotations

from audit.binder.open_items import is_out, may_be_used, unproven
from audit.binder.scope import Scope, UnitScope
from audit.binder.sections import Cell, Column, Table
from audit.binder.written_on_paper import day, first_upper, lines
from audit.facts import in_order, newest
from audit.judge.judgement import Clock, State, Word

_NONE = "none on record"
_COLUMNS = (
    Column("Unit, room", 86, names=True),
    Column("Model, serial", 104),
    Column("May it be used?", 86),
    Column("Last spore test", 70),
    Column("Last service", 66),
    Column("Next due", 74),
    Column("Page", 24, "right"),
)
_WAITS = (State.OK, State.DUE_SOON, State.DUE, State.IN_GRACE, State.OVERDUE)


def _unit(scope: Scope, unit: UnitScope) -> Cell:
    placed = newest([p for p in unit.facts.placements if p.effective_on <= scope.as_of], lambda p: p.effective_on)
    return Cell(lines(unit.label, placed.room if placed else ""), bold=(unit.label,))


def _model(unit: UnitScope) -> Cell:
    serial = f"serial {unit.facts.serial}" if unit.facts.serial else "no serial number on record"
    named = " ".join(part for part in (unit.facts.maker, unit.facts.model) if part)
    return Cell(lines(named or "no model on record", serial))


def answer_words(unit: UnitScope) -> tuple[str, str]:
    """(mark, yes, no or not yet) of a unit: the answer that the first page gives."""
    if may_be_used(unit):
        return "□", "Yes"
    return ("■", "No") if is_out(unit) else ("◩", "Not yet")


def _answer(unit: UnitScope) -> Cell:
    mark, word = answer_words(unit)
    if unit.judgement is None:
        return Cell(f"{mark} {word}\nnot judged", strong=True)
    standing = unit.judgement.standing
    if unproven(unit):
        return Cell(f"{mark} {word}\nno proof on record", strong=True)
    plain = {Word.IN_SERVICE: "in service", Word.OVERDUE: "overdue", Word.LIMITED: "limited"}
    said = plain.get(standing.word, standing.word.value.lower())
    began = f"since {day(standing.since)}" if standing.since else ""
    return Cell(lines(f"{mark} {word}, {said}" if word == "Yes" else f"{mark} {word}", began), bold=(word,))


def _last_test(unit: UnitScope) -> Cell:
    if not unit.facts.bio_tests:
        return Cell(_NONE, strong=True)
    tests = in_order(unit.facts.bio_tests)
    verdicts = {v.test: v.verdict for v in unit.judgement.verdicts} if unit.judgement else {}
    said = [verdicts.get(test.row.origin, "not judged") for test in tests]
    twice = said[-2:] == ["failed", "failed"]
    return Cell(
        lines("Failed twice" if twice else first_upper(said[-1]), day(tests[-1].row.happened_on)),
        strong=said[-1] == "failed",
    )


def _last_service(unit: UnitScope) -> Cell:
    if not unit.facts.jobs:
        return Cell(_NONE)
    job = in_order(unit.facts.jobs)[-1]
    done = job.conclusion.conclusion if job.conclusion else "not released"
    return Cell(lines(day(job.row.happened_on), done), strong=job.conclusion is None)


def _next(scope: Scope, clocks: tuple[Clock, ...]) -> Clock | None:
    """What is due first, what is overdue before all others."""
    waits = [clock for clock in clocks if clock.state in _WAITS and clock.due_on]
    return min(waits, key=lambda clock: (not clock.days_overdue(scope.as_of), clock.due_on), default=None)


def _next_due(scope: Scope, unit: UnitScope) -> Cell:
    clock = _next(scope, unit.judgement.clocks if unit.judgement else ())
    if clock is None:
        return Cell("no day")
    late = clock.days_overdue(scope.as_of)
    title = clock.title.split(" (")[0]
    return Cell(lines(day(clock.due_on), "overdue" if late else title), strong=bool(late))


def sterilizers(scope: Scope) -> Table:
    """One row a unit, in the clinic's own order."""
    rows = tuple(
        (
            _unit(scope, unit),
            _model(unit),
            _answer(unit),
            _last_test(unit),
            _last_service(unit),
            _next_due(scope, unit),
            Cell("", to=unit.chapter, page=""),
        )
        for unit in scope.units
    )
    return Table("The sterilizers", _COLUMNS, rows, "No unit on record for this clinic.")
