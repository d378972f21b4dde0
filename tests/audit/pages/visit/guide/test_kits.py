"""A kit that was opened: each piece has a row, and stock is lowered by what was fitted, by nothing else.

| what became of the piece | row of the job | stock of its lot |
| --- | --- | --- |
| fitted | quantity 1, its lot | one less |
| left out, or the old one kept | quantity 0, the lot it has | as before |
| not in the bag | quantity 0 | as before, and said to be missing until somebody counts |

Common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from audit.pages.visit.guide import steps
from audit.pages.visit.guide.job import UnitOnRecord, job_of
from audit.planning.stock import NOT_FITTED, NOT_IN_BAG, StockStep, account
from records.models.visits import FITTED, KIT_FATES
from tests import fact_builders as f
from tests.examples import examples

DAY = date(2026, 3, 2)
NO_PLAN = UnitOnRecord({}, {})


def piece(fate, lot="L1", **more):
    said = {"fate": fate, "lot": lot, "printed": "", "no_lot": False, "old": "scrapped", "position": ""}
    return said | {"name": "Seal", "number": "S-1"} | more


def rows_of(*pieces, ground=NO_PLAN):
    answers = {"kit-1": {"kit": "Two-year kit", "pieces": list(pieces)}}
    return job_of(answers, ground, technician="Pat Technician").job["parts"]


@pytest.mark.parametrize(
    ("fate", "quantity", "old"),
    [("fitted", 1, "scrapped"), ("old one kept", 0, "kept"), ("left out", 0, "not known"),
     ("not in the bag", 0, "not known")],
)  # fmt: skip
def test_what_became_of_a_piece_is_in_its_row(fate, quantity, old):
    (row,) = rows_of(piece(fate))
    assert (row["kit"], row["kit_fate"], row["kit_pieces"]) == ("Two-year kit", fate, 1)
    assert (row["quantity"], row["old_part"], row["part_lot"]) == (quantity, old, "L1")


def test_pieces_that_are_alike_share_a_row_and_others_do_not():
    rows = rows_of(piece("fitted"), piece("fitted"), piece("fitted", "L2"), piece("left out"))
    assert [(r["kit_fate"], r["kit_pieces"], r["part_lot"]) for r in rows] == [
        ("fitted", 2, "L1"), ("fitted", 1, "L2"), ("left out", 1, "L1"),
    ]  # fmt: skip


def test_a_piece_without_own_stock_says_its_lot_or_that_none_is_printed():
    typed, none = rows_of(piece("fitted", "", printed="S-9"), piece("fitted", "", no_lot=True))
    assert (typed["name"], typed["lot"], typed["lot_state"]) == ("Seal", "S-9", "printed")
    assert (none["number"], none.get("lot"), none["lot_state"]) == ("S-1", None, "not printed")


def test_a_piece_at_a_place_whose_part_is_planned_was_replaced_on_plan():
    place = f.position("seal")
    line = f.line("replace-seal")
    ground = UnitOnRecord({line.code: line}, {place.row.origin: place})
    (row,) = rows_of(piece("fitted", position=place.row.origin), ground=ground)
    assert row["action"] == "replaced on plan"
    (row,) = rows_of(piece("fitted"), ground=ground)
    assert row["action"] == "replaced on condition"


def test_a_part_out_of_a_kit_is_not_recorded_twice():
    said = {"outcome": "done", "part_name": "Seal", "from_kit": "Two-year kit"}
    answers = {"extra-1": said, "kit-1": {"kit": "Two-year kit", "pieces": [piece("fitted")]}}
    assert len(job_of(answers, NO_PLAN, technician="Pat").job["parts"]) == 1


def test_a_page_of_a_kit_is_one_of_the_visit():
    assert steps.is_step("kit-1", []) and not steps.is_step("kit-0", []) and not steps.is_step("kit-x", [])
    assert steps.after("kit-1", ["a"], set()) == "task-a" and steps.straight_on("kit-1", []) == "prove"


# ------------------------------------------------------------------------------------------------ the law of pieces


def steps_of(rows, on) -> dict[str, list[StockStep]]:
    """What the books read of such rows, by lot."""
    found: dict[str, list[StockStep]] = {}
    for n, row in enumerate(rows):
        kind = "fitted" if row["quantity"] else NOT_IN_BAG if row["kit_fate"] == NOT_IN_BAG else NOT_FITTED
        count = row["quantity"] or row["kit_pieces"]
        found.setdefault(row["part_lot"], []).append(StockStep(on, (2, n), kind, count, "", van="van"))
    return found


LOTS = ("L1", "L2", "L3")
BAGS = st.lists(st.builds(piece, st.sampled_from(KIT_FATES), st.sampled_from(LOTS)), min_size=1, max_size=12)


@settings(max_examples=examples(200), deadline=None)
@given(BAGS, st.integers(0, 5))
def test_pieces_of_stock_are_never_made_nor_lost_by_accounting_for_a_kit(pieces, spare):
    """Whatever became of each piece: what lies there before and after differs by what was fitted."""
    rows = rows_of(*pieces)
    assert sum(row["kit_pieces"] for row in rows) == len(pieces)
    there = Counter(each["lot"] for each in pieces)
    after = steps_of(rows, DAY + timedelta(days=1))
    for lot in LOTS:
        came = StockStep(DAY, (1, 1), "received", there[lot] + spare, "van")
        if not came.quantity:
            continue
        before, now = account([came], DAY), account([came, *after.get(lot, ())], DAY + timedelta(days=9))
        fates = Counter(each["fate"] for each in pieces if each["lot"] == lot)
        assert before.left - now.left == fates[FITTED] == now.fitted
        assert now.left + now.fitted == came.quantity and not now.short and not now.unplaced
        assert sum(step.quantity for step in now.missing) == fates["not in the bag"]


def test_a_missing_piece_is_said_until_somebody_counts():
    came = StockStep(DAY, (1, 1), "received", 2, "van")
    gone = StockStep(DAY + timedelta(days=1), (2, 1), NOT_IN_BAG, 1, "")
    told = account([came, gone], DAY + timedelta(days=2))
    assert [step.quantity for step in told.missing] == [1] and told.left == 2 and not told.used_up
    counted = StockStep(DAY + timedelta(days=3), (3, 1), "counted", 1, "van")
    settled = account([came, gone, counted], DAY + timedelta(days=4))
    assert settled.missing == () and settled.left == 1
    assert [step.difference for step in settled.differences] == [-1]
