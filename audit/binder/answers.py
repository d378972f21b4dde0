"""The questions the rules ask: each once, with its answer unit by unit, the page of the proof, or an honest gap."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from contextlib import suppress
from datetime import date

from audit.binder.in_turn import clauses, sentences, told_of
from audit.binder.known_beside import known_beside
from audit.binder.named_units import units_words
from audit.binder.scope import Scope, UnitScope, gap_words
from audit.binder.sections import Block, Cell, Column, Paragraph, Question, Section, Table
from audit.binder.where import Where
from audit.binder.written_on_paper import NO_RECORD, counted, dated, day, first_upper
from audit.facts import GapFact
from audit.judge.judgement import Answer

ANSWERS = "answers"
# In the order in which they weigh; judgement gives no others.
NOT_ASKED = "not asked here"
WORDS = ("no", NO_RECORD, "in part", "yes", NOT_ASKED)
SHORT = ("no", NO_RECORD, "in part")
_ISO_SPAN = re.compile(r"(?<![\w-])(\d{4}-\d\d-\d\d)(?: to (\d{4}-\d\d-\d\d))?(?![\w-])")

# How an answer stands in a column of a unit, and how it stands out.
_IN_COLUMN = {
    "yes": Cell("yes"),
    "in part": Cell("part", strong=True),
    "no": Cell("no", frame="black"),
    NO_RECORD: Cell("none", frame="framed"),
    NOT_ASKED: Cell("·"),
}
_KEY = (
    "yes: the record shows it. part: with an exception, told beside it. no: it is not so. none: nothing on record. "
    "·: not asked of this unit."
)
_MOST_COLUMNS = 6  # of units; of more, one column counts and names
_UNIT_WIDTHS, _NARROWEST = {1: 44, 2: 42, 3: 34}, 28  # points of the column of a unit, by how many there are
_LETTER = 4.6  # points of a letter of its head
_MOST_PAGES = 4  # of one question
_LOGGED = "cycles logged"
_BOUND = "with 95 % confidence"  # how little a few tests show: the method says it once

# The question that begins each part, in the order of an inspection; what stands between belongs to the part before.
_BEGINS = {
    "coordinator": "The units",
    "last-spore-test": "Spore tests",
    "failure-procedure": "After a failure",
    "mechanical-each-load": "Loads",
    "maintained": "Service",
    "pressure-examined": "Pressure and validation",
    "people-trained": "People and procedures",
    "two-years-of-tests": "Keeping",
}


def answer_counts(answers: Iterable[Answer]) -> str:
    """How many of each answer, in words: "2 no, 14 yes"; "" without any."""
    found = Counter(answer.answer for answer in answers)
    words = [word for word in WORDS if found[word]] + sorted(set(found) - set(WORDS))
    return ", ".join(f"{found[word]} {word}" for word in words)


def asked(answers: Iterable[Answer]) -> tuple[Answer, ...]:
    """The answers without the questions that these rules do not ask."""
    return tuple(answer for answer in answers if answer.answer != NOT_ASKED)


def by_question(answers: Iterable[Answer]) -> tuple[tuple[Answer, ...], ...]:
    """The answers to each question, in the order in which these first come; without those that are not asked."""
    found: dict[str, list[Answer]] = {}
    for answer in answers:
        found.setdefault(answer.id, []).append(answer)
    return tuple(tuple(same) for same in found.values() if asked(same))


def _days_missing(text: str) -> list[tuple[date, date]]:
    """The days a sentence of the judgement names, as spans with both ends inclusive: "2026-03-02 to 2026-03-08"."""
    spans = []
    for first, last in _ISO_SPAN.findall(text):
        with suppress(ValueError):
            spans.append((date.fromisoformat(first), date.fromisoformat(last or first)))
    return spans


def accepted_gaps(scope: Scope, same: tuple[Answer, ...]) -> tuple[GapFact, ...]:
    """The known gaps behind the answers: named by their evidence, or touching days that they say are missing."""
    found: dict[str, GapFact] = {}
    for answer in same:
        named = {scope.row(each.ref) for each in answer.evidence}
        days = _days_missing(answer.gap)
        units: list[UnitScope | None] = [u for u in scope.units if u.facts.ref == answer.unit] or [None]
        for gap in (gap for unit in units for gap in scope.gaps(unit, date.min, date.max)):
            touched = any(first <= gap.to_on and last >= gap.from_on for first, last in days)
            if scope.row(gap.row.ref) in named or touched:
                found.setdefault(gap.row.ref, gap)
    return tuple(found.values())


def _labels(scope: Scope) -> dict[str, str]:
    return {unit.facts.ref: unit.label for unit in scope.units}


def _record_shows(answer: Answer) -> list[str]:
    """What the record shows, sentence by sentence: of a plain yes the first, else all that the gap does not say."""
    told = [each for each in sentences(answer.words) if _BOUND not in each]
    if answer.answer == "yes":
        return [dated(each) for each in told[:1]]
    gap = answer.gap.casefold()
    kept = []
    for sentence in told:
        left = [each for each in sentence.rstrip(".").split("; ") if each.casefold() not in gap]
        if left:
            kept.append(f"{first_upper('; '.join(left))}.")
    return [dated(each) for each in kept or told]


def _not_again(sentences_: list[str], number: int, logged: dict[str, int]) -> list[str]:
    """How many of the cycles are logged is told with the first question it bears on; `logged` remembers where."""
    kept: list[str] = []
    for each in sentences_:
        first = logged.setdefault(each, number) if _LOGGED in each else number
        kept.append(each if first == number else f"Cycles logged: see {first}.")
    return kept


def _lacks(answer: Answer) -> list[str]:
    """What is missing and who can supply it, part by part."""
    return clauses(first_upper(dated(answer.gap)))


def _told_of(same: tuple[Answer, ...]) -> tuple[Answer, ...]:
    """The answers of which it is said what the record shows: of a plain yes nothing where another is not one."""
    short = tuple(answer for answer in same if answer.answer in SHORT)
    return short or asked(same)


def groups_of(questions: Iterable) -> dict[str, str]:
    """The part of each question by its id, of all on file or of those that are answered."""
    found, group = {}, ""
    for answer in questions:
        group = _BEGINS.get(answer.id, group)
        found[answer.id] = group
    return found


def questions(scope: Scope) -> tuple[Question, ...]:
    """Every question that is asked here, with its answers, in the order in which an inspector asks."""
    labels, found, groups = _labels(scope), [], groups_of(scope.judgement.answers)
    logged: dict[str, int] = {}

    def label(answer: Answer) -> str:
        return labels.get(answer.unit, answer.unit) if answer.unit else ""

    for number, same in enumerate(by_question(scope.judgement.answers), start=1):
        told = _told_of(same) if len(scope.units) > 1 else asked(same)
        of_all = len(told) == len(asked(same))
        gaps = accepted_gaps(scope, tuple(answer for answer in same if answer.gap))
        shown = [(label(a), _not_again(_record_shows(a), number, logged)) for a in told]
        found.append(
            Question(
                number=number,
                group=groups[same[0].id],
                question=same[0].question,
                answers=tuple((label(a), a.answer) for a in same),
                words=" ".join(
                    text
                    for text in (
                        known_beside(scope.responsible, scope.as_of, same[0].id),
                        told_of(shown, of_all=of_all),
                    )
                    if text
                ),
                missing=told_of([(label(a), _lacks(a)) for a in told if a.gap], of_all=of_all),
                accepted="\n".join(gap_words(scope, gap) for gap in gaps),
                source=scope.cite(asked(same)[0].source),
            )
        )
    return tuple(found)


def _columns(scope: Scope) -> tuple[Column, ...]:
    many = len(scope.units) > _MOST_COLUMNS
    wide = 112 if many else _unit_width(scope) * max(len(scope.units), 1)
    words = 510 - 17 - 134 - 34 - 16 - wide
    if many or not scope.units:
        answers: tuple[Column, ...] = (Column("Answer", wide, "center"),)
    else:
        each = _unit_width(scope)
        answers = tuple(Column(_head(scope, unit, n), each, "center") for n, unit in enumerate(scope.units, start=1))
    return (
        Column("No.", 17),
        Column("Question", 134, names=True),
        *answers,
        Column("What the record shows; what is missing, and who can supply it", words),
        Column("Page", 34),
        Column("By", 16, small=True),
    )


def _unit_width(scope: Scope) -> int:
    """Of the column of a unit, in points: of few units wide enough for their names."""
    return _UNIT_WIDTHS.get(len(scope.units), _NARROWEST)


def _head(scope: Scope, unit: UnitScope, n: int) -> str:
    """The head of a unit's narrow column: its label, or its number where the label is too long for it."""
    return unit.label if len(unit.label) * _LETTER <= _unit_width(scope) else str(n)


