"""A row about an answer: one question of an inspector asked of a short history, and what must not be answered."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pytest

from audit.facts import ClinicFacts
from audit.judge.answers.asked import Reply
from audit.judge.answers.registry import OF_PLACE, OF_UNIT
from tests.audit.judge.answers.asking import place_of, question
from tests.audit.unsafe.table import BEGUN, DAY, PRACTICE, TESTED
from tests.fact_builders import clinic, on, position, unit

YES = "yes"
CDC = "us-dental-cdc-2003"


@dataclass(frozen=True)
class Asked:
    """One row. `never`: answers that must not come; `answer`: the one that must, "" for any other.

    `says`, `not_says`: texts in the words or the gap.
    """

    told: str
    source: str
    id: str
    facts: ClinicFacts
    regime: str
    as_of: str
    never: tuple[str, ...]
    answer: str
    says: tuple[str, ...]
    not_says: tuple[str, ...]

    def reply(self) -> Reply:
        """The answer about the first unit, or about the place."""
        place, one = place_of(self.facts, self.regime, on(self.as_of)), question(self.id)
        if one.per == "place":
            return OF_PLACE[one.answers](place, one)
        return OF_UNIT[one.answers](place, place.views[0], one)


def asks(
    id: str,
    told: str,
    source: str = PRACTICE,
    *,
    never: tuple[str, ...] = (YES,),
    answer: str = "",
    says: tuple[str, ...] = (),
    not_says: tuple[str, ...] = (),
    as_of: str = DAY,
    regime: str = CDC,
    place: dict | None = None,
    **facts,
) -> pytest.param:
    """A row: a unit begun on 1 January 2025 and tested every week, but for what `facts` says; never "yes".

    A row with `answer` holds that one instead. `place` are facts of the whole clinic.
    """
    held = unit(**({"events": (BEGUN,), "positions": (position(),), "bio_tests": TESTED} | facts))
    whole = clinic(held, regime=regime, **(place or {}))
    never = () if answer == YES else never
    row = Asked(told, source, id, whole, regime, as_of, never, answer, says, not_says)
    return pytest.param(row, id=f"{id}: {told}")


def holds(row: Asked) -> None:
    """What the row says of itself, against the answer."""
    reply = row.reply()
    text = f"{reply.words} {reply.gap}"
    assert reply.answer not in row.never, f"{row.told}: {reply} ({row.source})"
    assert not row.answer or reply.answer == row.answer, f"{row.told}: {reply} ({row.source})"
    assert all(said in text for said in row.says), f"{row.told}: {text}"
    assert not any(said in text for said in row.not_says), f"{row.told}: {text}"


def named(fact, logged_by: str = "A. User", **more):
    """A fact whose row names who logged it."""
    return replace(fact, row=replace(fact.row, logged_by=logged_by), **more)
