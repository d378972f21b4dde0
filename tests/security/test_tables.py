"""The tables of two standards: each line names the tests that show it, or why it is not met; each test is there."""

from __future__ import annotations

import ast
import tomllib
from pathlib import Path

import pytest

HERE = Path(__file__).parent
TOP = HERE.parents[1]
TABLES = ("asvs.toml", "part_11.toml")
KEYS = {"id", "asks", "tests", "not_met"}


def read(name: str) -> dict:
    return tomllib.loads((HERE / name).read_text(encoding="utf-8"))


def named_in(path: Path) -> set[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {
        node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and node.name.startswith("test_")
    }


def faults(lines: list[dict]) -> list[str]:
    """What is wrong with the lines of a table, each as "id: what"."""
    found, seen = [], set()
    for line in lines:
        name = line.get("id", "without id")
        if name in seen:
            found.append(f"{name}: stands twice")
        seen.add(name)
        if extra := set(line) - KEYS:
            found.append(f"{name}: unknown {sorted(extra)}")
        if not line.get("asks") or not (line.get("tests") or line.get("not_met")):
            found.append(f"{name}: says neither what shows it nor why it is not met")
        for each in line.get("tests", ()):
            path, _, test = each.partition("::")
            if not (TOP / path).is_file() or not Path(path).name.startswith("test_"):
                found.append(f"{name}: {path} is no file of tests")
            elif test and test not in named_in(TOP / path):
                found.append(f"{name}: {each} is not there")
            elif not named_in(TOP / path):
                found.append(f"{name}: {path} holds no test")
    return found


@pytest.mark.parametrize("name", TABLES)
def test_every_line_names_tests_that_are_there_or_says_why_not(name):
    table = read(name)
    assert table["standard"] and table["grade"]
    assert len(table["line"]) > 25 and faults(table["line"]) == []


def test_what_is_wrong_with_a_line_is_found():
    good = {
        "id": "1",
        "asks": "x",
        "tests": ["tests/security/test_tables.py::test_what_is_wrong_with_a_line_is_found"],
    }
    assert faults([good]) == []
    assert faults([good, good]) == ["1: stands twice"]
    assert faults([{"id": "2", "asks": "x"}]) == ["2: says neither what shows it nor why it is not met"]
    assert faults([good | {"tests": ["tests/security/test_tables.py::test_gone"]}]) == [
        "1: tests/security/test_tables.py::test_gone is not there"
    ]
    assert faults([good | {"tests": ["tests/security/conftest.py"]}]) == [
        "1: tests/security/conftest.py is no file of tests"
    ]
    assert faults([good | {"tset": 1}]) == ["1: unknown ['tset']"]
