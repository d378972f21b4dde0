"""What the round says of a piece of work: a table."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from audit.planning.round.said import early_told, state_told
from audit.planning.round.values import Forward, Need, Sure, WorkItem

DAY = date(2026, 6, 17)
ITEM = WorkItem("first", "First", "u", "Unit 1", "plan:seal", "Replace seal", DAY, "due", "yearly", "", False)
SEAL = Need("", "door", "seal", "", "seal", 1, Sure.FITTED)


@pytest.mark.parametrize(
    ("item", "words"),
    [
        (ITEM, "due 2026-06-17"),
        (replace(ITEM, day=None), ""),
        (replace(ITEM, overdue=True, state="overdue"), "overdue, due 2026-06-17"),
        (replace(ITEM, overdue=True, state="no evidence", day=None), "no evidence"),
        (replace(ITEM, overdue=True, state="open item", day=None), "open item"),
        (replace(ITEM, overdue=True, state="open item"), "open item, due 2026-06-17"),
    ],
)
def test_the_state_of_a_piece_of_work(item, words):
    assert state_told(item) == words


@pytest.mark.parametrize(
    ("early", "words"),
    [
        (Forward(ITEM, DAY, date(2026, 7, 6)),
         "before the next visit in the week of 2026-07-06: do it now, or make an extra stop"),
        (Forward(replace(ITEM, needs=(SEAL,)), DAY, None),
         "before the next visit, of which none is planned: renew now, or make an extra stop"),
    ],
)  # fmt: skip
def test_why_it_is_worth_doing_early(early, words):
    assert early_told(early) == words
