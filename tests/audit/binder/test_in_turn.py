"""What is said of several units, told once: nothing lost, nothing said of a unit that was not said of it."""

from __future__ import annotations

import pytest

from audit.binder.in_turn import clauses, in_turn, sentences, told_of
from audit.binder.named_units import units_words


@pytest.mark.parametrize(
    ("texts", "one"),
    [
        (["8 of 9 loads", "6 of 9 loads"], "8 and 6 of 9 loads"),
        (["8 of 8 loads", "6 of 6 loads", "7 of 7 loads"], "8, 6 and 7 of 8, 6 and 7 loads"),
        (["of 1,225 cycles", "of 796 cycles"], "of 1,225 and 796 cycles"),
        (["the same"], "the same"),
        (["1 load", "2 loads"], None),
        (["1 2 3 4 5", "6 7 8 9 0"], None),
        ([f"{n} of 12 loads" for n in (9, 11, 10, 9, 9, 9, 8)], "8 to 11 of 12 loads"),
        (
            [f"since {n}\u00a0Jun\u00a02026" for n in (9, 1, 10, 9, 9, 9, 8)],
            "since 1\u00a0Jun\u00a02026 to 10\u00a0Jun\u00a02026",
        ),
        (
            [
                f"since {n}\u00a0{m}\u00a02026"
                for n, m in zip((9, 1, 2, 3, 4, 5, 30), ("Mar", *["Feb"] * 5, "Jan"), strict=True)
            ],
            "since 30\u00a0Jan\u00a02026 to 9\u00a0Mar\u00a02026",
        ),
        ([f"part {n}.2.3" for n in range(1, 8)], "part 1.2.3, 2.2.3, 3.2.3, 4.2.3, 5.2.3, 6.2.3 and 7.2.3"),
    ],
)
def test_only_numbers_may_differ_and_not_too_many(texts, one):
    assert in_turn(texts) == one


def test_a_part_said_of_all_stands_without_names_and_others_with_theirs():
    said = [("Unit 1", ["All 3 passed.", "None failed."]), ("Unit 2", ["All 4 passed.", "One failed."])]
    told = told_of(said, of_all=True).replace("\u00a0", " ")
    assert told == "All 3 and 4 passed.\nUnit 1: None failed.\nUnit 2: One failed."


def test_where_a_unit_is_left_out_those_that_are_meant_are_named():
    told = told_of([("Unit 1", ["None."]), ("Unit 3", ["None."])], of_all=False).replace("\u00a0", " ")
    assert told == "Units 1 and 3: None."


def test_every_part_of_every_unit_is_found_again():
    said = [("A", ["x 1.", "y."]), ("B", ["x 2.", "z."]), ("C", ["y.", "y."])]
    told = told_of(said, of_all=True)
    assert told.split("\n") == ["A and B: x 1 and 2.", "A and C: y.", "B: z.", "C: y."]


def test_clauses_are_parted_at_semicolons_but_not_inside_a_list_of_numbers():
    assert clauses("cycles 7 to 9; 11 to 13; 15; the clinic may know of them") == [
        "cycles 7 to 9; 11 to 13; 15;", "the clinic may know of them",
    ]  # fmt: skip
    assert sentences("Due 79 times. Longest: 16 days, e.g. here. Done.") == [
        "Due 79 times.", "Longest: 16 days, e.g. here.", "Done.",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("labels", "words"),
    [
        ([], ""),
        (["Unit 3"], "Unit 3"),
        (["Unit 1", "Unit 2", "Unit 4"], "Units 1, 2 and 4"),
        ([f"Unit {n}" for n in range(9, 13)], "Units 9 to 12"),
        (["Unit 1", "Unit 2", "Unit 3", "Unit 5"], "Units 1, 2, 3 and 5"),
        (["Front", "Unit 2"], "Front and Unit 2"),
        (["S1", "S2", "S3"], "S1, S2 and S3"),
    ],
)
def test_units_are_named_by_their_own_labels(labels, words):
    assert units_words(labels).replace("\u00a0", " ") == words
