"""Short histories of which one word must not come out: a row each, in one line of trade words, with its source.

A row names what was recorded, the words that would be wrong, and why. `permits` are the words that let somebody use
the unit without a limit; most rows must not come out as one of them. Each class of fault stands in a file of its own
beside this one, with rows on both sides of each edge: where the proof is there, the permitting word must come out.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from audit.facts import ClinicFacts
from audit.judge.evaluate import evaluate
from audit.judge.judgement import UnitJudgement, Word
from tests.fact_builders import clinic, event, on, position, unit, weekly

PERMITS = (Word.IN_SERVICE, Word.OVERDUE)
PLAIN = (Word.IN_SERVICE,)
PRACTICE = "common practice, no source"
BEGUN = event("2025-01-01")
# Tested every week of half a year, each passed, the last on Wednesday 25 June 2025.
TESTED = weekly("2025-01-01", "2025-06-25")
DAY = "2025-06-27"  # two days after the last of them
# Open items of a program that broke down over the facts: no answer then permits, and none was found.
BROKEN = {"not-judged", "rule-failed"}


@dataclass(frozen=True)
class History:
    """One row. `never`: words that must not come out; `word`: the one that must, where it is said.

    `opens`: ids of rules of which an open item must be there; `says`, `not_says`: texts in the reason of the answer.
    """

    told: str
    source: str
    facts: ClinicFacts
    as_of: str = DAY
    never: tuple[Word, ...] = ()
    word: Word | None = None
    opens: tuple[str, ...] = ()
    says: tuple[str, ...] = ()
    not_says: tuple[str, ...] = ()
    more: dict = field(default_factory=dict)

    def judged(self) -> UnitJudgement:
        """The judgement of the first unit on the day."""
        return evaluate(self.facts, on(self.as_of)).units[0]


def history(
    told: str,
    source: str = PRACTICE,
    *,
    never: tuple[Word, ...] = (),
    word: Word | None = None,
    opens: tuple[str, ...] = (),
    says: tuple[str, ...] = (),
    not_says: tuple[str, ...] = (),
    as_of: str = DAY,
    regime: str = "us-dental-cdc-2003",
    place: dict | None = None,
    **facts,
) -> pytest.param:
    """A row of the table: a unit begun on 1 January 2025 and tested every week, but for what `facts` says.

    `place` are facts of the whole clinic. A row that forbids nothing and wants nothing is refused.
    """
    assert never or word or opens or says or not_says, f"{told!r} holds nothing"
    held = unit(**({"events": (BEGUN,), "positions": (position(),), "bio_tests": TESTED} | facts))
    whole = clinic(held, regime=regime, **(place or {}))
    return pytest.param(History(told, source, whole, as_of, never, word, opens, says, not_says), id=told)


def holds(row: History) -> None:
    """What the row says of itself, against what is judged."""
    said = row.judged()
    standing = said.standing
    assert standing.word not in row.never, f"{row.told}: {standing.word}, {standing.reason} ({row.source})"
    if row.word is not None:
        assert standing.word is row.word, f"{row.told}: {standing.word}, {standing.reason} ({row.source})"
    open_items = {f.rule for f in said.findings}
    assert not open_items & BROKEN, f"{row.told}: {[f.message for f in said.findings if f.rule in BROKEN]}"
    assert set(row.opens) <= open_items, f"{row.told}: open are {sorted(open_items)}"
    assert all(text in standing.reason for text in row.says), f"{row.told}: {standing.reason}"
    assert not any(text in standing.reason for text in row.not_says), f"{row.told}: {standing.reason}"
