"""In a few days each case has its turn, and no run takes fewer than its share."""

import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

import tests.in_turn
from tests.in_turn import BY_TWO, EVERY, SLOW, TOGETHER, in_turn, left_for_another_day, takes_turns


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


def test_each_slow_test_has_its_turn_once_and_the_others_always_run():
    slow = [f"{SLOW[0]}test_a.py::test_{n}" for n in range(7)]
    ledgers = [f"{TOGETHER[0]}.py::test_{n}[form {form}]" for n in range(3) for form in range(5)]
    tests = [*slow, "tests/audit/judge/test_b.py::test_c", "", *ledgers]
    left = [left_for_another_day(tests, turn) for turn in range(739_950, 739_950 + EVERY)]
    runs = [sum(not each[number] for each in left) for number in range(len(tests))]
    assert runs == [1] * 7 + [EVERY] * 2 + [1] * 15
    for each in left:
        forms = [
            {test[-2] for test, gone in zip(ledgers, each[9:], strict=True) if gone is late} for late in (True, False)
        ]
        assert not forms[0] & forms[1], "of a form all or none"


def test_of_the_second_pass_one_share_runs_each_day():
    tests = [f"{BY_TWO[0]}.py::test_same[{share}]" for share in ("writing", "reading")]
    assert [sum(left_for_another_day(tests, turn)) for turn in range(4)] == [1] * 4
    assert left_for_another_day(tests, 0) != left_for_another_day(tests, 1)


def test_each_slow_room_is_there():
    top = Path(__file__).parents[1]
    for beginning in (*SLOW, *TOGETHER, *BY_TWO):
        assert list(top.glob(f"{beginning}*")), f"{beginning}: nothing is called so any more"


@pytest.mark.parametrize(
    ("source", "keyword", "mark", "turns"),
    [
        ("TESTPATHS", "", "", True),
        ("ARGS", "", "", False),
        ("INVOCATION_DIR", "", "", False),
        ("TESTPATHS", "walk", "", False),
        ("TESTPATHS", "", "laws", False),
    ],
)
def test_a_run_that_names_what_it_wants_takes_it_whole(monkeypatch, source, keyword, mark, turns):
    option = SimpleNamespace(keyword=keyword, markexpr=mark)
    run = SimpleNamespace(
        option=option, ArgsSource=pytest.Config.ArgsSource, args_source=pytest.Config.ArgsSource[source]
    )
    monkeypatch.setattr(tests.in_turn, "ALL", False)
    assert takes_turns(run) is turns
    monkeypatch.setattr(tests.in_turn, "ALL", True)
    assert takes_turns(run) is False
