"""What the rules of this place do not ask and other texts do, so that nobody takes silence for a gap."""

from __future__ import annotations

from collections.abc import Iterable

from audit.binder.named_units import units_words
from audit.binder.scope import Scope
from audit.binder.sections import Block, Cell, Column, NotAskedHere, Paragraph, Table
from audit.binder.where import Where
from audit.judge.judgement import NotAsked

TITLE = "Not asked by the rules this place follows"
_MOST_PAGES = 2  # of one subject
_NONE = "none on record"
_SHORT = {"not asked here": "on record"}  # there are records, and no rule to measure them by


def not_asked_here(scope: Scope, found: Iterable[NotAsked], groups: dict[str, str]) -> tuple[NotAskedHere, ...]:
    """Each subject with what is on record of it, in the order of the questions; `groups` by id of a question."""
    labels = {unit.facts.ref: unit.label for unit in scope.units}
    return tuple(
        NotAskedHere(
            group=groups[one.id],
            subject=one.subject,
            held=tuple((labels.get(a.unit, a.unit) if a.unit else "", a.answer) for a in one.held),
            sources=tuple(str(source) for source in one.sources),
        )
        for one in found
    )


def held_words(held: Iterable[tuple[str, str]]) -> str:
    """What is on record, in words: "Unit 4: yes", "Units 1 and 2: in part; Unit 4: yes"; "" for nothing."""
    told: dict[str, list[str]] = {}
    for label, answer in held:
        told.setdefault(_SHORT.get(answer, answer), []).append(label)
    return "; ".join(
        f"{units_words([label for label in labels if label])}: {answer}" if any(labels) else answer
        for answer, labels in told.items()
    )


def _words(one: NotAskedHere, units: int) -> str:
    said = held_words(one.held)
    answers = {answer for _, answer in one.held}
    if len(answers) == 1 and len(one.held) == units > 1:
        said = _SHORT.get(*answers, *answers)
    return f"{one.subject} ({said or _NONE})"


def not_asked_blocks(
    scope: Scope, where: Where, found: tuple[NotAsked, ...], told: tuple[NotAskedHere, ...]
) -> tuple[Block, ...]:
    """One row a subject, by part of the inspection, with its pages of what is on record; () where all is asked."""
    if not told:
        return ()
    columns = (Column("Not asked here", 208, names=True), Column("Page", 36))
    rows: list[tuple[Cell, ...]] = []
    group = ""
    for judged, one in zip(found, told, strict=True):
        if one.group != group:
            group = one.group
            rows.append((Cell(group, strong=True, span=len(columns)),))
        rows.append((Cell(_words(one, len(scope.units))), _pages(scope, where, judged)))
    rules = scope.judgement.regime_title
    said = (
        f"Other places' texts ask the following; the rules this place follows ({rules}) do not, so it is no gap "
        "where it is missing. A law of the place may ask it all the same: whoever inspects says so. In brackets the "
        "answer that the record gives anyway; “on record” where these rules give no measure for one; "
        f"“{_NONE}” where there is nothing."
    )
    return (Paragraph(said, "small"), Table(TITLE, columns, tuple(rows), halves=True))


def _pages(scope: Scope, where: Where, judged: NotAsked) -> Cell:
    """The pages of the newest record behind each answer, at most so many."""
    pages: dict[str, str] = {}
    for answer in judged.held:
        names = (scope.row(each.ref) for each in reversed(answer.evidence))
        name = next((each for each in names if where.section(each)), "")
        if name:
            pages.setdefault(where.section(name), name)
    to = tuple(pages.items())[:_MOST_PAGES]
    return Cell("", to=to[0][0], pages=to) if to else Cell("")
