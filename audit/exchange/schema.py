"""The JSON Schema (2020-12) of the open format, made from the facts themselves.

`history-9.json` beside this module is what others are given; `python -m audit.exchange` writes it anew, and a test
fails when it is out of step with the facts. A schema cannot say everything: that a position named exists, that no ref
stands twice and that a span does not end before it begins is checked by the reader, `read_history` in
`audit.exchange.codec`.
"""

from __future__ import annotations

import dataclasses
import inspect
import json
import types
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any, Union, get_args, get_origin, get_type_hints

from audit.exchange.codec import CLINIC_FORMAT, READS, UNIT_FORMAT, VERSION
from audit.facts import ClinicFacts
from audit.facts.codes import WORDS

FILE = Path(__file__).parent / f"history-{VERSION}.json"
_PLAIN: dict[type, dict[str, Any]] = {
    str: {"type": "string"},
    int: {"type": "integer"},
    bool: {"type": "boolean"},
    date: {"type": "string", "pattern": r"^\d{4}-\d{2}-\d{2}$", "format": "date"},
    datetime: {"type": "string", "format": "date-time", "pattern": r"^\d{4}-\d{2}-\d{2}T.*(Z|[+-]\d{2}:\d{2})$"},
    Decimal: {"type": "string", "pattern": r"^[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?$"},
}


def schema() -> dict:
    """The whole schema."""
    defs: dict[str, dict] = {}
    clinic = _of(ClinicFacts, defs)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "History of small steam sterilizers: one unit's, or a clinic's",
        "description": "Days are ISO dates, moments ISO with offset, decimals strings. Ends of spans are inclusive.",
        "type": "object",
        "required": ["format", "version", "clinic"],
        "additionalProperties": False,
        "properties": {
            "format": {"enum": [UNIT_FORMAT, CLINIC_FORMAT]},
            "version": {"enum": list(READS)},
            "clinic": clinic,
        },
        "$defs": dict(sorted(defs.items())),
    }


def definitions(kind: type) -> tuple[dict, dict]:
    """How a value of a dataclass of facts is written, and the definitions that it names, in order of name."""
    defs: dict[str, dict] = {}
    found = _of(kind, defs)
    return found, dict(sorted(defs.items()))


def text() -> str:
    """The schema as it is written to the file."""
    return json.dumps(schema(), indent=1, ensure_ascii=False) + "\n"


def _of(kind: Any, defs: dict) -> dict:
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        inner = [a for a in get_args(kind) if a is not type(None)]
        return {"anyOf": [_of(inner[0], defs), {"type": "null"}]}
    if origin is tuple:
        return _tuple(get_args(kind), defs)
    if dataclasses.is_dataclass(kind):
        if kind.__name__ not in defs:
            defs[kind.__name__] = {}  # stands before it is filled: facts may hold their own kind
            defs[kind.__name__] = _object(kind, defs)
        return {"$ref": f"#/$defs/{kind.__name__}"}
    return dict(_PLAIN[kind])


def _tuple(args, defs: dict) -> dict:
    if len(args) == 2 and args[1] is Ellipsis:
        return {"type": "array", "items": _of(args[0], defs)}
    return {
        "type": "array",
        "prefixItems": [_of(a, defs) for a in args],
        "minItems": len(args),
        "maxItems": len(args),
    }


def _object(cls: type, defs: dict) -> dict:
    hints, words = get_type_hints(cls), WORDS.get(cls, {})
    properties, required = {}, []
    for field in dataclasses.fields(cls):
        if not field.metadata.get("written", True):
            continue
        properties[field.name] = _of(hints[field.name], defs)
        if field.name in words:
            properties[field.name] = {"enum": list(words[field.name])}
        if field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
            required.append(field.name)
    said = {
        "description": inspect.cleandoc(cls.__doc__ or "").replace("\n", " "),
        "type": "object",
        "additionalProperties": False,
        "properties": properties,
        "required": required,
    }
    if said["description"].startswith(f"{cls.__name__}("):  # a dataclass without a docstring describes its call
        del said["description"]
    return said
