"""What the rules of this place do not ask and other texts do, so that nobody takes silence for a gap."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from functools import partial

from audit.binder.in_turn import told_of
from audit.binder.known_beside import known_beside
from audit.binder.scope import Scope
from audit.binder.sections import Block, Cell, Column, NotAskedHere, Paragraph, Table
from audit.binder.where import Where
from audit.binder.written_on_paper import dated
from audit.judge.answers import IN_PART, owner_of
from audit.judge.judgement import Answer, NotAsked

TITLE = "Not asked by the rules this place follows"
_MOST_PAGES = 2  # of one subject
_NONE = "none"
_SHORT = {"not asked here": "on record"}  # there are records, and no rule to measure them by
_LONGEST = 110  # letters of what is missing that is told; of more the answer alone
_FROM = re.compile(r"(spore tests|loads|service|validation) (\d{4}-\d\d-\d\d) to \d{4}-\d\d-\d\d, \d+")
_BEGUN = re.compile(r"asked from (\d{4}-\d\d-\d\d) on, the begin of use")
_NONE_FAILED = "there was nothing to"  # told where no failure is on record
_DUE = re.compile(r"Due (\d+) times?: (\d+) met")
_APART = re.compile(r"Longest time between two: (\d+ days?)")
_BEFORE_MORE = re.compile("[,;]")
_SENTENCES = ("it is", "nothing", "records", "spore tests:", "loads:", "service:")  # told as they are
_BY_PERIOD = ("spore-test-with-patients", "spore-test-each-period")


def not_asked_here(scope: Scope, found: Iterable[NotAsked], groups: dict[str, str]) -> tuple[NotAskedHere, ...]:
    """Each subject with what is on record of it, in the order of the questions; `groups` by id of a question."""
    labels = {unit.facts.ref: unit.label for unit in scope.units}
    found = tuple(found)
    known = partial(known_beside, scope.responsible, scope.as_of)
    told = told_words(found, labels, known, _NONE)
    return tuple(
        NotAskedHere(
            group=groups[one.id],
            subject=one.subject,
            held=tuple((labels.get(a.unit, a.unit) if a.unit else "", a.answer) for a in one.held),
            sources=tuple(str(source) for source in one.sources),
            told=words,
        )
        for one, words in zip(found, told, strict=True)
    )


def told_words(
    found: Iterable[NotAsked], labels: Mapping[str, str], beside: Callable[[str], str], none: str = "none on record"
) -> list[str]:
    """What the record shows of each subject anyway: "Units 1 and 2: in part, missing a training; Unit 4: yes".

    `labels` of the units by origin; `beside` gives what is known apart from the answers, by the id of a question. Of
    nothing on record, which `none` says, it is told who supplies it. What several subjects lack alike is told once.
    """
    seen: set[str] = set()
    return [_told(one, labels, beside(one.id).rstrip("."), seen, none) for one in found]


def _told(one: NotAsked, labels: Mapping[str, str], beside: str, seen: set[str], none: str) -> str:
    if not one.held:
        return f"{beside}; no paper on record: {owner_of(one.id)}" if beside else f"{none}: {owner_of(one.id)}"
    said = [(labels.get(a.unit, a.unit) if a.unit else "", [_brief(one.id, a)]) for a in one.held]
    of_all = len(one.held) == len(labels) or not one.held[0].unit
    told = told_of(said, of_all=of_all).replace("\n", "; ")
    if told in seen:
        said = [(label, [_BEFORE_MORE.split(text)[0]]) for label, (text,) in said]
        told = f"{told_of(said, of_all=of_all)}, as above".replace("\n", "; ").removeprefix("on record, ")
    elif any(_BEFORE_MORE.search(text) for _, (text,) in said):
        seen.add(told)
    return "; ".join(part for part in (beside, told) if part)


def _brief(id: str, answer: Answer) -> str:
    """An answer in a few words: what is missing of one in part; of records without a measure, which there are."""
    said = _SHORT.get(answer.answer, answer.answer)
    if said == "yes":
        begun = _BEGUN.search(answer.words)
        plain = "yes, none failed" if _NONE_FAILED in answer.words else said
        return f"yes, since first use {dated(begun[1])}" if begun else plain
    missing = dated(answer.gap.split("; ")[0])
    if said == answer.answer:
        told = said == IN_PART and missing and len(missing) <= _LONGEST
        return f"{said}, {'' if missing.startswith(_SENTENCES) else 'missing '}{missing}" if told else said
    more = f"; {missing} not" if missing else ""
    if found := _FROM.findall(answer.words):
        return f"{said}, {', '.join(f'{kind} from {dated(first)}' for kind, first in found)}{more}"
    if id in _BY_PERIOD and (due := _DUE.search(answer.words)):
        return f"{said}, {due[2]} of the {due[1]} due here{more}"
    if id not in _BY_PERIOD and (apart := _APART.search(answer.words)):
        return f"{said}, at most {dated(apart[1])} apart{more}"
    return f"{said}{more}"


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
        rows.append((Cell(f"{one.subject} ({one.told})"), _pages(scope, where, judged)))
    rules = scope.judgement.regime_title
    said = (
        f"Other places' texts ask the following; the rules this place follows ({rules}) do not, so it is no gap "
        "where it is missing. A law of the place may ask it all the same: whoever inspects says so. In brackets what "
        "the record shows anyway: “on record” where these rules give no measure for it; “none” where there is "
        "nothing, and who would supply it."
    )
    return (Paragraph(said, "small"), Table(TITLE, columns, tuple(rows), halves=True))


def _pages(scope: Scope, where: Where, judged: NotAsked) -> Cell:
    """The pages of the newest record behind each answer, at most so many; of the whole place of each record."""
    pages: dict[str, str] = {}
    for answer in judged.held:
        names = [scope.row(each.ref) for each in reversed(answer.evidence)]
        shown = [name for name in names if where.section(name)]
        for name in shown[:1] if answer.unit else reversed(shown):
            pages.setdefault(where.section(name), name)
    to = tuple(pages.items())[:_MOST_PAGES]
    return Cell("", to=to[0][0], pages=to) if to else Cell("")
