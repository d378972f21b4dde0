"""Facts and judgement in, a binder as data out. Pure: the days are arguments."""

from __future__ import annotations

from datetime import date

from audit.binder.changes import changes_section
from audit.binder.chapters import unit_sections
from audit.binder.clinic import clinic_section
from audit.binder.cover import TITLE, cover, open_findings
from audit.binder.indicator import indicator_sections
from audit.binder.lots import lots_section
from audit.binder.method import method_sections
from audit.binder.open_items import open_items
from audit.binder.scope import scope
from audit.binder.sections import Binder
from audit.binder.words import span
from audit.facts import ClinicFacts
from audit.judgement import ClinicJudgement, Severity, Word


def binder_contents(facts: ClinicFacts, judgement: ClinicJudgement, *, from_on: date, to_on: date) -> Binder:
    """The binder of one clinic.

    Histories hold what happened from `from_on` to `to_on`, both inclusive, and not after `judgement.as_of`;
    identity, standings, due items and open items are those of `judgement.as_of`.
    Raises ValueError when `from_on` is after `to_on`.
    """
    if from_on > to_on:
        raise ValueError(f"The period ends before it starts: from {from_on} to {to_on}. Swap the two days.")
    asked = scope(facts, judgement, from_on, to_on)
    forbidding = sum(f.severity is Severity.FORBIDS for f in open_findings(asked))
    out = sum(unit.standing.word is Word.OUT for unit in judgement.units)
    return Binder(
        title=f"{TITLE}: {asked.name}, {span(from_on, to_on)}",
        clinic=asked.name,
        period=span(from_on, to_on),
        from_on=from_on,
        to_on=to_on,
        as_of=judgement.as_of,
        known_at=facts.known_at,
        forbidding=forbidding + out,
        sections=(
            cover(asked),
            open_items(asked),
            clinic_section(asked),
            *(section for unit in asked.units for section in unit_sections(asked, unit)),
            *indicator_sections(asked),
            lots_section(asked),
            changes_section(asked),
            *method_sections(asked),
        ),
    )
