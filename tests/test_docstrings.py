"""In the rooms of judgement and of the writers every public name says what it gives, and every function its type."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
ROOMS = ("audit/facts", "audit/regimes", "audit/judge", "audit/exchange", "audit/gather", "records/log")
FUNCTIONS = (ast.FunctionDef, ast.AsyncFunctionDef)


def public(body: list[ast.stmt], under: str = "") -> Iterator[tuple[str, ast.stmt]]:
    """Every public function, class, method and property with its dotted name; nothing from inside a function."""
    for node in body:
        if isinstance(node, (*FUNCTIONS, ast.ClassDef)):
            if node.name.startswith("_"):
                continue
            yield under + node.name, node
            if isinstance(node, ast.ClassDef):
                yield from public(node.body, f"{under}{node.name}.")
        elif not isinstance(node, ast.expr):  # what stands under an `if` or a `try` of the module counts too
            for inner in ("body", "orelse", "handlers", "finalbody"):
                yield from public(getattr(node, inner, []), under)


def faults(source: str, file: str) -> list[str]:
    """What is missing, each as "file:line name: what"; the line is that of `def` or `class`."""
    out = []
    for name, node in public(ast.parse(source).body):
        if not (ast.get_docstring(node) or "").strip():
            out.append(f"{file}:{node.lineno} {name}: no docstring")
        if isinstance(node, FUNCTIONS) and node.returns is None:
            out.append(f"{file}:{node.lineno} {name}: no return type")
    return out


def files_of(room: str) -> list[Path]:
    return sorted((ROOT / room).rglob("*.py"))


@pytest.mark.parametrize("room", ROOMS)
def test_every_public_name_has_a_docstring_and_every_function_a_return_type(room):
    files = files_of(room)
    assert any(True for path in files for _ in public(ast.parse(path.read_text(encoding="utf-8")).body)), room
    found = [f for p in files for f in faults(p.read_text(encoding="utf-8"), str(p.relative_to(ROOT)))]
    assert not found, "\n".join(["", *found])


SAMPLE = '''
def bare(day):
    def inside(day): ...
def typed(day) -> int: ...
def told(day):
    """A day."""
def _own(day): ...
async def later(): ...
class Plain:
    def __init__(self, day): ...
    @property
    def first(self): ...
    @classmethod
    def made(cls) -> int:
        """   """
    class Inner: ...
class _Own:
    def method(self): ...
class Whole:
    """A class."""
    def method(self) -> None:
        """Nothing."""
if True:
    def under_if() -> None: ...
try:
    pass
except ImportError:
    def under_except() -> None: ...
'''


def test_what_is_missing_is_named_with_file_and_line():
    assert faults(SAMPLE, "a.py") == [
        "a.py:2 bare: no docstring",
        "a.py:2 bare: no return type",
        "a.py:4 typed: no docstring",
        "a.py:5 told: no return type",
        "a.py:8 later: no docstring",
        "a.py:8 later: no return type",
        "a.py:9 Plain: no docstring",
        "a.py:12 Plain.first: no docstring",
        "a.py:12 Plain.first: no return type",
        "a.py:14 Plain.made: no docstring",
        "a.py:16 Plain.Inner: no docstring",
        "a.py:24 under_if: no docstring",
        "a.py:28 under_except: no docstring",
    ]
