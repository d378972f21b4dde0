"""The house: which room may import which, held against the code by reading imports and by importing.

A room is a folder directly under `audit` or `records`. Each imports only rooms above it in these tables, so there is
no way round in a circle. A file that lies loose at the root, or an arrow that no row names, fails.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections import defaultdict
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]

# From the ground up. "text" is `records.wording`: sentences that forms and binder share, no code.
AUDIT = {
    "facts": "",
    "regimes": "facts",
    "exchange": "facts",
    "judge": "facts regimes text",
    "models": "",
    "gather": "facts judge models records",
    "binder": "facts regimes judge text",
    "planning": "facts judge gather binder records",
    "issue": "facts regimes exchange judge gather binder models records text",
    "upkeep": "gather issue models records",
    "site": "upkeep records",
    "pages": "facts regimes judge gather binder planning issue models site records text",
    # What Django looks for by name.
    "templatetags": "pages records",
    "urls": "pages",
    "apps": "gather issue pages records",
    "management": "facts regimes exchange judge gather binder planning issue upkeep models records",
    "migrations": "",
}
RECORDS = {
    "wording": "",
    "nearest": "",
    "signals": "",
    "clock": "",
    "models": "wording",
    "late": "",
    "access": "clock models",
    "doors": "access clock models",
    "files": "",
    "writing": "wording",
    "ledger": "files models",
    "log": "access clock files late ledger models nearest signals wording",
    "beginning": "ledger log models",
    "inviting": "access clock log models",
    "forms": "access clock files inviting log models wording writing",
    "scan": "access forms models",
    "brought": "files forms log models wording writing",
    "views": "access clock doors files forms inviting late ledger log models writing",
    "demo": "clock log models",
    "admin": "doors models",
    "apps": "doors ledger",
    "urls": "views",
    "templatetags": "access writing",
    "management": "ledger",
    "migrations": "models",
}
LOOSE = {
    "audit": {"__init__", "apps", "models", "urls"},
    "records": {
        "__init__",
        "access",
        "admin",
        "apps",
        "beginning",
        "clock",
        "inviting",
        "late",
        "nearest",
        "signals",
        "urls",
        "wording",
    },  # fmt: skip
}
# Rooms that import, all the way down, nothing of Django, of the record or of the drawing library.
PURE = (
    "audit.facts", "audit.regimes", "audit.exchange", "audit.judge", "audit.judge.cycle", "audit.binder",
    "audit.gather.packing", "audit.planning.round", "audit.issue.seal.embed", "audit.issue.seal.manifest",
    "audit.issue.seal.signature", "audit.pages.svg", "audit.pages.visit.guide",
)  # fmt: skip
DRAWING = "audit.binder.pdf"
# A room in a room: how a recorded cycle is judged. It takes nothing but where rules stand and how they are graded.
CYCLE, CYCLE_TAKES = "audit.judge.cycle", {"audit.regimes.model", "audit.regimes.source"}
ARRAYS = "numpy"
IMPURE = ("django", "records", "reportlab")
TEXT = ("records", "records.wording")


def module_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {module_of(p): p for app in ("audit", "records") for p in sorted((ROOT / app).rglob("*.py"))}


def imports_of(module: str) -> set[str]:
    """Every module of the project that a file imports, wherever in the file: at its head or in a function."""
    path, found = MODULES[module], set()
    package = module if path.name == "__init__.py" else module.rpartition(".")[0]
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            above = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            base = ".".join([*above, *([node.module] if node.module else [])])
            found |= {name if (name := f"{base}.{alias.name}") in MODULES else base for alias in node.names}
    return {name for name in found if name in MODULES}


def room_of(module: str, app: str) -> str:
    """The room of a module, as the table of `app` names it: another app is one room, but for the text it shares."""
    parts = module.split(".")
    if parts[0] != app:
        return "text" if module == "records.wording" else parts[0]
    return parts[1] if len(parts) > 1 else ""


def arrows(app: str) -> dict[tuple[str, str], list[str]]:
    """From room to room, with the imports that make the arrow."""
    found = defaultdict(list)
    for module in MODULES:
        if module.split(".")[0] == app:
            here = room_of(module, app)
            for other in imports_of(module):
                there = room_of(other, app)
                if there not in ("", here):
                    found[here, there].append(f"{module} → {other}")
    return found


@pytest.mark.parametrize("app", ["audit", "records"])
def test_each_room_imports_only_what_its_row_names(app):
    table = {"audit": AUDIT, "records": RECORDS}[app]
    found = arrows(app)
    unnamed = {arrow: why for arrow, why in found.items() if arrow[1] not in table.get(arrow[0], "").split()}
    assert unnamed == {}
    said = {(room, other) for room, others in table.items() for other in others.split()}
    assert said == set(found), "a row names an arrow that is there no more"


@pytest.mark.parametrize("table", [AUDIT, RECORDS], ids=["audit", "records"])
def test_the_rows_stand_from_the_ground_up(table):
    rooms = list(table)
    for room, others in table.items():
        above = [other for other in others.split() if other in table and rooms.index(other) > rooms.index(room)]
        assert above == [], f"{room} imports a room above it"


def test_no_modules_import_each_other_in_a_circle():
    TopologicalSorter({module: imports_of(module) - {module} for module in MODULES}).prepare()


@pytest.mark.parametrize("app", sorted(LOOSE))
def test_no_file_lies_loose(app):
    assert {path.stem for path in (ROOT / app).glob("*.py")} == LOOSE[app]
    assert len(LOOSE[app]) <= 12


@pytest.mark.parametrize("app", ["audit", "records"])
def test_every_room_has_its_row(app):
    table = {"audit": AUDIT, "records": RECORDS}[app]
    rooms = {path.parent.name for path in (ROOT / app).glob("*/__init__.py")}
    assert rooms <= set(table) and set(table) <= rooms | LOOSE[app]


def test_records_never_names_audit():
    """Not in an import, and not in a text that names a module."""
    for module, path in MODULES.items():
        if module.startswith("records"):
            assert not {m for m in imports_of(module) if m.split(".")[0] == "audit"}, module
            texts = [n.value for n in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if is_text(n)]
            assert [t for t in texts if t.startswith("audit.") and t in MODULES] == [], module


def is_text(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and isinstance(node.value, str)


def pure_modules() -> list[str]:
    inside = [m for m in MODULES if any(m == p or m.startswith(f"{p}.") for p in PURE)]
    return [m for m in inside if m != DRAWING and not m.startswith(f"{DRAWING}.") and not m.endswith(".__main__")]


def test_pure_modules_load_nothing_impure():
    """One interpreter imports them one by one; the first that brings something along is named."""
    assert all(any(m == p or m.startswith(f"{p}.") for m in MODULES) for p in PURE)
    code = f"""
