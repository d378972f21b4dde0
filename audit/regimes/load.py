"""Finds the rules files beside this module, merges what is inherited, and keeps their editions.

A file's top level is its newest edition; each `[[before]]` block is an earlier one, the newest first. A block states
`edition` and `valid_from`, may state `title`, `inherits` and `notes`, and holds only what differed. How well its
first day is known (`valid_from_grade` and what goes with it) each edition says for itself: it is never inherited.

How tables are merged, in this order: the newest edition of what is inherited, then the file's own tables, then (for
an earlier edition) the block's. Tables are merged key by key. Duties are merged by their id: one with the same id
takes the place of the other whole, and `without = ["duty-id"]` drops some. Lists (retention, steps, notices, notes,
tests) are replaced whole. Every table of rules that a file writes carries its own `citation`, `checked_on`, `grade`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from functools import cache, lru_cache
from pathlib import Path

from .model import Regime, RegimeError
from .read import Reader

FOLDER = Path(__file__).parent
_WHERE = {"country", "region", "locality", "kinds", "where_adopted"}
_FIRST_DAY = {"valid_from", "valid_from_grade", "valid_from_citation", "valid_from_unread"}
_WHO = {"id", "title", "place", "programme", "edition", "inherits"} | _FIRST_DAY | _WHERE | {"ended"}
_RULES = {
    "duty",
    "failure",
    "requalification",
    "verification",
    "component",
    "validity",
    "release",
    "retention",
    "look_back",
    "notes",
}
_TOP = _WHO | _RULES | {"without", "before"}
_BLOCK = {"edition", "title", "inherits", "without"} | _FIRST_DAY | _RULES
_NESTED = {"failure", "verification", "component", "look_back"}  # tables of tables
_SINGLE = ("requalification", "validity", "release")
_OF_A_CITATION = ("decisive", "in_english", "unread")  # words of one text never stand under the name of another
_SOURCED_APART = {"step", "notice"}  # entries that carry a source of their own
_NEWEST_ALONE = _FIRST_DAY | {"ended"}  # of the days of an edition nothing passes to the one before it


def regime_ids(folder: Path = FOLDER) -> tuple[str, ...]:
    """The ids of all rules on file, sorted."""
    return tuple(sorted(p.stem for p in folder.glob("*.toml")))


class _OnFile(Mapping[str, Regime]):
    """Every set of rules by id. Each is read when it is first asked for: a clinic follows one or two of them."""

    def __init__(self):
        self._ids = regime_ids()

    def __getitem__(self, id: str) -> Regime:
        if id not in self._ids:
            raise KeyError(id)
        return load_regime(id)

    def __iter__(self) -> Iterator[str]:
        return iter(self._ids)

    def __len__(self) -> int:
        return len(self._ids)


@cache
def all_regimes() -> Mapping[str, Regime]:
    """Every set of rules by id, as they were on file when first asked for."""
    return _OnFile()


@cache
def load_regime(id: str, folder: Path = FOLDER) -> Regime:
    """The rules with that id, in the newest edition, with the earlier ones in `earlier`.

    Raises RegimeError naming the file, the key, what is wrong and the way out.
    """
    if id not in regime_ids(folder):
        known = ", ".join(regime_ids(folder))
        raise RegimeError(f"{id}.toml", "id", f"there are no rules {id!r}", f"Known rules: {known}")
    own = _own(id, folder)
    _no_circle(id, own, folder)
    blocks = own.pop("before", [])
    newest = _edition(id, own, {}, folder)
    earlier = tuple(_edition(id, own, _block(f"{id}.toml", b, n), folder, n) for n, b in enumerate(blocks))
    _in_order(f"{id}.toml", (newest, *earlier))
    return replace(newest, earlier=earlier)


# ------------------------------------------------------------------------------------------------ files


def _own(id: str, folder: Path) -> dict:
    """What the file itself says."""
    file = f"{id}.toml"
    try:
        own = dict(_parsed((folder / file).read_text(encoding="utf-8")))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise RegimeError(file, "(whole file)", f"is not TOML: {error}", "Mend the line named") from error
    _known_keys(file, "", own, _TOP)
    if own.get("id") != id:
        raise RegimeError(file, "id", f"is {own.get('id')!r}", f"It must be the file's name, {id!r}")
    before = own.get("before", [])
    if not isinstance(before, list) or not all(isinstance(b, dict) for b in before):
        raise RegimeError(file, "before", "is not a list of tables", "Write each earlier edition as [[before]]")
    return own


@lru_cache(maxsize=256)
def _parsed(text: str) -> dict:
    """What the text of a file says: the same tables each time, which nobody changes. Most files are inherited."""
    return tomllib.loads(text)


def _known_keys(file: str, at: str, table: dict, known: set[str]) -> None:
    unknown = sorted(set(table) - known)
    if unknown:
        key = f"{at}.{unknown[0]}" if at else unknown[0]
        raise RegimeError(file, key, "is not a key known here", f"Use one of: {', '.join(sorted(known))}")


def _no_circle(id: str, own: dict, folder: Path) -> None:
    """Follows every line of inheritance, of earlier editions too. Raises RegimeError for a circle or a gap."""
    waiting = [(id, parent) for parent in _parents(own)]
    seen: dict[str, str] = {}
    while waiting:
        child, parent = waiting.pop()
        if parent == id:
            chain, at = [id], child
            while at != id:
                chain.append(at)
                at = seen[at]
            circle = " > ".join([id, *reversed(chain[1:]), id])
            raise RegimeError(f"{child}.toml", "inherits", f"goes in a circle: {circle}", "Break the circle")
        if not isinstance(parent, str) or parent not in regime_ids(folder):
            raise RegimeError(
                f"{child}.toml", "inherits", f"names {parent!r}, which has no file", "Name rules on file"
            )
        if parent not in seen:
            seen[parent] = child
            waiting += [(parent, further) for further in _parents(_own(parent, folder))]


def _parents(own: dict) -> list:
    named = [own.get("inherits", ""), *(b.get("inherits", "") for b in own.get("before", []))]
    return [p for p in named if p != ""]


# ------------------------------------------------------------------------------------------------ editions


def _block(file: str, block: dict, n: int) -> dict:
    at = f"before[{n}]"
    _known_keys(file, at, block, _BLOCK)
    for key in ("edition", "valid_from"):
        if key not in block:
            raise RegimeError(file, f"{at}.{key}", "is missing", "An earlier edition says what it is and from when")
    return block


def _edition(id: str, own: dict, block: dict, folder: Path, n: int = -1) -> Regime:
    """One edition: what is inherited, then what the file says, then what differed in the block."""
    file, at = f"{id}.toml", f"before[{n}]." if block else ""
    parent = block.get("inherits", own.get("inherits", ""))
    inherited = _rules_of(parent, folder) if parent else {}
    merged = _merge(file, "", inherited, own)
    if block:
        kept = {key: value for key, value in merged.items() if key not in _NEWEST_ALONE}
        merged = _merge(file, at, kept, block)
    regime = Reader(file, merged, at).regime()
    _own_sources(file, at, block or own)
    _not_below(file, at, inherited, regime)
    return regime


def _rules_of(id: str, folder: Path) -> dict:
    """The merged tables of the newest edition of rules that are inherited; who one is, one says oneself."""
    load_regime(id, folder)  # so that an error in it names its own file
    own = _own(id, folder)
    parent = own.get("inherits", "")
    merged = _merge(f"{id}.toml", "", _rules_of(parent, folder) if parent else {}, own)
    return {k: v for k, v in merged.items() if k in _RULES}


def _merge(file: str, at: str, base: dict, own: dict) -> dict:
    kept = _without(file, at, base, own)
    out = dict(base) | {"duty": kept} if "duty" in base else dict(base)
    for key, value in own.items():
        if key in ("without", "before"):
            continue
        if key == "duty" and isinstance(value, list):
            out[key] = _in_place(kept, value)
        elif isinstance(value, dict) and isinstance(base.get(key), dict):
            out[key] = _deep(base[key], value)
        else:
            out[key] = value
    return out


def _in_place(kept: list[dict], own: list) -> list:
    """Duties of `own` in the place of those with the same id, the others after them; two of one id both stay."""
    first = {d.get("id"): d for d in reversed(own) if isinstance(d, dict)}
    placed = [first.get(d.get("id"), d) for d in kept]
    return placed + [d for d in own if not any(d is p for p in placed)]


def _deep(base: dict, own: dict) -> dict:
    kept = _OF_A_CITATION if "citation" in own else ()
    out = {key: value for key, value in base.items() if key not in kept}
    for key, value in own.items():
        both = isinstance(value, dict) and isinstance(base.get(key), dict)
        out[key] = _deep(base[key], value) if both else value
    return out


def _without(file: str, at: str, base: dict, own: dict) -> list[dict]:
    """The duties of `base` that `own` does not drop."""
    duties, dropped = base.get("duty", []), own.get("without", [])
    if not isinstance(dropped, list):
        raise RegimeError(file, f"{at}without", f"is {dropped!r}", "It must be a list of ids of duties")
    known = [d.get("id") for d in duties]
    for id in dropped:
        if id not in known:
            way_out = f"Name some of: {', '.join(known)}" if known else "Take it out: no duty is inherited"
            raise RegimeError(file, f"{at}without", f"names {id!r}, which is not inherited", way_out)
    return [d for d in duties if d.get("id") not in dropped]


def _own_sources(file: str, at: str, written: dict) -> None:
    """Every table of rules that was written brings its own source, not the one of what it overrides."""
    tables = [(key, written[key]) for key in _SINGLE if key in written]
    tables += [(f"{key}.{name}", t) for key in sorted(_NESTED & set(written)) for name, t in written[key].items()]
    for key, table in tables:
        if "citation" not in table and set(table) - _SOURCED_APART:
            what = "overrides a rule and has no citation of its own"
            raise RegimeError(file, f"{at}{key}.citation", what, "Add citation, checked_on and grade")


def _not_below(file: str, at: str, inherited: dict, regime: Regime) -> None:
    """Tests before return are never fewer than what is inherited: neither a laxer text nor silence lowers it."""
    for key in ("biological", "air_removal"):
        least, asked = inherited.get("requalification", {}).get(key, 0), getattr(regime.requalification, key)
        if asked < least:
            what = f"is {asked}, and what is inherited asks {least}"
            raise RegimeError(file, f"{at}requalification.{key}", what, "Leave it out: what is laxer lowers nothing")
    for held in regime.verification:
        above = inherited.get("verification", {}).get(held.repair_class, {})
        for key in ("tests", "dynamic", "values"):
            gone = [code for code in above.get(key, ()) if code not in getattr(held, key)]
            if gone:
                what = f"leaves out {gone[0]}, which is inherited"
                raise RegimeError(file, f"{at}verification.{held.repair_class}.{key}", what, "Name it too")


def _in_order(file: str, held: tuple[Regime, ...]) -> None:
    days: list[date] = [one.valid_from for one in held]
    for n, (newer, older) in enumerate(zip(days, days[1:], strict=False)):
        if older >= newer:
            what = f"is {older.isoformat()}, and the edition after it is valid from {newer.isoformat()}"
            raise RegimeError(file, f"before[{n}].valid_from", what, "Write editions from the newest to the oldest")
