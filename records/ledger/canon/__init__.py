"""The canonical rendering of facts that the ledger hashes, under a numbered form.

A form is frozen in `form_N.json`: the fields of each kind, and under reserved names the header of an entry
(`_entry`), the fields that every fact has (`_fact`) and how many decimal places each number has (`_decimal_places`).
An entry names the form it was written under and is verified with that form, so a column added or widened later breaks
no old hash. `manage.py freeze_form` writes the next one from the models as they are.

Not part of a form, and the same for all of them: how a single value is written (`render_value`), the shape around
rows (`hash_of`), the JSON and the digest. Ledgers of the day of each form are kept with the
tests and hold these still.

Form 1 was frozen before `account` joined the header, which then was no part of a form. No entry of form 1 says which
of the two headers its hash has. Taking either would call entries unaltered whose account nothing protects, so only
the later one counts: a ledger from before does not verify (`tests/records/ledgers/README.md`).
"""

from __future__ import annotations

import hashlib
import json
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import cache
from pathlib import Path
from uuid import UUID

from django.db import models

HERE = Path(__file__).parent
# Keys of a form that are no kind of fact; no model's name begins with an underscore.
ENTRY, FACT, DECIMAL_PLACES = RESERVED = ("_entry", "_fact", "_decimal_places")


@cache
def form_of(number: int) -> dict[str, list[str] | dict[str, dict[str, int]]]:
    """The form of that number: kind to names of fields, and the reserved keys; places by kind and field.

    Raises FileNotFoundError for a form that was never frozen.
    """
    return json.loads((HERE / f"form_{number}.json").read_text(encoding="utf-8"))


@cache
def newest_form() -> int:
    numbers = [int(p.stem.removeprefix("form_")) for p in HERE.glob("form_*.json")]
    return max(numbers)


def current_form() -> dict[str, list[str] | dict[str, dict[str, int]]]:
    """What a form frozen now would hold: every column but those that say where a row stands."""
    from records.models import Entry, Fact, fact_models

    # An entry's hash cannot cover itself; a row's entry and line are covered by its place in that entry.
    of_all = _names(Fact, but=("entry", "line"))
    kinds = {m._meta.model_name: m for m in fact_models()}
    places = {kind: _places(model) for kind, model in kinds.items()}
    return {
        ENTRY: _names(Entry, but=("id", "hash")),
        FACT: of_all,
        DECIMAL_PLACES: {kind: of_kind for kind, of_kind in places.items() if of_kind},
    } | {kind: _names(model, but=("id", "entry", "line", *of_all)) for kind, model in kinds.items()}


def _names(model, but) -> list[str]:
    # `local_fields` for the abstract base alone: it has no columns of its own until a kind inherits it.
    fields = model._meta.local_fields if model._meta.abstract else model._meta.concrete_fields
    return sorted(f.name for f in fields if f.name not in but)


def _places(model) -> dict[str, int]:
    return {f.name: f.decimal_places for f in model._meta.concrete_fields if isinstance(f, models.DecimalField)}


def render_value(value):
    """A value as JSON can hold it, the same on every database. Moments are UTC with microseconds."""
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, datetime):
        return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return format(value, "f")
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, list | tuple):
        return [render_value(v) for v in value]
    if isinstance(value, dict):
        return {str(k): render_value(v) for k, v in value.items()}
    if isinstance(value, models.Model):
        return render_target(value)
    raise TypeError(f"{type(value).__name__} has no canonical form")


def render_target(target: models.Model) -> str:
    """How a row that is pointed to is named: a person's name by its digest, everything else by ref."""
    digest = getattr(target, "digest", None)
    return digest if digest is not None else str(target.ref)


def _with_places(value, places: int) -> Decimal:
    """As the column of that day gave it back, whatever was typed: 3 and 3.0 are the same reading.

    A digit that the column had no room for was not recorded; it stays, so that the hash does not fit.
    """
    exact = Decimal(value)
    rounded = exact.quantize(Decimal(1).scaleb(-places))
    return rounded if rounded == exact else exact


def _render(row: models.Model, names, form: int) -> dict:
    places = form_of(form)[DECIMAL_PLACES].get(row._meta.model_name, {})
    values = {name: getattr(row, name) for name in names}
    for name in places.keys() & values.keys():
        if values[name] is not None:
            values[name] = _with_places(values[name], places[name])
    return render_value(values)


def render_row(row: models.Model, form: int) -> dict:
    """A fact under a form, as plain JSON values. Raises KeyError for a kind that the form does not list."""
    kind = row._meta.model_name
    fields = form_of(form)
    return {"kind": kind} | _render(row, (*fields[FACT], *fields[kind]), form)


def render_entry(entry: models.Model) -> dict:
    """What an entry says of itself, under its form, as plain JSON values."""
    return _render(entry, form_of(entry.form)[ENTRY], entry.form)


def canonical(value) -> bytes:
    """JSON with sorted keys and no spare space, in UTF-8."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def digest(value) -> str:
    """SHA-256 of the canonical JSON, in hexadecimal."""
    return hashlib.sha256(canonical(value)).hexdigest()


def hash_of(entry: models.Model, rows) -> str:
    """The entry's hash over its header and its rows in order, both as its form has them."""
    return digest([render_entry(entry), [render_row(row, entry.form) for row in rows]])
