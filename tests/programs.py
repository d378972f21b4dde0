"""Programs of the system that some tests need. What a machine lacks never fails a test: it is skipped, and says so.

`.ci/run` installs them all and names them in STANDING_NEEDS ("chromium qpdf"), which makes a missing one a failure;
STANDING_WITHOUT hides those that it names, to prove that they can be missing.
"""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest

# By the name of Debian's package, the program that stands for it; PostgreSQL's lie outside the path.
PACKAGES = {
    "chromium": "chromium",
    "qpdf": "qpdf",
    "poppler-utils": "pdfinfo",
    "postgresql": "initdb",
    "softhsm2": "softhsm2-util",
}


def _named(variable: str) -> set[str]:
    named = set(os.environ.get(variable, "").split())
    if unknown := named - PACKAGES.keys():
        raise ValueError(f"{variable} names {', '.join(sorted(unknown))}; known are {', '.join(PACKAGES)}.")
    return named


def find(package: str, program: str = "") -> str | None:
    """Where the program (by itself the one that stands for the package) lies; None when it is missing or hidden."""
    if package in _named("STANDING_WITHOUT"):
        return None
    program = program or PACKAGES[package]
    if package == "postgresql":
        found = sorted(Path("/usr/lib/postgresql").glob(f"*/bin/{program}"), key=lambda p: int(p.parts[-3]))
        return str(found[-1]) if found else None
    return shutil.which(program)


def wanted(package: str, program: str = "") -> str:
    """Where the program lies. Where it is missing the test is skipped, or fails where STANDING_NEEDS names it."""
    found = find(package, program)
    if found is None:
        why = f"{program or PACKAGES[package]} is not installed (Debian package {package})"
        if package in _named("STANDING_NEEDS"):
            pytest.fail(why)
        pytest.skip(why)
    return found


def browser() -> str:
    """Chromium without windows where it is installed: a third of the processor time; else the whole one.

    The whole one alone has a camera, and a service worker that goes on when its page is closed: a test of these asks
    for `wanted("chromium")`.
    """
    if find("chromium") is not None and (light := shutil.which("chromium-headless-shell")):
        return light
    return wanted("chromium")
