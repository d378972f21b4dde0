"""The questions the rules ask, each with its answer, the page where the proof stands, or an honest gap."""

from __future__ import annotations

import re
from collections import Counter
from contextlib import suppress
from dataclasses import replace
from datetime import date

from audit.binder.glance import glance_sections
from audit.binder.scope import Scope, gap_words
from audit.binder.sections import Cell, Column, KeyValues, Paragraph, Section, Table
from audit.binder.where import Where
from audit.binder.written_on_paper import NO_RECORD, OUTRANKED, dated, day, first_upper
from audit.facts import GapFact
from audit.judge.judgement import Answer, Evidence

# In the order in which they weigh; judgement gives no others.
NOT_ASKED = "not asked here"
WORDS = ("no", "no record found", "in part", "yes", NOT_ASKED)
SHORT = ("no", "no record found", "in part")
_BY_NOBODY = "Accepted by nobody: no known gap is recorded for it."
_SOME_UNIT = "one of the units"
_ISO_SPAN = re.compile(r"(?<![\w-])(\d{4}-\d\d-\d\d)(?: to (\d{4}-\d\d-\d\d))?(?![\w-])")
_MOST = 12  # pieces of evidence told one by one; of more, the newest are told and the rest counted


def answer_counts(answers: tuple[Answer, ...]) -> str:
    """How many of each answer, in words: "2 no, 14 yes"; "" without any."""
    found = Counter(answer.answer for answer in answers)
    words = [word for word in WORDS if found[word]] + sorted(set(found) - set(WORDS))
    return ", ".join(f"{found[word]} {word}" for word in words)


def asked(answers: tuple[Answer, ...]) -> tuple[Answer, ...]:
    """The answers without the questions that these rules do not ask."""
    return tuple(answer for answer in answers if answer.answer != NOT_ASKED)


def together(answers: tuple[Answer, ...]) -> tuple[tuple[Answer, ...], ...]:
    """Answers to one question that say the same of several units as one, in the order of the first of each."""
    groups: dict[Answer, list[Answer]] = {}
    for answer in answers:
        groups.setdefault(replace(answer, unit="" if answer.unit == "" else _SOME_UNIT), []).append(answer)
    return tuple(map(tuple, groups.values()))


def answer_id(n: int) -> str:
    return f"answer-{n}"


def answer_number(id: str) -> int | None:
    """The number of the answer in a section of that id; None for any other section."""
    number = id.removeprefix("answer-")
    return int(number) if number != id and number.isdigit() else None


def _who(scope: Scope, same: tuple[Answer, ...]) -> str:
    if not same[0].unit:
        return "whole place"
    labels = {unit.facts.ref: unit.label for unit in scope.units}
    return ", ".join(labels.get(answer.unit, answer.unit) for answer in same)


def overview(scope: Scope) -> Table:
    """One line a question, with the page of the full answer."""
    columns = (
        Column("No.", 5, "right"),
        Column("Question", 62),
        Column("About", 16),
        Column("Answer", 17),
        Column("Page", 6, "right"),
    )
    rows = tuple(
        (
            Cell(str(n)),
            Cell(same[0].question, to=answer_id(n)),
            Cell(_who(scope, same)),
            Cell(first_upper(same[0].answer), strong=same[0].answer in SHORT),
            Cell("", to=answer_id(n), page=""),
        )
        for n, same in enumerate(together(asked(scope.judgement.answers)), start=1)
    )
    empty = "No question is answered in this binder: no record found of what these rules ask."
    return Table("Every question", columns, rows, empty)


def _proof_pair(scope: Scope, evidence: Evidence, where: Where) -> tuple[str, Cell]:
    name = scope.row(evidence.ref)
    text = f"{dated(evidence.text)} [{name}]"
    to = where.section(name)
    if to:
        return "Evidence", Cell(text, to=to, page=name)
    row = scope.rows.get(evidence.ref)
    if row is None:
        return "Evidence", Cell(f"{text}; not a row of this clinic's records")
    if not scope.holds(row.happened_on):
        return "Evidence", Cell(f"{text}; outside the period of this binder")
    return "Evidence", Cell(f"{text}; on record, not printed in this binder")


