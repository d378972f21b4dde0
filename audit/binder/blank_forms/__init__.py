"""Forms on paper for use without power: a sheet for a day, a week or a visit, printed from the same records.

What is on record stands in them: labels, serial numbers, what is due and why, limits, parts fitted, last readings.
What was done and what it showed is never filled in. Pure: the days are arguments.
"""

from __future__ import annotations

from datetime import date

from audit.binder.blank_forms.about import FormSubject
from audit.binder.blank_forms.days import day_sheet, week_sheet
from audit.binder.blank_forms.values import Boxes, FormEntry, Forms, FormTable, PaperForm
from audit.binder.blank_forms.visit import visit_sheet
from audit.binder.written_on_paper import day, moment
from audit.facts import ClinicFacts, unit_by_day
from audit.judge.judgement import ClinicJudgement, Word
from audit.judge.situation import clinic_by_day
from audit.regimes import Regime

KINDS = {"day": day_sheet, "week": week_sheet, "visit": visit_sheet}

__all__ = ["KINDS", "Boxes", "FormEntry", "FormTable", "Forms", "NoUnit", "PaperForm", "paper_forms"]


class NoUnit(LookupError):
    """There is no unit to print a sheet for; the text says what to do."""


def paper_forms(
    facts: ClinicFacts,
    judgement: ClinicJudgement,
    regime: Regime,
    kind: str,
    *,
    on: date | None,
    unit: str = "",
    getting_in: tuple[tuple[str, str], ...] = (),
) -> Forms:
    """The sheets of one kind ("day", "week", "visit") for the day `on`, one for each unit in the order of the facts.

    `on` None leaves the day blank, for a stock of sheets. `on` may lie after the day of the judgement: what falls due
    by then is printed as due. `unit` is the origin of one unit; without it every unit that is not out of the place
    ("Not in use") has its sheet. `getting_in` is what a visit sheet says of the place, each with its name. Raises
    NoUnit when that leaves none, KeyError for another kind.
    """
    make = KINDS[kind]
    own = clinic_by_day(facts, judgement.as_of)
    judged = {each.unit: each for each in judgement.units}
    forms = []
    for held in facts.units:
        said = judged.get(held.ref)
        if said is None or (held.ref != unit if unit else said.standing.word is Word.NOT_IN_USE):
            continue
        about = FormSubject(own, judgement, unit_by_day(held, judgement.as_of), said, regime, on, getting_in)
        forms.append(make(about))
    if not forms:
        raise NoUnit(_no_unit(judgement.name, unit))
    return Forms(kind, f"{kind.capitalize()} sheets", judgement.name, _made(facts, judgement), tuple(forms))


def _no_unit(name: str, unit: str) -> str:
    if unit:
        return f"{name} has no such unit. Choose one of its units, or leave the unit out for all of them."
    return f"{name} has no unit in use, so there is no sheet to print. Register a unit, or return one to use."


def _made(facts: ClinicFacts, judgement: ClinicJudgement) -> str:
    """Which records stand behind the print."""
    known = f"; logged up to {moment(facts.known_at)}" if facts.known_at else ""
    heads = "".join(f"; {head.organisation}: ledger entry {head.number}" for head in facts.heads[:1])
    return f"printed from the records as of {day(judgement.as_of)}{known}{heads}"