def _answer_cells(scope: Scope, question: Question) -> tuple[Cell, ...]:
    """One cell a unit; one across where all say the same; one that counts and names where they are too many."""
    words = {label: word for label, word in question.answers}
    count = len(scope.units)
    if len(set(words.values())) == 1 and ("" in words or len(words) == count):
        return (_plain(next(iter(words.values())), max(count, 1) if count <= _MOST_COLUMNS else 1),)
    if count > _MOST_COLUMNS:
        return (_counted(words),)
    return tuple(_IN_COLUMN[words.get(unit.label, NOT_ASKED)] for unit in scope.units)


def _plain(word: str, span: int) -> Cell:
    cell = _IN_COLUMN.get(word, Cell(word))
    return Cell(cell.text, strong=cell.strong, frame=cell.frame, span=span)


def _counted(words: dict[str, str]) -> Cell:
    """ "yes 10, part: 3, 7": a plain yes is counted, the others are named."""
    parts = []
    for word in reversed(WORDS):
        names = [label for label, said in words.items() if said == word]
        if names and word != NOT_ASKED:
            short = _IN_COLUMN[word].text
            parts.append(f"{short} {len(names)}" if word == "yes" else f"{short}: {units_words(names)}")
    return Cell(", ".join(parts), strong=any(word in SHORT for word in words.values()))