def _proof_pairs(scope: Scope, answer: Answer, where: Where) -> list[tuple[str, Cell]]:
    if not answer.evidence:
        return [] if answer.answer == NO_RECORD else [("Evidence", Cell("no row is named"))]
    told = answer.evidence[-_MOST:]
    pairs = [_proof_pair(scope, each, where) for each in told]
    rest = answer.evidence[: len(answer.evidence) - len(told)]
    if rest:
        names = (scope.row(rest[0].ref), scope.row(rest[-1].ref))
        pairs.append(("Evidence", Cell(f"and {len(rest)} more, from {names[0]} to {names[1]}")))
    return pairs


def _days_missing(text: str) -> list[tuple[date, date]]:
    """The days a sentence of the judgement names, as spans with both ends inclusive: "2026-03-02 to 2026-03-08"."""
    spans = []
    for first, last in _ISO_SPAN.findall(text):
        with suppress(ValueError):
            spans.append((date.fromisoformat(first), date.fromisoformat(last or first)))
    return spans


def accepted_gaps(scope: Scope, same: tuple[Answer, ...]) -> tuple[GapFact, ...]:
    """The known gaps behind an answer: those its evidence names and those that touch days it says are missing."""
    named = {scope.row(each.ref) for each in same[0].evidence}
    days = _days_missing(same[0].gap)
    about = {answer.unit for answer in same}
    units = [unit for unit in scope.units if unit.facts.ref in about] or [None]
    found = {gap.row.ref: gap for unit in units for gap in scope.gaps(unit, date.min, date.max)}
    return tuple(
        gap
        for gap in found.values()
        if scope.row(gap.row.ref) in named or any(first <= gap.to_on and last >= gap.from_on for first, last in days)
    )


def _gap_pairs(scope: Scope, same: tuple[Answer, ...], where: Where) -> list[tuple[str, Cell]]:
    """What is missing, and who accepted that, when and why; or that nobody has."""
    missing = first_upper(dated(same[0].gap))
    if not missing:
        return []
    gaps = accepted_gaps(scope, same)
    pairs = [("Missing", Cell(missing if gaps else f"{missing}\n{_BY_NOBODY}", strong=True))]
    for gap in gaps:
        name = scope.row(gap.row.ref)
        to = where.section(name)
        pairs.append(("Accepted", Cell(gap_words(scope, gap), to=to, page=name if to else None)))
    return pairs


def _full(scope: Scope, same: tuple[Answer, ...], where: Where) -> KeyValues:
    answer = same[0]
    pairs = (
        ("Answer", Cell(first_upper(answer.answer), strong=answer.answer in SHORT)),
        ("In words", Cell(dated(answer.words))),
        *_gap_pairs(scope, same, where),
        *_proof_pairs(scope, answer, where),
        ("Held by, as of", Cell(f"{first_upper(answer.owner or 'nobody named')}, {_as_of(scope, answer)}")),
        ("Source", Cell(scope.cite(answer.source))),
    )
    return KeyValues("", pairs)


def _as_of(scope: Scope, answer: Answer) -> str:
    """The day of the answer, and of the newest row it rests on."""
    days = [scope.rows[each.ref].happened_on for each in answer.evidence if each.ref in scope.rows]
    newest = f"; its newest evidence is of {day(max(days))}" if days else ""
    return f"{day(scope.as_of)}{newest}"


def answer_sections(scope: Scope, where: Where) -> tuple[Section, ...]:
    """The overview, then each question in full, in the order in which an inspector asks."""
    answers = asked(scope.judgement.answers)
    counts = answer_counts(answers)
    left_out = len(scope.judgement.answers) - len(answers)
    intro = f"As of {day(scope.as_of)}{': ' + counts if counts else ''}."
    if left_out:
        intro += f" Not asked by these rules: {left_out} further question{'s' if left_out > 1 else ''}."
    blocks = (Paragraph(f"{intro} {OUTRANKED}", "small"), overview(scope))
    full = tuple(
        Section(
            answer_id(n),
            f"{n}. {same[0].question}" + (f" ({_who(scope, same)})" if same[0].unit else ""),
            3,
            (_full(scope, same, where),),
        )
        for n, same in enumerate(together(answers), start=1)
    )
    glance = glance_sections(scope, where)
    if not full:
        return (Section("answers", "Answers", 1, blocks), *glance)
    return (
        Section("answers", "Answers", 1, blocks),
        *glance,
        Section("answers-full", "Each answer with its evidence", 2),
        *full,
    )
