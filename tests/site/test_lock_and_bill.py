"""The versions that a server gets are locked by hash, and the bill of materials names all that is installed."""

from __future__ import annotations

import hashlib
import json
import re
import subprocess
import sys
import tomllib
from importlib.metadata import distributions
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

TOP = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))["project"]


@pytest.fixture(scope="module")
def bill(tmp_path_factory):
    file = tmp_path_factory.mktemp("bill") / "bill.json"
    subprocess.run([sys.executable, ".ci/bill", str(file)], cwd=TOP, check=True)
    return json.loads(file.read_text(encoding="utf-8"))


def test_every_dependency_is_locked_at_a_version_that_the_project_allows_with_its_hash():
    text = (TOP / "audit" / "site" / "server.txt").read_text(encoding="utf-8")
    lines = re.findall(r"^(\S+)==(\S+) \\\n    --hash=sha256:([0-9a-f]{64})$", text, flags=re.M)
    assert len(lines) == text.count("==") > 30
    locked = {canonicalize_name(name): version for name, version, _ in lines}
    extras = [line for extra in ("postgresql", "hsm") for line in PROJECT["optional-dependencies"][extra]]
    wanted = [Requirement(line) for line in (*PROJECT["dependencies"], *extras)]
    outside = {str(r): locked.get(canonicalize_name(r.name)) for r in wanted}
    assert {r: v for r, v in outside.items() if v is None or not Requirement(r).specifier.contains(v)} == {}


def test_the_bill_names_what_is_installed_and_what_needs_what(bill):
    assert (bill["bomFormat"], bill["metadata"]["component"]["name"]) == ("CycloneDX", "unit-standing")
    named = {c["name"]: c for c in bill["components"]}
    installed = {canonicalize_name(d.metadata["Name"]): d.version for d in distributions()}
    del installed["unit-standing"]
    assert {n: c["version"] for n, c in named.items() if c.get("purl")} == installed
    needs = {line["ref"]: line["dependsOn"] for line in bill["dependencies"]}
    assert named["asgiref"]["purl"] in needs[named["django"]["purl"]]
    assert {ref for refs in needs.values() for ref in refs} <= needs.keys()
    assert all(
        c.get("licenses") for n, c in named.items() if n in ("django", "reportlab", "cryptography", "waitress")
    )


def test_the_bill_names_vendored_files_by_what_they_are(bill):
    folder = TOP / "audit" / "static" / "audit" / "vendor"
    files = [f for c in bill["components"] for f in c.get("components", [])]
    assert files
    for file in files:
        assert file["hashes"][0]["content"] == hashlib.sha256((folder / file["name"]).read_bytes()).hexdigest()
