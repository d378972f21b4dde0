"""What an issued binder states, read back from the data inside its own file, so that page and paper cannot differ."""

from __future__ import annotations

import io
import json
import re
from dataclasses import dataclass
from datetime import date, datetime

from audit.binder.answers import SHORT, WORDS
from audit.binder.cover import CAUTIONS
from audit.binder.written_on_paper import first_upper
from audit.issue.seal.manifest import CONTENTS
from audit.judge.judgement import Word

_MOST_CAUTIONS = len(CAUTIONS)
_SIGNS = "□◩■"
_OF_FAILURE = "-failure-"  # in the id of its section
_ANSWER = re.compile(r"answer-(\d+)")


class NoContents(ValueError):
    """The file carries no contents that can be read as data."""


@dataclass(frozen=True, slots=True)
class ToldLine:
    """A name and what stands beside it; `proof` marks names of rows, `strong` what weighs."""

    name: str
    text: str
    strong: bool = False
    proof: bool = False


@dataclass(frozen=True, slots=True)
class UnitTold:
    """`word` is the answer to "may it be used?", `reason` why; `lines` since, until, who can change it, the proof."""

    title: str
    word: str
    reason: str
    lines: tuple[ToldLine, ...]
    outranked: str


@dataclass(frozen=True, slots=True)
class AnswerTold:
    """One question in full. `answer` is the word; `missing` the gap and `accepted` by whom, both "" without one."""

    number: int
    question: str
    answer: str
    words: str
    missing: str
    accepted: str
    lines: tuple[ToldLine, ...]


@dataclass(frozen=True, slots=True)
class ContentsTold:
    """The days are those of the binder; `known_at` None: everything logged when it was made."""

    title: str
    clinic: str
    period: str
    as_of: date
    known_at: datetime | None
    rules: str
    units: tuple[UnitTold, ...]
    answers: tuple[AnswerTold, ...]
    cautions: tuple[str, ...]


def contents_in(body: bytes) -> dict:
    """The data inside a binder's file. Raises Unreadable when there is none."""
    import pikepdf

    try:
        with pikepdf.open(io.BytesIO(body)) as pdf:
            found = json.loads(pdf.attachments[CONTENTS].get_file().read_bytes())
    except (pikepdf.PdfError, KeyError, ValueError) as error:
        raise NoContents(f"The file carries no {CONTENTS} that can be read: {error}") from None
    if not isinstance(found, dict):
        raise NoContents(f"The {CONTENTS} of the file is not the data of a binder.")
    return found


def told(contents: dict) -> ContentsTold:
    """The answers out of the data of a binder. Raises Unreadable for data of another form."""
    try:
        sections = contents["sections"]
        known = contents["known_at"]
        return ContentsTold(
            title=contents["title"],
            clinic=contents["clinic"],
            period=contents["period"],
            as_of=date.fromisoformat(contents["as_of"]),
            known_at=datetime.fromisoformat(known) if known else None,
            rules=_rules(contents),
            units=tuple(_units(sections)),
            answers=_answers(contents),
            cautions=_cautions(sections),
        )
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise NoContents(f"The data of the binder has another form than this program reads: {error!r}") from None


def _blocks(section: dict, kind: str) -> list[dict]:
    return [block for block in section["blocks"] if block["kind"] == kind]


def _line(pair) -> ToldLine:
    name, cell = pair
    return ToldLine(name, cell["text"], cell["strong"], cell["proof"])


def _cover_pairs(sections: list) -> dict[str, str]:
    return {name: cell["text"] for block in _blocks(sections[0], "KeyValues") for name, cell in block["pairs"]}


def _rules(contents: dict) -> str:
    """The rules of the day of the answer; a binder of earlier days said them on its cover."""
    said = _cover_pairs(contents["sections"]).get("Rules we follow", "")
    if said or not contents["rules"]:
        return said
    held = contents["rules"][-1]
    return f"{held['title']}, edition {held['edition'] or 'not on file'}"


def _cautions(sections: list) -> tuple[str, ...]:
    """All of them, wherever the binder gives them in full."""
    return tuple(
        line
        for section in sections
        for block in _blocks(section, "Cautions")
        if block["title"] == "Cautions"
        for line in block["lines"]
    )[:_MOST_CAUTIONS]


def _units(sections: list):
    """The standings, each with the title of the chapter it stands in.

    How a failure stands is framed alike, and is no answer.
    """
    chapter = ""
    for section in sections:
        if section["level"] == 1:
            chapter = section["title"]
        if _OF_FAILURE in section["id"]:
            continue
        for box in _blocks(section, "StandingBox"):
            lines = tuple(map(_line, box["pairs"]))
            yield UnitTold(chapter, _word(box["word"]).value, box["reason"], lines, box["outranked"])


def _word(text: str) -> Word:
    """The answer; since when stands under it, and its sign before it."""
    first = text.split("\n")[0]
    return Word(first.split(" ", 1)[1] if first[:1] in _SIGNS else first)


def _answers(contents: dict) -> tuple[AnswerTold, ...]:
    """The questions; of a binder of earlier days out of the section that each one had."""
    if "questions" not in contents:
        return tuple(_answers_apart(contents["sections"]))
    return tuple(_question(each) for each in contents["questions"])


def _question(said: dict) -> AnswerTold:
    """One question: of several units the answer that weighs most, and in its lines that of each."""
    given = [tuple(pair) for pair in said["answers"]]
    weighs = {word: n for n, word in enumerate(WORDS)}
    worst = min((word for _, word in given), key=lambda word: weighs.get(word, -1))
    lines = [ToldLine(label, word, strong=word in SHORT) for label, word in given if label and len(given) > 1]
    if len(given) == 1 and given[0][0]:
        lines.append(ToldLine("About", given[0][0]))
    return AnswerTold(
        number=said["number"],
        question=said["question"],
        answer=first_upper(worst),
        words=said["words"],
        missing=said["missing"],
        accepted=said["accepted"],
        lines=(*lines, ToldLine("Source", said["source"])),
    )


def _answers_apart(sections: list):
    for section in sections:
        named = _ANSWER.fullmatch(section["id"])
        if named:
            yield _answer(int(named.group(1)), section)


def _answer(number: int, section: dict) -> AnswerTold:
    pairs = [_line(pair) for block in _blocks(section, "KeyValues") for pair in block["pairs"]]
    by_name = {line.name: line.text for line in pairs}
    shown_apart = ("Answer", "In words", "Missing", "Accepted")
    return AnswerTold(
        number=number,
        question=section["title"].removeprefix(f"{number}. "),
        answer=by_name["Answer"],
        words=by_name["In words"],
        missing=by_name.get("Missing", ""),
        accepted="; ".join(line.text for line in pairs if line.name == "Accepted"),  # one for each known gap
        lines=tuple(line for line in pairs if line.name not in shown_apart),
    )