import importlib, sys
for name in {pure_modules()!r}:
    importlib.import_module(name)
    seen = [m for m in sys.modules if m.split(".")[0] in {IMPURE!r} and m not in {TEXT!r}]
    if seen:
        sys.exit(f"{{name}} loads {{seen[:5]}}")
"""
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-800:]


def test_only_one_room_knows_the_drawing_library():
    """And the demo, which draws the papers that its invented clinics have on file."""
    texts = {module: path.read_text(encoding="utf-8") for module, path in MODULES.items()}
    drawing = {m for m, text in texts.items() if "import reportlab" in text or "from reportlab" in text}
    assert {m for m in drawing if not m.startswith(f"{DRAWING}.")} == {"records.demo.papers"}


def test_cycles_are_judged_apart_and_alone_know_arrays():
    """Judging a unit loads no arrays, which take longer to load than the unit takes to judge."""
    inside = {m for m in MODULES if m == CYCLE or m.startswith(f"{CYCLE}.")}
    assert set().union(*(imports_of(m) for m in inside)) - inside == CYCLE_TAKES
    texts = {module: path.read_text(encoding="utf-8") for module, path in MODULES.items()}
    assert {m for m, text in texts.items() if f"import {ARRAYS}" in text or f"from {ARRAYS}" in text} <= inside
    code = f"import sys, audit.judge.evaluate; sys.exit({ARRAYS!r} in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False).returncode == 0


def test_what_pure_modules_take_from_records_is_text_alone():
    wording = ast.parse((ROOT / "records" / "wording.py").read_text(encoding="utf-8")).body
    assert (ROOT / "records" / "__init__.py").read_text(encoding="utf-8").strip() == ""
    assert all(isinstance(node, ast.Assign | ast.Expr | ast.ImportFrom) for node in wording)
    assert [node.module for node in wording if isinstance(node, ast.ImportFrom)] == ["__future__"]


@pytest.mark.parametrize("module", pure_modules())
def test_a_pure_module_asks_no_clock(module):
    calls = [
        node.func.attr
        for node in ast.walk(ast.parse(MODULES[module].read_text(encoding="utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
    ]
    assert not {"today", "now", "utcnow"} & set(calls)
