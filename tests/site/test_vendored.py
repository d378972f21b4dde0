"""What was made elsewhere is listed with its hash and licence, and nothing else lies beside it."""

import hashlib
import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
VENDOR = ROOT / "audit" / "static" / "audit" / "vendor"
PACKAGES = tomllib.loads((VENDOR / "vendored.toml").read_text(encoding="utf-8"))["package"]
FILES = {name: about for package in PACKAGES for name, about in package["files"].items()}


def test_the_list_names_every_file_and_no_other():
    there = {str(p.relative_to(VENDOR)) for p in VENDOR.rglob("*") if p.is_file()} - {"vendored.toml"}
    assert there == set(FILES)


@pytest.mark.parametrize("name", sorted(FILES))
def test_a_file_is_the_one_that_was_taken(name):
    assert hashlib.sha256((VENDOR / name).read_bytes()).hexdigest() == FILES[name]["sha256"]


@pytest.mark.parametrize("package", PACKAGES, ids=lambda p: p["name"])
def test_a_package_says_what_it_is_and_under_which_licence(package):
    assert package["name"] and re.fullmatch(r"\d+\.\d+\.\d+", package["version"]) and package["use"]
    first = {"MIT": "MIT License", "Apache-2.0": "Apache License"}
    for licence, file in (
        (package["licence"], "licence_file"),
        (package["contains_licence"], "contains_licence_file"),
    ):
        assert package[file] in package["files"]
        assert first[licence] in (VENDOR / package[file]).read_text(encoding="utf-8")[:200]


def test_no_other_script_of_ours_hides_a_minified_one():
    """A line of more than a thousand signs is a sign of a file made elsewhere."""
    for path in (*ROOT.glob("audit/static/**/*.js"), *ROOT.glob("records/static/**/*.js")):
        if VENDOR not in path.parents:
            assert max(map(len, path.read_text(encoding="utf-8").splitlines()), default=0) < 1000, path
