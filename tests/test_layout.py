"""The two arrows: pure modules import nothing of Django, records or reportlab; records never names audit."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PURE = [
    "facts",
    "judge.judgement",
    "facts.dates",
    "judge.biological",
    "judge.usage",
    "judge.to_read",
    "judge.proof_after_work",
    "judge.clocks",
    "judge.clocks.plan",
    "judge.clocks.duty",
    "judge.clocks.spans",
    "judge.clocks.last_valid_days",
    "judge.weeks",
    "judge.lookback",
    "judge.response",
    "judge.business_days",
    "judge.situation",
    "judge.standing",
    "judge.holding",
    "judge.evaluate",
    "judge.explain",
    "exchange.codec",
    "gather.columns",
    "facts.versions",
    "regimes",
    "regimes.in_words",
    "judge.retention",
    "judge.rules",
    "judge.answers",
    "judge.bounds",
    "judge.coverage",
    "binder.contents",
    "issue.seal.embed",
    "issue.seal.manifest",
    "issue.seal.signature",
    "binder.blank_forms",
    "binder.report",
    "pages.visit.guide",
    "pages.visit.guide.job",
    "pages.visit.guide.proof",
    "pages.visit.guide.steps",
    "binder.backlinks",
    "binder.editions",
    "binder.glance",
    "binder.named",
    "binder.visits",
    "binder.weeks",
    "binder.pictures",
    "binder.pictures.unit",
    "pages.svg",
    "planning.round",
]
IMPURE = ("django", "records", "reportlab")
TEXT = ("records", "records.wording")  # sentences that forms and binder share; the first holds no code


@pytest.mark.parametrize("name", PURE)
def test_a_pure_module_imports_nothing_impure(name):
    if not any((ROOT / "audit" / (name.replace(".", "/") + end)).exists() for end in (".py", "/__init__.py")):
        pytest.fail(f"audit.{name} does not exist")
    seen = f"[m for m in sys.modules if m.split('.')[0] in {IMPURE!r} and m not in {TEXT!r}]"
    code = f"import sys, audit.{name}\nprint({seen})"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_what_pure_modules_take_from_records_is_text_alone():
    wording = ast.parse((ROOT / "records" / "wording.py").read_text(encoding="utf-8")).body
    assert (ROOT / "records" / "__init__.py").read_text(encoding="utf-8").strip() == ""
    assert all(isinstance(node, ast.Assign | ast.Expr | ast.ImportFrom) for node in wording)
    assert [node.module for node in wording if isinstance(node, ast.ImportFrom)] == ["__future__"]


def names_of(path):
    """Every module a file imports, wherever in the file, and every text that names one."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level == 0:
            yield node.module


@pytest.mark.parametrize("path", sorted((ROOT / "records").rglob("*.py")), ids=lambda p: str(p.relative_to(ROOT)))
def test_records_never_names_audit(path):
    assert [n for n in names_of(path) if n.split(".")[0] == "audit"] == []


@pytest.mark.parametrize("name", PURE)
def test_a_pure_module_asks_no_clock(name):
    base = ROOT / "audit" / name.replace(".", "/")
    files = sorted(base.rglob("*.py")) if base.is_dir() else [base.with_suffix(".py")]
    for path in files:
        calls = [
            node.func.attr
            for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
        ]
        assert not {"today", "now", "utcnow"} & set(calls), path
