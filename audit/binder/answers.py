"""The questions the rules ask, each with its answer, the page where the proof stands, or an honest gap."""

from __future__ import annotations

from collections import Counter

from audit.binder.scope import Scope
from audit.binder.sections import Cell, Column, KeyValues, Paragraph, Section, Table
from audit.binder.where import Where
from audit.binder.words import OUTRANKED, dated, day, first_upper
from audit.judgement import Answer, Evidence

# In the order in which they weigh; judgement gives no others.
NOT_ASKED = "not asked here"
WORDS = ("no", "no record found", "in part", "yes", NOT_ASKED)
SHORT = ("no", "no record found", "in part")
_MOST = 12  # pieces of evidence told one by one; of more, the newest are told and the rest counted


def answer_counts(answers: tuple[Answer, ...]) -> str:
    """How many of each answer, in words: "2 no, 14 yes"; "" without any."""
    found = Counter(answer.answer for answer in answers)
    words = [word for word in WORDS if found[word]] + sorted(set(found) - set(WORDS))
    return ", ".join(f"{found[word]} {word}" for word in words)


def asked(answers: tuple[Answer, ...]) -> tuple[Answer, ...]:
    """The answers without the questions that these rules do not ask."""
    return tuple(answer for answer in answers if answer.answer != NOT_ASKED)


def answer_id(n: int) -> str:
    return f"answer-{n}"


def _who(scope: Scope, answer: Answer) -> str:
    labels = {unit.facts.ref: unit.label for unit in scope.units}
    return labels.get(answer.unit, answer.unit) if answer.unit else "whole place"


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
            Cell(answer.question, to=answer_id(n)),
            Cell(_who(scope, answer)),
            Cell(first_upper(answer.answer), strong=answer.answer in SHORT),
            Cell("", to=answer_id(n), page=""),
        )
        for n, answer in enumerate(asked(scope.judgement.answers), start=1)
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
        return [("Evidence", Cell("no record found"))]
    told = answer.evidence[-_MOST:]
    pairs = [_proof_pair(scope, each, where) for each in told]
    rest = answer.evidence[: len(answer.evidence) - len(told)]
    if rest:
        names = (scope.row(rest[0].ref), scope.row(rest[-1].ref))
        pairs.append(("Evidence", Cell(f"and {len(rest)} more, from {names[0]} to {names[1]}")))
    return pairs


def _full(scope: Scope, answer: Answer, where: Where) -> KeyValues:
    pairs = [
        ("Answer", Cell(first_upper(answer.answer), strong=answer.answer in SHORT)),
        ("In words", Cell(dated(answer.words))),
    ]
    if answer.gap:
        pairs.append(("Missing", Cell(first_upper(dated(answer.gap)), strong=True)))
    pairs += _proof_pairs(scope, answer, where)
    checked = f", checked {answer.source.checked_on}" if answer.source.checked_on else ""
    pairs += [
        ("Held by", Cell(answer.owner or "nobody named")),
        ("Source", Cell(f"{answer.source}{dated(checked)}")),
    ]
    return KeyValues("", tuple(pairs))


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
            f"{n}. {answer.question}" + (f" ({_who(scope, answer)})" if answer.unit else ""),
            3,
            (_full(scope, answer, where),),
        )
        for n, answer in enumerate(answers, start=1)
    )
    if not full:
        return (Section("answers", "Answers", 1, blocks),)
    return (
        Section("answers", "Answers", 1, blocks),
        Section("answers-full", "Each answer with its evidence", 2),
        *full,
    )
