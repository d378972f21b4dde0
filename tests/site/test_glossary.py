"""The glossary names classes that exist where it says, and no name stands for two of them."""

import ast
import importlib
import re
from collections import defaultdict
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "audit" / "site" / "glossary.md").read_text(encoding="utf-8")
ROWS = [line for line in TEXT.splitlines() if line.startswith("| `")]
NAMED = re.compile(r"`([A-Z]\w+)`")
PLACED = re.compile(r"((?:`[A-Z]\w+`(?:, )?)+) \(`((?:audit|records)\.[\w.]+)`\)")

# Names that stay shared, each with its reason.
SHARED = {
    "Command": "the name that Django asks for",
    "JobFact": "a table's base, and a name of the open file format",
    "LedgerHead": "a fact, and a kind of block that binders write by this name",
    "Photo": "a table, and a kind of block that binders write by this name",
    "Job": "a table, and one form of the day's page",
    "ChemicalForm": "the same entry on the day's page and on a page of its own",
    "LeakForm": "the same entry on the day's page and on a page of its own",
    "LoadForm": "the same entry on the day's page and on a page of its own",
}


def placed() -> dict[str, str]:
    """Each class that the glossary names, with its module."""
    found = {}
    for row in ROWS:
        for names, module in PLACED.findall(row):
            found |= dict.fromkeys(NAMED.findall(names), module)
    return found


def test_every_class_of_the_glossary_exists():
    told = placed()
    assert len(told) > 30
    gone = [f"{module}.{name}" for name, module in told.items()
            if getattr(importlib.import_module(module), name, None) is None
            or getattr(importlib.import_module(module), name).__module__ != module]  # fmt: skip
    assert gone == []


def test_every_class_that_a_row_names_has_its_module():
    assert {name for row in ROWS for name in NAMED.findall(row)} == set(placed())


def test_the_developers_page_leads_to_the_glossary():
    assert "(audit/site/glossary.md)" in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_no_name_stands_for_two_classes():
    found = defaultdict(list)
    for room in ("audit", "records"):
        for path in sorted((ROOT / room).rglob("*.py")):
            if "migrations" not in path.parts:
                for node in ast.parse(path.read_text(encoding="utf-8")).body:
                    if isinstance(node, ast.ClassDef):
                        found[node.name.lstrip("_")].append(str(path.relative_to(ROOT)))
    assert {name: where for name, where in found.items() if len(where) > 1 and name not in SHARED} == {}
