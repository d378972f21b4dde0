"""From the evidence back to the answers: each section names the answers that rest on what it shows."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from audit.binder.answers import answer_number
from audit.binder.sections import Cell, KeyValues, Links, Section

RESTS = "Answers that rest on this"


def answered_by(answers: Iterable[Section], body: Iterable[Section]) -> tuple[Section, ...]:
    """The sections of the body, each that an answer's evidence leads to with links back to those answers."""
    found: dict[str, dict[str, None]] = {}
    for answer in answers:
        for to in _evidence(answer):
            found.setdefault(to, {})[answer.id] = None
    return tuple(_with(section, tuple(found[section.id])) if section.id in found else section for section in body)


def _evidence(answer: Section) -> Iterable[str]:
    """The ids of the sections that the evidence of one answer leads to."""
    if answer_number(answer.id) is None:
        return
    for block in answer.blocks:
        if isinstance(block, KeyValues):
            yield from (cell.to for _, cell in block.pairs if cell.to)


def _with(section: Section, ids: tuple[str, ...]) -> Section:
    links = Links(RESTS, tuple(Cell(str(answer_number(id)), to=id) for id in ids))
    return replace(section, blocks=(links, *section.blocks))
