"""Facts and judgement in, a binder as data out. Pure: the days are arguments."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

from audit.binder.answers import answer_sections, groups_of, questions
from audit.binder.appendix import appendix_sections, with_paper_findings
from audit.binder.attached import Paper
from audit.binder.changes import changes_section
from audit.binder.chapters import unit_sections
from audit.binder.cover import TITLE, cover, open_findings
from audit.binder.index import index_section
from audit.binder.inspections import inspections_section
from audit.binder.loads import load_sections
from audit.binder.lots import lots_sections
from audit.binder.method import method_sections
from audit.binder.not_asked import not_asked_blocks, not_asked_here
from audit.binder.open_items import open_items
from audit.binder.people import people_section
from audit.binder.place import clinic_section, due_table
from audit.binder.scope import NOBODY, Scope, scope
from audit.binder.seal import seal_section
from audit.binder.sealing import Sealing
from audit.binder.sections import INSPECTOR, Binder, Section
from audit.binder.where import named_rows, where
from audit.binder.written_on_paper import span
from audit.facts import ClinicFacts
from audit.facts.heads import LedgerHead
from audit.facts.responsible import Responsible
from audit.judge.answers import not_asked_of
from audit.judge.answers import questions as every_question
from audit.judge.judgement import ClinicJudgement, Coverage, Severity, Word

_UNIT = re.compile(r"unit-\d+")


def binder_contents(
    facts: ClinicFacts,
    judgement: ClinicJudgement,
    *,
    from_on: date,
    to_on: date,
    coverage: Mapping[str, tuple[Coverage, ...]] | None = None,
    papers: tuple[Paper, ...] = (),
    heads: tuple[LedgerHead, ...] | None = None,
    extent: str = INSPECTOR,
    responsible: Responsible = NOBODY,
    sealing: Sealing | None = None,
) -> Binder:
    """The binder of one clinic.

    Histories hold what happened from `from_on` to `to_on`, both inclusive, and not after `judgement.as_of`;
    identity, standings, due items and open items are those of `judgement.as_of`. `coverage` says by origin of the
    unit how its duties were kept in the period; without it that of the judgement is shown, with its own days.
    `papers` are attached, and what is wrong with them is among the open items. `heads` are the ledgers the binder
    rests on, the clinic's first; without them those of the facts. `extent` says how much is printed, see `scope`;
    `responsible` who answers for the place, `sealing` what is known of the signature, None where there will be none.
    Raises ValueError when `from_on` is after `to_on`, or for an extent that is not known.
    """
    if from_on > to_on:
        raise ValueError(f"The period ends before it starts: from {from_on} to {to_on}. Swap the two days.")
    judgement = with_paper_findings(judgement, papers)
    asked = scope(facts, judgement, from_on, to_on, coverage, papers, heads, extent, responsible, sealing)
    body = _body(asked)
    found = questions(asked)
    left, home = not_asked_of(facts, judgement), where(asked, body)
    not_asked = not_asked_here(asked, left, groups_of(every_question()))
    answers = answer_sections(asked, home, found, not_asked_blocks(asked, home, left, not_asked))
    sections = (*cover(asked, chapters((*answers, *body))), *answers, *body)
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
        sections=sections,
        heads=asked.heads,
        rules=asked.rules,
        extent=asked.extent,
        questions=found,
        not_asked=not_asked,
        named=named_rows(asked, sections),
    )


def chapters(sections: Iterable[Section]) -> tuple[tuple[str, str], ...]:
    """(title, id) of what the first page leads to: the chapters but those of the units, which its table leads to."""
    named = {"changes": "Corrections, late entries"}
    led = [s for s in sections if s.level == 1 and not _UNIT.fullmatch(s.id) or s.id == "method-rules"]
    return tuple((named.get(s.id, s.title), s.id) for s in led)


def _body(asked: Scope) -> tuple[Section, ...]:
    """Everything that answers may point to."""
    told = (
        open_items(asked),
        clinic_section(asked),
        *_due_of_the_place(asked),
        people_section(asked),
        *(section for unit in asked.units for section in unit_sections(asked, unit)),
        *load_sections(asked),
        *lots_sections(asked),
        *inspections_section(asked),
        changes_section(asked),
        *_no_papers(asked),
        seal_section(asked),
        *method_sections(asked),
    )
    named = (number for number, _ in named_rows(asked, told))
    papers = appendix_sections(asked, asked.papers) if asked.papers else ()
    return (*told, *index_section(asked, named), *papers)


def _no_papers(asked: Scope) -> tuple[Section, ...]:
    """Where no paper is attached a line says so and takes no page; those that are stand behind all else."""
    return () if asked.papers else tuple(replace(each, flows=True) for each in appendix_sections(asked, ()))


def _due_of_the_place(asked: Scope) -> tuple[Section, ...]:
    """Papers, training and instruments of the whole place; nothing where nothing is due."""
    table = due_table(asked)
    return (Section("clinic-due", "Due items of the whole place", 2, (table,)),) if table.rows else ()
