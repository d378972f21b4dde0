"""The canonical rendering of facts that the ledger hashes, under a numbered form.

A form is the list of fields of each kind, frozen in `form_N.json`. An entry names the form it was written under and
is verified with that form, so a column added later breaks no old hash. `manage.py freeze_form` writes the next one.
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
# Written by every kind; `entry` and `line` are covered by their place in the entry itself.
BASE_FIELDS = ("ref", "origin", "amends", "amend_reason", "happened_on", "happened_at", "zone")


@cache
def form_fields(number: int) -> dict[str, list[str]]:
    """The fields of each kind under that form. Raises FileNotFoundError for a form that was never frozen."""
    return json.loads((HERE / f"form_{number}.json").read_text(encoding="utf-8"))


@cache
def newest_form() -> int:
    numbers = [int(p.stem.removeprefix("form_")) for p in HERE.glob("form_*.json")]
    return max(numbers)


def current_fields() -> dict[str, list[str]]:
    """What a form frozen now would hold."""
    from records.models import fact_models

    skipped = {"id", "entry", "line", *BASE_FIELDS}
    return {
        m._meta.model_name: sorted(f.name for f in m._meta.concrete_fields if f.name not in skipped)
        for m in fact_models()
    }


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


def render_field(row: models.Model, name: str):
    field = row._meta.get_field(name)
    value = getattr(row, name)
    if isinstance(field, models.DecimalField) and value is not None:
        # As the database gives it back, whatever was typed: 3 and 3.0 are the same reading.
        value = Decimal(value).quantize(Decimal(1).scaleb(-field.decimal_places))
    return render_value(value)


def render_row(row: models.Model, form: int) -> dict:
    """A fact under a form, as plain JSON values."""
    kind = row._meta.model_name
    names = (*BASE_FIELDS, *form_fields(form)[kind])
    return {"kind": kind} | {name: render_field(row, name) for name in names}


def canonical(value) -> bytes:
    """JSON with sorted keys and no spare space, in UTF-8."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def digest(value) -> str:
    """SHA-256 of the canonical JSON, in hexadecimal."""
    return hashlib.sha256(canonical(value)).hexdigest()
