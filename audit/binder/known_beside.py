"""What the ledger says of a question beside the facts that judgement reads: who coordinates, which company serves."""

from __future__ import annotations

from datetime import date

from audit.binder.written_on_paper import day
from audit.facts.responsible import Responsible

_COORDINATES = ("coordinator", "decontamination-lead")
_SERVED = ("maintenance-contract",)


def known_beside(responsible: Responsible, on: date, question: str) -> str:
    """Sentences about a question, by its id, of what holds on the day; "" for nothing."""
    told: list[str] = []
    if question in _COORDINATES:
        told += [
            f"{each.name} coordinates at the clinic since {day(each.effective_on)}."
            for each in responsible.coordinators
            if each.holds(on)
        ]
    if question in _SERVED:
        told += [
            f"Agreement with {each.company} since {day(each.effective_on)}{f': {each.scope}' if each.scope else ''}."
            for each in responsible.agreements
            if each.holds(on)
        ]
    return " ".join(dict.fromkeys(told))
