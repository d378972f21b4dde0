"""In a few days each case has its turn, and no run takes fewer than its share."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.in_turn import in_turn


@pytest.mark.parametrize(
    ("cases", "every"), [("abcdefg", 3), ("abcdef", 3), ("ab", 2), ("a", 2), ("", 3), ("abc", 1)]
)
def test_each_has_its_turn_once(cases, every):
    for first in (0, 1, 739_950):
        taken = [in_turn(cases, every, turn, whole=False) for turn in range(first, first + every)]
        assert sorted(case for each in taken for case in each) == sorted(cases)
        assert max(map(len, taken)) - min(map(len, taken)) <= 1


def test_all_are_taken_where_it_is_asked_for():
    assert in_turn("abcdefg", 3, 1, whole=True) == list("abcdefg")
    said = "from tests.in_turn import in_turn; print(*in_turn('abcdefg', 3), sep='')"
    for env, taken in (({"STANDING_TESTS": "all"}, "abcdefg"), ({"STANDING_TESTS": "", "STANDING_TURN": "1"}, "cf")):
        done = subprocess.run(
            [sys.executable, "-c", said], cwd=Path(__file__).parents[1], env=os.environ | env,
            capture_output=True, text=True, check=True,
        )  # fmt: skip
        assert done.stdout == f"{taken}\n"
