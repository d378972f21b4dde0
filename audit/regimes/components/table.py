"""Reads `table.toml` into values, checking each key. Raises RegimeError, naming the key and the way out."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from audit.regimes.model import CLASSES, RegimeError
from audit.regimes.source import Source
from audit.regimes.table import RegimeTable

LEAK_TEST = "V2"
FILE = Path(__file__).with_name("table.toml")


@dataclass(frozen=True, slots=True)
class Component:
    """One component. `least`: A, B or C, the least class of work when it is replaced or repaired.

    `tests` are asked after work on it beside those of the class, `dynamic` only with dynamic air removal; `lifts`
    must pass before a finding "do not use" on it is lifted. `place`: before another word it says only where that is;
    `safety`: it counts wherever it is named.
    """

    name: str
    least: str
    tests: tuple[str, ...]
    dynamic: tuple[str, ...]
    lifts: tuple[str, ...]
    words: tuple[str, ...]
    place: bool
    safety: bool
    source: Source

    def asked(self, dynamic: bool, leak_tested: bool = False) -> tuple[str, ...]:
        """The tests asked after work on it, of a unit with or without dynamic air removal.

        `leak_tested`: without it, but of a type of which the rules ask the air-leak test: of those tests that one.
        """
        if dynamic:
            return (*self.tests, *self.dynamic)
        return (*self.tests, LEAK_TEST) if leak_tested and LEAK_TEST in self.dynamic else self.tests


@cache
def components(path: Path = FILE) -> dict[str, Component]:
    """Every component by its name, in the order of the file. Raises RegimeError."""
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise RegimeError(path.name, "(whole file)", f"is not TOML: {error}", "Mend the line named") from error
    whole = RegimeTable(path.name, "", raw, {})
    held = {name: _component(name, table) for name, table in whole.named("component").items()}
    whole.close()
    return held


def _component(name: str, t: RegimeTable) -> Component:
    tests, dynamic = t.words("tests"), t.words("dynamic")
    out = Component(
        name=name,
        least=t.get("least", str, among=CLASSES),
        tests=tests,
        dynamic=dynamic,
        lifts=t.words("lifts") or tests,
        words=t.words("words"),
        place=t.get("place", bool, False),
        safety=t.get("safety", bool, False),
        source=t.source(),
    )
    if not out.words:
        t.fail("words", "is empty", "Say what the component is called")
    t.close()
    return out
