"""What judgement says of a unit while a load or its return is recorded, for the pages of both apps."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from audit.facts import ClinicFacts, Row, UnitEventFact
from audit.gather.kept_facts import kept_facts
from audit.judge.evaluate import evaluate
from audit.judge.judgement import UnitStanding
from records import clock
from records.forms import EntryContext
from records.models import Unit, UnitEvent

_LAST_NUMBER = 2**31  # of a ledger: what is supposed comes after all that is logged


def against_use(ground: EntryContext, unit: Unit, on: date) -> tuple[str, ...]:
    """Why the unit may not be used on that day; none where it may."""
    return _against(_standing(_alone(ground, unit), on))


def missing_for_return(ground: EntryContext, unit: Unit, on: date, ends: UnitEvent | None) -> tuple[str, ...]:
    """What would stand against use on that day if the unit were returned now: judged as if that were on record."""
    facts = _alone(ground, unit)
    if facts is None:
        return ()
    row = Row("supposed", "supposed", _LAST_NUMBER, 1, on, None, clock.now())
    named = str(ends.origin) if ends is not None else ""
    event = UnitEventFact(row, "returned", "supposed", ground.account.full_name, named)
    held = facts.units[0]
    return _against(_standing(replace(facts, units=(replace(held, events=(*held.events, event)),)), on))


def _alone(ground: EntryContext, unit: Unit) -> ClinicFacts | None:
    """The facts of the clinic with that unit alone; None where it is not among them."""
    facts = kept_facts(ground.clinic)
    units = tuple(held for held in facts.units if held.ref == str(unit.origin))
    return replace(facts, units=units) if units else None


def _standing(facts: ClinicFacts | None, on: date) -> UnitStanding | None:
    return evaluate(facts, on, brief=True).units[0].standing if facts is not None else None


def _against(standing: UnitStanding | None) -> tuple[str, ...]:
    if standing is None or standing.word.may_be_used:
        return ()
    return (f"{standing.word.value}: {standing.reason}",)
