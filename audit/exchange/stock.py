"""The stock of parts of an organisation in the open file format: a file of its own kind, beside that of a clinic.

What a clinic's file holds is the clinic's; a stock is of who keeps the units, and tells of many clinics. Days,
moments and lists are written as in `audit.exchange.codec`. The schema is `audit/exchange/stock-1.json`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from audit.exchange.codec import BadFile, from_json, to_json
from audit.exchange.schema import definitions
from audit.facts.stock import StockFacts

FORMAT, VERSION = "steam-parts-stock", 1
READS = (1,)
FILE = Path(__file__).parent / f"stock-{VERSION}.json"
_KEYS = ("format", "version", "books")


def export_of(books: StockFacts) -> dict:
    """The file of all books of parts of one organisation."""
    return {"format": FORMAT, "version": VERSION, "books": to_json(books)}


def read_stock(data: Any) -> StockFacts:
    """The facts of such a file. Raises BadFile with every fault, each with its path."""
    if not isinstance(data, dict):
        raise BadFile([("(whole file)", "must be an object with format, version and books")])
    faults = [
        (key, "is not a key of the file; it holds format, version and books") for key in sorted(set(data) - {*_KEYS})
    ]
    if data.get("format") != FORMAT:
        faults.append(("format", f"is {data.get('format')!r}; must be {FORMAT!r}"))
    version = data.get("version")
    if version not in READS or type(version) is not int:
        faults.append(("version", f"is {version!r}; this program reads versions {' and '.join(map(str, READS))}"))
    if "books" not in data:
        faults.append(("books", "is missing"))
    if faults:
        raise BadFile(faults)
    try:
        books = from_json(StockFacts, data["books"])
    except BadFile as error:
        raise BadFile((f"books.{path}", why) for path, why in error.faults) from None
    if faults := list(_torn(books)):
        raise BadFile(faults)
    return books


def _torn(books: StockFacts) -> Iterator[tuple[str, str]]:
    """What no single field shows: a row that stands twice, a lot, place or notice that is named and not there."""
    known: dict[str, set[str]] = {}
    for name in ("places", "lots", "moves", "fitted", "recalls", "told"):
        seen: dict[str, int] = {}
        for n, fact in enumerate(getattr(books, name)):
            first = seen.setdefault(fact.row.origin, n)
            if first != n:
                yield (
                    f"books.{name}[{n}].row.origin",
                    f"stands at books.{name}[{first}] already; each row stands once",
                )
        known[name] = set(seen)
    named = (
        ("moves", "lot", "lots", False), ("moves", "place", "places", False), ("moves", "to_place", "places", True),
        ("fitted", "lot", "lots", False), ("told", "recall", "recalls", False),
    )  # fmt: skip
    for name, field, of, may_be_none in named:
        for n, fact in enumerate(getattr(books, name)):
            held = getattr(fact, field)
            if held not in known[of] and not (may_be_none and not held):
                yield f"books.{name}[{n}].{field}", f"is {held!r}, which is none of the {of} of this file"


def schema() -> dict:
    """The JSON Schema (2020-12) of the file, made from the facts."""
    books, defs = definitions(StockFacts)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Stock of parts of who keeps small steam sterilizers",
        "description": "Days are ISO dates, moments ISO with offset.",
        "type": "object",
        "required": list(_KEYS),
        "additionalProperties": False,
        "properties": {"format": {"enum": [FORMAT]}, "version": {"enum": list(READS)}, "books": books},
        "$defs": defs,
    }


def text() -> str:
    """The schema as it is written to the file."""
    return json.dumps(schema(), indent=1, ensure_ascii=False) + "\n"
