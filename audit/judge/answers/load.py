"""The questions as data, read from `questions.toml` beside this module; their order is an inspector's."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

from audit.regimes import regime_ids
from audit.regimes.model import RegimeError
from audit.regimes.source import Source
from audit.regimes.table import RegimeTable

from .asked import GENERAL, AskedQuestion
from .registry import OF_PAPERS, OF_PLACE, OF_UNIT

FILE = Path(__file__).parent / "questions.toml"
PER = ("unit", "place")
OWNERS = ("clinic", "service company", "laboratory", "insurer")
PROGRAMMES = ("dental", "medical", "veterinary", "body art", "personal services")


@cache
def questions(path: Path = FILE) -> tuple[AskedQuestion, ...]:
    """Every question on file, in order. Raises RegimeError naming the file, the key, what is wrong, the way out."""
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise RegimeError(path.name, "(whole file)", f"is not TOML: {error}", "Mend the line named") from error
    sources: dict[Source, str] = {}
    top = RegimeTable(path.name, "", raw, sources)
    rows = top.tables("question")
    top.close()
    seen: dict[str, str] = {}
    return tuple(_question(row, seen) for row in rows)


def _question(row: RegimeTable, seen: dict[str, str]) -> AskedQuestion:
    id = row.get("id", str)
    if id in seen:
        row.fail("id", f"is {id!r}, as is {seen[id]}", "Give each question an id of its own")
    seen[id] = row.at
    per = row.get("per", str, among=PER)
    out = AskedQuestion(
        id=id,
        question=row.get("question", str),
        subject=row.get("subject", str, ""),
        per=per,
        answers=row.get("answers", str, among=sorted(OF_UNIT if per == "unit" else OF_PLACE)),
        about=row.get("about", str, ""),
        kinds=row.words("kinds"),
        words=row.words("words"),
        beyond=row.get("beyond", str, ""),
        months=row.get("months", int, 0),
        regimes=row.words("regimes", regime_ids()),
        programmes=row.words("programmes", PROGRAMMES),
        place=row.get("place", str, ""),
        owner=row.get("owner", str, among=OWNERS),
        gap=row.get("gap", str),
        source=row.source(),
    )
    row.close()
    _asked_somewhere(row, out)
    if bool(out.kinds) != (out.answers in OF_PAPERS):
        what = f"is {list(out.kinds)} for {out.answers!r}"
        row.fail("kinds", what, f"Name kinds of paper for {' and '.join(sorted(OF_PAPERS))}, and for no other")
    if out.words and (own := set(out.kinds) - GENERAL):
        what = f"narrows {', '.join(sorted(own))} by words of a title"
        row.fail("words", what, "Leave them out: such a kind says by itself what the paper is")
    if any(word != word.casefold() for word in out.words):
        row.fail("words", f"is {list(out.words)}", "Write them in small letters: titles are compared so")
    return out


def _asked_somewhere(row: RegimeTable, question: AskedQuestion) -> None:
    if bool(question.regimes) == bool(question.place):
        what = "is named beside rules" if question.place else "and rules are both missing"
        row.fail("place", what, "Name the rules that ask it, or else the place that does where no rules on file do")
    if bool(question.subject) == ("base" in question.regimes):
        what = "is named though all rules ask it" if question.subject else "is missing"
        row.fail("subject", what, "Say in a few words what it is about, where not all rules ask it, and only there")