def _pages(scope: Scope, where: Where, same: tuple[Answer, ...]) -> Cell:
    """The pages of the newest evidence of each answer, at most so many; of one for the whole place of all of it."""
    found: dict[str, str] = {}
    for answer in same:
        names = [scope.row(each.ref) for each in reversed(answer.evidence)]
        shown = [name for name in names if where.section(name)]
        for name in shown[:1] if answer.unit else reversed(shown):
            found.setdefault(where.section(name), name)
    pages = tuple(found.items())[:_MOST_PAGES]
    return Cell("", to=pages[0][0], pages=pages) if pages else Cell("")


def _letter(n: int) -> str:
    """a, b, ... z, aa, ab, ..."""
    return chr(ord("a") + n) if n < 26 else _letter(n // 26 - 1) + _letter(n % 26)


def overview(scope: Scope, where: Where, found: tuple[Question, ...]) -> Table:
    """One row a question."""
    columns = _columns(scope)
    letters = _letters(found)
    rows: list[tuple[Cell, ...]] = []
    group = ""
    answered = by_question(scope.judgement.answers)
    for question, same in zip(found, answered, strict=True):
        if question.group and question.group != group:
            group = question.group
            rows.append((Cell(group, strong=True, span=len(columns)),))
        said = "\n".join(
            text
            for text in (question.words, question.missing and f"Missing: {question.missing}", question.accepted)
            if text
        )
        rows.append(
            (
                Cell(str(question.number)),
                Cell(question.question),
                *_answer_cells(scope, question),
                Cell(said),
                _pages(scope, where, same),
                Cell(letters[question.source]),
            )
        )
    empty = "No question is answered in this binder: no record found of what these rules ask."
    return Table("Every question", columns, tuple(rows), empty)


def _letters(found: tuple[Question, ...]) -> dict[str, str]:
    """Each source of a question with its letter, in the order of use."""
    sources = dict.fromkeys(question.source for question in found)
    return {source: _letter(n) for n, source in enumerate(sources)}


def _closing(scope: Scope, found: tuple[Question, ...]) -> tuple[Paragraph, ...]:
    """By whom each question is asked; then what these rules do not ask."""
    by = "; ".join(f"{letter} {source}" for source, letter in _letters(found).items())
    answered = {answer.id for same in by_question(scope.judgement.answers) for answer in same}
    left = dict.fromkeys(a.question for a in scope.judgement.answers if a.id not in answered)
    out = [Paragraph(f"By: {by}.", "small")] if by else []
    if left:
        out.append(
            Paragraph(f"Not asked by these rules ({counted(len(left), 'question')}): {' '.join(left)}", "small")
        )
    return tuple(out)


def _legend(scope: Scope) -> str:
    long = [(n, unit.label) for n, unit in enumerate(scope.units, start=1) if _head(scope, unit, n) != unit.label]
    if not long or len(scope.units) > _MOST_COLUMNS:
        return _KEY
    return f"{_KEY} Columns: {', '.join(f'{n} {label}' for n, label in long)}."


def _worst(scope: Scope) -> str:
    """How many questions there are, and how many of each answer: of several units the worst."""
    same = by_question(scope.judgement.answers)
    found = Counter(min((a.answer for a in asked(each)), key=WORDS.index) for each in same)
    told = [f"{found[word]} {_IN_COLUMN[word].text}" for word in WORDS if found[word]]
    of_units = ", by the worst answer of its units" if len(scope.units) > 1 else ""
    return f": {counted(len(same), 'question')}{of_units}: {', '.join(told)}" if same else ""


def answer_sections(
    scope: Scope, where: Where, found: tuple[Question, ...], not_asked: tuple[Block, ...] = ()
) -> tuple[Section, ...]:
    """The chapter of the questions, in the order in which an inspector asks. `found` are those of `questions`;
    `not_asked` is what stands after them."""
    said = f"As of {day(scope.as_of)}{_worst(scope)}. {_legend(scope)} One answer across the units "
    said += "holds for all of them, or for the whole place. Where somebody accepted a gap, that is told; every other "
    said += "gap nobody accepted. By: who asks it, under the table."
    blocks = (Paragraph(said, "small"), overview(scope, where, found), *_closing(scope, found), *not_asked)
    return (Section(ANSWERS, "Questions an inspector asks", 1, blocks),)
